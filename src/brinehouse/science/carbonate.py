"""Carbon dioxide, pH and alkalinity of seawater, and whether lime dissolves; total scale, µmol/kg."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import dissociation, gases, rows
from brinehouse.science.constants import ATM

Array = NDArray[np.float64]

LOWEST, HIGHEST = 2.0, 12.0  # pH between which a solution is sought
STEPS = 60  # halvings that bring ten units of pH below the last digit
CLOSE = 1e-8  # pH: a Newton step this small leaves an error below the last digit
PATIENCE = 6  # turns after which rows without a solution are looked for
BLOCK = 4096  # rows: about thirty columns of it stay in the second cache


class Carbonate(NamedTuple):
    """The carbonate system of one water or of many rows of it."""

    ph: Array
    """pH, total scale. [-]"""
    alkalinity: Array
    """Total alkalinity. [µmol/kg]"""
    carbon: Array
    """Dissolved inorganic carbon. [µmol/kg]"""
    pco2: Array
    """Partial pressure of carbon dioxide in moist air at balance. [Pa]"""
    co2: Array
    """Carbon dioxide as gas in solution. [µmol/kg]"""
    bicarbonate: Array
    """Bicarbonate. [µmol/kg]"""
    carbonate: Array
    """Carbonate. [µmol/kg]"""
    omega_aragonite: Array
    """Saturation state of aragonite. [-]"""
    omega_calcite: Array
    """Saturation state of calcite. [-]"""


def _float(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def _rest(hydrogen: Array | float, known: dissociation.Constants) -> Array:
    """Alkalinity other than that of carbon, in mol/kg."""
    free = hydrogen / known.free_to_total
    return np.asarray(
        known.total_boron * known.boric / (known.boric + hydrogen)
        + known.water / hydrogen
        - free
        - known.total_sulphate * free / (known.bisulphate + free)
        - known.total_fluoride * free / (known.fluoride + free)
    )


def _charge(hydrogen: Array | float, known: dissociation.Constants) -> Array:
    """Charge of the inorganic carbon, for each mole of it."""
    first = known.first * hydrogen
    second = known.first * known.second
    return np.asarray((first + 2.0 * second) / (hydrogen * hydrogen + first + second))


def _residual(
    ph: Array, alkalinity: Array, carbon: Array, known: dissociation.Constants
) -> tuple[Array, Array]:
    """Alkalinity at a pH less the wanted one, and its growth with pH, in mol/kg."""
    h = np.exp(-dissociation.LN10 * ph)
    free = h / known.free_to_total
    first, second = known.first * h, known.first * known.second
    square = h * h
    whole = square + first + second
    share = carbon / whole
    borate = known.total_boron * known.boric / (known.boric + h)
    bisulphate = known.total_sulphate * free / (known.bisulphate + free)
    fluoride = known.total_fluoride * free / (known.fluoride + free)
    hydroxide = known.water / h
    value = share * (first + 2.0 * second) + borate + hydroxide - free - bisulphate - fluoride - alkalinity
    growth = (
        share * (first * square + 4.0 * square * second + first * second) / whole
        + borate * h / (known.boric + h)
        + hydroxide
        + free
        + bisulphate * known.bisulphate / (known.bisulphate + free)
        + fluoride * known.fluoride / (known.fluoride + free)
    )
    return value, np.asarray(dissociation.LN10 * growth)


def _ph(alkalinity: Array, carbon: Array, known: dissociation.Constants, start: Array) -> Array:
    """The pH at which the alkalinity is as wanted: Newton held between ends that close in.

    The alkalinity of a water grows with its pH, so a bracket that keeps its signs holds the one solution.
    A step that leaves the bracket, or that does not halve the step before last, becomes a halving of it.
    """
    shape = np.broadcast_shapes(alkalinity.shape, carbon.shape, known.first.shape, start.shape)
    low, high = np.full(shape, LOWEST), np.full(shape, HIGHEST)
    ph = np.clip(np.broadcast_to(start, shape), LOWEST, HIGHEST)
    before = high - low
    found = missing = np.zeros(shape, dtype=np.bool_)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        for turn in range(2 * STEPS):
            value, growth = _residual(ph, alkalinity, carbon, known)
            low, high = np.where(value < 0.0, ph, low), np.where(value > 0.0, ph, high)
            newton = value / growth
            near = np.abs(newton) <= CLOSE
            kept = (newton > ph - high) & (newton < ph - low) & (np.abs(newton) <= 0.5 * before)
            following = np.where(near | kept, ph - newton, 0.5 * (low + high))
            before = np.abs(following - ph)
            ph = np.where(found, ph, following)
            found = found | near
            if turn == PATIENCE:
                missing = ~_reachable(alkalinity, carbon, known)
            if np.all(found | missing):
                break
    return np.asarray(np.where(found & (ph >= LOWEST) & (ph <= HIGHEST), ph, np.nan))


def _reachable(alkalinity: Array, carbon: Array, known: dissociation.Constants) -> NDArray[np.bool_]:
    """Whether some pH between the ends has this alkalinity."""
    least, most = (carbon * _charge(h, known) + _rest(h, known) for h in (10.0**-LOWEST, 10.0**-HIGHEST))
    return np.asarray((least <= alkalinity) & (alkalinity <= most))


def _first_guess(alkalinity: Array, carbon: Array, known: dissociation.Constants) -> Array:
    """A start from carbon and borate alone: good where most waters are, harmless elsewhere."""
    with np.errstate(invalid="ignore", divide="ignore"):
        over = np.clip(alkalinity / carbon, 0.02, 1.9)
        under = -np.log10(known.first) + np.log10(over / np.maximum(1.02 - over, 0.02))
        above = -np.log10(known.second) + np.log10(np.maximum(over - 1.0, 0.02) / (2.02 - over)) - 0.2
        return np.asarray(np.nan_to_num(np.where(over > 1.0, above, under), nan=8.0))


def _species(hydrogen: Array, carbon: Array, known: dissociation.Constants) -> tuple[Array, Array, Array]:
    """Gas, bicarbonate and carbonate, in the unit of `carbon`."""
    square = hydrogen * hydrogen
    first, second = known.first * hydrogen, known.first * known.second
    share = carbon / (square + first + second)
    return np.asarray(share * square), np.asarray(share * first), np.asarray(share * second)


def _answers(
    hydrogen: Array,
    carbon: Array,
    calcium: Array,
    known: dissociation.Constants,
    logs: dissociation.Logarithms,
    warm: Array,
) -> tuple[Array, ...]:
    """Pressure, the three forms and both saturation states; carbon in mol/kg, calcium NaN where unknown."""
    gas, bicarbonate, carbonate = _species(hydrogen, carbon, known)
    pressure = gas / known.solubility * (ATM / gases.fugacity_factor(warm))
    product = calcium * carbonate
    aragonite, calcite = product * np.exp(-logs.aragonite), product * np.exp(-logs.calcite)
    return pressure, gas * 1e6, bicarbonate * 1e6, carbonate * 1e6, aragonite, calcite


def _calcium(calcium: ArrayLike | None, salinity: ArrayLike) -> Array:
    """Calcium in mol/kg: as told, or as the ocean has it (Riley and Tongudai 1967, Chem. Geol. 2:263)."""
    if calcium is not None:
        return np.asarray(_float(calcium) * 1e-6)
    salt = np.maximum(_float(salinity), 0.0)
    return np.asarray(0.02128 / 40.087 / dissociation.CHLORINITY * salt)


def from_ph(
    alkalinity: ArrayLike,
    ph: ArrayLike,
    temperature: ArrayLike,
    salinity: ArrayLike,
    *,
    scale: str = "total",
    calcium: ArrayLike | None = None,
    boron: str = "lee",
    fluoride: str = "dickson-riley",
) -> Carbonate:
    """The carbonate system from alkalinity and pH.

    Parameters
    ----------
    alkalinity : array_like
        Total alkalinity. [µmol/kg]
    ph : array_like
        pH on the scale `scale`. [-]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    scale : str
        Scale of `ph`: total, free, sws or nbs. [-]
    calcium : array_like, optional
        Calcium where it was measured; otherwise the ocean's at this salinity. [µmol/kg]
    boron : str
        Whose ratio of boron to salinity: lee or uppstrom. [-]
    fluoride : str
        Whose hydrogen fluoride: dickson-riley or perez-fraga. [-]

    Returns
    -------
    Carbonate
        The whole system, pH on the total scale. [µmol/kg]

    Notes
    -----
    Range of `dissociation.constants`. Closed form; one atmosphere; no phosphate, silicate or organic
    alkalinity. A pH of 8.10 on nbs taken as total overstates the saturation state of aragonite by 28 %
    (salinity 35, 25 °C).

    References
    ----------
    .. [1] Those of `dissociation.constants`; Mucci (1983), Am. J. Sci. 283:780-799.

    Examples
    --------
    >>> found = from_ph(2300.0, 8.04021, 25.0, 35.0)
    >>> float(found.carbon), float(found.omega_aragonite)
    (2000.0, 3.3467)
    """

    def block(ta: Array, acid: Array, warm: Array, salt: Array, lime: Array) -> tuple[Array, ...]:
        logs = dissociation.logarithms(warm, salt, fluoride=fluoride)
        known = dissociation.from_logarithms(logs, salt, boron)
        hydrogen = np.exp(-dissociation.LN10 * acid)
        total = acid
        if scale != "total":
            ratio = known.free_to_total / dissociation.over_free(scale, known, warm, salt)
            hydrogen = hydrogen * ratio
            total = acid - np.log(ratio) / dissociation.LN10
        carbon = (ta * 1e-6 - _rest(hydrogen, known)) / _charge(hydrogen, known)
        return total, ta, carbon * 1e6, *_answers(hydrogen, carbon, lime, known, logs, warm)

    given = (alkalinity, ph, temperature, salinity, _calcium(calcium, salinity))
    return Carbonate(*rows.many(block, *given, results=9, size=BLOCK))


def from_carbon(
    alkalinity: ArrayLike,
    carbon: ArrayLike,
    temperature: ArrayLike,
    salinity: ArrayLike,
    *,
    calcium: ArrayLike | None = None,
    boron: str = "lee",
    fluoride: str = "dickson-riley",
) -> Carbonate:
    """The carbonate system from alkalinity and inorganic carbon.

    Parameters
    ----------
    alkalinity : array_like
        Total alkalinity. [µmol/kg]
    carbon : array_like
        Dissolved inorganic carbon. [µmol/kg]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    calcium : array_like, optional
        Calcium where it was measured; otherwise the ocean's at this salinity. [µmol/kg]
    boron : str
        Whose ratio of boron to salinity: lee or uppstrom. [-]
    fluoride : str
        Whose hydrogen fluoride: dickson-riley or perez-fraga. [-]

    Returns
    -------
    Carbonate
        The whole system, pH on the total scale. [µmol/kg]

    Notes
    -----
    Range of `dissociation.constants`. Alkalinity grows with pH, so there is one solution between pH 2
    and 12 and it is always found; where there is none the row is NaN.

    References
    ----------
    .. [1] Those of `dissociation.constants`; Mucci (1983), Am. J. Sci. 283:780-799.

    Examples
    --------
    >>> found = from_carbon(2300.0, 2000.0, 25.0, 35.0)
    >>> float(found.ph), float(found.pco2) / 0.101325
    (8.04021, 402.70)
    """

    def block(ta: Array, dic: Array, warm: Array, salt: Array, lime: Array) -> tuple[Array, ...]:
        logs = dissociation.logarithms(warm, salt, fluoride=fluoride)
        known = dissociation.from_logarithms(logs, salt, boron)
        wanted, amount = ta * 1e-6, dic * 1e-6
        acid = _ph(wanted, amount, known, _first_guess(wanted, amount, known))
        hydrogen = np.exp(-dissociation.LN10 * acid)
        return acid, ta, dic, *_answers(hydrogen, amount, lime, known, logs, warm)

    given = (alkalinity, carbon, temperature, salinity, _calcium(calcium, salinity))
    return Carbonate(*rows.many(block, *given, results=9, size=BLOCK))


def ph_of(
    alkalinity: ArrayLike,
    carbon: ArrayLike,
    temperature: ArrayLike,
    salinity: ArrayLike,
    *,
    start: ArrayLike | None = None,
    known: dissociation.Constants | None = None,
) -> Array:
    """Only the pH from alkalinity and inorganic carbon: for many calls with few rows.

    Parameters
    ----------
    alkalinity : array_like
        Total alkalinity. [µmol/kg]
    carbon : array_like
        Dissolved inorganic carbon. [µmol/kg]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    start : array_like, optional
        A pH nearby, such as that of the last step; saves half of the work. [-]
    known : dissociation.Constants, optional
        What `dissociation.constants` gave, where temperature and salinity stay as they are. [mol/kg]

    Returns
    -------
    ndarray
        pH, total scale. [-]

    Notes
    -----
    As `from_carbon`; NaN where no pH between 2 and 12 has this alkalinity.

    References
    ----------
    .. [1] Those of `dissociation.constants`.

    Examples
    --------
    >>> float(ph_of(2300.0, 2000.0, 25.0, 35.0))
    8.04021
    """
    held = dissociation.constants(temperature, salinity) if known is None else known
    wanted, amount = _float(alkalinity) * 1e-6, _float(carbon) * 1e-6
    near = _first_guess(wanted, amount, held) if start is None else _float(start)
    return _ph(wanted, amount, held, near)


def co2_of(
    alkalinity: ArrayLike,
    carbon: ArrayLike,
    temperature: ArrayLike,
    salinity: ArrayLike,
    *,
    start: ArrayLike | None = None,
    known: dissociation.Constants | None = None,
) -> Array:
    """Only the carbon dioxide in solution, from alkalinity and inorganic carbon.

    Parameters
    ----------
    alkalinity : array_like
        Total alkalinity. [µmol/kg]
    carbon : array_like
        Dissolved inorganic carbon. [µmol/kg]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    start : array_like, optional
        A pH nearby. [-]
    known : dissociation.Constants, optional
        What `dissociation.constants` gave, where temperature and salinity stay as they are. [mol/kg]

    Returns
    -------
    ndarray
        Carbon dioxide as gas in solution. [µmol/kg]

    Notes
    -----
    As `from_carbon`.

    References
    ----------
    .. [1] Those of `dissociation.constants`.

    Examples
    --------
    >>> float(co2_of(2300.0, 2000.0, 25.0, 35.0))
    11.397
    """
    held = dissociation.constants(temperature, salinity) if known is None else known
    acid = ph_of(alkalinity, carbon, temperature, salinity, start=start, known=held)
    return _species(np.exp(-dissociation.LN10 * acid), _float(carbon), held)[0]


def carbon_at_balance(
    alkalinity: ArrayLike, pco2: ArrayLike, temperature: ArrayLike, salinity: ArrayLike
) -> Array:
    """Inorganic carbon in water that stands in balance with a pressure of carbon dioxide.

    Parameters
    ----------
    alkalinity : array_like
        Total alkalinity. [µmol/kg]
    pco2 : array_like
        Partial pressure of carbon dioxide in moist air. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Dissolved inorganic carbon. [µmol/kg]

    Notes
    -----
    Range of `dissociation.constants`. By halving the pH between 2 and 12; NaN where no pH there fits.

    References
    ----------
    .. [1] Those of `dissociation.constants`.

    Examples
    --------
    >>> float(carbon_at_balance(2300.0, 402.70 * 0.101325, 25.0, 35.0))
    2000.0
    """
    warm = _float(temperature)
    held = dissociation.constants(warm, salinity)
    wanted = _float(alkalinity) * 1e-6
    gas = _float(pco2) * held.solubility * gases.fugacity_factor(warm) / ATM
    shape = np.broadcast_shapes(wanted.shape, gas.shape)
    low, high = np.full(shape, LOWEST), np.full(shape, HIGHEST)

    def carbon(hydrogen: Array) -> Array:
        part = held.first / hydrogen
        return np.asarray(gas * (1.0 + part * (1.0 + held.second / hydrogen)))

    for _ in range(STEPS):
        middle = 0.5 * (low + high)
        hydrogen = np.exp(-dissociation.LN10 * middle)
        short = carbon(hydrogen) * _charge(hydrogen, held) + _rest(hydrogen, held) < wanted
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    found = 0.5 * (low + high)
    ends = (found > LOWEST + 1e-9) & (found < HIGHEST - 1e-9)
    return np.asarray(np.where(ends, carbon(np.exp(-dissociation.LN10 * found)) * 1e6, np.nan))
