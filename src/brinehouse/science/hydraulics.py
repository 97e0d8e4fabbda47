"""Heads lost in pipes and fittings, heads given by pumps, and what is left at a suction."""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science.constants import GRAVITY

Array = NDArray[np.float64]

LAMINAR, TURBULENT = 2000.0, 4000.0  # Reynolds numbers between which the cubic holds
_AT_4000 = 5.74 / TURBULENT**0.9
SQUARE = 8.0 / (GRAVITY * math.pi**2)  # s2/m: h = SQUARE K Q2 / D4


def reynolds(flow: ArrayLike, diameter: ArrayLike, viscosity: ArrayLike) -> Array:
    """Reynolds number of a full pipe.

    Parameters
    ----------
    flow : array_like
        Flow, either way. [m3/s]
    diameter : array_like
        Bore. [m]
    viscosity : array_like
        Kinematic viscosity. [m2/s]

    Returns
    -------
    ndarray
        Reynolds number. [-]

    Notes
    -----
    A definition: it holds in any range.

    References
    ----------
    .. [1] EPANET 2.2 user manual, ch. 12.

    Examples
    --------
    >>> float(reynolds(200e-3 / 60, 0.05, 8.4e-7))
    101050.8
    """
    flow, diameter = np.asarray(flow, dtype=np.float64), np.asarray(diameter, dtype=np.float64)
    return np.asarray(4.0 * np.abs(flow) / (math.pi * diameter * np.asarray(viscosity, dtype=np.float64)))


def friction_factor(reynolds: ArrayLike, relative_roughness: ArrayLike) -> Array:
    """Darcy friction factor: laminar, then a cubic between, then turbulent.

    Parameters
    ----------
    reynolds : array_like
        Reynolds number. [-]
    relative_roughness : array_like
        Roughness over bore. [-]

    Returns
    -------
    ndarray
        Darcy friction factor. [-]

    Notes
    -----
    64/Re below 2000, Dunlop's cubic to 4000, Swamee and Jain above; within about 1 % of Colebrook for
    relative roughness of 1e-6 to 1e-2 and Re 5e3 to 1e8. [1]_

    References
    ----------
    .. [1] EPANET 2.2 user manual, ch. 12; Swamee and Jain (1976), J. Hydraul. Div. 102, 657-664;
       Dunlop (1991), WADI user manual.

    Examples
    --------
    >>> float(friction_factor(1e5, 1e-4)), float(friction_factor(1000.0, 0.0))
    (0.018452445, 0.064)
    """
    return friction_with_slope(reynolds, relative_roughness)[0]


def friction_with_slope(reynolds: ArrayLike, relative_roughness: ArrayLike) -> tuple[Array, Array]:
    """Friction factor and its change with the logarithm of Re: what a Newton step needs.

    Parameters
    ----------
    reynolds : array_like
        Reynolds number. [-]
    relative_roughness : array_like
        Roughness over bore. [-]

    Returns
    -------
    tuple of ndarray
        Factor f and df/d(ln Re). [-]

    Notes
    -----
    Ranges of `friction_factor`.

    References
    ----------
    .. [1] As `friction_factor`.

    Examples
    --------
    >>> f, slope = friction_with_slope(1000.0, 0.0)
    >>> float(f), float(slope)
    (0.064, -0.064)
    """
    return friction_from(smoothness(relative_roughness), reynolds)


class Smoothness(NamedTuple):
    """What a pipe's roughness alone decides: kept, where one pipe is asked about many flows."""

    rough: Array
    cubic: tuple[Array, Array, Array, Array]


def smoothness(relative_roughness: ArrayLike) -> Smoothness:
    """The parts of the friction law that do not change with flow.

    Parameters
    ----------
    relative_roughness : array_like
        Roughness over bore. [-]

    Returns
    -------
    Smoothness
        For `friction_from`. [-]

    Notes
    -----
    Ranges of `friction_factor`.

    References
    ----------
    .. [1] As `friction_factor`.

    Examples
    --------
    >>> [round(float(part), 4) for part in smoothness(0.0).cubic]
    [0.2155, -0.3905, 0.2625, -0.0555]
    """
    rough = np.asarray(relative_roughness, dtype=np.float64) / 3.7
    y3 = -2.0 * np.log10(rough + _AT_4000)
    fa = y3**-2
    fb = fa * (2.0 - 0.00514215 / ((rough + _AT_4000) * y3))
    return Smoothness(
        rough,
        (
            np.asarray(7.0 * fa - fb), np.asarray(0.128 - 17.0 * fa + 2.5 * fb),
            np.asarray(-0.128 + 13.0 * fa - 2.0 * fb), np.asarray(0.032 - 3.0 * fa + 0.5 * fb),
        ),
    )  # fmt: skip


