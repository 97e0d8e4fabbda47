"""What lifts the gas in water above the air's: bubbles, leaks, warmth, light and weather, one at a time."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import gases, seawater
from brinehouse.science.constants import (
    ARGON_IN_AIR,
    ATM,
    GAS_CONSTANT,
    NITROGEN_IN_AIR,
    OXYGEN_IN_AIR,
    ZERO_CELSIUS,
)

Array = NDArray[np.float64]

INERT_IN_AIR = NITROGEN_IN_AIR + ARGON_IN_AIR  # mol/mol
AIR_IN_A_MILLILITRE = ATM / (GAS_CONSTANT * ZERO_CELSIUS)  # µmol in a mL of gas at 0 °C and 1 atm


class Rise(NamedTuple):
    """How far a cause lifts the gases in water that was in balance with the air.

    Attributes
    ----------
    oxygen : ndarray
        Rise of oxygen saturation against local air. [%]
    nitrogen : ndarray
        Rise of nitrogen and argon saturation against local air. [%]
    total : ndarray
        Rise of total gas pressure, vapour counted in. [%]
    """

    oxygen: Array
    nitrogen: Array
    total: Array


def _float(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def _total(oxygen: Array, nitrogen: Array, vapour: Array, station_pressure: ArrayLike) -> Array:
    """Dalton's sum of two rises, as a share of the air's pressure."""
    dry = 1.0 - vapour / _float(station_pressure)
    return np.asarray(dry * (OXYGEN_IN_AIR * oxygen + (1.0 - OXYGEN_IN_AIR) * nitrogen))


def _oxygen_solubility(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Oxygen held for each unit of its share in moist air at one atmosphere, in µmol/kg."""
    return np.asarray(gases.oxygen_at_saturation(temperature, salinity) / OXYGEN_IN_AIR)


