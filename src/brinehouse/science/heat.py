"""Heat of a hall's water: pumps, light, evaporation, the surface, chillers, and how fast water warms."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import gases, seawater
from brinehouse.science.constants import GRAVITY, ZERO_CELSIUS

Array = NDArray[np.float64]

# ASHRAE's form for pools, (95 + 0.425 v)(pw - pa)/Y in lb/h/ft2, inHg, ft/min and Btu/lb, carried to SI.
FOOT = 0.3048  # m
PER_INHG = 1055.056 / (3600.0 * FOOT * FOOT * 3386.389)  # W/m2/Pa for each Btu/h/ft2/inHg
STILL_AIR = 95.0 * PER_INHG  # W/m2/Pa
MOVING_AIR = 0.425 * PER_INHG * 60.0 / FOOT  # W/m2/Pa for each m/s
# Measured over what the form gives: Smith, Löf and Jones (1998).
QUIET = 0.74  # still water
BUSY = (1.26, 1.70)  # pool in use
BOWEN = 61.0  # Pa/K at one atmosphere: heat carried over that evaporated, from memory
EMISSIVITY = 0.96  # of water for the room's warmth, from memory
STEFAN_BOLTZMANN = 5.670374419e-8  # W/m2/K4
LATENT = (2.501e6, -2361.0)  # J/kg at 0 °C and for each degree, from memory


def _float(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def heat_capacity_of_water(volume: ArrayLike, temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Heat that a volume of water takes up for each degree.

    Parameters
    ----------
    volume : array_like
        Water. [m3]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Heat capacity of all of it. [J/K]

    Notes
    -----
    Range of `seawater.heat_capacity`.

    References
    ----------
    .. [1] IOC, SCOR and IAPSO (2010), The international thermodynamic equation of seawater.

    Examples
    --------
    >>> float(heat_capacity_of_water(1.0, 25.0, 35.0))
    4092318.1
    """
    mass = _float(volume) * seawater.density(temperature, salinity)
    return np.asarray(mass * seawater.heat_capacity(temperature, salinity))


def shaft_power(
    flow: ArrayLike, head: ArrayLike, efficiency: ArrayLike, density: ArrayLike = 1025.0
) -> Array:
    """Power that a pump takes from its shaft.

    Parameters
    ----------
    flow : array_like
        Water moved. [m3/s]
    head : array_like
        Head it adds. [m]
    efficiency : array_like
        Water power over shaft power. [-]
    density : array_like
        Density of the water. [kg/m3]

    Returns
    -------
    ndarray
        Shaft power. [W]

    Notes
    -----
    A definition of efficiency; no range.

    References
    ----------
    .. [1] ISO 17769-1 (terms for pumps).

    Examples
    --------
    >>> float(shaft_power(0.05, 12.0, 0.6))
    10051.8
    """
    return np.asarray(_float(density) * GRAVITY * _float(flow) * _float(head) / _float(efficiency))


def pump_heat(power: ArrayLike, motor_efficiency: ArrayLike = 1.0) -> Array:
    """Heat that a pump leaves in a loop.

    Parameters
    ----------
    power : array_like
        Power at the shaft, or from the mains with `motor_efficiency`. [W]
    motor_efficiency : array_like
        Shaft power over mains power where the motor stands in air; one where it is cooled by the water. [-]

    Returns
    -------
    ndarray
        Heat to the water. [W]

    Notes
    -----
    No range: all the work done on water inside a closed loop ends as heat there.

    References
    ----------
    .. [1] First law of thermodynamics.

    Examples
    --------
    >>> float(pump_heat(15000.0, 0.9))
    13500.0
    """
    return np.asarray(_float(power) * _float(motor_efficiency))


def light_heat(power: ArrayLike, share: ArrayLike) -> Array:
    """Heat that lamps leave in the water below them.

    Parameters
    ----------
    power : array_like
        Power of the lamps from the mains. [W]
    share : array_like
        Share that reaches the water and stays there. [-]

    Returns
    -------
    ndarray
        Heat to the water. [W]

    Notes
    -----
    No range and no source for the share: about 0.4 for lamps well above the water is common practice, no
    source.

    References
    ----------
    .. [1] First law of thermodynamics.

    Examples
    --------
    >>> float(light_heat(2000.0, 0.4))
    800.0
    """
    return np.asarray(_float(power) * _float(share))


