"""Mixed water joined by runs: what passes a run changes in a straight line, so that a balance is one solve.

At each place ``V dx/dt = sum of F (a x_from + c - x) + s - V k x``: F what runs bring, ``a x + c`` what their
machines make of it, s what is given to the place, k what is lost there. The steady state is linear in x.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.facility import model

Floats = NDArray[np.float64]
BRIEF = 30.0  # s that water stays in a machine at which runs meet
SHARE = 0.05  # of the way left when a place counts as settled


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One run: where it starts and ends, its flow [m³/s], and its machines in order."""

    run: str
    source: str
    target: str
    flow: float
    parts: tuple[str, ...]


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One number of all nodes: what runs make of it, what is given [per s, times m³], what is lost [1/s]."""

    passes: Mapping[str, Pass]
    given: Floats
    lost: Floats
    outside: float = 0.0


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


def rates(net: Net, task: Task) -> tuple[Floats, Floats]:
    """Matrix and offsets: ``V dx/dt = M x + b``."""
    size, at = len(net.nodes), net.at
    matrix, offset = np.zeros((size, size)), np.array(task.given, dtype=float)
    matrix[np.arange(size), np.arange(size)] -= net.volumes * task.lost
    for way in net.ways:
        if way.target not in at:
            continue
        row = at[way.target]
        a, c = task.passes[way.run].whole if way.run in task.passes else (1.0, 0.0)
        matrix[row, row] -= way.flow
        offset[row] += way.flow * c
        if way.source in at:
            matrix[row, at[way.source]] += way.flow * a
        else:
            offset[row] += way.flow * a * task.outside
    return matrix, offset


def steady(net: Net, task: Task) -> Floats:
    """Where every node settles; NaN where nothing is lost and nothing is exchanged."""
    matrix, offset = rates(net, task)
    try:
        found = np.linalg.solve(matrix, -offset)
    except np.linalg.LinAlgError:
        return np.full(len(net.nodes), np.nan)
    return np.where(np.abs(found) < 1e12, found, np.nan)


def settling(net: Net, task: Task, away: Floats) -> Floats:
    """Hours until each node has 5 % of its way left, from how far away each one starts.

    Examples
    --------
    >>> alone = Net(nodes=("a",), volumes=np.array([1.0]), ways=())
    >>> task = Task(passes={}, given=np.zeros(1), lost=np.array([1.0 / 3600.0]))
    >>> round(float(settling(alone, task, np.ones(1))[0]), 1)
    3.0
    """
    matrix, _ = rates(net, task)
    values, vectors = (
        np.asarray(part, dtype=complex) for part in np.linalg.eig(matrix / net.volumes[:, None])
    )
    parts = np.linalg.solve(vectors, away.astype(complex))
    hours = np.concatenate([[0.0], np.logspace(-2.0, 5.5, 600)])
    slow = np.minimum(np.real(values), 0.0) + 1j * np.imag(values)
    grown = np.exp(np.outer(slow, hours * 3600.0))
    path = np.abs(np.real(vectors @ (parts[:, None] * grown)))
    scale = np.maximum(np.abs(away), 0.2 * np.abs(away).max(initial=0.0))
    late = path > SHARE * np.maximum(scale, 1e-300)[:, None]
    last = np.where(late.any(axis=1), late.shape[1] - 1 - np.argmax(late[:, ::-1], axis=1), 0)
    out = hours[np.minimum(last + 1, len(hours) - 1)]
    return np.where(last == len(hours) - 1, np.inf, np.where(late.any(axis=1), out, 0.0))


def brought(net: Net, task: Task, x: Floats, node: str) -> dict[str, float]:
    """What each way brings to a node beyond what is there, machines of the way apart [per s, times m³]."""
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


def parts_of(ways: Sequence[Way], part: str) -> float:
    """The water that passes a machine [m³/s]."""
    return sum(way.flow for way in ways if part in way.parts)
