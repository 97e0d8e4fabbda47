"""Total dissolved gas: pressures in the water against the air's, as differences, percents and depths."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import gases, seawater
from brinehouse.science.constants import MMHG, NITROGEN_ARGON_IN_AIR, OXYGEN_IN_AIR

Array = NDArray[np.float64]

# British Columbia guideline (1994), equation 4, from memory: Pa per metre, and a share of oxygen's pressure.
SWIM_BLADDER = (73.89 * MMHG, 0.15)


def _dry(station_pressure: ArrayLike, temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Pressure of the air less the vapour it holds over this water, in Pa."""
    air = np.asarray(station_pressure, dtype=np.float64)
    return np.asarray(air - gases.vapour_pressure(temperature, salinity))


def delta_p(total_gas_pressure: ArrayLike, station_pressure: ArrayLike) -> Array:
    """How far the water's gas pressure is above the air's.

    Parameters
    ----------
    total_gas_pressure : array_like
        Pressure of all dissolved gases and water vapour, absolute. [Pa]
    station_pressure : array_like
        Pressure of the air at the place, not reduced to sea level. [Pa]

    Returns
    -------
    ndarray
        Difference, negative in undersaturated water. [Pa]

    Notes
    -----
    A definition; no range. The same word is an argument in the rest of this module.

    References
    ----------
    .. [1] Colt (1984), Am. Fish. Soc. Spec. Publ. 14, eq. 31.

    Examples
    --------
    >>> float(delta_p(104000.0, 101325.0))
    2675.0
    """
    total = np.asarray(total_gas_pressure, dtype=np.float64)
    return np.asarray(total - np.asarray(station_pressure, dtype=np.float64))


def total_gas_percent(delta_p: ArrayLike, station_pressure: ArrayLike) -> Array:
    """Total gas pressure as a percentage of the air's, water vapour counted in both.

    Parameters
    ----------
    delta_p : array_like
        Gas pressure in the water less the air's. [Pa]
    station_pressure : array_like
        Pressure of the air at the place. [Pa]

    Returns
    -------
    ndarray
        Total gas pressure, 100 in balance with the air. [%]

    Notes
    -----
    A definition. Two other percentages carry the same name: `total_gas_percent_without_vapour`, and a
    weighted mean of two saturations, 79 parts nitrogen and 21 oxygen.

    References
    ----------
    .. [1] Colt (1984), Am. Fish. Soc. Spec. Publ. 14, eq. 30.

    Examples
    --------
    >>> float(total_gas_percent(76.0 * 133.322, 760.0 * 133.322))
    110.0
    """
    air = np.asarray(station_pressure, dtype=np.float64)
    return np.asarray(100.0 * (air + np.asarray(delta_p, dtype=np.float64)) / air)


def delta_p_from_percent(total_gas_percent: ArrayLike, station_pressure: ArrayLike) -> Array:
    """Gas pressure above the air's, from the percentage with vapour counted in.

    Parameters
    ----------
    total_gas_percent : array_like
        Total gas pressure in percent of the air's. [%]
    station_pressure : array_like
        Pressure of the air that the percentage was worked out with. [Pa]

    Returns
    -------
    ndarray
        Difference. [Pa]

    Notes
    -----
    A definition; undoes the function `total_gas_percent`.

    References
    ----------
    .. [1] Colt (1984), Am. Fish. Soc. Spec. Publ. 14, eq. 30.

    Examples
    --------
    >>> float(delta_p_from_percent(103.0, 760.0 * 133.322)) / 133.322
    22.8
    """
    percent = np.asarray(total_gas_percent, dtype=np.float64)
    return np.asarray((percent / 100.0 - 1.0) * np.asarray(station_pressure, dtype=np.float64))


def total_gas_percent_without_vapour(
    delta_p: ArrayLike, station_pressure: ArrayLike, temperature: ArrayLike, salinity: ArrayLike
) -> Array:
    """Pressure of the dissolved gases alone as a percentage of dry air's.

    Parameters
    ----------
    delta_p : array_like
        Gas pressure in the water less the air's. [Pa]
    station_pressure : array_like
        Pressure of the air at the place. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Dry gas pressure, 100 in balance with the air. [%]

    Notes
    -----
    Range of `gases.vapour_pressure`. At 25.5 °C, 105.00 % with vapour is 105.16 % without.

    References
    ----------
    .. [1] Weiss and Price (1980), Mar. Chem. 8:347-359, eq. 10.

    Examples
    --------
    >>> float(total_gas_percent_without_vapour(38.0 * 133.322, 760.0 * 133.322, 25.5, 35.0))
    105.163
    """
    dry = _dry(station_pressure, temperature, salinity)
    return np.asarray(100.0 * (dry + np.asarray(delta_p, dtype=np.float64)) / dry)


