"""Seawater itself: how heavy, how thick, how it takes up heat, and how salty by each instrument."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import rows
from brinehouse.science.constants import GRAVITY, IPTS68_PER_ITS90, SALT_PER_SALINITY

Array = NDArray[np.float64]

# EOS-80 at one atmosphere, UNESCO 44 p. 17. Copies print 8.34493e-1, 6.536336e-9 and a term C S.
WATER = (999.842594, 6.793952e-2, -9.095290e-3, 1.001685e-4, -1.120083e-6, 6.536332e-9)
SALT = (8.24493e-1, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9)
SALT_ROOT = (-5.72466e-3, 1.0227e-4, -1.6546e-6)
SALT_SQUARED = 4.8314e-4
# Sharqawy, Lienhard and Zubair (2010), equations 22 and 23; salinity as a mass fraction.
VISCOSITY_WATER = (4.2844e-5, 0.157, 64.993, 91.296)
VISCOSITY_SALT = (1.541, 1.998e-2, -9.52e-5)
VISCOSITY_SALT_SQUARED = (7.974, -7.561e-2, 4.724e-4)
# Millero (1974): water, root and linear terms of kg of salt in 1000 m3.
MILLERO_WATER = (1.002e-3, 1.1709, 1.827e-3, 89.93)
MILLERO_ROOT = (2.5116e-6, 1.2199e-6)
MILLERO_SALT = (1.4342e-6, 1.8267e-8)
# Instrument scales: temperature of the sample, temperature of the pure water it is compared with. [°C]
SCALES = {
    "20/20": (20.0, 20.0),
    "25/25": (25.0, 25.0),
    "60F/60F": (140.0 / 9.0, 140.0 / 9.0),
    "17.5/17.5": (17.5, 17.5),
    "20/4": (20.0, 4.0),
    "15/4": (15.0, 4.0),
}
GLASS_EXPANSION = 25e-6  # 1/K; cubic expansion of hydrometer glass, from memory


def _density(temperature: Array, salinity: Array, out: Array, warm: Array, root: Array, part: Array) -> None:
    np.multiply(temperature, IPTS68_PER_ITS90, out=warm)
    np.maximum(salinity, 0.0, out=root)
    np.sqrt(root, out=root)
    rows.polynomial(warm, SALT_ROOT, part)
    root *= part
    np.multiply(salinity, SALT_SQUARED, out=part)
    root += part
    rows.polynomial(warm, SALT, part)
    root += part
    root *= salinity
    rows.polynomial(warm, WATER, out)
    out += root


def density(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Density of seawater at one atmosphere.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Density. [kg/m3]

    Notes
    -----
    -2 to 40 °C, salinity 0 to 42; within 0.006 kg/m3 of TEOS-10 for water of reference composition.
    Below salinity 0 (sensor noise) the root term is held at 0 and the rest goes on; see `ranges.outside`.

    References
    ----------
    .. [1] Fofonoff and Millard (1983), UNESCO Tech. Pap. Mar. Sci. 44, p. 17.

    Examples
    --------
    >>> float(density(25.0, 35.0))
    1023.341
    """
    return rows.run(_density, temperature, salinity, spare=3)


