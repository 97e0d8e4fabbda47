"""The gas line in a place and along a pipe, and what stands above it."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence

from brinehouse.facility import model
from brinehouse.network.profile import parts

EVEN = 1e-9


def metres(excess: parts.Excess, density: float) -> tuple[float, float, float]:
    """ΔP, and the ends of its interval, in metres of the water at hand.

    >>> value, low, high = metres(parts.Excess(value=2800.0, low=2533.0, high=3066.0), 1025.0)
    >>> round(value, 3), round(low, 3), round(high, 3)
    (0.279, 0.252, 0.305)
    """
    weight = density * parts.GRAVITY
    return excess.value / weight, excess.low / weight, excess.high / weight


def below(
    head: float, head_low: float, head_high: float, excess: parts.Excess, density: float
) -> parts.Height:
    """The gas line: static head less ΔP/ρg; the intervals of both are taken as independent.

    >>> line = below(5.0, 5.0, 5.0, parts.Excess(value=10051.8, low=10051.8, high=10051.8), 1025.0)
    >>> round(line.value, 3), round(line.low, 3)
    (4.0, 4.0)
    """
    value, low, high = metres(excess, density)
    middle = head - value
    down = ((head - head_low) ** 2 + (high - value) ** 2) ** 0.5
    up = ((head_high - head) ** 2 + (value - low) ** 2) ** 0.5
    return parts.Height(value=middle, low=middle - down, high=middle + up)


def animals(
    group: model.Animals, depth: float | None, excess: parts.Excess | None, density: float
) -> parts.Animals:
    """Animals against the gas line of their place; the shallow end of their depth counts."""
    shallow, deep = group.depth or (0.0, depth or 0.0)
    if excess is None:
        return parts.Animals(species=group.species, shallow=shallow, deep=deep)
    value, low, high = (line - shallow for line in metres(excess, density))
    state = "above" if low > 0.0 else "may be" if high > 0.0 else "below"
    return parts.Animals(
        species=group.species, shallow=shallow, deep=deep, above=value, low=low, high=high, state=state
    )


def above(pipe: Sequence[parts.Line], limits: Sequence[parts.Line]) -> tuple[parts.Line, ...]:
    """The stretches of a pipe that stand above a line; where the line is broken, none do.

    >>> dot = lambda s, z: parts.Dot(s=s, z=z, low=z, high=z)
    >>> found = above([(dot(0, 0), dot(2, 2))], [(dot(0, 1), dot(2, 1))])
    >>> [[(round(one.s, 6), round(one.z, 6)) for one in line] for line in found]
    [[(1.0, 1.0), (2, 2)]]
    """
    found: list[list[parts.Dot]] = []
    for line in pipe:
        for start, end in itertools.pairwise(line):
            for piece in _pieces(start, end, limits):
                if found and _same(found[-1][-1], piece[0]):
                    found[-1].append(piece[1])
                else:
                    found.append(list(piece))
    return tuple(tuple(line) for line in found)


def _same(one: parts.Dot, other: parts.Dot) -> bool:
    return abs(one.s - other.s) < EVEN and abs(one.z - other.z) < EVEN


def _pieces(
    start: parts.Dot, end: parts.Dot, limits: Sequence[parts.Line]
) -> Iterator[tuple[parts.Dot, parts.Dot]]:
    """The parts of one straight piece of pipe that stand above."""
    if abs(end.s - start.s) < EVEN:
        yield from _riser(start, end, at(limits, start.s))
        return
    for left, right in _spans(start, end, limits):
        over = [dot.z - edge for dot, edge in (left, right)]
        if over[0] > EVEN and over[1] > EVEN:
            yield left[0], right[0]
        elif over[0] > EVEN or over[1] > EVEN:
            share = over[0] / (over[0] - over[1])
            middle = _between(left[0], right[0], share)
            yield (left[0], middle) if over[0] > EVEN else (middle, right[0])


def _riser(start: parts.Dot, end: parts.Dot, edge: float | None) -> Iterator[tuple[parts.Dot, parts.Dot]]:
    if edge is None or max(start.z, end.z) <= edge + EVEN:
        return
    kept = [dot if dot.z >= edge else _dot(dot.s, edge) for dot in (start, end)]
    if abs(kept[0].z - kept[1].z) > EVEN:
        yield kept[0], kept[1]


def _spans(
    start: parts.Dot, end: parts.Dot, limits: Sequence[parts.Line]
) -> Iterator[tuple[tuple[parts.Dot, float], tuple[parts.Dot, float]]]:
    """A piece of pipe cut where the line has corners: both ends of each cut with the line's height there."""
    for limit in limits:
        for one, two in itertools.pairwise(limit):
            low, high = max(one.s, start.s), min(two.s, end.s)
            if high - low <= EVEN:
                continue
            width = end.s - start.s
            cut = [_between(start, end, (s - start.s) / width) for s in (low, high)]
            edges = [one.z + (two.z - one.z) * (s - one.s) / (two.s - one.s) for s in (low, high)]
            yield (cut[0], edges[0]), (cut[1], edges[1])


def at(limits: Iterable[parts.Line], s: float) -> float | None:
    """How high a line is at a place of the way; None where it is broken."""
    for limit in limits:
        for one, two in itertools.pairwise(limit):
            if one.s - EVEN <= s <= two.s + EVEN:
                if abs(two.s - one.s) < EVEN:
                    return max(one.z, two.z)
                return one.z + (two.z - one.z) * (s - one.s) / (two.s - one.s)
    return None


def _between(one: parts.Dot, two: parts.Dot, share: float) -> parts.Dot:
    if share < EVEN:
        return one
    if share > 1 - EVEN:
        return two
    return _dot(one.s + (two.s - one.s) * share, one.z + (two.z - one.z) * share)


def _dot(s: float, z: float) -> parts.Dot:
    return parts.Dot(s=s, z=z, low=z, high=z)