def total_gas_pressure(
    oxygen_pressure: ArrayLike,
    nitrogen_argon_pressure: ArrayLike,
    temperature: ArrayLike,
    salinity: ArrayLike,
    carbon_dioxide_pressure: ArrayLike = 0.0,
) -> Array:
    """Pressure of all gases and vapour in the water together.

    Parameters
    ----------
    oxygen_pressure : array_like
        Partial pressure of oxygen. [Pa]
    nitrogen_argon_pressure : array_like
        Partial pressure of nitrogen and argon together. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    carbon_dioxide_pressure : array_like
        Partial pressure of carbon dioxide, none unless told. [Pa]

    Returns
    -------
    ndarray
        Total gas pressure, absolute. [Pa]

    Notes
    -----
    Dalton's law; range of `gases.vapour_pressure`.

    References
    ----------
    .. [1] Colt (1984), Am. Fish. Soc. Spec. Publ. 14, eqs. 30 to 32.

    Examples
    --------
    >>> float(total_gas_pressure(20000.0, 78000.0, 25.0, 35.0))
    101106.1
    """
    known = np.asarray(oxygen_pressure, dtype=np.float64) + np.asarray(
        carbon_dioxide_pressure, dtype=np.float64
    )
    rest = np.asarray(nitrogen_argon_pressure, dtype=np.float64)
    return np.asarray(known + rest + gases.vapour_pressure(temperature, salinity))


def nitrogen_argon_pressure(
    delta_p: ArrayLike,
    station_pressure: ArrayLike,
    oxygen_pressure: ArrayLike,
    temperature: ArrayLike,
    salinity: ArrayLike,
    carbon_dioxide_pressure: ArrayLike = 0.0,
) -> Array:
    """Pressure of nitrogen and argon, as what is left of the total.

    Parameters
    ----------
    delta_p : array_like
        Gas pressure in the water less the air's. [Pa]
    station_pressure : array_like
        Pressure of the air at the place. [Pa]
    oxygen_pressure : array_like
        Partial pressure of oxygen. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    carbon_dioxide_pressure : array_like
        Partial pressure of carbon dioxide, none unless told. [Pa]

    Returns
    -------
    ndarray
        Partial pressure of nitrogen and argon together. [Pa]

    Notes
    -----
    Range of `gases.vapour_pressure`. Carbon dioxide left out hides in the remainder: 0.17 % of saturation
    for each mmHg. The remainder may come out negative when the inputs contradict one another.

    References
    ----------
    .. [1] Colt (1984), Am. Fish. Soc. Spec. Publ. 14, as the SM 2810 form has it (from memory).

    Examples
    --------
    >>> float(nitrogen_argon_pressure(3000.0, 101325.0, 20000.0, 25.0, 35.0))
    81218.9
    """
    total = np.asarray(station_pressure, dtype=np.float64) + np.asarray(delta_p, dtype=np.float64)
    known = np.asarray(oxygen_pressure, dtype=np.float64) + np.asarray(
        carbon_dioxide_pressure, dtype=np.float64
    )
    return np.asarray(total - known - gases.vapour_pressure(temperature, salinity))


def oxygen_percent(
    oxygen_pressure: ArrayLike, station_pressure: ArrayLike, temperature: ArrayLike, salinity: ArrayLike
) -> Array:
    """Oxygen as a percentage of what the air at this place would give.

    Parameters
    ----------
    oxygen_pressure : array_like
        Partial pressure of oxygen. [Pa]
    station_pressure : array_like
        Pressure of the air at the place. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Oxygen saturation against local air. [%]

    Notes
    -----
    Range of `gases.vapour_pressure`.

    References
    ----------
    .. [1] Colt (1984), Am. Fish. Soc. Spec. Publ. 14, as the SM 2810 form has it (from memory).

    Examples
    --------
    >>> float(oxygen_percent(20552.7, 101325.0, 25.5, 35.0))
    100.0
    """
    air = OXYGEN_IN_AIR * _dry(station_pressure, temperature, salinity)
    return np.asarray(100.0 * np.asarray(oxygen_pressure, dtype=np.float64) / air)


def oxygen_percent_at_sea_level(
    concentration: ArrayLike, temperature: ArrayLike, salinity: ArrayLike
) -> Array:
    """Oxygen as a percentage of what air at one atmosphere would give, wherever the place is.

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
        Oxygen saturation against one atmosphere. [%]

    Notes
    -----
    Range of `gases.oxygen_at_saturation`. Some meters show this one: at 300 m it is 3.6 % lower than
    `oxygen_percent`.

    References
    ----------
    .. [1] Garcia and Gordon (1992), Limnol. Oceanogr. 37(6):1307-1312.

    Examples
    --------
    >>> float(oxygen_percent_at_sea_level(137.298, 10.0, 35.0))
    50.0
    """
    held = gases.oxygen_at_saturation(temperature, salinity)
    return np.asarray(100.0 * np.asarray(concentration, dtype=np.float64) / held)