def latent_heat(temperature: ArrayLike) -> Array:
    """Heat that a kilogram of water takes to evaporate.

    Parameters
    ----------
    temperature : array_like
        Water temperature. [°C]

    Returns
    -------
    ndarray
        Latent heat. [J/kg]

    Notes
    -----
    0 to 40 °C; a straight line, from memory, within 0.1 % of steam tables there.

    References
    ----------
    .. [1] Common practice in meteorology, from memory.

    Examples
    --------
    >>> float(latent_heat(25.0))
    2441975.0
    """
    return np.asarray(LATENT[0] + LATENT[1] * _float(temperature))


def vapour_in_air(temperature: ArrayLike, humidity: ArrayLike) -> Array:
    """Pressure of the water vapour in the air of a room.

    Parameters
    ----------
    temperature : array_like
        Air temperature. [°C]
    humidity : array_like
        Relative humidity, one for saturated air. [-]

    Returns
    -------
    ndarray
        Vapour pressure. [Pa]

    Notes
    -----
    Range of `gases.vapour_pressure`; pure water.

    References
    ----------
    .. [1] Weiss and Price (1980), Mar. Chem. 8:347-359, eq. 10.

    Examples
    --------
    >>> float(vapour_in_air(25.0, 0.6))
    1899.5
    """
    return np.asarray(gases.vapour_pressure(temperature, 0.0) * _float(humidity))


def _passage(air_speed: ArrayLike, factor: ArrayLike) -> Array:
    """W/m2 of latent heat for each Pa of vapour pressure."""
    return np.asarray((STILL_AIR + MOVING_AIR * _float(air_speed)) * _float(factor))


def evaporation(
    area: ArrayLike,
    water_temperature: ArrayLike,
    room_temperature: ArrayLike,
    humidity: ArrayLike,
    air_speed: ArrayLike = 0.0,
    salinity: ArrayLike = 35.0,
    factor: ArrayLike = 1.0,
) -> Array:
    """Water that leaves a surface as vapour.

    Parameters
    ----------
    area : array_like
        Surface. [m2]
    water_temperature : array_like
        Water temperature. [°C]
    room_temperature : array_like
        Air temperature. [°C]
    humidity : array_like
        Relative humidity, one for saturated air. [-]
    air_speed : array_like
        Speed of the air over the water. [m/s]
    salinity : array_like
        Practical salinity, which lowers the vapour a little. [-]
    factor : array_like
        What was measured over the form: `QUIET` for still water, `BUSY` for a pool in use. [-]

    Returns
    -------
    ndarray
        Water lost; negative where the air's vapour settles on the water. [kg/s]

    Notes
    -----
    Air speed 0 to 0.7 m/s (from memory), range of `gases.vapour_pressure`. A form for pools; measurements lie
    from 26 % below (still) to 70 % above (in use) it, so a value stands for within about a third. Falls,
    splashing and sprays add surface that is not in `area`.

    References
    ----------
    .. [1] ASHRAE Handbook, HVAC Applications, natatoriums (form as Smith et al. quote it).
    .. [2] Smith, Löf and Jones (1998), ASHRAE Trans. 104 (measured over form, as read).

    Examples
    --------
    >>> float(evaporation(100.0, 25.0, 25.0, 0.65, salinity=0.0)) * 3600.0
    14.5
    """
    water = gases.vapour_pressure(water_temperature, salinity)
    gap = water - vapour_in_air(room_temperature, humidity)
    heat = _passage(air_speed, factor) * gap * _float(area)
    return np.asarray(heat / latent_heat(water_temperature))


class SurfaceHeat(NamedTuple):
    """Heat that leaves water through its surface, each way apart; negative into the water."""

    evaporated: Array
    """With the vapour. [W]"""
    carried: Array
    """By the air. [W]"""
    radiated: Array
    """To the room's walls. [W]"""
    total: Array
    """All three. [W]"""