def weight_per_metre(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Pressure that each metre of depth adds.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Density times standard gravity. [Pa/m]

    Notes
    -----
    Range of `density`. Local gravity differs from standard by up to 0.3 %.

    References
    ----------
    .. [1] Fofonoff and Millard (1983), UNESCO Tech. Pap. Mar. Sci. 44, p. 17.

    Examples
    --------
    >>> float(weight_per_metre(20.0, 0.0)) / 133.322
    73.424
    """
    return np.asarray(density(temperature, salinity) * GRAVITY)


def viscosity(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Dynamic viscosity of seawater at one atmosphere.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Dynamic viscosity. [Pa s]

    Notes
    -----
    0 to 180 °C, 0 to 150 g/kg of salt, 1.5 %. Millero (1974) lies 0.3 to 0.8 % lower.

    References
    ----------
    .. [1] Sharqawy, Lienhard and Zubair (2010), Desalin. Water Treat. 16:354-380, eqs. 22 and 23.

    Examples
    --------
    >>> float(viscosity(25.0, 35.0)) * 1e4
    9.5919
    """
    t = np.asarray(temperature, dtype=np.float64)
    salt = np.asarray(salinity, dtype=np.float64) * (SALT_PER_SALINITY / 1000.0)
    c, a, b = VISCOSITY_WATER, VISCOSITY_SALT, VISCOSITY_SALT_SQUARED
    water = c[0] + 1.0 / (c[1] * (t + c[2]) ** 2 - c[3])
    first = a[0] + t * (a[1] + t * a[2])
    second = b[0] + t * (b[1] + t * b[2])
    return np.asarray(water * (1.0 + salt * (first + salt * second)))


def viscosity_millero_1974(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Dynamic viscosity of seawater at one atmosphere, by the older relation.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Dynamic viscosity. [Pa s]

    Notes
    -----
    5 to 25 °C, salinity 0 to 40. 0.3 to 0.8 % below `viscosity`, which every engine uses.

    References
    ----------
    .. [1] Millero (1974), in Goldberg (ed.), The Sea, vol. 5, p. 3.

    Examples
    --------
    >>> float(viscosity_millero_1974(25.0, 40.0)) * 1e4
    9.6541
    """
    t = np.asarray(temperature, dtype=np.float64)
    w, a, b = MILLERO_WATER, MILLERO_ROOT, MILLERO_SALT
    water = w[0] * 10.0 ** ((w[1] * (20.0 - t) - w[2] * (t - 20.0) ** 2) / (t + w[3]))
    load = density(t, salinity) * np.maximum(np.asarray(salinity, dtype=np.float64), 0.0)
    return np.asarray(water * (1.0 + (a[0] + a[1] * t) * np.sqrt(load) + (b[0] + b[1] * t) * load))


def heat_capacity(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Heat that a kilogram of seawater takes up for each degree.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Isobaric heat capacity. [J/kg/K]

    Notes
    -----
    TEOS-10 at atmospheric pressure, freezing to 40 °C, salinity 0 to 42, reference composition.

    References
    ----------
    .. [1] IOC, SCOR and IAPSO (2010), The international thermodynamic equation of seawater.

    Examples
    --------
    >>> float(heat_capacity(20.0, 35.0))
    3996.14
    """
    import gsw

    t = np.asarray(temperature, dtype=np.float64)
    salt = np.asarray(salinity, dtype=np.float64) * SALT_PER_SALINITY
    return np.asarray(gsw.cp_t_exact(salt, t, 0.0), dtype=np.float64)


def salinity_from_conductivity(conductivity: ArrayLike, temperature: ArrayLike) -> Array:
    """Practical salinity from conductivity at the water's own temperature.

    Parameters
    ----------
    conductivity : array_like
        Conductivity, not compensated to 25 °C. [S/m]
    temperature : array_like
        Water temperature, ITS-90. [°C]

    Returns
    -------
    ndarray
        Practical salinity. [-]

    Notes
    -----
    PSS-78, salinity 2 to 42 and -2 to 35 °C; below 2 the extension of Hill and others is used.
    One S/m is 10 mS/cm. Under 0.0005 S/m water itself conducts as much: where PSS-78 has no answer
    there, 0 is given, and the input counts as outside the range.

    References
    ----------
    .. [1] Fofonoff and Millard (1983), UNESCO Tech. Pap. Mar. Sci. 44, p. 6.
    .. [2] Hill, Dauphinee and Woods (1986), IEEE J. Oceanic Eng. 11:109-112.

    Examples
    --------
    >>> float(salinity_from_conductivity(5.3071, 25.0))
    35.0
    """
    import gsw

    milli, t = 10.0 * np.asarray(conductivity, dtype=np.float64), np.asarray(temperature, dtype=np.float64)
    found = np.asarray(gsw.SP_from_C(milli, t, 0.0), dtype=np.float64)
    nearly_none = (milli >= 0.0) & (milli < 0.005) & np.isfinite(t)  # gsw gives NaN over part of this
    return np.asarray(np.where(nearly_none & np.isnan(found), 0.0, found))


def conductivity_from_salinity(salinity: ArrayLike, temperature: ArrayLike) -> Array:
    """Conductivity of water of a given salinity, at the water's own temperature.

    Parameters
    ----------
    salinity : array_like
        Practical salinity. [-]
    temperature : array_like
        Water temperature, ITS-90. [°C]

    Returns
    -------
    ndarray
        Conductivity. [S/m]

    Notes
    -----
    Range of `salinity_from_conductivity`, which it undoes.

    References
    ----------
    .. [1] Fofonoff and Millard (1983), UNESCO Tech. Pap. Mar. Sci. 44, p. 6.

    Examples
    --------
    >>> float(conductivity_from_salinity(35.0, 15.0))
    4.29175
    """
    import gsw

    salt = np.asarray(salinity, dtype=np.float64)
    milli = gsw.C_from_SP(salt, np.asarray(temperature, dtype=np.float64), 0.0)
    return np.asarray(milli, dtype=np.float64) / 10.0


def _scale(scale: str) -> tuple[float, float]:
    if scale not in SCALES:
        raise ValueError(f"{scale!r} is not a hydrometer scale; write one of {', '.join(SCALES)}")
    return SCALES[scale]


def specific_gravity_from_salinity(
    salinity: ArrayLike, temperature: ArrayLike, scale: str, glass_expansion: float = GLASS_EXPANSION
) -> Array:
    """What a hydrometer of a given scale reads in water of a given salinity.

    Parameters
    ----------
    salinity : array_like
        Practical salinity. [-]
    temperature : array_like
        Temperature of the water during the reading, ITS-90. [°C]
    scale : str
        The instrument's own scale, sample over reference water: a key of `SCALES`.
    glass_expansion : float
        Cubic expansion of the instrument; 0 for a meter that gives the density ratio itself. [1/K]

    Returns
    -------
    ndarray
        The reading. [-]

    Notes
    -----
    Range of `density`. The glass figure 25e-6 is from memory, so a reading far from the scale's own
    temperature is no better than 0.0001.

    References
    ----------
    .. [1] Fofonoff and Millard (1983), UNESCO Tech. Pap. Mar. Sci. 44 (density).

    Examples
    --------
    >>> float(specific_gravity_from_salinity(35.0, 25.0, "25/25"))
    1.02637
    """
    sample, reference = _scale(scale)
    t = np.asarray(temperature, dtype=np.float64)
    grown = 1.0 + glass_expansion * (t - sample)
    return np.asarray(density(t, salinity) * grown / density(reference, 0.0))


def salinity_from_specific_gravity(
    reading: ArrayLike, temperature: ArrayLike, scale: str, glass_expansion: float = GLASS_EXPANSION
) -> Array:
    """Practical salinity from a hydrometer's reading and its own scale.

    Parameters
    ----------
    reading : array_like
        What the hydrometer shows. [-]
    temperature : array_like
        Temperature of the water during the reading, ITS-90. [°C]
    scale : str
        The instrument's own scale, sample over reference water: a key of `SCALES`. There is no default:
        1.025 is salinity 33.2 on one scale and 35.5 on another.
    glass_expansion : float
        Cubic expansion of the instrument; 0 for a meter that gives the density ratio itself. [1/K]

    Returns
    -------
    ndarray
        Practical salinity. [-]

    Notes
    -----
    Range of `density`. A reading below that of pure water gives a negative salinity.

    References
    ----------
    .. [1] Fofonoff and Millard (1983), UNESCO Tech. Pap. Mar. Sci. 44 (density).

    Examples
    --------
    >>> float(salinity_from_specific_gravity(1.0264, 25.0, "25/25"))
    35.04
    """
    sample, reference = _scale(scale)
    t = np.asarray(temperature, dtype=np.float64)
    grown = 1.0 + glass_expansion * (t - sample)
    wanted = np.asarray(reading, dtype=np.float64) * density(reference, 0.0) / grown
    return _salinity_from_density(wanted, t)


def _salinity_from_density(wanted: Array, temperature: Array) -> Array:
    """Newton's method: density is nearly straight in salinity, so eight steps reach the last digit."""
    salt = (wanted - density(temperature, 0.0)) / 0.77
    for _ in range(8):
        warm = temperature * IPTS68_PER_ITS90
        root = np.sqrt(np.maximum(salt, 0.0))
        slope = (
            np.polynomial.polynomial.polyval(warm, SALT)
            + 1.5 * root * np.polynomial.polynomial.polyval(warm, SALT_ROOT)
            + 2.0 * SALT_SQUARED * salt
        )
        salt = salt - (density(temperature, salt) - wanted) / slope
    return np.asarray(salt)


def salt_mass(
    volume: ArrayLike, salinity: ArrayLike, temperature: ArrayLike, purity: ArrayLike = 1.0
) -> Array:
    """Salt to put into a volume of fresh water to reach a salinity.

    Parameters
    ----------
    volume : array_like
        Fresh water before the salt goes in. [m3]
    salinity : array_like
        Practical salinity wanted. [-]
    temperature : array_like
        Temperature of the fresh water, ITS-90. [°C]
    purity : array_like
        Sea-salt solids in a kilogram of the mix as weighed; the rest is mostly bound water. [kg/kg]

    Returns
    -------
    ndarray
        Mass of the mix. [kg]

    Notes
    -----
    Range of `density`. Artificial mixes hold 0.85 to 0.95 of solids (from memory): weigh a trial batch.
    Salinity 35 is 35.165 g/kg of seawater, not of fresh water.

    References
    ----------
    .. [1] Millero, Feistel, Wright and McDougall (2008), Deep-Sea Res. I 55:50-72.

    Examples
    --------
    >>> float(salt_mass(1.0, 35.0, 25.0))
    36.34
    """
    share = np.asarray(salinity, dtype=np.float64) * (SALT_PER_SALINITY / 1000.0)
    water = np.asarray(volume, dtype=np.float64) * density(temperature, 0.0)
    return np.asarray(water * share / (1.0 - share) / np.asarray(purity, dtype=np.float64))


def grams_per_litre_from_salinity(salinity: ArrayLike, temperature: ArrayLike) -> Array:
    """Grams of sea-salt solids in a litre of seawater.

    Parameters
    ----------
    salinity : array_like
        Practical salinity. [-]
    temperature : array_like
        Temperature at which the litre is measured, ITS-90. [°C]

    Returns
    -------
    ndarray
        Salt in a litre. [g/L]

    Notes
    -----
    Range of `density`.

    References
    ----------
    .. [1] Millero, Feistel, Wright and McDougall (2008), Deep-Sea Res. I 55:50-72.

    Examples
    --------
    >>> float(grams_per_litre_from_salinity(35.0, 25.0))
    35.986
    """
    salt = np.asarray(salinity, dtype=np.float64)
    return np.asarray(density(temperature, salt) * salt * (SALT_PER_SALINITY / 1000.0))


def salinity_from_grams_per_litre(salt: ArrayLike, temperature: ArrayLike) -> Array:
    """Practical salinity from grams of sea-salt solids in a litre of seawater.

    Parameters
    ----------
    salt : array_like
        Salt in a litre of the seawater. [g/L]
    temperature : array_like
        Temperature at which the litre is measured, ITS-90. [°C]

    Returns
    -------
    ndarray
        Practical salinity. [-]

    Notes
    -----
    Range of `density`. Undoes `grams_per_litre_from_salinity`.

    References
    ----------
    .. [1] Millero, Feistel, Wright and McDougall (2008), Deep-Sea Res. I 55:50-72.

    Examples
    --------
    >>> float(salinity_from_grams_per_litre(35.0, 25.0))
    34.065
    """
    amount = np.asarray(salt, dtype=np.float64) * (1000.0 / SALT_PER_SALINITY)
    found = amount / density(temperature, 0.0)
    for _ in range(12):  # each step shrinks the error to about 3 %
        found = amount / density(temperature, found)
    return np.asarray(found)
