"""Gases in water: what the air would hold there, their pressures, and what a meter's pressures mean."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import rows, seawater
from brinehouse.science.constants import (
    ARGON_IN_AIR,
    ATM,
    GAS_CONSTANT,
    IPTS68_PER_ITS90,
    NITROGEN_IN_AIR,
    OXYGEN_IN_AIR,
    OXYGEN_MOLAR_MASS,
    ZERO_CELSIUS,
)

Array = NDArray[np.float64]

# Garcia and Gordon (1992), table 1, Benson and Krause fit, µmol/kg. Equation 8 prints an extra A3 Ts².
OXYGEN_WARMTH = (5.80871, 3.20291, 4.17887, 5.10006, -9.86643e-2, 3.80369)
OXYGEN_SALT = (-7.01577e-3, -7.70028e-3, -1.13864e-2, -9.51519e-3)
OXYGEN_SALT_SQUARED = -2.75915e-7
# Hamme and Emerson (2004), table 4, µmol/kg.
NITROGEN_WARMTH = (6.42931, 2.92704, 4.32531, 4.69149)
NITROGEN_SALT = (-7.44129e-3, -8.02566e-3, -1.46775e-2)
ARGON_WARMTH = (2.79150, 3.17609, 4.13116, 4.90379)
ARGON_SALT = (-6.96233e-3, -7.66670e-3, -1.16888e-2)
# Weiss and Price (1980), equation 10.
VAPOUR = (24.4543, -67.4509, -4.8489, -0.000544)
# Weiss (1974): K0 in mol/kg/atm, then the second virial coefficients in cm3/mol.
CARBON_DIOXIDE = (-60.2409, 93.4517, 23.3585)
CARBON_DIOXIDE_SALT = (0.023517, -0.023656, 0.0047036)
VIRIAL_CARBON_DIOXIDE = (-1636.75, 12.0408, -0.0327957, 3.16528e-5)
VIRIAL_MIXED = (57.7, -0.118)


def _scaled(temperature: Array, out: Array, scaled: Array, warming: float) -> None:
    """Fill `scaled` with Ts = ln((298.15 - t)/(273.15 + t)), where t is `warming` times the temperature."""
    np.multiply(temperature, warming, out=out)
    np.subtract(298.15, out, out=scaled)
    out += ZERO_CELSIUS
    scaled /= out
    np.log(scaled, out=scaled)


def _oxygen(temperature: Array, salinity: Array, out: Array, scaled: Array, salt: Array) -> None:
    _scaled(temperature, out, scaled, IPTS68_PER_ITS90)
    rows.polynomial(scaled, OXYGEN_SALT, salt)
    np.multiply(salinity, OXYGEN_SALT_SQUARED, out=out)
    salt += out
    salt *= salinity
    rows.polynomial(scaled, OXYGEN_WARMTH, out)
    out += salt
    np.exp(out, out=out)


def _nitrogen(temperature: Array, salinity: Array, out: Array, scaled: Array, salt: Array) -> None:
    _scaled(temperature, out, scaled, 1.0)
    rows.polynomial(scaled, NITROGEN_SALT, salt)
    salt *= salinity
    rows.polynomial(scaled, NITROGEN_WARMTH, out)
    out += salt
    np.exp(out, out=out)


def _argon(temperature: Array, salinity: Array, out: Array, scaled: Array, salt: Array) -> None:
    _scaled(temperature, out, scaled, 1.0)
    rows.polynomial(scaled, ARGON_SALT, salt)
    salt *= salinity
    rows.polynomial(scaled, ARGON_WARMTH, out)
    out += salt
    np.exp(out, out=out)


def oxygen_at_saturation(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Oxygen held by seawater in balance with moist air at one atmosphere.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity, broadcastable to `temperature`. [-]

    Returns
    -------
    ndarray
        Dissolved oxygen at equilibrium, shape of the broadcast inputs. [µmol/kg]

    Notes
    -----
    Fitted between freezing and 40 °C, salinity 0 to 42. Outside, the value is still returned;
    see `ranges.outside`. The paper's temperature is IPTS-68, so the input is first multiplied by 1.00024.
    Equation 8 as printed holds a term A3 Ts² too many: it is left out here.

    References
    ----------
    .. [1] Garcia and Gordon (1992), Limnol. Oceanogr. 37(6):1307-1312, eq. 8 corrected, table 1.

    Examples
    --------
    >>> float(oxygen_at_saturation(10.0, 35.0))
    274.5957
    """
    return rows.run(_oxygen, temperature, salinity, spare=2)