def nitrogen_percent(
    nitrogen_argon_pressure: ArrayLike,
    station_pressure: ArrayLike,
    temperature: ArrayLike,
    salinity: ArrayLike,
    share: float = NITROGEN_ARGON_IN_AIR,
) -> Array:
    """Nitrogen and argon as a percentage of what the air at this place would give.

    Parameters
    ----------
    nitrogen_argon_pressure : array_like
        Partial pressure of nitrogen and argon together. [Pa]
    station_pressure : array_like
        Pressure of the air at the place. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    share : float
        Nitrogen and argon in dry air: 0.7902, or 0.79054 where a meter takes all but oxygen. [mol/mol]

    Returns
    -------
    ndarray
        Nitrogen and argon saturation against local air. [%]

    Notes
    -----
    Range of `gases.vapour_pressure`. The two shares differ by 0.045 % of the reading.

    References
    ----------
    .. [1] Colt (1984), Am. Fish. Soc. Spec. Publ. 14, as the SM 2810 form has it (from memory).

    Examples
    --------
    >>> float(nitrogen_percent(81218.9, 101325.0, 25.0, 35.0))
    104.64
    """
    air = share * _dry(station_pressure, temperature, salinity)
    return np.asarray(100.0 * np.asarray(nitrogen_argon_pressure, dtype=np.float64) / air)


def uncompensated_delta_p(
    delta_p: ArrayLike, depth: ArrayLike, temperature: ArrayLike, salinity: ArrayLike
) -> Array:
    """Gas pressure that the weight of the water above does not hold down.

    Parameters
    ----------
    delta_p : array_like
        Gas pressure in the water less the air's. [Pa]
    depth : array_like
        Depth below the surface. [m]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Difference at that depth; its sign is kept. [Pa]

    Notes
    -----
    Range of `seawater.density`. Above zero bubbles can form; below zero they cannot.

    References
    ----------
    .. [1] Colt (1984), Am. Fish. Soc. Spec. Publ. 14, eq. 54.

    Examples
    --------
    >>> float(uncompensated_delta_p(76.0 * 133.322, 1.0, 25.5, 35.0)) / 133.322
    0.74
    """
    held = np.asarray(depth, dtype=np.float64) * seawater.weight_per_metre(temperature, salinity)
    return np.asarray(np.asarray(delta_p, dtype=np.float64) - held)


def compensation_depth(delta_p: ArrayLike, temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Depth below which the water's weight holds its gas in solution.

    Parameters
    ----------
    delta_p : array_like
        Gas pressure in the water less the air's. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Depth; 0 where the difference is negative, which engines say with a finding. [m]

    Notes
    -----
    Range of `seawater.density`.

    References
    ----------
    .. [1] Colt (1984), Am. Fish. Soc. Spec. Publ. 14, eq. 54 set to zero.

    Examples
    --------
    >>> float(compensation_depth(76.0 * 133.322, 25.5, 35.0))
    1.0098
    """
    depth = np.asarray(delta_p, dtype=np.float64) / seawater.weight_per_metre(temperature, salinity)
    return np.asarray(np.maximum(depth, 0.0))


def swim_bladder_delta_p(depth: ArrayLike, oxygen_pressure: ArrayLike) -> Array:
    """Gas pressure at which a young fish's swim bladder begins to overfill.

    Parameters
    ----------
    depth : array_like
        Depth at which the fish stays. [m]
    oxygen_pressure : array_like
        Partial pressure of oxygen in the water. [Pa]

    Returns
    -------
    ndarray
        Threshold of the difference. [Pa]

    Notes
    -----
    No range published. The equation is from memory, so it informs and never decides; below 0.71 m it asks
    for less than the guideline's general 76 mmHg, above it for more: take the smaller.

    References
    ----------
    .. [1] Fidler and Miller (1994), British Columbia water quality guidelines for dissolved gas
       supersaturation, eq. 4 (from memory).

    Examples
    --------
    >>> float(swim_bladder_delta_p(0.0, 156.5 * 133.322)) / 133.322
    23.475
    """
    weight, share = SWIM_BLADDER
    oxygen = np.asarray(oxygen_pressure, dtype=np.float64)
    return np.asarray(weight * np.asarray(depth, dtype=np.float64) + share * oxygen)
