"""Mixed water joined by runs: what passes a run changes in a straight line.

At each place ``d(V x)/dt = sum of F (a x_from + c) - F_out x + given - V lost x``: F what runs bring,
``a x + c`` what their machines make of it, F_out what runs take away. One matrix serves every number that
water carries; only what machines do to it, what is given and what is lost differ.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brinehouse.facility import model

Floats = NDArray[np.float64]
BRIEF = 30.0  # s that water stays in a machine at which runs meet
CELLS = 12  # mixed parts that stand for a pipe: its delay spreads by a quarter and a bit


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One run: where it starts and ends, its flow [m³/s], its machines in order, and its pipe's water [m³]."""

    run: str
    source: str
    target: str
    flow: float
    parts: tuple[str, ...] = ()
    pipe: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pass:
    """What the machines of a run make of a number: ``a x + c``, step by step, each with its name."""

    steps: tuple[tuple[str, float, float], ...] = ()

    @property
    def whole(self) -> tuple[float, float]:
        """All steps as one.

        >>> Pass(steps=(("heater", 1.0, 2.0), ("column", 0.5, 10.0))).whole
        (0.5, 11.0)
        """
        a, c = 1.0, 0.0
        for _, slope, offset in self.steps:
            a, c = a * slope, c * slope + offset
        return a, c

    def gains(self, start: float) -> dict[str, float]:
        """What each step adds to a number that starts so."""
        out: dict[str, float] = {}
        for name, slope, offset in self.steps:
            after = slope * start + offset
            out[name] = out.get(name, 0.0) + after - start
            start = after
        return out


@dataclass(frozen=True, kw_only=True)
class Net:
    """The places whose water is worked out, and the ways between them."""

    nodes: tuple[str, ...]
    volumes: Floats
    ways: tuple[Way, ...]

    @functools.cached_property
    def at(self) -> Mapping[str, int]:
        """Node to its row."""
        return {name: row for row, name in enumerate(self.nodes)}

    def into(self, node: str) -> list[Way]:
        """Ways that end at a node."""
        return [way for way in self.ways if way.target == node]

    def out_of(self, node: str) -> list[Way]:
        """Ways that begin at a node."""
        return [way for way in self.ways if way.source == node]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One named thing that gives and takes at the places themselves.

    ``given`` is in the number's unit times m³/s, ``lost`` a rate [1/s]; both one value a node.
    """

    name: str
    given: Floats
    lost: Floats
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One number of all nodes: what runs make of it, what is given and lost, and what comes from outside."""

    passes: Mapping[str, Pass] = field(default_factory=dict[str, Pass])
    parts: tuple[Part, ...] = ()
    outside: float = 0.0

    def given(self, size: int) -> Floats:
        """Everything given. [unit m³/s]."""
        return np.sum([part.given for part in self.parts], axis=0) if self.parts else np.zeros(size)

    def lost(self, size: int) -> Floats:
        """Everything lost. [1/s]."""
        return np.sum([part.lost for part in self.parts], axis=0) if self.parts else np.zeros(size)


def net(facility: model.Facility, flows: Mapping[str, float]) -> Net:
    """The places of a facility that water reaches or animals live in, and the ways between them."""
    group = {pump: duty.id for duty in facility.duties.values() for pump in duty.pumps}
    ways = tuple(
        Way(
            run=run.id,
            source=group.get(run.source, run.source),
            target=group.get(run.target, run.target),
            flow=flows[run.id],
            parts=_parts(run, facility),
            pipe=pipe_volume(run),
        )
        for run in facility.runs.values()
        if flows.get(run.id, 0.0) > 0.0
    )
    ends = {end for way in ways for end in (way.source, way.target)} - {model.OUTSIDE}
    lived = {group.at for group in facility.animals}
    places = [name for name in facility.vessels if name in ends or name in lived]
    places = places or list(facility.tanks)  # a file without runs or animals: each tank by itself
    machines = sorted(ends - set(facility.vessels))
    through = {name: sum(way.flow for way in ways if way.target == name) for name in machines}
    volumes = [volume_of(facility.vessels[name]) for name in places]
    volumes += [max(through[name] * BRIEF, 1e-6) for name in machines]
    return Net(nodes=(*places, *machines), volumes=np.array(volumes), ways=ways)


def _parts(run: model.Run, facility: model.Facility) -> tuple[str, ...]:
    """The machines that a run passes; one at its end is passed where the run ends."""
    return run.through if run.target in facility.vessels else (*run.through, run.target)


def pipe_volume(run: model.Run) -> float:
    """Water that stands in a run's pipe [m³]; nothing where its sizes are not told."""
    if not run.length or not run.diameter:
        return 0.0
    return 0.25 * np.pi * run.diameter**2 * run.length


def volume_of(vessel: model.Vessel) -> float:
    """Water in a place: working volume, else volume, never nothing [m³]."""
    return max(vessel.working or vessel.volume or 1.0, 1e-3)