def nitrogen_at_saturation(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Nitrogen (N2 alone) held by seawater in balance with moist air at one atmosphere.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity, broadcastable to `temperature`. [-]

    Returns
    -------
    ndarray
        Dissolved nitrogen at equilibrium. [µmol/kg]

    Notes
    -----
    Measured between 0 and 30 °C, salinity 0 to 35. Weiss (1970) is 0.8 to 1.8 % lower: see `gases_by_author`.

    References
    ----------
    .. [1] Hamme and Emerson (2004), Deep-Sea Res. I 51:1517-1528, table 4.

    Examples
    --------
    >>> float(nitrogen_at_saturation(10.0, 35.0))
    500.885
    """
    return rows.run(_nitrogen, temperature, salinity, spare=2)


def argon_at_saturation(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Argon held by seawater in balance with moist air at one atmosphere.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity, broadcastable to `temperature`. [-]

    Returns
    -------
    ndarray
        Dissolved argon at equilibrium. [µmol/kg]

    Notes
    -----
    Measured between 0 and 30 °C, salinity 0 to 35.

    References
    ----------
    .. [1] Hamme and Emerson (2004), Deep-Sea Res. I 51:1517-1528, table 4.

    Examples
    --------
    >>> float(argon_at_saturation(10.0, 35.0))
    13.4622
    """
    return rows.run(_argon, temperature, salinity, spare=2)


def vapour_pressure(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Pressure of water vapour in balance with seawater.

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
    0 to 40 °C, salinity 0 to 40. Lies 0.12 to 0.13 % below IAPWS-97, which is 0.03 mmHg at 25 °C;
    `gases_by_author.vapour_pressure_dickson_2007` is closer.

    References
    ----------
    .. [1] Weiss and Price (1980), Mar. Chem. 8:347-359, eq. 10.

    Examples
    --------
    >>> float(vapour_pressure(25.0, 35.0)) / 133.322
    23.298
    """
    kelvin = (np.asarray(temperature, dtype=np.float64) + ZERO_CELSIUS) / 100.0
    salt = np.asarray(salinity, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        power = VAPOUR[0] + VAPOUR[1] / kelvin + VAPOUR[2] * np.log(kelvin) + VAPOUR[3] * salt
    return np.asarray(ATM * np.exp(power))


def carbon_dioxide_solubility(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Carbon dioxide held by seawater under one atmosphere of its own fugacity (K0).

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Solubility coefficient. [mol/kg/atm]

    Notes
    -----
    -1 to 40 °C, salinity 0 to 40. Moles per kilogram of seawater and per standard atmosphere, as the
    carbonate literature prints it.

    References
    ----------
    .. [1] Weiss (1974), Mar. Chem. 2:203-215, eq. 12, table I.

    Examples
    --------
    >>> float(carbon_dioxide_solubility(25.0, 35.0))
    0.028392
    """
    kelvin = (np.asarray(temperature, dtype=np.float64) + ZERO_CELSIUS) / 100.0
    a, b = CARBON_DIOXIDE, CARBON_DIOXIDE_SALT
    with np.errstate(invalid="ignore", divide="ignore"):
        salt = np.asarray(salinity, dtype=np.float64) * (b[0] + kelvin * (b[1] + kelvin * b[2]))
        return np.asarray(np.exp(a[0] + a[1] / kelvin + a[2] * np.log(kelvin) + salt))


def fugacity_factor(temperature: ArrayLike, pressure: ArrayLike = ATM) -> Array:
    """Fugacity of carbon dioxide in moist air as a share of its partial pressure.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    pressure : array_like
        Total pressure of the gas, one standard atmosphere unless told. [Pa]

    Returns
    -------
    ndarray
        Fugacity divided by partial pressure. [-]

    Notes
    -----
    -1 to 40 °C. Carbon dioxide is taken as thin in air, so the mole-fraction term is one.

    References
    ----------
    .. [1] Weiss (1974), Mar. Chem. 2:203-215, eqs. 6, 9 and 11.

    Examples
    --------
    >>> float(fugacity_factor(25.0))
    0.99681
    """
    kelvin = np.asarray(temperature, dtype=np.float64) + ZERO_CELSIUS
    b = VIRIAL_CARBON_DIOXIDE
    own = b[0] + kelvin * (b[1] + kelvin * (b[2] + kelvin * b[3]))
    mixed = VIRIAL_MIXED[0] + VIRIAL_MIXED[1] * kelvin
    cubic_metres = (own + 2.0 * mixed) * 1e-6
    return np.asarray(np.exp(cubic_metres * np.asarray(pressure, dtype=np.float64) / (GAS_CONSTANT * kelvin)))


def _pressure_per_concentration(
    held: Array, share: float, temperature: ArrayLike, salinity: ArrayLike
) -> Array:
    """Pa of a gas for each µmol/kg of it: its pressure in moist air at 1 atm over what that air holds."""
    return share * (ATM - vapour_pressure(temperature, salinity)) / held


def oxygen_partial_pressure(concentration: ArrayLike, temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Pressure of the dissolved oxygen, from how much of it there is.

    Parameters
    ----------
    concentration : array_like
        Dissolved oxygen. [µmol/kg]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Partial pressure of oxygen. [Pa]

    Notes
    -----
    Range of `oxygen_at_saturation`. Henry's law, proportional at any concentration; dry air holds 0.20946
    of oxygen. Depth is left out: 10 m changes it by 0.13 %.

    References
    ----------
    .. [1] Garcia and Gordon (1992), Limnol. Oceanogr. 37(6):1307-1312.
    .. [2] Weiss and Price (1980), Mar. Chem. 8:347-359, eq. 10.

    Examples
    --------
    >>> float(oxygen_partial_pressure(oxygen_at_saturation(25.5, 35.0), 25.5, 35.0)) / 133.322
    154.16
    """
    held = oxygen_at_saturation(temperature, salinity)
    amount = np.asarray(concentration, dtype=np.float64)
    return np.asarray(amount * _pressure_per_concentration(held, OXYGEN_IN_AIR, temperature, salinity))


def oxygen_concentration(pressure: ArrayLike, temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """How much oxygen the water holds at a given pressure of it; undoes `oxygen_partial_pressure`.

    Parameters
    ----------
    pressure : array_like
        Partial pressure of oxygen. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Dissolved oxygen. [µmol/kg]

    Notes
    -----
    Range of `oxygen_at_saturation`.

    References
    ----------
    .. [1] Garcia and Gordon (1992), Limnol. Oceanogr. 37(6):1307-1312.

    Examples
    --------
    >>> float(oxygen_concentration(oxygen_partial_pressure(200.0, 20.0, 35.0), 20.0, 35.0))
    200.0
    """
    held = oxygen_at_saturation(temperature, salinity)
    given = np.asarray(pressure, dtype=np.float64)
    return np.asarray(given / _pressure_per_concentration(held, OXYGEN_IN_AIR, temperature, salinity))


def nitrogen_partial_pressure(concentration: ArrayLike, temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Pressure of the dissolved nitrogen (N2 alone), from how much of it there is.

    Parameters
    ----------
    concentration : array_like
        Dissolved nitrogen. [µmol/kg]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Partial pressure of nitrogen. [Pa]

    Notes
    -----
    Range of `nitrogen_at_saturation`; dry air holds 0.78084 of nitrogen.

    References
    ----------
    .. [1] Hamme and Emerson (2004), Deep-Sea Res. I 51:1517-1528.

    Examples
    --------
    >>> float(nitrogen_partial_pressure(nitrogen_at_saturation(25.5, 35.0), 25.5, 35.0)) / 133.322
    574.70
    """
    held = nitrogen_at_saturation(temperature, salinity)
    amount = np.asarray(concentration, dtype=np.float64)
    return np.asarray(amount * _pressure_per_concentration(held, NITROGEN_IN_AIR, temperature, salinity))


def nitrogen_concentration(pressure: ArrayLike, temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """How much nitrogen (N2 alone) the water holds at a given pressure of it.

    Parameters
    ----------
    pressure : array_like
        Partial pressure of nitrogen. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Dissolved nitrogen. [µmol/kg]

    Notes
    -----
    Range of `nitrogen_at_saturation`.

    References
    ----------
    .. [1] Hamme and Emerson (2004), Deep-Sea Res. I 51:1517-1528.

    Examples
    --------
    >>> float(nitrogen_concentration(nitrogen_partial_pressure(400.0, 20.0, 35.0), 20.0, 35.0))
    400.0
    """
    held = nitrogen_at_saturation(temperature, salinity)
    given = np.asarray(pressure, dtype=np.float64)
    return np.asarray(given / _pressure_per_concentration(held, NITROGEN_IN_AIR, temperature, salinity))


def argon_partial_pressure(concentration: ArrayLike, temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Pressure of the dissolved argon, from how much of it there is.

    Parameters
    ----------
    concentration : array_like
        Dissolved argon. [µmol/kg]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Partial pressure of argon. [Pa]

    Notes
    -----
    Range of `argon_at_saturation`; dry air holds 0.00934 of argon.

    References
    ----------
    .. [1] Hamme and Emerson (2004), Deep-Sea Res. I 51:1517-1528.

    Examples
    --------
    >>> float(argon_partial_pressure(argon_at_saturation(25.5, 35.0), 25.5, 35.0)) / 133.322
    6.874
    """
    held = argon_at_saturation(temperature, salinity)
    amount = np.asarray(concentration, dtype=np.float64)
    return np.asarray(amount * _pressure_per_concentration(held, ARGON_IN_AIR, temperature, salinity))


def micromoles_per_kilogram_to_milligrams_per_litre(
    concentration: ArrayLike,
    temperature: ArrayLike,
    salinity: ArrayLike,
    molar_mass: float = OXYGEN_MOLAR_MASS,
) -> Array:
    """Amount in a kilogram of seawater as mass in a litre of it; oxygen unless told otherwise.

    Parameters
    ----------
    concentration : array_like
        Dissolved gas. [µmol/kg]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    molar_mass : float
        Molar mass of the gas, oxygen's unless told. [g/mol]

    Returns
    -------
    ndarray
        Dissolved gas. [mg/L]

    Notes
    -----
    Range of `seawater.density`. The litre is of the water at its own temperature.

    References
    ----------
    .. [1] Fofonoff and Millard (1983), UNESCO Tech. Pap. Mar. Sci. 44 (density).

    Examples
    --------
    >>> float(micromoles_per_kilogram_to_milligrams_per_litre(205.05, 25.5, 35.0))
    6.7135
    """
    litres = seawater.density(temperature, salinity) * 1e-6 * molar_mass
    return np.asarray(np.asarray(concentration, dtype=np.float64) * litres)


def milligrams_per_litre_to_micromoles_per_kilogram(
    concentration: ArrayLike,
    temperature: ArrayLike,
    salinity: ArrayLike,
    molar_mass: float = OXYGEN_MOLAR_MASS,
) -> Array:
    """Mass in a litre of seawater as amount in a kilogram of it; oxygen unless told otherwise.

    Parameters
    ----------
    concentration : array_like
        Dissolved gas. [mg/L]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    molar_mass : float
        Molar mass of the gas, oxygen's unless told. [g/mol]

    Returns
    -------
    ndarray
        Dissolved gas. [µmol/kg]

    Notes
    -----
    Range of `seawater.density`.

    References
    ----------
    .. [1] Fofonoff and Millard (1983), UNESCO Tech. Pap. Mar. Sci. 44 (density).

    Examples
    --------
    >>> float(milligrams_per_litre_to_micromoles_per_kilogram(6.7135, 25.5, 35.0))
    205.05
    """
    litres = seawater.density(temperature, salinity) * 1e-6 * molar_mass
    return np.asarray(np.asarray(concentration, dtype=np.float64) / litres)
