"""The pipe at its own height: corners between the things of a reach."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from brinehouse.network.profile import parts

OVER = 0.3  # a pipe that falls into a place comes over its edge this high, where nothing else is known [m]
MOUTH = 0.14  # how far in from the edge it falls, in `s`


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """Where a pipe leaves and enters: heights [m], None where nobody has written them."""

    leave: float | None = None
    high: float | None = None
    enter: float | None = None
    pool: float | None = None


def corners(stops: Sequence[parts.Stop], ends: Sequence[Ends]) -> tuple[parts.Line, ...]:
    """One line for each link: ``ends[k]`` lies between stop ``k`` and the next."""
    return tuple(_link(k, stops[k], stops[k + 1], end) for k, end in enumerate(ends))


def _link(k: int, one: parts.Stop, two: parts.Stop, end: Ends) -> parts.Line:
    start, stop = 2 * k + 1.0, 2 * k + 2.0
    leave = end.leave if end.leave is not None else height(one)
    enter = end.enter if end.enter is not None else height(two)
    leave, enter = leave if leave is not None else enter, enter if enter is not None else leave
    if leave is None or enter is None:
        return ()
    at = [(start, leave)]
    into = two.place and end.enter is None
    rim = max(two.crest or -1e9, two.surface or -1e9) + OVER if into else enter
    high = end.high
    if high is not None and high > max(leave, rim) + 0.05:
        at += [(start + 1 / 3, leave), (start + 1 / 3, high)]
        if abs(high - rim) > 0.05 and not (into and high - rim < 1.0):
            at += [(start + 2 / 3, high), (start + 2 / 3, rim)]
        else:
            rim = high
    elif abs(leave - rim) > 0.02:
        at += [(start + 0.5, leave), (start + 0.5, rim)]
    at.append((stop, rim))
    if into:
        drop = end.pool if end.pool is not None else (two.surface or rim) + 0.05
        at += [(stop + MOUTH, rim), (stop + MOUTH, drop)]
    return tuple(parts.Dot(s=s, z=z, low=z, high=z) for s, z in at)


def height(stop: parts.Stop) -> float | None:
    """Where a pipe meets a thing whose height is written: a place's water, a machine's middle."""
    if stop.place:
        return stop.surface
    return stop.elevation
