"""How far the acids of seawater come apart, what that makes of pH, and the scales of pH."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science.constants import ZERO_CELSIUS

Array = NDArray[np.float64]

LN10 = float(np.log(10.0))
# Weiss (1974), table I: mol/kg/atm, of T/100.
SOLUBILITY = (-60.2409, 93.4517, 23.3585, 0.023517, -0.023656, 0.0047036)
# Lueker, Dickson and Keeling (2000): pK of 1/T, 1, ln T, S, S².
FIRST = (3633.86, -61.2172, 9.6777, -0.011555, 0.0001152)
SECOND = (471.78, 25.929, -3.16967, -0.01781, 0.0001122)
CHLORINITY = 1.80655  # salinity over chlorinity (JPOTS 1966, as the carbonate literature keeps it)
SALT_SHARE = 0.001005  # of seawater, for each unit of salinity: kg of water = kg (1 - 0.001005 S)
BORON = {"lee": 0.0004326, "uppstrom": 0.0004157}  # mol/kg at salinity 35
SCALES = ("total", "free", "sws", "nbs")
FLUORIDES = ("dickson-riley", "perez-fraga")


class Logarithms(NamedTuple):
    """Natural logarithms of the constants, each on the scale its authors measured it on."""

    solubility: Array
    """Carbon dioxide under its own fugacity. [mol/kg/atm]"""
    first: Array
    """Carbonic acid's first step, total scale. [mol/kg]"""
    second: Array
    """Carbonic acid's second step, total scale. [mol/kg]"""
    boric: Array
    """Boric acid, total scale. [mol/kg]"""
    water: Array
    """Ion product of water, seawater scale. [mol2/kg2]"""
    bisulphate: Array
    """Bisulphate, free scale. [mol/kg]"""
    fluoride: Array
    """Hydrogen fluoride, free scale. [mol/kg]"""
    aragonite: Array
    """Solubility product of aragonite. [mol2/kg2]"""
    calcite: Array
    """Solubility product of calcite. [mol2/kg2]"""


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


