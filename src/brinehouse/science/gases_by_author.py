"""Gas relations that other tables and meters rest on, each under its author's name, to compare with ours."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science.constants import IPTS68_PER_ITS90, ZERO_CELSIUS

Array = NDArray[np.float64]

# Garcia and Gordon (1992), table 1: fit to all data in µmol/kg, and the Benson and Krause fit in mL/L.
COMBINED_WARMTH = (5.80818, 3.20684, 4.11890, 4.93845, 1.01567, 1.41575)
COMBINED_SALT = (-7.01211e-3, -7.25958e-3, -7.93334e-3, -5.54491e-3)
COMBINED_SALT_SQUARED = -1.32412e-7
VOLUME_WARMTH = (2.00907, 3.22014, 4.05010, 4.94457, -2.56847e-1, 3.88767)
VOLUME_SALT = (-6.24523e-3, -7.37614e-3, -1.03410e-2, -8.17083e-3)  # copies print -1.03410e-3 for the third
VOLUME_SALT_SQUARED = -4.88682e-7
# Benson and Krause (1984), mg/L.
BENSON_KRAUSE = (-139.34411, 1.575701e5, -6.642308e7, 1.2438e10, -8.621949e11)
BENSON_KRAUSE_SALT = (0.017674, -10.754, 2140.7)
# Weiss (1970), Bunsen coefficients; a copy of the nitrogen set prints 85.7761 for 85.7661.
BUNSEN_OXYGEN = (-58.3877, 85.8079, 23.8439, -0.034892, 0.015568, -0.0019387)
BUNSEN_NITROGEN = (-59.6274, 85.7661, 24.3696, -0.051580, 0.026329, -0.0037252)
BUNSEN_ARGON = (-55.6578, 82.0262, 22.5929, -0.036267, 0.016241, -0.0020114)
# Weiss and Price (1980), table VI, mol/kg/atm of moist air.
MOIST_CARBON_DIOXIDE = (-162.8301, 218.2968, 90.9241, -1.47696, 0.025695, -0.025225, 0.0049867)
# Ambaum (2020): temperature and pressure of the triple point, heat there, its fall by degree, gas constant.
AMBAUM = (273.16, 611.655, 2.501e6, 2180.0, 461.52)  # K, Pa, J/kg, J/kg/K, J/kg/K; from memory
# Wagner and Pruss (2002), saturation curve of water; Dickson and others (2007), osmotic coefficient.
WAGNER = (
    (1.0, -7.85951783),
    (1.5, 1.84408259),
    (3.0, -11.7866497),
    (3.5, 22.6807411),
    (4.0, -15.9618719),
    (7.5, 1.80122502),
)
WATER_CRITICAL = (647.096, 22.064e6)  # K, Pa
OSMOTIC = (0.90799, -0.08992, 0.18458, -0.07395, -0.00221)


def _garcia_gordon(
    temperature: ArrayLike,
    salinity: ArrayLike,
    warmth: tuple[float, ...],
    salt: tuple[float, ...],
    squared: float,
) -> Array:
    t = np.asarray(temperature, dtype=np.float64) * IPTS68_PER_ITS90
    s = np.asarray(salinity, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        scaled = np.log((298.15 - t) / (ZERO_CELSIUS + t))
    polyval = np.polynomial.polynomial.polyval
    return np.asarray(np.exp(polyval(scaled, warmth) + s * (polyval(scaled, salt) + s * squared)))


def oxygen_at_saturation_combined_fit(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Oxygen in balance with moist air at one atmosphere, by the fit to all data rather than the chosen one.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Dissolved oxygen at equilibrium. [µmol/kg]

    Notes
    -----
    Freezing to 40 °C, salinity 0 to 42. Up to 0.24 % from `gases.oxygen_at_saturation`, which the paper's
    own check value and every engine use.

    References
    ----------
    .. [1] Garcia and Gordon (1992), Limnol. Oceanogr. 37(6):1307-1312, table 1, combined fit.

    Examples
    --------
    >>> float(oxygen_at_saturation_combined_fit(10.0, 35.0))
    274.632
    """
    return _garcia_gordon(temperature, salinity, COMBINED_WARMTH, COMBINED_SALT, COMBINED_SALT_SQUARED)


