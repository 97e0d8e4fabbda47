"""The air's pressure at the place itself, from altitude or from a weather report."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science.constants import ATM, MMHG

Array = NDArray[np.float64]

# International Standard Atmosphere below 11 km, from memory; agrees with the 1976 table.
STANDARD_ATMOSPHERE = (2.25577e-5, 5.25588)
# Colt (1984). A script in circulation prints 2.88014, a dropped digit: 1.2 mmHg low.
COLT = (2.880814, 19748.2)


def station_pressure_from_altitude(altitude: ArrayLike) -> Array:
    """Usual pressure of the air at an altitude.

    Parameters
    ----------
    altitude : array_like
        Height above sea level. [m]

    Returns
    -------
    ndarray
        Pressure of the standard atmosphere. [Pa]

    Notes
    -----
    -500 to 11000 m. Weather moves it by 3 % either way: a barometer at the place is better.

    References
    ----------
    .. [1] U.S. Standard Atmosphere (1976), NOAA, NASA and USAF; constants from memory.

    Examples
    --------
    >>> float(station_pressure_from_altitude(300.0)) / 133.322
    733.35
    """
    lapse, power = STANDARD_ATMOSPHERE
    return np.asarray(ATM * (1.0 - lapse * np.asarray(altitude, dtype=np.float64)) ** power)


def station_pressure_from_altitude_colt_1984(altitude: ArrayLike) -> Array:
    """Usual pressure of the air at an altitude, as the total gas tables have it.

    Parameters
    ----------
    altitude : array_like
        Height above sea level. [m]

    Returns
    -------
    ndarray
        Pressure of an atmosphere of one temperature. [Pa]

    Notes
    -----
    No range published. Against the standard atmosphere it is 0.1 % high at 300 m and 1 % at 2000 m, so
    no engine uses it; it is here to reproduce tables that do.

    References
    ----------
    .. [1] Colt (1984), Computation of dissolved gas concentrations in water, Am. Fish. Soc. Spec. Publ. 14.

    Examples
    --------
    >>> float(station_pressure_from_altitude_colt_1984(300.0)) / 133.322
    733.876
    """
    start, fall = COLT
    return np.asarray(MMHG * 10.0 ** (start - np.asarray(altitude, dtype=np.float64) / fall))


def station_pressure_from_sea_level_pressure(sea_level_pressure: ArrayLike, altitude: ArrayLike) -> Array:
    """Pressure at the place from a weather report, which is reduced to sea level.

    Parameters
    ----------
    sea_level_pressure : array_like
        Pressure as reported for sea level (QNH). [Pa]
    altitude : array_like
        Height of the place above sea level. [m]

    Returns
    -------
    ndarray
        Pressure at the place. [Pa]

    Notes
    -----
    -500 to 3500 m. The report and this relation assume the standard atmosphere's warmth, which is worth
    about 0.4 mmHg for each 10 °C at 300 m.

    References
    ----------
    .. [1] U.S. Standard Atmosphere (1976), NOAA, NASA and USAF; constants from memory.

    Examples
    --------
    >>> float(station_pressure_from_sea_level_pressure(29.65 * 25.4 * 133.322, 182.88)) / 133.322
    736.9
    """
    reported = np.asarray(sea_level_pressure, dtype=np.float64)
    return np.asarray(reported * station_pressure_from_altitude(altitude) / ATM)


def sea_level_pressure_from_station_pressure(station_pressure: ArrayLike, altitude: ArrayLike) -> Array:
    """Pressure as a weather report would give it, from the pressure at the place.

    Parameters
    ----------
    station_pressure : array_like
        Pressure at the place. [Pa]
    altitude : array_like
        Height of the place above sea level. [m]

    Returns
    -------
    ndarray
        Pressure reduced to sea level (QNH). [Pa]

    Notes
    -----
    Undoes `station_pressure_from_sea_level_pressure`, to tell the two kinds of barometer apart.

    References
    ----------
    .. [1] U.S. Standard Atmosphere (1976), NOAA, NASA and USAF; constants from memory.

    Examples
    --------
    >>> float(sea_level_pressure_from_station_pressure(station_pressure_from_altitude(250.0), 250.0))
    101325.0
    """
    measured = np.asarray(station_pressure, dtype=np.float64)
    return np.asarray(measured * ATM / station_pressure_from_altitude(altitude))