def friction_from(pipe: Smoothness, reynolds: ArrayLike) -> tuple[Array, Array]:
    """As `friction_with_slope`, for pipes whose roughness was looked at before.

    Parameters
    ----------
    pipe : Smoothness
        From `smoothness`. [-]
    reynolds : array_like
        Reynolds number, broadcastable to it. [-]

    Returns
    -------
    tuple of ndarray
        Factor f and df/d(ln Re). [-]

    Notes
    -----
    Ranges of `friction_factor`.

    References
    ----------
    .. [1] As `friction_factor`.

    Examples
    --------
    >>> float(friction_from(smoothness(1e-4), 1e5)[0])
    0.018452445
    """
    re = np.maximum(np.asarray(reynolds, dtype=np.float64), 1e-12)
    part = 5.74 * np.exp(-0.9 * np.log(np.maximum(re, LAMINAR)))
    y = pipe.rough + part
    inverse = math.log(10.0) / np.log(y)
    factor = 0.25 * inverse**2
    slope = 0.45 / math.log(10.0) * inverse**3 * part / y
    if np.min(re, initial=np.inf) >= TURBULENT:
        return np.asarray(factor), np.asarray(slope)
    x1, x2, x3, x4 = pipe.cubic
    r = np.minimum(re, 2 * TURBULENT) / LAMINAR
    cubic = x1 + r * (x2 + r * (x3 + r * x4))
    cubic_slope = r * (x2 + r * (2.0 * x3 + 3.0 * r * x4))
    laminar = 64.0 / re
    low, high = re < LAMINAR, re > TURBULENT
    return (
        np.asarray(np.where(low, laminar, np.where(high, factor, cubic))),
        np.asarray(np.where(low, -laminar, np.where(high, slope, cubic_slope))),
    )


