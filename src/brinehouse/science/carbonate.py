"""Carbon dioxide, pH and alkalinity of seawater, and whether lime dissolves; total scale, µmol/kg."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import dissociation, gases, rows
from brinehouse.science.constants import ATM, ZERO_CELSIUS

Array = NDArray[np.float64]

BORON = {"lee": 0.0004326, "uppstrom": 0.0004157}  # mol/kg at salinity 35
SCALES = ("total", "free", "sws", "nbs")
LOWEST, HIGHEST = 2.0, 12.0  # pH between which a solution is sought
STEPS = 60  # halvings that bring ten units of pH below the last digit
CLOSE = 1e-13  # pH
BLOCK = 4096  # rows: about thirty columns of it stay in the second cache


@dataclass(frozen=True)
class Constants:
    """What the water's temperature and salinity decide, in mol/kg on the total scale."""

    solubility: Array
    """Carbon dioxide under its own fugacity. [mol/kg/atm]"""
    first: Array
    """Carbonic acid, first step. [mol/kg]"""
    second: Array
    """Carbonic acid, second step. [mol/kg]"""
    boric: Array
    """Boric acid. [mol/kg]"""
    water: Array
    """Ion product of water. [mol2/kg2]"""
    bisulphate: Array
    """Bisulphate, free scale. [mol/kg]"""
    fluoride: Array
    """Hydrogen fluoride, free scale. [mol/kg]"""
    total_boron: Array
    """Boric acid and borate together. [mol/kg]"""
    total_sulphate: Array
    """Sulphate and bisulphate together. [mol/kg]"""
    total_fluoride: Array
    """Fluoride and hydrogen fluoride together. [mol/kg]"""
    free_to_total: Array
    """Hydrogen ion on the total scale over the free. [-]"""
    free_to_sws: Array
    """Hydrogen ion on the seawater scale over the free. [-]"""


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


def _boron(boron: str) -> float:
    if boron not in BORON:
        raise ValueError(f"{boron!r} is not an amount of boron; write {' or '.join(BORON)}")
    return BORON[boron]


def _constants(logs: dissociation.Logarithms, salt: Array, boron: str) -> Constants:
    held = np.maximum(salt, 0.0)
    sulphate = (0.14 / 96.062 / dissociation.CHLORINITY) * held
    fluoride = (0.000067 / 18.998 / dissociation.CHLORINITY) * held
    bisulphate, hydrogen_fluoride = np.exp(logs.bisulphate), np.exp(logs.fluoride)
    to_total = 1.0 + sulphate / bisulphate
    to_sws = to_total + fluoride / hydrogen_fluoride
    return Constants(
        np.exp(logs.solubility), np.exp(logs.first), np.exp(logs.second), np.exp(logs.boric),
        np.exp(logs.water) * to_total / to_sws, bisulphate, hydrogen_fluoride,
        np.asarray(_boron(boron) / 35.0 * held), np.asarray(sulphate), np.asarray(fluoride),
        np.asarray(to_total), np.asarray(to_sws),
    )  # fmt: skip


def constants(
    temperature: ArrayLike,
    salinity: ArrayLike,
    *,
    boron: str = "lee",
    fluoride: str = "dickson-riley",
) -> Constants:
    """All that temperature and salinity decide of the carbonate system.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    boron : str
        Whose ratio of boron to salinity: lee or uppstrom. [-]
    fluoride : str
        Whose hydrogen fluoride: dickson-riley or perez-fraga. [-]

    Returns
    -------
    Constants
        Constants on the total scale and totals from salinity. [mol/kg]

    Notes
    -----
    2 to 35 °C, salinity 19 to 43 (range of carbonic acid, from memory). Boron, sulphate and fluoride follow
    salinity as in the ocean: artificial mixes differ.

    References
    ----------
    .. [1] Those of `dissociation.logarithms`.
    .. [2] Lee et al. (2010), Geochim. Cosmochim. Acta 74:1801-1811.
    .. [3] Uppström (1974), Deep-Sea Res. 21:161-162.
    .. [4] Morris and Riley (1966), Deep-Sea Res. 13:699-705; Riley (1965), Deep-Sea Res. 12:219-220.

    Examples
    --------
    >>> found = constants(25.0, 35.0)
    >>> [float(-np.log10(value)) for value in (found.first, found.second)]
    [5.84715, 8.96595]
    """
    salt = _float(salinity)
    return _constants(dissociation.logarithms(temperature, salt, fluoride=fluoride), salt, boron)