def surface_of(vessel: model.Vessel) -> float:
    """Open surface: as stated, by its sizes, else volume over depth, else of a cube [m²]."""
    if vessel.surface:
        return vessel.surface
    if vessel.length and vessel.width:
        return vessel.length * vessel.width
    if vessel.diameter:
        return 0.25 * np.pi * vessel.diameter**2
    volume = volume_of(vessel)
    return volume / vessel.depth if vessel.depth else volume ** (2.0 / 3.0)


def with_pipes(plain: Net, cells: int = CELLS) -> Net:
    """The same with each pipe whose sizes are told as a row of mixed parts: its delay.

    A step that enters such a pipe leaves it after the same time as through the pipe itself, spread by
    ``1/sqrt(cells)`` of it. Machines stand at the end of the row.
    """
    nodes, volumes, ways = list(plain.nodes), plain.volumes.tolist(), list[Way]()
    for way in plain.ways:
        if way.pipe <= 0.0 or way.source == way.target:
            ways.append(way)
            continue
        row = [f"{way.run}#{k + 1}" for k in range(cells)]
        nodes += row
        volumes += [way.pipe / cells] * cells
        stops = [way.source, *row, way.target]
        ways += [
            Way(run=way.run if k == cells else f"{way.run}#{k}", source=stops[k], target=stops[k + 1], flow=way.flow,
                parts=way.parts if k == cells else ())
            for k in range(cells + 1)
        ]  # fmt: skip
    return Net(nodes=tuple(nodes), volumes=np.array(volumes), ways=tuple(ways))


def rates(net: Net, task: Task, volumes: Floats | None = None) -> tuple[Floats, Floats]:
    """Matrix and offsets: ``d(V x)/dt = M x + b``.

    Parameters
    ----------
    net : Net
    task : Task
    volumes : ndarray, optional
        Water at each node where it is not that of the net. [m³]

    Returns
    -------
    tuple of ndarray
        M (nodes, nodes) [m³/s] and b (nodes) [unit m³/s].
    """
    size, at = len(net.nodes), net.at
    held = net.volumes if volumes is None else volumes
    matrix, offset = np.zeros((size, size)), np.array(task.given(size), dtype=float)
    matrix[np.arange(size), np.arange(size)] -= held * task.lost(size)
    for way in net.ways:
        source, target = at.get(way.source), at.get(way.target)
        a, c = task.passes[way.run].whole if way.run in task.passes else (1.0, 0.0)
        if source is not None:
            matrix[source, source] -= way.flow
        if target is None:
            continue
        offset[target] += way.flow * c
        if source is None:
            offset[target] += way.flow * a * task.outside
        else:
            matrix[target, source] += way.flow * a
    return matrix, offset


def steady(net: Net, task: Task) -> Floats:
    """Where every node settles; NaN where nothing is lost and nothing is exchanged."""
    matrix, offset = rates(net, task)
    size = len(net.nodes)
    scale = np.maximum(np.abs(np.diag(matrix)), 1e-300)
    try:
        found = np.linalg.solve(matrix / scale[:, None], -offset / scale)
    except np.linalg.LinAlgError:
        return np.full(size, np.nan)
    return np.where(np.abs(found) < 1e12, found, np.nan)


def brought(net: Net, task: Task, x: Floats, node: str) -> dict[str, float]:
    """What each way brings to a node beyond what is there, machines of the way apart. [unit m³/s]."""
    at, out = net.at, dict[str, float]()
    here = float(x[at[node]])
    for way in net.into(node):
        start = float(x[at[way.source]]) if way.source in at else task.outside
        name = f"water from {way.source}"
        if way.source != node:
            out[name] = out.get(name, 0.0) + way.flow * (start - here)
        for part, gain in task.passes.get(way.run, Pass()).gains(start).items():
            out[part] = out.get(part, 0.0) + way.flow * gain
    return out


def passing(net: Net, task: Task, x: Floats) -> dict[str, float]:
    """What machines and the outside give to all the water and take from it, by name. [unit m³/s]."""
    at, out = net.at, dict[str, float]()
    for way in net.ways:
        start = float(x[at[way.source]]) if way.source in at else task.outside
        if way.source not in at:
            out["water from outside"] = out.get("water from outside", 0.0) + way.flow * start
        if way.target not in at:
            out["water to outside"] = out.get("water to outside", 0.0) - way.flow * start
            continue
        for part, gain in task.passes.get(way.run, Pass()).gains(start).items():
            out[part] = out.get(part, 0.0) + way.flow * gain
    return out


def parts_of(ways: Sequence[Way], part: str) -> float:
    """The water that passes a machine [m³/s]."""
    return sum(way.flow for way in ways if part in way.parts)


def gaps(net: Net) -> Floats:
    """What flows in less what flows out of each node [m³/s]."""
    gap = np.zeros(len(net.nodes))
    for way in net.ways:
        if way.target in net.at:
            gap[net.at[way.target]] += way.flow
        if way.source in net.at:
            gap[net.at[way.source]] -= way.flow
    return gap