def friction_factor_colebrook(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor of Colebrook and White, to the last digit.

    Parameters
    ----------
    reynolds : float
        Reynolds number, turbulent. [-]
    relative_roughness : float
        Roughness over bore. [-]

    Returns
    -------
    float
        Darcy friction factor. [-]

    Notes
    -----
    Turbulent flow. The solver uses `friction_factor`; this one is there to see what that costs.

    References
    ----------
    .. [1] Colebrook (1939), J. Inst. Civ. Eng. 11, 133-156; solved by the library fluids.

    Examples
    --------
    >>> friction_factor_colebrook(1e5, 1e-4)
    0.01851386607747
    """
    from fluids import friction

    return float(friction.Colebrook(reynolds, relative_roughness))


def pipe_loss(
    flow: ArrayLike, length: ArrayLike, diameter: ArrayLike, roughness: ArrayLike, viscosity: ArrayLike
) -> Array:
    """Head lost by friction in a full pipe, with the sign of the flow.

    Parameters
    ----------
    flow : array_like
        Flow. [m3/s]
    length : array_like
        Length. [m]
    diameter : array_like
        Bore. [m]
    roughness : array_like
        Height of the roughness. [m]
    viscosity : array_like
        Kinematic viscosity of the water at hand. [m2/s]

    Returns
    -------
    ndarray
        Head lost. [m]

    Notes
    -----
    Darcy and Weisbach, any fluid; ranges of `friction_factor`.

    References
    ----------
    .. [1] EPANET 2.2 user manual, ch. 3 and 12.

    Examples
    --------
    >>> round(float(pipe_loss(0.02, 20.0, 0.1, 1e-5, 1.05e-6)), 4)
    1.0524
    """
    flow, diameter = np.asarray(flow, dtype=np.float64), np.asarray(diameter, dtype=np.float64)
    factor = friction_factor(
        reynolds(flow, diameter, viscosity), np.asarray(roughness, dtype=np.float64) / diameter
    )
    return np.asarray(
        SQUARE * factor * np.asarray(length, dtype=np.float64) / diameter**5 * flow * np.abs(flow)
    )


def minor_loss(flow: ArrayLike, diameter: ArrayLike, coefficient: ArrayLike) -> Array:
    """Head lost in fittings, with the sign of the flow.

    Parameters
    ----------
    flow : array_like
        Flow. [m3/s]
    diameter : array_like
        Bore to which the coefficients belong. [m]
    coefficient : array_like
        Sum of the loss coefficients K. [-]

    Returns
    -------
    ndarray
        Head lost. [m]

    Notes
    -----
    8 K Q2/(g pi2 D4). Fully turbulent flow; small coefficients grow in laminar flow.

    References
    ----------
    .. [1] EPANET 2.2 user manual, ch. 12.

    Examples
    --------
    >>> round(float(minor_loss(0.02, 0.1, 2.5)), 4)
    0.8266
    """
    flow, diameter = np.asarray(flow, dtype=np.float64), np.asarray(diameter, dtype=np.float64)
    return np.asarray(SQUARE * np.asarray(coefficient, dtype=np.float64) / diameter**4 * flow * np.abs(flow))


def hazen_williams_loss(
    flow: ArrayLike, length: ArrayLike, diameter: ArrayLike, smoothness: ArrayLike
) -> Array:
    """Head lost by the rule of town water mains: for checks against published networks only.

    Parameters
    ----------
    flow : array_like
        Flow. [m3/s]
    length : array_like
        Length. [m]
    diameter : array_like
        Bore. [m]
    smoothness : array_like
        The rule's own coefficient C. [-]

    Returns
    -------
    ndarray
        Head lost, with the sign of the flow. [m]

    Notes
    -----
    Fresh water near 15 °C, turbulent, bores above 50 mm. It knows neither viscosity nor density, so the
    facility file refuses it for sea water.

    References
    ----------
    .. [1] WNTR documentation, hydraulics: 10.667 C^-1.852 D^-4.871 L Q^1.852.

    Examples
    --------
    >>> float(hazen_williams_loss(0.05, 100.0, 0.2, 130.0))
    1.282905
    """
    flow = np.asarray(flow, dtype=np.float64)
    resistance = hazen_williams_resistance(length, diameter, smoothness)
    return np.asarray(resistance * np.sign(flow) * np.abs(flow) ** 1.852)


def hazen_williams_resistance(length: ArrayLike, diameter: ArrayLike, smoothness: ArrayLike) -> Array:
    """What stands before Q^1.852 in `hazen_williams_loss`.

    Parameters
    ----------
    length : array_like
        Length. [m]
    diameter : array_like
        Bore. [m]
    smoothness : array_like
        The rule's own coefficient C. [-]

    Returns
    -------
    ndarray
        Resistance. [s^1.852/m^4.556]

    Notes
    -----
    Range of `hazen_williams_loss`.

    References
    ----------
    .. [1] As `hazen_williams_loss`.

    Examples
    --------
    >>> round(float(hazen_williams_resistance(100.0, 0.2, 130.0)), 1)
    329.4
    """
    c, d = np.asarray(smoothness, dtype=np.float64), np.asarray(diameter, dtype=np.float64)
    return np.asarray(10.667 * c**-1.852 * d**-4.871 * np.asarray(length, dtype=np.float64))


class PumpCurve(NamedTuple):
    """Head by flow at full speed: ``shut_off - factor Q^power``, or straight lines between points."""

    shut_off: float
    factor: float
    power: float
    points: tuple[tuple[float, float], ...]
    last: float  # the largest flow that anyone measured or stated


def pump_curve(points: Sequence[tuple[float, float]]) -> PumpCurve:
    """The curve through one, three or more points.

    Parameters
    ----------
    points : sequence of (float, float)
        Flow and head by rising flow. One point gives a parabola with a shut-off head of 4/3 of its head and
        no head at twice its flow; three points from zero flow on give a power law; any other number gives
        straight lines, the last one carried on. [m3/s], [m]

    Returns
    -------
    PumpCurve
        See there; `last` is twice the flow of a lone point. [m3/s], [m]

    Raises
    ------
    ValueError
        Where there is no point, a flow does not rise, or a head does not fall.

    Notes
    -----
    No range published: a maker's points are as good as his test bed.

    References
    ----------
    .. [1] EPANET 2.2 user manual, ch. 3: pump curves of one, three and more points.

    Examples
    --------
    >>> one = pump_curve([(0.02, 9.0)])
    >>> one.shut_off, one.power, one.last
    (12.0, 2.0, 0.04)
    >>> three = pump_curve([(0.0, 14.0), (0.02, 11.0), (0.04, 2.0)])
    >>> three.shut_off, round(three.power, 3)
    (14.0, 2.0)
    """
    return _curve(tuple((float(flow), float(head)) for flow, head in points))


@functools.lru_cache(maxsize=1024)
def _curve(known: tuple[tuple[float, float], ...]) -> PumpCurve:
    """One curve is asked for again with every scenario of its plant."""
    if not known:
        raise ValueError("a pump curve has at least one point")
    if any(b[0] <= a[0] or b[1] >= a[1] for a, b in itertools.pairwise(known)) or known[0][0] < 0.0:
        raise ValueError("flows rise and heads fall along a pump curve")
    if len(known) == 1:
        (flow, head), *_ = known
        if flow <= 0.0 or head <= 0.0:
            raise ValueError("a lone point of a pump curve has flow and head")
        return PumpCurve(4.0 * head / 3.0, head / 3.0 / flow**2, 2.0, (), 2.0 * flow)
    if len(known) == 3 and known[0][0] == 0.0:
        (_, h0), (q1, h1), (q2, h2) = known
        power = math.log((h0 - h2) / (h0 - h1)) / math.log(q2 / q1)
        if 0.0 < power <= 20.0:
            return PumpCurve(h0, (h0 - h1) / q1**power, power, (), q2)
    slope = (known[1][1] - known[0][1]) / (known[1][0] - known[0][0])
    return PumpCurve(known[0][1] - slope * known[0][0], 0.0, 1.0, known, known[-1][0])


def pump_head(curve: PumpCurve, flow: ArrayLike, speed: ArrayLike = 1.0) -> Array:
    """Head that a pump gives.

    Parameters
    ----------
    curve : PumpCurve
        From `pump_curve`. [m3/s], [m]
    flow : array_like
        Flow through it. [m3/s]
    speed : array_like
        Speed over that of the curve. [-]

    Returns
    -------
    ndarray
        Head; below nothing past the end of the curve. [m]

    Notes
    -----
    Affinity: flow goes with speed and head with its square, for the same impeller and not across very
    different Reynolds numbers.

    References
    ----------
    .. [1] Crane Co., TP-410, example 7.33; EPANET 2.2 user manual, ch. 3.

    Examples
    --------
    >>> curve = pump_curve([(0.02, 9.0)])
    >>> float(pump_head(curve, 0.02)), float(pump_head(curve, 0.01, 0.5))
    (9.0, 2.25)
    """
    w = np.asarray(speed, dtype=np.float64)
    q = np.asarray(flow, dtype=np.float64) / np.maximum(w, 1e-12)
    if not curve.points:
        return np.asarray(w**2 * (curve.shut_off - curve.factor * np.sign(q) * np.abs(q) ** curve.power))
    flows, heads = (np.array(column) for column in zip(*curve.points, strict=True))
    at = np.clip(np.searchsorted(flows, q, side="right") - 1, 0, len(flows) - 2)
    slope = np.diff(heads) / np.diff(flows)
    return np.asarray(w**2 * (heads[at] + slope[at] * (q - flows[at])))


def scaled_by_speed(flow: float, head: float, power: float, speed: float) -> tuple[float, float, float]:
    """Where a point of a pump's curve goes at another speed.

    Parameters
    ----------
    flow : float
        Of the point. [m3/s]
    head : float
        Of the point. [m]
    power : float
        Of the point. [W]
    speed : float
        New speed over old. [-]

    Returns
    -------
    tuple of float
        Flow, head and power there. [m3/s], [m], [W]

    Notes
    -----
    Of the pump, not of the plant: with a static lift the plant's own point does not follow it.

    References
    ----------
    .. [1] Crane Co., TP-410, example 7.33.

    Examples
    --------
    >>> scaled_by_speed(400.0, 126.0, 17.5, 1700 / 3500)
    (194.2857, 29.72571, 2.00531)
    """
    return flow * speed, head * speed**2, power * speed**3


def npsh_available(
    surface_pressure: ArrayLike,
    vapour_pressure: ArrayLike,
    density: ArrayLike,
    level: ArrayLike,
    loss: ArrayLike,
) -> Array:
    """Head above vapour pressure that is left at a pump's suction.

    Parameters
    ----------
    surface_pressure : array_like
        Absolute pressure on the water drawn from. [Pa]
    vapour_pressure : array_like
        Of that water. [Pa]
    density : array_like
        Of that water. [kg/m3]
    level : array_like
        Water level above the pump's datum; negative for a lift. [m]
    loss : array_like
        Head lost on the way. [m]

    Returns
    -------
    ndarray
        NPSH available. [m]

    Notes
    -----
    Compare with what the maker requires times a margin; 1.3 in the source. [1]_

    References
    ----------
    .. [1] Crane Co., TP-410, example 7.32.

    Examples
    --------
    >>> float(npsh_available(101325.0, 3200.0, 1023.0, -0.85, 0.6))
    8.331
    """
    weight = np.asarray(density, dtype=np.float64) * GRAVITY
    spare = np.asarray(surface_pressure, dtype=np.float64) - np.asarray(vapour_pressure, dtype=np.float64)
    return np.asarray(
        spare / weight + np.asarray(level, dtype=np.float64) - np.asarray(loss, dtype=np.float64)
    )
