"""Water moved between places: one transport matrix for every species, and what passing a run does to water.

``passages(facility, flows)`` gives each way water goes between places that hold some. Water passing a way
changes in a straight line, ``x_out = slope * x_in + offset``, whatever machines it meets. With these

``Transport(places, volumes, passages).matrix(slopes)`` is M and ``.load(offsets, slopes, outside)`` is b in
``d(V x)/dt = M x + b``. Leading axes (species, scenarios) pass through both.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from brinehouse.facility import model
from brinehouse.network import flows as flows_of

Floats = NDArray[np.float64]
OUTSIDE = model.OUTSIDE


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """One way from a place that holds water to another.

    Attributes
    ----------
    run : str
        The first run it goes along; `runs` names all of them, where machines without water join some.
    source, target : str
        Places, or `OUTSIDE`.
    flow : float
        Water. [m³/s]
    parts : tuple of str
        Pumps, duty groups and machines it passes, in order.
    pipe : float
        Water in the pipe, where length and diameter are told. [m³]
    """

    run: str
    source: str
    target: str
    flow: float
    parts: tuple[str, ...] = ()
    pipe: float = 0.0
    runs: tuple[str, ...] = ()


def passages(
    facility: model.Facility, flows: Mapping[str, float], *, holding: Iterable[str] | None = None
) -> tuple[Passage, ...]:
    """Every way between places, machines that join or split runs worked through.

    Parameters
    ----------
    facility : Facility
        A checked facility.
    flows : mapping
        Run to flow; a negative one goes the other way, one of nothing is left out. [m³/s]
    holding : iterable of str
        Places that hold water; every vessel where not told. Others only mix what comes to them.
    """
    held = set(facility.vessels) if holding is None else set(holding)
    ways = [_way(facility, run, flows.get(run.id, 0.0)) for run in facility.runs.values()]
    live = [way for way in ways if way.flow > 0.0]
    ends = [end for way in live for end in (way.source, way.target)]
    for join in dict.fromkeys(end for end in ends if end not in held and end != OUTSIDE):
        live = _joined(live, join)
    return tuple(way for way in live if way.flow > 0.0)


def _way(facility: model.Facility, run: model.Run, flow: float) -> Passage:
    ends = [_end(facility, run.source), _end(facility, run.target)]
    parts = run.through
    if flow < 0.0:
        ends, parts = ends[::-1], parts[::-1]
    pipe = run.length * math.pi * run.diameter**2 / 4.0 if run.length and run.diameter else 0.0
    return Passage(
        run=run.id, source=ends[0], target=ends[1], flow=abs(flow), parts=parts, pipe=pipe, runs=(run.id,)
    )


def _end(facility: model.Facility, end: str) -> str:
    return end if end == OUTSIDE else (flows_of.node_of(facility, end) or end)


def _joined(ways: Sequence[Passage], join: str) -> list[Passage]:
    """The ways with a mixing point worked out: each inflow goes on in the proportion of the outflows."""
    into = [way for way in ways if way.target == join and way.source != join]
    out = [way for way in ways if way.source == join and way.target != join]
    rest = [way for way in ways if join not in (way.source, way.target)]
    total = sum(way.flow for way in into)
    if not out:  # what goes in and nowhere on leaves the drawing
        return rest + [replace(way, target=OUTSIDE) for way in into]
    if not into:
        return rest + [replace(way, source=OUTSIDE) for way in out]
    onward = sum(way.flow for way in out)
    joined = [
        Passage(
            run=first.run,
            source=first.source,
            target=then.target,
            flow=first.flow * then.flow / onward,
            parts=(*first.parts, join, *then.parts),
            pipe=first.pipe * then.flow / onward + then.pipe * first.flow / total,
            runs=(*first.runs, *then.runs),
        )
        for first in into
        for then in out
    ]
    return rest + joined


class Transport:
    """Flows between places as arrays.

    Parameters
    ----------
    places : sequence of str
        The places, in the order of every array.
    volumes : array_like
        Water in each. [m³]
    passages : sequence of Passage
        Ways between them; ends that are no place count as outside.
    """

    def __init__(self, places: Sequence[str], volumes: Sequence[float], passages: Sequence[Passage]) -> None:
        self.places = tuple(places)
        self.volumes = np.asarray(volumes, dtype=np.float64)
        self.passages = tuple(passages)
        at = {place: index for index, place in enumerate(self.places)}
        self.flow = np.array([way.flow for way in self.passages], dtype=np.float64)
        self.source = np.array([at.get(way.source, -1) for way in self.passages], dtype=np.intp)
        self.target = np.array([at.get(way.target, -1) for way in self.passages], dtype=np.intp)
        self.inside = (self.source >= 0).astype(np.float64)
        rows = np.arange(len(self.places))[:, None]
        self.arriving = np.where(rows == self.target[None, :], self.flow[None, :], 0.0)
        self.leaving = np.where(rows == self.source[None, :], self.flow[None, :], 0.0)
        self.inflow, self.outflow = self.arriving.sum(axis=1), self.leaving.sum(axis=1)
        both = np.flatnonzero((self.source >= 0) & (self.target >= 0))
        self._both, self._cells = both, self.target[both] * len(self.places) + self.source[both]
        self._taking = (rows == self.source[None, :]).astype(np.float64)

    def matrix(self, slopes: Floats | None = None) -> Floats:
        """M in ``d(V x)/dt = M x + b``, for slopes of shape (..., passages); ones where not told."""
        one = np.ones(len(self.passages)) if slopes is None else slopes
        at, size = np.arange(len(self.places)), len(self.places)
        if one.ndim == 1:  # one plant: only the passages there are
            parts = self.flow[self._both] * one[self._both]
            flat = np.bincount(self._cells, weights=parts, minlength=size * size).astype(np.float64)
            moved = flat.reshape(size, size)
            moved[at, at] -= self.outflow
            return moved
        moved = (self.arriving * np.asarray(one)[..., None, :]) @ self._taking.T
        moved[..., at, at] -= self.outflow
        return moved

    def load(self, offsets: Floats, slopes: Floats | None = None, outside: Floats | None = None) -> Floats:
        """B in ``d(V x)/dt = M x + b``: offsets of passages, and what comes from outside."""
        brought = np.asarray(offsets, dtype=np.float64)
        if outside is not None:
            one = np.ones(len(self.passages)) if slopes is None else slopes
            brought = brought + (1.0 - self.inside) * one * outside
        return np.asarray(brought @ self.arriving.T)

    def taken(self, x: Floats, outside: Floats) -> Floats:
        """The water each passage takes up: its source's, or the outside's."""
        if not self.places:
            return np.asarray(outside)
        return np.where(self.source >= 0, x[..., self.source], outside)


def composed(slopes: Floats, offsets: Floats) -> tuple[Floats, Floats]:
    """Slope and offset of machines one after another; the first axis goes along the water.

    >>> slope, offset = composed(np.array([[0.5], [1.0]]), np.array([[10.0], [2.0]]))
    >>> float(slope[0]), float(offset[0])
    (0.5, 12.0)
    """
    slope, offset = np.ones(slopes.shape[1:]), np.zeros(slopes.shape[1:])
    for one, add in zip(slopes, offsets, strict=True):
        slope, offset = one * slope, one * offset + add
    return slope, offset
