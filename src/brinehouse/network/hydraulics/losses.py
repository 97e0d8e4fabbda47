"""Head lost along every link of many scenarios at once, and how it grows with flow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.hydraulics import links
from brinehouse.science import constants, hydraulics

Array = NDArray[np.float64]
GRAVITY = constants.GRAVITY
SQUARE = hydraulics.SQUARE
BARE = (
    0.01  # velocity heads of what has no length, no points and no loss of its own: half a millimetre at 1 m/s
)
STILL = 1e-4  # s/m2: a little that goes with flow itself, so that still water rests
LEAST_SLOPE = 1e-3  # s/m2: below it a Newton step would leap; the head itself stays exact
VARIED = ("open", "speed", "loss", "roughness", "share_open", "curve_factor")


@dataclass(slots=True)
class Table:
    """Links as columns, in the order of a net; what may vary has a row for each scenario."""

    pipes: NDArray[np.intp]
    diameter: Array
    smooth: hydraulics.Smoothness  # of the pipes
    square: Array  # what stands before Q|Q| for fittings, valves and machines
    hazen: NDArray[np.intp]
    hazen_factor: Array
    pumps: NDArray[np.intp]
    lines: tuple[tuple[int, hydraulics.PumpCurve], ...]  # pumps whose curve is straight lines
    shut_off: Array
    factor: Array
    power: Array
    speed: Array
    curve_factor: Array
    passable: NDArray[np.bool_]
    machines: tuple[tuple[int, Array, Array, Array], ...]  # column, flows, coefficients, their steps
    still: tuple[
        Array, Array
    ]  # of the pipes: the scale of their friction, and its slope at rest for each m2/s


def table(ordered: Sequence[links.Link], varied: Mapping[str, Mapping[str, Array]], rows: int) -> Table:
    """Columns of links; `varied` has, by word and link, one value for each of `rows` scenarios."""

    def column(word: str, usual: Sequence[float]) -> Array:
        given = varied.get(word, {})
        line = np.array(usual, dtype=np.float64)
        if not given:
            return line[None] if rows == 1 else np.broadcast_to(line, (rows, len(ordered)))
        made = np.tile(line, (rows, 1))
        for at, link in enumerate(ordered):
            if link.id in given:
                made[:, at] = given[link.id]
        return made

    kinds = [link.kind for link in ordered]
    pumped = np.array([kind == "pump" for kind in kinds])
    diameter = np.array([link.diameter for link in ordered])
    share = column("share_open", [link.share_open if link.kind == "valve" else 1.0 for link in ordered])
    loss = column("loss", [link.loss for link in ordered])
    bare = [link.kind != "pump" and not link.points and not link.length for link in ordered]
    loss = np.where(bare, np.maximum(loss, BARE), loss)
    part_shut = np.where(share > 0.0, 1.0 / np.maximum(share, 1e-6) ** 2 - 1.0, 0.0)
    speed = column("speed", [link.speed for link in ordered])
    open_ = column("open", [float(link.open) for link in ordered])
    pipes, pumps, hazen = (
        np.array([at for at, kind in enumerate(kinds) if kind == word], dtype=np.intp)
        for word in ("pipe", "pump", "hazen")
    )
    length, bore = np.array([link.length for link in ordered])[pipes], diameter[pipes]
    rough = column("roughness", [link.roughness for link in ordered])[:, pipes] / bore
    curves = [hydraulics.pump_curve(ordered[int(at)].curve) for at in pumps]
    return Table(
        pipes=pipes,
        diameter=diameter,
        smooth=hydraulics.smoothness(rough if "roughness" in varied else rough[:1]),
        square=SQUARE * (loss + part_shut) / diameter**4,
        hazen=hazen,
        hazen_factor=np.array([_hazen(ordered[int(at)]) for at in hazen]),
        pumps=pumps,
        lines=tuple((k, curve) for k, curve in enumerate(curves) if curve.points),
        shut_off=np.array([curve.shut_off for curve in curves]),
        factor=np.array([curve.factor for curve in curves]),
        power=np.array([curve.power for curve in curves]),
        speed=np.maximum(speed[:, pumps], 1e-9),
        curve_factor=column("curve_factor", [1.0] * len(ordered))[:, pumps],
        passable=(open_ > 0.0) & (share > 0.0) & (~pumped | (speed > 0.0)),
        machines=tuple(_steps(at, link) for at, link in enumerate(ordered) if link.points),
        still=(SQUARE * length / bore**5, 128.0 * length / (np.pi * GRAVITY * bore**4)),
    )


def _steps(at: int, link: links.Link) -> tuple[int, Array, Array, Array]:
    """A machine's coefficients of the square of flow at its points, and how they change between."""
    flows = np.array([q for q, _ in link.points if q > 0.0])
    square = np.array([h for q, h in link.points if q > 0.0]) / flows**2
    return at, flows, square, np.gradient(square, flows) if square.size > 1 else np.zeros_like(square)


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
    lost = (has.square * size + STILL) * flow
    slope = 2.0 * has.square * size + STILL
    if has.pipes.size:
        at = has.pipes
        _pipes(has, at, flow[:, at], viscosity, lost, slope)
    if has.hazen.size:
        at = has.hazen
        power = has.hazen_factor * size[:, at] ** 0.852
        lost[:, at] += power * flow[:, at]
        slope[:, at] += 1.852 * power
    for at, flows, square, steps in has.machines:
        add, more = _machine(flows, square, steps, flow[:, at])
        lost[:, at] += add
        slope[:, at] += more
    if has.pumps.size:
        given, falls = _pumps(has, flow[:, has.pumps])
        lost[:, has.pumps] -= given * has.curve_factor
        slope[:, has.pumps] += np.maximum(falls * has.curve_factor, LEAST_SLOPE)
    return lost, slope