def surface_heat(
    area: ArrayLike,
    water_temperature: ArrayLike,
    room_temperature: ArrayLike,
    humidity: ArrayLike,
    air_speed: ArrayLike = 0.0,
    salinity: ArrayLike = 35.0,
    factor: ArrayLike = 1.0,
) -> SurfaceHeat:
    """Heat that water loses through its surface to the room.

    Parameters
    ----------
    area : array_like
        Surface. [m2]
    water_temperature : array_like
        Water temperature. [°C]
    room_temperature : array_like
        Temperature of the air and of the walls. [°C]
    humidity : array_like
        Relative humidity, one for saturated air. [-]
    air_speed : array_like
        Speed of the air over the water. [m/s]
    salinity : array_like
        Practical salinity. [-]
    factor : array_like
        What was measured over the form, as in `evaporation`. [-]

    Returns
    -------
    SurfaceHeat
        Heat evaporated, carried, radiated, and their sum. [W]

    Notes
    -----
    Range of `evaporation`. The air carries heat as it carries vapour, in Bowen's ratio at one atmosphere;
    walls are taken at the temperature of the room's air.

    References
    ----------
    .. [1] Bowen (1926), Phys. Rev. 27:779-787 (ratio from memory).
    .. [2] Those of `evaporation`.

    Examples
    --------
    >>> float(surface_heat(100.0, 25.0, 25.0, 0.65, salinity=0.0).total)
    9805.9
    """
    water, room = _float(water_temperature), _float(room_temperature)
    lost = evaporation(area, water, room, humidity, air_speed, salinity, factor)
    evaporated = np.asarray(lost * latent_heat(water))
    carried = np.asarray(_float(area) * _passage(air_speed, factor) * BOWEN * (water - room))
    fourth = (water + ZERO_CELSIUS) ** 4 - (room + ZERO_CELSIUS) ** 4
    radiated = np.asarray(_float(area) * EMISSIVITY * STEFAN_BOLTZMANN * fourth)
    return SurfaceHeat(evaporated, carried, radiated, np.asarray(evaporated + carried + radiated))


def chiller_duty(flow: ArrayLike, before: ArrayLike, after: ArrayLike, salinity: ArrayLike) -> Array:
    """Heat that a chiller takes from the water through it.

    Parameters
    ----------
    flow : array_like
        Water through it. [m3/s]
    before : array_like
        Temperature going in. [°C]
    after : array_like
        Temperature coming out. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Heat taken; negative for a heater. [W]

    Notes
    -----
    Range of `seawater.heat_capacity`, both at the mean temperature.

    References
    ----------
    .. [1] IOC, SCOR and IAPSO (2010), The international thermodynamic equation of seawater.

    Examples
    --------
    >>> float(chiller_duty(0.010, 25.5, 23.5, 35.0))
    81852.9
    """
    middle = 0.5 * (_float(before) + _float(after))
    return np.asarray(heat_capacity_of_water(flow, middle, salinity) * (_float(before) - _float(after)))


def warming_time(
    volume: ArrayLike, power: ArrayLike, rise: ArrayLike, temperature: ArrayLike, salinity: ArrayLike
) -> Array:
    """How long a power takes to change the temperature of a volume that loses nothing else.

    Parameters
    ----------
    volume : array_like
        Water. [m3]
    power : array_like
        Net heat into it. [W]
    rise : array_like
        Change of temperature. [K]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Time; negative where power and change have opposite signs, endless without power. [s]

    Notes
    -----
    Range of `seawater.heat_capacity`. Walls, rockwork and the room make real water slower.

    References
    ----------
    .. [1] First law of thermodynamics.

    Examples
    --------
    >>> float(warming_time(650.0, 100e3, 1.0, 25.0, 35.0)) / 3600.0
    7.39
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(
            heat_capacity_of_water(volume, temperature, salinity) * _float(rise) / _float(power)
        )


def warming_rate(volume: ArrayLike, power: ArrayLike, temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """How fast a volume warms that takes up a power and loses nothing.

    Parameters
    ----------
    volume : array_like
        Water. [m3]
    power : array_like
        Net heat into it. [W]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Change of temperature in time. [K/s]

    Notes
    -----
    Range of `seawater.heat_capacity`.

    References
    ----------
    .. [1] First law of thermodynamics.

    Examples
    --------
    >>> float(warming_rate(650.0, 15e3, 25.0, 35.0)) * 86400.0
    0.487
    """
    return np.asarray(_float(power) / heat_capacity_of_water(volume, temperature, salinity))