def _float(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def _carbonic(inverse: Array, warmth: Array, salt: Array, terms: tuple[float, ...]) -> Array:
    """Lueker et al. (2000): minus the natural logarithm's ten-fold."""
    power = terms[0] * inverse + terms[1] + terms[2] * warmth + (terms[3] + terms[4] * salt) * salt
    return np.asarray(-LN10 * power)


def _boric(kelvin: Array, inverse: Array, warmth: Array, salt: Array, root: Array) -> Array:
    """Dickson (1990), Deep-Sea Res. 37:755-766, equation 23."""
    cold = -8966.9 - root * (2890.53 + root * (77.942 + root * (-1.728 + root * 0.0996)))
    level = 148.0248 + 137.1942 * root + 1.62142 * salt
    return np.asarray(
        cold * inverse + level - (24.4344 + 25.085 * root + 0.2474 * salt) * warmth + 0.053105 * root * kelvin
    )


def _water(inverse: Array, warmth: Array, salt: Array, root: Array) -> Array:
    """Millero (1995), Geochim. Cosmochim. Acta 59:661-677."""
    fresh = 148.9802 - 13847.26 * inverse - 23.6521 * warmth
    return np.asarray(fresh + (118.67 * inverse - 5.977 + 1.0495 * warmth) * root - 0.01615 * salt)


def _bisulphate(inverse: Array, warmth: Array, ions: Array, root: Array, part: Array) -> Array:
    """Dickson (1990), J. Chem. Thermodyn. 22:113-127, per kg of water, then of seawater by `part`."""
    first = -13856.0 * inverse + 324.57 - 47.986 * warmth - 2698.0 * inverse * ions
    second = 35474.0 * inverse - 771.54 + 114.723 * warmth + 1776.0 * inverse * ions
    return np.asarray(141.328 - 4276.1 * inverse - 23.093 * warmth + first * root + second * ions + part)


def _fluoride(inverse: Array, root: Array, ions_root: Array, part: Array, fluoride: str) -> Array:
    if fluoride == "perez-fraga":
        return np.asarray(874.0 * inverse - 9.68 + 0.111 * root)
    return np.asarray(1590.2 * inverse - 12.641 + 1.525 * ions_root + part)


def _minerals(kelvin: Array, inverse: Array, warmth: Array, salt: Array, root: Array) -> tuple[Array, Array]:
    """Mucci (1983), Am. J. Sci. 283:780-799: aragonite, calcite."""
    shared = -0.077993 * kelvin + (71.595 / LN10) * warmth
    aragonite = -171.945 + 2903.293 * inverse + shared
    aragonite += (-0.068393 + 0.0017276 * kelvin + 88.135 * inverse) * root
    aragonite += (-0.10018 + 0.0059415 * root) * salt
    calcite = -171.9065 + 2839.319 * inverse + shared
    calcite += (-0.77712 + 0.0028426 * kelvin + 178.34 * inverse) * root
    calcite += (-0.07711 + 0.0041249 * root) * salt
    return np.asarray(LN10 * aragonite), np.asarray(LN10 * calcite)


def logarithms(temperature: ArrayLike, salinity: ArrayLike, *, fluoride: str = "dickson-riley") -> Logarithms:
    """Natural logarithms of the dissociation constants of seawater at one atmosphere.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    fluoride : str
        Whose hydrogen fluoride: dickson-riley or perez-fraga. [-]

    Returns
    -------
    Logarithms
        One column for each constant, on the scale it was measured on. [ln mol/kg]

    Notes
    -----
    Carbonic acid: 2 to 35 °C, salinity 19 to 43 (from memory); the others reach further. Below salinity 0
    the roots are held at 0. Perez and Fraga is taken on the free scale; Dickson (2007) is said to print it
    on the total one (from memory), a difference that changes pH by less than 1e-4.

    References
    ----------
    .. [1] Lueker, Dickson and Keeling (2000), Mar. Chem. 70:105-119.
    .. [2] Dickson (1990), Deep-Sea Res. 37:755-766; J. Chem. Thermodyn. 22:113-127.
    .. [3] Dickson and Riley (1979), Mar. Chem. 7:89-99; Perez and Fraga (1987), Mar. Chem. 21:161-168.
    .. [4] Millero (1995), Geochim. Cosmochim. Acta 59:661-677; Mucci (1983), Am. J. Sci. 283:780-799.
    .. [5] Weiss (1974), Mar. Chem. 2:203-215.

    Examples
    --------
    >>> found = logarithms(25.0, 35.0)
    >>> float(found.boric), float(found.bisulphate)
    (-19.7964, -2.2996)
    """
    if fluoride not in FLUORIDES:
        raise ValueError(
            f"{fluoride!r} is not a constant of hydrogen fluoride; write {' or '.join(FLUORIDES)}"
        )
    kelvin = np.asarray(temperature, dtype=np.float64) + ZERO_CELSIUS
    salt = np.maximum(np.asarray(salinity, dtype=np.float64), 0.0)
    inverse, warmth, root = 1.0 / kelvin, np.log(kelvin), np.sqrt(salt)
    ions = 19.924 * salt / (1000.0 - 1.005 * salt)
    ions_root = np.sqrt(ions)
    part = np.log1p(-SALT_SHARE * salt)
    k = SOLUBILITY
    hundred = kelvin * 0.01
    solubility = k[0] + k[1] * 100.0 * inverse + k[2] * (warmth - 2.0 * LN10)
    solubility = solubility + salt * (k[3] + hundred * (k[4] + hundred * k[5]))
    aragonite, calcite = _minerals(kelvin, inverse, warmth, salt, root)
    return Logarithms(
        np.asarray(solubility),
        _carbonic(inverse, warmth, salt, FIRST),
        _carbonic(inverse, warmth, salt, SECOND),
        _boric(kelvin, inverse, warmth, salt, root),
        _water(inverse, warmth, salt, root),
        _bisulphate(inverse, warmth, ions, ions_root, part),
        _fluoride(inverse, root, ions_root, part, fluoride),
        aragonite,
        calcite,
    )


def _boron(boron: str) -> float:
    if boron not in BORON:
        raise ValueError(f"{boron!r} is not an amount of boron; write {' or '.join(BORON)}")
    return BORON[boron]


def from_logarithms(logs: Logarithms, salinity: ArrayLike, boron: str = "lee") -> Constants:
    """Constants on the total scale and what salinity brings with it, from the logarithms.

    Parameters
    ----------
    logs : Logarithms
        What `logarithms` gave. [ln mol/kg]
    salinity : array_like
        Practical salinity. [-]
    boron : str
        Whose ratio of boron to salinity: lee or uppstrom. [-]

    Returns
    -------
    Constants
        As `constants`. [mol/kg]

    Notes
    -----
    As `constants`, for callers that need the logarithms too.

    References
    ----------
    .. [1] Those of `constants`.

    Examples
    --------
    >>> float(from_logarithms(logarithms(25.0, 35.0), 35.0).total_boron)
    0.0004326
    """
    salt = _float(salinity)
    held = np.maximum(salt, 0.0)
    sulphate = (0.14 / 96.062 / CHLORINITY) * held
    fluoride = (0.000067 / 18.998 / CHLORINITY) * held
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
    .. [1] Those of `logarithms`.
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
    return from_logarithms(logarithms(temperature, salt, fluoride=fluoride), salt, boron)


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


def over_free(scale: str, known: Constants, temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Hydrogen ion as a scale counts it, over the free one.

    Parameters
    ----------
    scale : str
        Scale of pH: total, free, sws or nbs. [-]
    known : Constants
        What `constants` gave. [mol/kg]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Ratio. [-]

    Notes
    -----
    As `ph_between_scales`.

    References
    ----------
    .. [1] Those of `ph_between_scales`.

    Examples
    --------
    >>> float(over_free("total", constants(25.0, 35.0), 25.0, 35.0))
    1.2815
    """
    if scale not in SCALES:
        raise ValueError(f"{scale!r} is not a pH scale; write one of {', '.join(SCALES)}")
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
    0 to 45 °C, salinity 5 to 45 (from memory); to and from nbs, salinity 20 to 40 (see `activity_factor`).
    At salinity 35 and 25 °C nbs reads 0.137 above total, free 0.108 above, sws 0.010 below.

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
    given = over_free(source, known, warm, salt)
    wanted = over_free(target, known, warm, salt)
    with np.errstate(invalid="ignore"):
        return np.asarray(_float(ph) + np.log10(given / wanted))