def _inert_solubility(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """The same for nitrogen and argon together, so that amount over it gives their joint pressure."""
    nitrogen = NITROGEN_IN_AIR**2 / gases.nitrogen_at_saturation(temperature, salinity)
    argon = ARGON_IN_AIR**2 / gases.argon_at_saturation(temperature, salinity)
    return np.asarray(INERT_IN_AIR / (nitrogen + argon))


def bubble_rise(
    depth: ArrayLike, station_pressure: ArrayLike, temperature: ArrayLike, salinity: ArrayLike
) -> Rise:
    """What plenty of air carried down does, once the water is in balance with it at depth.

    Parameters
    ----------
    depth : array_like
        Depth at which water and bubbles came into balance. [m]
    station_pressure : array_like
        Pressure of the air at the place. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    Rise
        Rises of oxygen, nitrogen and total gas; oxygen and nitrogen rise alike. [%]

    Notes
    -----
    Range of `gases.vapour_pressure`. This is the most that entrained air can do at that depth.

    References
    ----------
    .. [1] Colt (1984), Am. Fish. Soc. Spec. Publ. 14, eq. 54; Henry's law.

    Examples
    --------
    >>> float(bubble_rise(1.0, 760.0 * 133.322, 25.5, 35.0).total)
    9.90
    """
    air = _float(station_pressure)
    weight = _float(depth) * seawater.weight_per_metre(temperature, salinity)
    gas = np.asarray(100.0 * weight / (air - gases.vapour_pressure(temperature, salinity)))
    return Rise(gas, gas.copy(), np.asarray(100.0 * weight / air))


def solubility_ratio(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """How much easier oxygen dissolves than nitrogen with its argon, pressure for pressure.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Oxygen's solubility over that of nitrogen and argon. [-]

    Notes
    -----
    Range of `gases.nitrogen_at_saturation`. It is also the rise of nitrogen over that of oxygen, in percent
    of saturation, when air dissolves whole.

    References
    ----------
    .. [1] Garcia and Gordon (1992), Limnol. Oceanogr. 37(6):1307-1312.
    .. [2] Hamme and Emerson (2004), Deep-Sea Res. I 51:1517-1528.

    Examples
    --------
    >>> float(solubility_ratio(25.5, 35.0))
    1.97
    """
    return np.asarray(_oxygen_solubility(temperature, salinity) / _inert_solubility(temperature, salinity))


def _dissolved_shares(dissolved_fraction: Array, ratio: Array) -> tuple[Array, Array]:
    """Dissolved shares of a bubble's oxygen and nitrogen, when this much of the whole bubble has dissolved.

    Remainders follow oxygen = nitrogen**ratio; the nitrogen remainder is found by halving.
    """
    wanted, power = np.broadcast_arrays(1.0 - dissolved_fraction, ratio)
    low, high = np.zeros(wanted.shape), np.ones(wanted.shape)
    for _ in range(60):
        middle = 0.5 * (low + high)
        left = OXYGEN_IN_AIR * middle**power + (1.0 - OXYGEN_IN_AIR) * middle
        low, high = np.where(left < wanted, middle, low), np.where(left < wanted, high, middle)
    nitrogen = 0.5 * (low + high)
    known = np.isfinite(wanted) & np.isfinite(power) & (wanted >= 0.0) & (wanted <= 1.0)
    nitrogen = np.where(known, nitrogen, np.nan)
    return np.asarray(1.0 - nitrogen**power), np.asarray(1.0 - nitrogen)


def nitrogen_to_oxygen_rise(
    dissolved_fraction: ArrayLike, temperature: ArrayLike, salinity: ArrayLike
) -> Array:
    """Rise of nitrogen for each percent of oxygen, when leaked air dissolves in part.

    Parameters
    ----------
    dissolved_fraction : array_like
        Share of the leaked air that dissolves before the bubbles are gone; 0 to 1. [-]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Percent of nitrogen over percent of oxygen: near 1 for big bubbles, 1.97 for all dissolved. [-]

    Notes
    -----
    Range of `gases.nitrogen_at_saturation`; NaN outside 0 to 1. Bubbles well above the water's gas pressure
    lose each gas in proportion to its solubility and its share in what is left of the bubble (Rayleigh's
    distillation), both gases with one transfer coefficient. Our own derivation; no source prints it.

    References
    ----------
    .. [1] Rayleigh (1902), Phil. Mag. 4:521-537 (distillation of a mixture).

    Examples
    --------
    >>> nitrogen_to_oxygen_rise([0.001, 0.5, 1.0], 25.5, 35.0).round(2).tolist()
    [1.0, 1.3, 1.97]
    """
    ratio = solubility_ratio(temperature, salinity)
    fraction = _float(dissolved_fraction)
    none = (fraction >= 0.0) & (fraction < 1e-6)  # there the limit, 1, is exact to six digits
    oxygen, nitrogen = _dissolved_shares(np.where(none, 1.0, fraction), ratio)
    return np.asarray(np.where(none, 1.0, ratio * nitrogen / oxygen))


def air_leak_rise(
    air: ArrayLike,
    station_pressure: ArrayLike,
    temperature: ArrayLike,
    salinity: ArrayLike,
    dissolved_fraction: ArrayLike = 1.0,
) -> Rise:
    """What air drawn in on a suction side does to the water.

    Parameters
    ----------
    air : array_like
        Dry air drawn in, as volume at 0 °C and 1 atm for each litre of water. [mL/L]
    station_pressure : array_like
        Pressure of the air at the place. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    dissolved_fraction : array_like
        Share of it that dissolves; 0 to 1. [-]

    Returns
    -------
    Rise
        Rises of oxygen, nitrogen and total gas. [%]

    Notes
    -----
    Range of `gases.nitrogen_at_saturation`; NaN for a fraction outside 0 to 1. Argon leaves a bubble
    with nitrogen here, which moves the total by less than 0.1 % of itself. See `nitrogen_to_oxygen_rise`.

    References
    ----------
    .. [1] Garcia and Gordon (1992), Limnol. Oceanogr. 37(6):1307-1312.
    .. [2] Hamme and Emerson (2004), Deep-Sea Res. I 51:1517-1528.

    Examples
    --------
    >>> rise = air_leak_rise(1.0, 760.0 * 133.322, 25.5, 35.0)
    >>> float(rise.oxygen), float(rise.nitrogen), float(rise.total)
    (4.46, 8.77, 7.62)
    """
    vapour = gases.vapour_pressure(temperature, salinity)
    local = (_float(station_pressure) - vapour) / (ATM - vapour)
    amount = _float(air) * AIR_IN_A_MILLILITRE * 1000.0 / seawater.density(temperature, salinity)
    shares = _dissolved_shares(_float(dissolved_fraction), solubility_ratio(temperature, salinity))
    easy, hard = _oxygen_solubility(temperature, salinity), _inert_solubility(temperature, salinity)
    oxygen = 100.0 * amount * shares[0] / (easy * local)
    nitrogen = 100.0 * amount * shares[1] / (hard * local)
    return Rise(oxygen, nitrogen, _total(oxygen, nitrogen, vapour, station_pressure))


def heating_rise(
    before: ArrayLike, after: ArrayLike, salinity: ArrayLike, station_pressure: ArrayLike = ATM
) -> Rise:
    """What warming does to water in balance with the air, when no gas can leave.

    Parameters
    ----------
    before : array_like
        Temperature at which water and air were in balance, ITS-90. [°C]
    after : array_like
        Temperature it is brought to, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    station_pressure : array_like
        Pressure of the air at the place. [Pa]

    Returns
    -------
    Rise
        Rises of oxygen, nitrogen and total gas; negative where the water cools. [%]

    Notes
    -----
    Range of `gases.nitrogen_at_saturation`. A kilogram keeps its gas; holding mg/L
    constant instead would forget that warm water takes more room, and gives 0.03 % more for each degree.

    References
    ----------
    .. [1] Garcia and Gordon (1992), Limnol. Oceanogr. 37(6):1307-1312.
    .. [2] Hamme and Emerson (2004), Deep-Sea Res. I 51:1517-1528.

    Examples
    --------
    >>> float(heating_rise(24.5, 25.5, 35.0).total)
    1.473
    """
    air = _float(station_pressure)
    cold, warm = gases.vapour_pressure(before, salinity), gases.vapour_pressure(after, salinity)
    dry = ((air - cold) / (ATM - cold)) / ((air - warm) / (ATM - warm))  # both columns hold at 1 atm
    oxygen = _oxygen_solubility(before, salinity) / _oxygen_solubility(after, salinity)
    nitrogen = gases.nitrogen_at_saturation(before, salinity) / gases.nitrogen_at_saturation(after, salinity)
    argon = gases.argon_at_saturation(before, salinity) / gases.argon_at_saturation(after, salinity)
    inert = (NITROGEN_IN_AIR * nitrogen + ARGON_IN_AIR * argon) / INERT_IN_AIR
    oxygen, inert = 100.0 * (oxygen * dry - 1.0), 100.0 * (inert * dry - 1.0)
    return Rise(oxygen, inert, _total(oxygen, inert, warm, air))


def oxygen_addition_rise(
    oxygen: ArrayLike, station_pressure: ArrayLike, temperature: ArrayLike, salinity: ArrayLike
) -> Rise:
    """What oxygen from plants, or taken up by animals, does; nitrogen stays as it is.

    Parameters
    ----------
    oxygen : array_like
        Oxygen added; negative where it is used up. [µmol/kg]
    station_pressure : array_like
        Pressure of the air at the place. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    Rise
        Rises of oxygen and total gas; nitrogen's is zero. [%]

    Notes
    -----
    Range of `gases.oxygen_partial_pressure`.

    References
    ----------
    .. [1] Garcia and Gordon (1992), Limnol. Oceanogr. 37(6):1307-1312.

    Examples
    --------
    >>> added = gases.milligrams_per_litre_to_micromoles_per_kilogram(1.0, 25.5, 35.0)
    >>> rise = oxygen_addition_rise(added, 760.0 * 133.322, 25.5, 35.0)
    >>> float(rise.oxygen), float(rise.total)
    (14.9, 3.02)
    """
    pressure = gases.oxygen_partial_pressure(oxygen, temperature, salinity)
    vapour = gases.vapour_pressure(temperature, salinity)
    share = 100.0 * pressure / (OXYGEN_IN_AIR * (_float(station_pressure) - vapour))
    return Rise(share, np.zeros_like(share), _total(share, np.zeros_like(share), vapour, station_pressure))


def barometer_rise(before: ArrayLike, after: ArrayLike, temperature: ArrayLike, salinity: ArrayLike) -> Rise:
    """What a change of the weather does to the percentages, before any gas has moved.

    Parameters
    ----------
    before : array_like
        Pressure of the air with which the water was in balance. [Pa]
    after : array_like
        Pressure of the air now. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    Rise
        Rises of oxygen, nitrogen and total gas; positive where the barometer falls. [%]

    Notes
    -----
    Range of `gases.vapour_pressure`.

    References
    ----------
    .. [1] Colt (1984), Am. Fish. Soc. Spec. Publ. 14, eqs. 30 to 32.

    Examples
    --------
    >>> rise = barometer_rise(760.0 * 133.322, 750.0 * 133.322, 25.5, 35.0)
    >>> float(rise.oxygen), float(rise.total)
    (1.38, 1.33)
    """
    old, new = _float(before), _float(after)
    vapour = gases.vapour_pressure(temperature, salinity)
    gas = np.asarray(100.0 * ((old - vapour) / (new - vapour) - 1.0))
    return Rise(gas, gas.copy(), np.asarray(100.0 * (old / new - 1.0)) + np.zeros_like(gas))