def _pipes(
    has: Table, at: NDArray[np.intp], flow: Array, viscosity: float, lost: Array, slope: Array
) -> None:
    """Friction of pipes: laminar flow has a slope of its own at rest, so nothing is singular there."""
    size = np.abs(flow)
    re = size * (4.0 / (np.pi * viscosity * has.diameter[at]))
    factor, turns = hydraulics.friction_from(has.smooth, re)
    scale, at_rest = has.still
    lost[:, at] += scale * factor * flow * size
    slope[:, at] += np.maximum(scale * size * (2.0 * factor + turns), at_rest * viscosity)


def _machine(flows: Array, square: Array, steps: Array, flow: Array) -> tuple[Array, Array]:
    """Loss by points: the coefficient of the square between them, the first and last ones carried on."""
    size = np.abs(flow)
    if square.size == 1:
        return square[0] * flow * size, 2.0 * square[0] * size
    k = np.interp(size, flows, square)
    inside = (size > flows[0]) & (size < flows[-1])
    more = np.where(inside, np.interp(size, flows, steps), 0.0)
    return k * flow * size, np.maximum(2.0 * k * size + more * size**2, k * size)


def _pumps(has: Table, flow: Array) -> tuple[Array, Array]:
    """Heads given and how steeply they fall; against the flow a curve goes on falling as it rises."""
    w = has.speed
    q = flow / w
    size = np.maximum(np.abs(q), 1e-12)
    drop = has.factor * size ** (has.power - 1.0)
    given, falls = w**2 * (has.shut_off - drop * q), w * has.power * drop
    for k, curve in has.lines:
        flows, heads = (np.array(part) for part in zip(*curve.points, strict=True))
        at = np.clip(np.searchsorted(flows, q[:, k], side="right") - 1, 0, len(flows) - 2)
        steep = -(np.diff(heads) / np.diff(flows))[at]
        given[:, k] = w[:, k] ** 2 * (heads[at] - steep * (q[:, k] - flows[at]))
        falls[:, k] = w[:, k] * steep
    return given, falls
