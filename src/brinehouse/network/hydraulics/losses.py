"""Head lost along every link of many scenarios at once, and how it grows with flow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.hydraulics import links
from brinehouse.science import hydraulics

Array = NDArray[np.float64]
SQUARE = 8.0 / (9.80665 * np.pi**2)  # s2/m: of h = SQUARE K Q2/D4
LEAST_SLOPE = 1e-3  # s/m2: below it a Newton step would leap; the head itself stays exact
VARIED = ("open", "speed", "loss", "roughness", "share_open", "curve_factor")


@dataclass(slots=True)
class Table:
    """Links as columns, in the order of a net; what may vary has a row for each scenario."""

    pipes: NDArray[np.intp]
    length: Array
    diameter: Array
    roughness: Array
    square: Array  # what stands before Q|Q| for fittings, valves and machines
    hazen: NDArray[np.intp]
    hazen_factor: Array
    pumps: NDArray[np.intp]
    curves: tuple[hydraulics.PumpCurve, ...]
    speed: Array
    curve_factor: Array
    passable: NDArray[np.bool_]
    machines: tuple[tuple[int, Array, Array], ...]  # column, flows, heads


def table(ordered: Sequence[links.Link], varied: Mapping[str, Mapping[str, Array]], rows: int) -> Table:
    """Columns of links; `varied` has, by word and link, one value for each of `rows` scenarios."""

    def column(word: str, usual: Sequence[float]) -> Array:
        given = varied.get(word, {})
        made = np.broadcast_to(np.asarray(usual, dtype=np.float64), (rows, len(ordered)))
        if not given:
            return made
        made = made.copy()
        for at, link in enumerate(ordered):
            if link.id in given:
                made[:, at] = given[link.id]
        return made

    kind = np.array([link.kind for link in ordered])
    diameter = np.array([link.diameter for link in ordered])
    share = column("share_open", [link.share_open if link.kind == "valve" else 1.0 for link in ordered])
    loss = column("loss", [link.loss for link in ordered])
    part_shut = np.where(share > 0.0, 1.0 / np.maximum(share, 1e-6) ** 2 - 1.0, 0.0)
    speed = column("speed", [link.speed for link in ordered])
    open_ = column("open", [float(link.open) for link in ordered])
    pumps = np.flatnonzero(kind == "pump")
    hazen = np.flatnonzero(kind == "hazen")
    return Table(
        pipes=np.flatnonzero(kind == "pipe"),
        length=np.array([link.length for link in ordered]),
        diameter=diameter,
        roughness=column("roughness", [link.roughness for link in ordered]),
        square=SQUARE * (loss + part_shut) / diameter**4,
        hazen=hazen,
        hazen_factor=np.array([_hazen(ordered[int(at)]) for at in hazen]),
        pumps=pumps,
        curves=tuple(hydraulics.pump_curve(ordered[int(at)].curve) for at in pumps),
        speed=speed[:, pumps],
        curve_factor=column("curve_factor", [1.0] * len(ordered))[:, pumps],
        passable=(open_ > 0.0) & (share > 0.0) & ((kind != "pump") | (speed > 0.0)),
        machines=tuple(
            (at, np.array([q for q, _ in link.points]), np.array([h for _, h in link.points]))
            for at, link in enumerate(ordered)
            if link.points
        ),
    )


def _hazen(link: links.Link) -> float:
    return float(hydraulics.hazen_williams_resistance(link.length, link.diameter, link.smoothness))


def losses(has: Table, flow: Array, viscosity: float) -> tuple[Array, Array]:
    """Head lost along each link and its slope.

    Parameters
    ----------
    has : Table
    flow : ndarray
        (scenarios, links). [m³/s]
    viscosity : float
        Kinematic. [m²/s]

    Returns
    -------
    tuple of ndarray
        Head lost [m] and its slope [s/m²], each (scenarios, links).
    """
    size = np.abs(flow)
    lost = has.square * flow * size
    slope = 2.0 * has.square * size
    if has.pipes.size:
        at = has.pipes
        _pipes(has, at, flow[:, at], viscosity, lost, slope)
    if has.hazen.size:
        at = has.hazen
        power = has.hazen_factor * size[:, at] ** 0.852
        lost[:, at] += power * flow[:, at]
        slope[:, at] += 1.852 * power
    for at, flows, heads in has.machines:
        add, more = _machine(flows, heads, flow[:, at])
        lost[:, at] += add
        slope[:, at] += more
    for k, at in enumerate(has.pumps):
        given, falls = _pump(has.curves[k], flow[:, at], has.speed[:, k])
        lost[:, at] -= given * has.curve_factor[:, k]
        slope[:, at] += falls * has.curve_factor[:, k]
    return lost, np.maximum(slope, LEAST_SLOPE)


def _pipes(
    has: Table, at: NDArray[np.intp], flow: Array, viscosity: float, lost: Array, slope: Array
) -> None:
    """Friction of pipes: laminar flow has a slope of its own at rest, so nothing is singular there."""
    bore = has.diameter[at]
    re = 4.0 * np.abs(flow) / (np.pi * bore * viscosity)
    factor, turns = hydraulics.friction_with_slope(re, has.roughness[:, at] / bore)
    scale = SQUARE * has.length[at] / bore**5
    size = np.abs(flow)
    still = re < 1e-6
    laminar = 128.0 * viscosity * has.length[at] / (np.pi * 9.80665 * bore**4)
    lost[:, at] += np.where(still, laminar * flow, scale * factor * flow * size)
    slope[:, at] += np.where(still, laminar, scale * size * (2.0 * factor + turns))


def _machine(flows: Array, heads: Array, flow: Array) -> tuple[Array, Array]:
    """Loss by points: the coefficient of the square between them, the first and last ones carried on."""
    size = np.abs(flow)
    known = flows > 0.0
    square = heads[known] / flows[known] ** 2
    k = np.interp(size, flows[known], square)
    step = np.gradient(square, flows[known]) if square.size > 1 else np.zeros_like(square)
    inside = (size > flows[known][0]) & (size < flows[known][-1])
    more = np.where(inside, np.interp(size, flows[known], step), 0.0)
    return k * flow * size, np.maximum(2.0 * k * size + more * size**2, k * size)


def _pump(curve: hydraulics.PumpCurve, flow: Array, speed: Array) -> tuple[Array, Array]:
    """Head given and how steeply it falls; against the flow the curve goes on as a steep line."""
    w = np.maximum(speed, 1e-9)
    q = flow / w
    if curve.points:
        flows = np.array([point[0] for point in curve.points])
        heads = np.array([point[1] for point in curve.points])
        at = np.clip(np.searchsorted(flows, q, side="right") - 1, 0, len(flows) - 2)
        falls = -(np.diff(heads) / np.diff(flows))[at]
        return w**2 * (heads[at] - falls * (q - flows[at])), w * falls
    size = np.abs(q)
    drop = curve.factor * size ** (curve.power - 1.0) if curve.power >= 1.0 else None
    if drop is None:
        size = np.maximum(size, 1e-9)
        drop = curve.factor * size ** (curve.power - 1.0)
    return w**2 * (curve.shut_off - drop * q), w * curve.power * drop
