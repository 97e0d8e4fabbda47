"""Gas going in and out of water: surfaces, packed columns, membranes with a sweep or a vacuum."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import gases

Array = NDArray[np.float64]

THETA = 1.024  # growth of a gas transfer coefficient for each degree; common practice, from memory
# Wanninkhof (2014), table 1, seawater of salinity 35: powers of the temperature in °C.
SCHMIDT = {
    "oxygen": (1920.4, -135.6, 5.2122, -0.10939, 0.00093777),
    "nitrogen": (2304.8, -162.75, 6.2557, -0.13129, 0.0011255),  # from memory
    "argon": (2078.1, -146.74, 5.6403, -0.11838, 0.0010148),  # from memory
    "carbon dioxide": (2116.8, -136.25, 4.7353, -0.092307, 0.0007555),
}
RIPPLED, STILL = 0.5, 2.0 / 3.0  # power of the Schmidt number at a moving and at a calm surface
VELOCITY_SPREAD = 2.0  # a tank lies between half and twice `surface_velocity`; common practice, no source
# Nitrogen's coefficient over oxygen's: diffusivities, a reservoir model, packed columns.
NITROGEN_RATIOS = (0.929, 1.034, 1.07)
SMALL_EDDIES = 0.42  # Lamont and Scott (1970) 0.4, Zappa et al. (2007) 0.419; from memory


def _float(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def transfer_coefficient(coefficient: ArrayLike, temperature: ArrayLike, theta: float = THETA) -> Array:
    """Gas transfer coefficient at a temperature, from its value at 20 °C.

    Parameters
    ----------
    coefficient : array_like
        Transfer coefficient kLa at 20 °C. [1/s]
    temperature : array_like
        Water temperature. [°C]
    theta : float
        Growth for each degree. [-]

    Returns
    -------
    ndarray
        Transfer coefficient at `temperature`. [1/s]

    Notes
    -----
    No range published. The figure 1.024 is common practice and from memory.

    References
    ----------
    .. [1] ASCE, Measurement of oxygen transfer in clean water (from memory).

    Examples
    --------
    >>> float(transfer_coefficient(1.0, 25.0))
    1.1259
    """
    return np.asarray(_float(coefficient) * theta ** (_float(temperature) - 20.0))


def approach(start: ArrayLike, equilibrium: ArrayLike, coefficient: ArrayLike, time: ArrayLike) -> Array:
    """Gas in still or batch water after a time of first-order exchange.

    Parameters
    ----------
    start : array_like
        Value at time zero, in any unit of concentration or pressure. [µmol/kg]
    equilibrium : array_like
        Value it tends to, in the same unit. [µmol/kg]
    coefficient : array_like
        Transfer coefficient kLa. [1/s]
    time : array_like
        Time since the start. [s]

    Returns
    -------
    ndarray
        Value at `time`, in the same unit. [µmol/kg]

    Notes
    -----
    No range: the closed form of dC/dt = kLa (C* - C).

    References
    ----------
    .. [1] Lewis and Whitman (1924), Ind. Eng. Chem. 16:1215-1220.

    Examples
    --------
    >>> float(approach(300.0, 200.0, 0.01, 100.0))
    236.788
    """
    gap = _float(start) - _float(equilibrium)
    return np.asarray(_float(equilibrium) + gap * np.exp(-_float(coefficient) * _float(time)))


def flow_through(
    inlet: ArrayLike, equilibrium: ArrayLike, coefficient: ArrayLike, volume: ArrayLike, flow: ArrayLike
) -> Array:
    """Steady gas in a stirred tank that water runs through, with exchange at its surface.

    Parameters
    ----------
    inlet : array_like
        Value in the water that comes in. [µmol/kg]
    equilibrium : array_like
        Value the surface tends to, in the same unit. [µmol/kg]
    coefficient : array_like
        Transfer coefficient kLa. [1/s]
    volume : array_like
        Water in the tank. [m3]
    flow : array_like
        Water through the tank. [m3/s]

    Returns
    -------
    ndarray
        Value in the tank and in what leaves it. [µmol/kg]

    Notes
    -----
    No range: the mass balance Q (Cin - C) + kLa V (C* - C) = 0. With neither flow nor exchange there is no
    steady value and the answer is NaN.

    References
    ----------
    .. [1] Lewis and Whitman (1924), Ind. Eng. Chem. 16:1215-1220.

    Examples
    --------
    >>> float(flow_through(300.0, 200.0, 0.001, 10.0, 0.01))
    250.0
    """
    moved = _float(flow)
    exchanged = _float(coefficient) * _float(volume)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray((moved * _float(inlet) + exchanged * _float(equilibrium)) / (moved + exchanged))


def packed_column_number(inlet: ArrayLike, outlet: ArrayLike, equilibrium: ArrayLike = 100.0) -> Array:
    """How thoroughly a packed column exchanged gas, from what went in and came out.

    Parameters
    ----------
    inlet : array_like
        Saturation of one gas in the water on top. [%]
    outlet : array_like
        Saturation in the water below. [%]
    equilibrium : array_like
        Saturation that the gas in the column would give. [%]

    Returns
    -------
    ndarray
        Number G = ln((C* - Cin)/(C* - Cout)). [-]

    Notes
    -----
    No range published; NaN where the water crossed its equilibrium, which a column cannot do.

    References
    ----------
    .. [1] Hackney and Colt (1982), Aquac. Eng. 1:275-295 (form from memory).

    Examples
    --------
    >>> float(packed_column_number(131.0, 105.0))
    1.825
    """
    level = _float(equilibrium)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.log((level - _float(inlet)) / (level - _float(outlet))))


def packed_column_outlet(inlet: ArrayLike, number: ArrayLike, equilibrium: ArrayLike = 100.0) -> Array:
    """Saturation below a packed column, from its number.

    Parameters
    ----------
    inlet : array_like
        Saturation of one gas in the water on top. [%]
    number : array_like
        The column's number G. [-]
    equilibrium : array_like
        Saturation that the gas in the column would give. [%]

    Returns
    -------
    ndarray
        Saturation in the water below. [%]

    Notes
    -----
    No range published. A number found with nitrogen foretells oxygen within about 2 % of saturation.

    References
    ----------
    .. [1] Hackney and Colt (1982), Aquac. Eng. 1:275-295 (form from memory).

    Examples
    --------
    >>> float(packed_column_outlet(131.0, 1.825))
    105.0
    """
    level = _float(equilibrium)
    return np.asarray(level + (_float(inlet) - level) * np.exp(-_float(number)))


def packed_column_number_from_build(
    plates: ArrayLike, height: ArrayLike, plate_number: ArrayLike, media_number: ArrayLike
) -> Array:
    """A column's number from how it is built.

    Parameters
    ----------
    plates : array_like
        How many distribution plates. [-]
    height : array_like
        Height of the media. [m]
    plate_number : array_like
        What each plate adds. [-]
    media_number : array_like
        What each metre of media adds. [1/m]

    Returns
    -------
    ndarray
        Number G = n Kd + K Z. [-]

    Notes
    -----
    No range published. Both constants belong to the media, the load and the water, and must be measured.

    References
    ----------
    .. [1] Hackney and Colt (1982), Aquac. Eng. 1:275-295 (form from memory).

    Examples
    --------
    >>> float(packed_column_number_from_build(1, 1.5, 0.2, 1.1))
    1.85
    """
    return np.asarray(_float(plates) * _float(plate_number) + _float(height) * _float(media_number))


def contactor_effectiveness(transfer_units: ArrayLike, capacity_ratio: ArrayLike = np.inf) -> Array:
    """How far a counter-current membrane contactor brings water towards the gas on its other side.

    Parameters
    ----------
    transfer_units : array_like
        Number of transfer units: coefficient times area over water flow. [-]
    capacity_ratio : array_like
        What the sweep gas can carry over what the water brings; endless for vacuum or plentiful air. [-]

    Returns
    -------
    ndarray
        Share of the way from inlet to equilibrium. [-]

    Notes
    -----
    No range: the closed form eta = (1 - e)/(1 - e/lambda), e = exp(-NTU (1 - 1/lambda)); at lambda = 1 its
    limit NTU/(1 + NTU). Standard theory of exchangers, from memory.

    References
    ----------
    .. [1] Kays and London (1984), Compact heat exchangers, 3rd ed. (from memory).

    Examples
    --------
    >>> float(contactor_effectiveness(1.0)), float(contactor_effectiveness(1.0, 1.0))
    (0.632, 0.5)
    """
    units, inverse = np.broadcast_arrays(_float(transfer_units), 1.0 / _float(capacity_ratio))
    even = np.isclose(inverse, 1.0, rtol=0.0, atol=1e-9)
    safe = np.where(even, 0.5, inverse)
    left = np.exp(-units * (1.0 - safe))
    return np.asarray(np.where(even, units / (1.0 + units), (1.0 - left) / (1.0 - left * safe)))


def contactor_outlet(
    inlet: ArrayLike, equilibrium: ArrayLike, transfer_units: ArrayLike, capacity_ratio: ArrayLike = np.inf
) -> Array:
    """Gas in the water that leaves a membrane contactor.

    Parameters
    ----------
    inlet : array_like
        Saturation of one gas in the water that comes in. [%]
    equilibrium : array_like
        Saturation that the gas side would give. [%]
    transfer_units : array_like
        Number of transfer units. [-]
    capacity_ratio : array_like
        What the sweep gas can carry over what the water brings. [-]

    Returns
    -------
    ndarray
        Saturation in the water that goes out. [%]

    Notes
    -----
    As `contactor_effectiveness`.

    References
    ----------
    .. [1] Kays and London (1984), Compact heat exchangers, 3rd ed. (from memory).

    Examples
    --------
    >>> float(contactor_outlet(105.0, 89.6, 0.494))
    99.0
    """
    gap = _float(inlet) - _float(equilibrium)
    return np.asarray(_float(inlet) - gap * contactor_effectiveness(transfer_units, capacity_ratio))


def vacuum_equilibrium_percent(
    absolute_pressure: ArrayLike,
    station_pressure: ArrayLike,
    temperature: ArrayLike,
    salinity: ArrayLike,
    enrichment: ArrayLike = 1.0,
) -> Array:
    """Saturation that a gas side at reduced pressure would give.

    Parameters
    ----------
    absolute_pressure : array_like
        Pressure on the gas side, absolute. [Pa]
    station_pressure : array_like
        Pressure of the air at the place. [Pa]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    enrichment : array_like
        Share of the gas on the gas side over its share in dry air: one for air. [-]

    Returns
    -------
    ndarray
        Saturation against local air. [%]

    Notes
    -----
    Range of `gases.vapour_pressure`. Below the vapour's own pressure the water boils and the value is
    negative, which has no meaning but that.

    References
    ----------
    .. [1] Weiss and Price (1980), Mar. Chem. 8:347-359, eq. 10 (vapour); Dalton's law.

    Examples
    --------
    >>> float(vacuum_equilibrium_percent(664.0 * 133.322, 740.0 * 133.322, 10.0, 0.0))
    89.6
    """
    vapour = gases.vapour_pressure(temperature, salinity)
    inside = (_float(absolute_pressure) - vapour) * _float(enrichment)
    return np.asarray(100.0 * inside / (_float(station_pressure) - vapour))


def schmidt(gas: str, temperature: ArrayLike) -> Array:
    """Schmidt number of a gas in seawater: how slowly it moves beside the water's own stir.

    Parameters
    ----------
    gas : str
        Gas: oxygen, nitrogen, argon or carbon dioxide. [-]
    temperature : array_like
        Water temperature. [°C]

    Returns
    -------
    ndarray
        Kinematic viscosity over diffusivity. [-]

    Notes
    -----
    -2 to 40 °C, salinity 35; fresh water is 12 to 16 % lower at 20 °C (from memory).

    References
    ----------
    .. [1] Wanninkhof (2014), Limnol. Oceanogr. Methods 12:351-362, table 1; oxygen and carbon dioxide as
       public code quotes them, nitrogen and argon from memory.

    Examples
    --------
    >>> float(schmidt("oxygen", 20.0)), float(schmidt("carbon dioxide", 20.0))
    (568., 668.)
    """
    if gas not in SCHMIDT:
        raise ValueError(f"{gas!r} has no Schmidt number here; write one of {', '.join(SCHMIDT)}")
    warm = _float(temperature)
    value = np.zeros_like(warm)
    for coefficient in reversed(SCHMIDT[gas]):
        value = value * warm + coefficient
    return np.asarray(value)


def transfer_ratio(gas: str, temperature: ArrayLike, exponent: float = RIPPLED) -> Array:
    """Transfer coefficient of a gas over that of oxygen, in the same water at the same surface.

    Parameters
    ----------
    gas : str
        Gas: oxygen, nitrogen, argon or carbon dioxide. [-]
    temperature : array_like
        Water temperature. [°C]
    exponent : float
        Power of the Schmidt number: `RIPPLED` for moving surfaces and bubbles, `STILL` for calm ones. [-]

    Returns
    -------
    ndarray
        Coefficient over oxygen's. [-]

    Notes
    -----
    Range of `schmidt`. For nitrogen the sources do not agree on which side of one it lies: diffusivities
    give 0.91 to 0.93, a reservoir model uses 1.034, packed columns gave 1.07 (`NITROGEN_RATIOS`). Take the
    spread as its uncertainty.

    References
    ----------
    .. [1] Wanninkhof (2014), Limnol. Oceanogr. Methods 12:351-362.
    .. [2] Ferrell and Himmelblau (1967), J. Chem. Eng. Data 12:111-115.
    .. [3] Dawson and Marking (1986), Prog. Fish-Cult. 48:281.

    Examples
    --------
    >>> float(transfer_ratio("oxygen", 20.0)), float(transfer_ratio("carbon dioxide", 20.0))
    (1.0, 0.922)
    """
    return np.asarray((schmidt("oxygen", temperature) / schmidt(gas, temperature)) ** exponent)


def surface_velocity(
    dissipation: ArrayLike, viscosity: ArrayLike, schmidt_number: ArrayLike, exponent: float = RIPPLED
) -> Array:
    """Transfer velocity of a gas at a free surface, from how strongly the water below is stirred.

    Parameters
    ----------
    dissipation : array_like
        Power that the stir loses in each kilogram: what pumps and returns put in, over the mass. [W/kg]
    viscosity : array_like
        Kinematic viscosity of the water. [m2/s]
    schmidt_number : array_like
        Schmidt number of the gas. [-]
    exponent : float
        Power of the Schmidt number: `RIPPLED` or `STILL`. [-]

    Returns
    -------
    ndarray
        Transfer velocity. [m/s]

    Notes
    -----
    No range published for tanks: an estimate within a factor of about two, for surfaces without spray or
    bubbles. The factor 0.42 is from memory.

    References
    ----------
    .. [1] Lamont and Scott (1970), AIChE J. 16:513-519; Zappa et al. (2007), Geophys. Res. Lett. 34:L10601
       (both from memory).

    Examples
    --------
    >>> float(surface_velocity(1e-4, 1e-6, 568.0)) * 1e5
    5.573
    """
    stir = (_float(dissipation) * _float(viscosity)) ** 0.25
    return np.asarray(SMALL_EDDIES * stir * _float(schmidt_number) ** -exponent)


def surface_coefficient(velocity: ArrayLike, area: ArrayLike, volume: ArrayLike) -> Array:
    """Transfer coefficient of a tank, from the transfer velocity at its surface.

    Parameters
    ----------
    velocity : array_like
        Transfer velocity. [m/s]
    area : array_like
        Free surface. [m2]
    volume : array_like
        Water below it. [m3]

    Returns
    -------
    ndarray
        Transfer coefficient kLa. [1/s]

    Notes
    -----
    A definition; no range.

    References
    ----------
    .. [1] Lewis and Whitman (1924), Ind. Eng. Chem. 16:1215-1220.

    Examples
    --------
    >>> float(surface_coefficient(2e-5, 100.0, 400.0)) * 1e6
    5.0
    """
    return np.asarray(_float(velocity) * _float(area) / _float(volume))