def activity_factor(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Hydrogen ion as an electrode in dilute buffers tells it, over that on the seawater scale.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Apparent activity coefficient of the hydrogen ion. [-]

    Notes
    -----
    Salinity 20 to 40 (from memory): the fit has no meaning in fresh water. It belongs to one kind of
    electrode; others differ by several hundredths of pH.

    References
    ----------
    .. [1] Takahashi, Williams and Bos (1982), GEOSECS Pacific Expedition vol. 3, p. 80.

    Examples
    --------
    >>> float(activity_factor(25.0, 35.0))
    0.7134
    """
    kelvin = _float(temperature) + ZERO_CELSIUS
    salt = _float(salinity)
    return np.asarray(1.2948 - 0.002036 * kelvin + (0.0004607 - 0.000001475 * kelvin) * salt * salt)


def _known_scale(scale: str) -> str:
    if scale not in SCALES:
        raise ValueError(f"{scale!r} is not a pH scale; write one of {', '.join(SCALES)}")
    return scale


def _over_free(scale: str, known: Constants, temperature: Array, salinity: Array) -> Array:
    """Hydrogen ion on a scale over that on the free scale."""
    if scale == "free":
        return np.ones_like(known.free_to_total)
    if scale == "total":
        return known.free_to_total
    if scale == "sws":
        return known.free_to_sws
    return np.asarray(known.free_to_sws * activity_factor(temperature, salinity))


def ph_between_scales(
    ph: ArrayLike,
    source: str,
    target: str,
    temperature: ArrayLike,
    salinity: ArrayLike,
    *,
    fluoride: str = "dickson-riley",
) -> Array:
    """A pH carried from the scale it was given on to another.

    Parameters
    ----------
    ph : array_like
        pH on the scale `source`. [-]
    source : str
        Scale it is on: total, free, sws or nbs. [-]
    target : str
        Scale it is wanted on. [-]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    fluoride : str
        Whose hydrogen fluoride: dickson-riley or perez-fraga. [-]

    Returns
    -------
    ndarray
        pH on the scale `target`. [-]

    Notes
    -----
    Range of `constants`; to and from nbs, salinity 20 to 40 (see `activity_factor`). At salinity 35 and
    25 °C nbs reads 0.137 above total, free 0.108 above, sws 0.010 below.

    References
    ----------
    .. [1] Dickson (1990), J. Chem. Thermodyn. 22:113-127 (bisulphate).
    .. [2] Takahashi, Williams and Bos (1982), GEOSECS Pacific Expedition vol. 3, p. 80 (nbs).

    Examples
    --------
    >>> float(ph_between_scales(8.0, "total", "nbs", 25.0, 35.0))
    8.1370
    """
    warm, salt = _float(temperature), _float(salinity)
    known = constants(warm, salt, fluoride=fluoride)
    given = _over_free(_known_scale(source), known, warm, salt)
    wanted = _over_free(_known_scale(target), known, warm, salt)
    with np.errstate(invalid="ignore"):
        return np.asarray(_float(ph) + np.log10(given / wanted))


def _rest(hydrogen: Array, known: Constants) -> Array:
    """Alkalinity other than that of carbon, in mol/kg."""
    free = hydrogen / known.free_to_total
    return np.asarray(
        known.total_boron * known.boric / (known.boric + hydrogen)
        + known.water / hydrogen
        - free
        - known.total_sulphate * free / (known.bisulphate + free)
        - known.total_fluoride * free / (known.fluoride + free)
    )


def _charge(hydrogen: Array, known: Constants) -> Array:
    """Charge of the inorganic carbon, for each mole of it."""
    first = known.first * hydrogen
    second = known.first * known.second
    return np.asarray((first + 2.0 * second) / (hydrogen * hydrogen + first + second))


def _residual(ph: Array, alkalinity: Array, carbon: Array, known: Constants) -> tuple[Array, Array]:
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


def _ph(alkalinity: Array, carbon: Array, known: Constants, start: Array) -> Array:
    """The pH at which the alkalinity is as wanted: Newton held between ends that close in.

    The alkalinity of a water grows with its pH, so a bracket that keeps its signs holds the one solution.
    A step that leaves the bracket, or that does not halve the step before last, becomes a halving of it.
    """
    shape = np.broadcast_shapes(alkalinity.shape, carbon.shape, known.first.shape, start.shape)
    low, high = np.full(shape, LOWEST), np.full(shape, HIGHEST)
    ph = np.clip(np.broadcast_to(start, shape), LOWEST, HIGHEST)
    before = np.full(shape, HIGHEST - LOWEST)
    there = np.zeros(shape, dtype=np.bool_)
    with np.errstate(invalid="ignore", divide="ignore"):
        reached = (_residual(low, alkalinity, carbon, known)[0] <= 0.0) & (
            _residual(high, alkalinity, carbon, known)[0] >= 0.0
        )
        for _ in range(2 * STEPS):
            value, growth = _residual(ph, alkalinity, carbon, known)
            low = np.where(value < 0.0, ph, low)
            high = np.where(value > 0.0, ph, high)
            following = ph - value / growth
            wild = ~((following > low) & (following < high)) | (np.abs(following - ph) > 0.5 * before)
            following = np.where(wild & (value != 0.0), 0.5 * (low + high), following)
            before = np.abs(following - ph)
            ph = np.where(there, ph, following)
            there = there | ~reached | (before <= CLOSE)
            if np.all(there):
                break
    return np.asarray(np.where(reached, ph, np.nan))


def _first_guess(alkalinity: Array, carbon: Array, known: Constants) -> Array:
    """A start from carbon and borate alone: good where most waters are, harmless elsewhere."""
    with np.errstate(invalid="ignore", divide="ignore"):
        over = np.clip(alkalinity / carbon, 0.02, 1.9)
        under = -np.log10(known.first) + np.log10(over / np.maximum(1.02 - over, 0.02))
        above = -np.log10(known.second) + np.log10(np.maximum(over - 1.0, 0.02) / (2.02 - over)) - 0.2
        return np.asarray(np.nan_to_num(np.where(over > 1.0, above, under), nan=8.0))


def _species(hydrogen: Array, carbon: Array, known: Constants) -> tuple[Array, Array, Array]:
    """Gas, bicarbonate and carbonate, in the unit of `carbon`."""
    square = hydrogen * hydrogen
    first, second = known.first * hydrogen, known.first * known.second
    share = carbon / (square + first + second)
    return np.asarray(share * square), np.asarray(share * first), np.asarray(share * second)


def _answers(
    hydrogen: Array,
    carbon: Array,
    calcium: Array,
    known: Constants,
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
    Range of `constants`. Closed form; one atmosphere; no phosphate, silicate or organic alkalinity. A pH of
    8.10 on nbs taken as total overstates the saturation state of aragonite by 28 % (salinity 35, 25 °C).

    References
    ----------
    .. [1] Those of `constants`; Mucci (1983), Am. J. Sci. 283:780-799.

    Examples
    --------
    >>> found = from_ph(2300.0, 8.04021, 25.0, 35.0)
    >>> float(found.carbon), float(found.omega_aragonite)
    (2000.0, 3.3467)
    """
    _known_scale(scale)
    _boron(boron)

    def block(ta: Array, acid: Array, warm: Array, salt: Array, lime: Array) -> tuple[Array, ...]:
        logs = dissociation.logarithms(warm, salt, fluoride=fluoride)
        known = _constants(logs, salt, boron)
        hydrogen = np.exp(-dissociation.LN10 * acid)
        total = acid
        if scale != "total":
            ratio = known.free_to_total / _over_free(scale, known, warm, salt)
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
    Range of `constants`. Alkalinity grows with pH, so there is one solution between pH 2 and 12 and it is
    always found; where there is none the row is NaN.

    References
    ----------
    .. [1] Those of `constants`; Mucci (1983), Am. J. Sci. 283:780-799.

    Examples
    --------
    >>> found = from_carbon(2300.0, 2000.0, 25.0, 35.0)
    >>> float(found.ph), float(found.pco2) / 0.101325
    (8.04021, 402.70)
    """
    _boron(boron)

    def block(ta: Array, dic: Array, warm: Array, salt: Array, lime: Array) -> tuple[Array, ...]:
        logs = dissociation.logarithms(warm, salt, fluoride=fluoride)
        known = _constants(logs, salt, boron)
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
    known: Constants | None = None,
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
    known : Constants, optional
        What `constants` gave, where temperature and salinity stay as they are. [mol/kg]

    Returns
    -------
    ndarray
        pH, total scale. [-]

    Notes
    -----
    As `from_carbon`; NaN where no pH between 2 and 12 has this alkalinity.

    References
    ----------
    .. [1] Those of `constants`.

    Examples
    --------
    >>> float(ph_of(2300.0, 2000.0, 25.0, 35.0))
    8.04021
    """
    held = constants(temperature, salinity) if known is None else known
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
    known: Constants | None = None,
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
    known : Constants, optional
        What `constants` gave, where temperature and salinity stay as they are. [mol/kg]

    Returns
    -------
    ndarray
        Carbon dioxide as gas in solution. [µmol/kg]

    Notes
    -----
    As `from_carbon`.

    References
    ----------
    .. [1] Those of `constants`.

    Examples
    --------
    >>> float(co2_of(2300.0, 2000.0, 25.0, 35.0))
    11.397
    """
    held = constants(temperature, salinity) if known is None else known
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
    Range of `constants`. By halving the pH between 2 and 12; NaN where no pH there fits.

    References
    ----------
    .. [1] Those of `constants`.

    Examples
    --------
    >>> float(carbon_at_balance(2300.0, 402.70 * 0.101325, 25.0, 35.0))
    2000.0
    """
    warm = _float(temperature)
    held = constants(warm, salinity)
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
