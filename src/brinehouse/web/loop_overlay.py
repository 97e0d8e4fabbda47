"""A what-if laid over today: the lines of a way that gained or lost a machine, on the way as it is today."""

from __future__ import annotations

import dataclasses
import difflib
import itertools
from collections.abc import Sequence

from brinehouse.workbench import loop

ALIKE = 0.6  # ways that share less of their things are drawn apart


def way(reach: loop.Reach) -> list[tuple[str, str]]:
    """What a reach passes."""
    return [(stop.id, stop.flag) for stop in reach.stops]


def paired(
    today: Sequence[loop.Reach], then: Sequence[loop.Reach]
) -> tuple[dict[int, loop.Reach], list[loop.Reach]]:
    """Today's reaches with what becomes of them, by number; and the ways that are new."""
    pairs: dict[int, loop.Reach] = {}
    left: list[loop.Reach] = []
    for reach in then:
        likely = [
            (difflib.SequenceMatcher(None, way(one), way(reach)).ratio(), -n)
            for n, one in enumerate(today)
            if n not in pairs and way(one)[0][0] == way(reach)[0][0]
        ]
        best = max(likely, default=(0.0, 0))
        if best[0] < ALIKE:
            left.append(reach)
        else:
            pairs[-best[1]] = laid_over(today[-best[1]], reach)
    return pairs, left


def laid_over(today: loop.Reach, then: loop.Reach) -> loop.Reach:
    """The lines of a reach moved to where the same things stand today."""
    blocks = difflib.SequenceMatcher(None, way(today), way(then)).get_matching_blocks()
    anchors = [
        (2.0 * (block.b + n) + edge, 2.0 * (block.a + n) + edge)
        for block in blocks
        for n in range(block.size)
        for edge in (0.0, 1.0)
    ]

    def moved(lines: Sequence[loop.Line]) -> tuple[loop.Line, ...]:
        kept = [
            tuple(dataclasses.replace(dot, s=s) for dot in line if (s := _at(dot.s, anchors)) is not None)
            for line in lines
        ]
        return tuple(line for line in kept if len(line) > 1)

    return dataclasses.replace(then, pipe=moved(then.pipe), head=moved(then.head), gas=moved(then.gas))


def _at(s: float, anchors: Sequence[tuple[float, float]]) -> float | None:
    for (one, here), (two, there) in itertools.pairwise(anchors):
        if one - 1e-9 <= s <= two + 1e-9:
            return here if two - one < 1e-9 else here + (there - here) * (s - one) / (two - one)
    return None


def added(today: loop.Reach, then: loop.Reach) -> list[tuple[loop.Stop, float]]:
    """Machines that today's reach has not, and where on today's way they would stand."""
    known = {stop.id for stop in today.stops}
    matched = [
        (j, next(i for i, one in enumerate(today.stops) if (one.id, one.flag) == (stop.id, stop.flag)))
        for j, stop in enumerate(then.stops)
        if (stop.id, stop.flag) in way(today)
    ]
    found: list[tuple[loop.Stop, float]] = []
    for j, stop in enumerate(then.stops):
        if stop.id in known or stop.flag or stop.place:
            continue
        before = max((pair for pair in matched if pair[0] < j), default=None)
        after = min((pair for pair in matched if pair[0] > j), default=None)
        if before is not None and after is not None:
            share = (j - before[0]) / (after[0] - before[0])
            found.append((stop, 2.0 * before[1] + 1 + share * (2.0 * after[1] - 2.0 * before[1] - 1)))
    return found