def oxygen_volume_at_saturation(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Oxygen in balance with moist air at one atmosphere, as gas volume at 0 °C and 1 atm in a litre.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Dissolved oxygen at equilibrium. [mL/L]

    Notes
    -----
    Freezing to 40 °C, salinity 0 to 42. One mL is 1.42905 mg; 1.4276, an ideal gas, is 0.10 % low.

    References
    ----------
    .. [1] Garcia and Gordon (1992), Limnol. Oceanogr. 37(6):1307-1312, table 1, Benson and Krause fit.

    Examples
    --------
    >>> float(oxygen_volume_at_saturation(10.0, 35.0))
    6.3144
    """
    return _garcia_gordon(temperature, salinity, VOLUME_WARMTH, VOLUME_SALT, VOLUME_SALT_SQUARED)


def oxygen_at_saturation_benson_krause_1984(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Oxygen in balance with moist air at one atmosphere, in the form that wet-chemistry methods print.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Dissolved oxygen at equilibrium. [mg/L]

    Notes
    -----
    0 to 40 °C, salinity 0 to 40. Within 0.031 % of `gases.oxygen_at_saturation`.

    References
    ----------
    .. [1] Benson and Krause (1984), Limnol. Oceanogr. 29(3):620-632.

    Examples
    --------
    >>> float(oxygen_at_saturation_benson_krause_1984(20.0, 0.0))
    9.092
    """
    t = np.asarray(temperature, dtype=np.float64) + ZERO_CELSIUS
    a, b = BENSON_KRAUSE, BENSON_KRAUSE_SALT
    fresh = a[0] + (a[1] + (a[2] + (a[3] + a[4] / t) / t) / t) / t
    salt = b[0] + (b[1] + b[2] / t) / t
    return np.asarray(np.exp(fresh - np.asarray(salinity, dtype=np.float64) * salt))


def _bunsen(temperature: ArrayLike, salinity: ArrayLike, c: tuple[float, ...]) -> Array:
    t = (np.asarray(temperature, dtype=np.float64) + ZERO_CELSIUS) / 100.0
    s = np.asarray(salinity, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        power = c[0] + c[1] / t + c[2] * np.log(t) + s * (c[3] + t * (c[4] + t * c[5]))
    return np.asarray(np.exp(power))


def oxygen_bunsen_weiss_1970(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Volume of oxygen that a litre takes up under one atmosphere of it.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Bunsen coefficient. [L/L/atm]

    Notes
    -----
    -1 to 40 °C, salinity 0 to 40. Up to 0.53 % from `gases.oxygen_at_saturation`.

    References
    ----------
    .. [1] Weiss (1970), Deep-Sea Res. 17:721-735; coefficients from memory.

    Examples
    --------
    >>> float(oxygen_bunsen_weiss_1970(25.0, 35.0))
    0.023290
    """
    return _bunsen(temperature, salinity, BUNSEN_OXYGEN)


def nitrogen_bunsen_weiss_1970(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Volume of nitrogen that a litre takes up under one atmosphere of it.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Bunsen coefficient. [L/L/atm]

    Notes
    -----
    -1 to 40 °C, salinity 0 to 40. 0.8 to 1.8 % below `gases.nitrogen_at_saturation`.

    References
    ----------
    .. [1] Weiss (1970), Deep-Sea Res. 17:721-735; coefficients from memory.

    Examples
    --------
    >>> float(nitrogen_bunsen_weiss_1970(25.0, 35.0))
    0.011607
    """
    return _bunsen(temperature, salinity, BUNSEN_NITROGEN)


def argon_bunsen_weiss_1970(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Volume of argon that a litre takes up under one atmosphere of it.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Bunsen coefficient. [L/L/atm]

    Notes
    -----
    -1 to 40 °C, salinity 0 to 40.

    References
    ----------
    .. [1] Weiss (1970), Deep-Sea Res. 17:721-735; coefficients from memory.

    Examples
    --------
    >>> float(argon_bunsen_weiss_1970(25.0, 35.0))
    0.025595
    """
    return _bunsen(temperature, salinity, BUNSEN_ARGON)


def carbon_dioxide_at_saturation_weiss_price_1980(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Carbon dioxide in seawater for each unit of its share in dry air, at one atmosphere of moist air.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Function F: concentration divided by mole fraction in dry air. [mol/kg]

    Notes
    -----
    -1 to 40 °C, salinity 0 to 40.

    References
    ----------
    .. [1] Weiss and Price (1980), Mar. Chem. 8:347-359, table VI.

    Examples
    --------
    >>> float(carbon_dioxide_at_saturation_weiss_price_1980(25.0, 35.0)) * 100
    2.7440
    """
    c = MOIST_CARBON_DIOXIDE
    t = (np.asarray(temperature, dtype=np.float64) + ZERO_CELSIUS) / 100.0
    s = np.asarray(salinity, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        fresh = c[0] + c[1] / t + c[2] * np.log(t) + c[3] * t**2
    return np.asarray(np.exp(fresh + s * (c[4] + t * (c[5] + t * c[6]))))


def vapour_pressure_dickson_2007(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Pressure of water vapour over seawater, from pure water's and the osmotic coefficient.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Vapour pressure. [Pa]

    Notes
    -----
    0 to 40 °C, salinity 0 to 40; within 0.008 % of IAPWS-97 for pure water. The osmotic coefficient is that
    of 25 °C.

    References
    ----------
    .. [1] Dickson, Sabine and Christian (2007), PICES Spec. Publ. 3, chapter 5; coefficients from memory.
    .. [2] Wagner and Pruss (2002), J. Phys. Chem. Ref. Data 31:387-535, eq. 2.5; coefficients from memory.

    Examples
    --------
    >>> float(vapour_pressure_dickson_2007(25.0, 35.0)) / 133.322
    23.331
    """
    critical, pressure = WATER_CRITICAL
    kelvin = np.asarray(temperature, dtype=np.float64) + ZERO_CELSIUS
    salt = np.asarray(salinity, dtype=np.float64)
    gap = 1.0 - kelvin / critical
    with np.errstate(invalid="ignore", divide="ignore"):
        series = sum(c * gap**power for power, c in WAGNER)
        water = pressure * np.exp(critical / kelvin * series)
    molality = 31.998 * salt / (1000.0 - 1.005 * salt)
    osmotic = np.polynomial.polynomial.polyval(molality / 2.0, OSMOTIC)
    return np.asarray(water * np.exp(-0.018 * osmotic * molality))


def vapour_pressure_ambaum_2020(temperature: ArrayLike) -> Array:
    """Pressure of water vapour over fresh water, from heat alone.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]

    Returns
    -------
    ndarray
        Vapour pressure. [Pa]

    Notes
    -----
    0 to 40 °C, fresh water; within 0.03 % of IAPWS-97.

    References
    ----------
    .. [1] Ambaum (2020), Q. J. R. Meteorol. Soc. 146:4252-4258, eq. 13; constants partly from memory.

    Examples
    --------
    >>> float(vapour_pressure_ambaum_2020(10.0))
    1227.9
    """
    triple, pressure, heat, fall, constant = AMBAUM
    kelvin = np.asarray(temperature, dtype=np.float64) + ZERO_CELSIUS
    left = heat - fall * (kelvin - triple)
    power = heat / (constant * triple) - left / (constant * kelvin)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(pressure * (triple / kelvin) ** (fall / constant) * np.exp(power))
