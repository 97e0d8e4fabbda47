"""Where everything of a loop profile stands on the sheet: rows, widths, one scale of height. [px]."""

from __future__ import annotations

import bisect
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from brinehouse.web import letters, loop_overlay
from brinehouse.workbench import loop

AXIS = 34.0  # left of every row: the heights
GAP = 46.0  # between two reaches in a row
HIGH = {"wide": 500.0, "middle": 420.0, "narrow": 380.0}
WIDTH = {"wide": 1180.0, "middle": 660.0, "narrow": 350.0}
SCALE = (26.0, 62.0)  # least and most [px/m]
RIM = 8.0  # how far walls stand over the water where no crest is written
CUT = 0.25  # where a pipe is cut at the end of a row, in `s` after a thing: before it rises or falls
FEW, SHOWN = (
    2.0,
    0.8,
)  # a later row cuts static head off that is more metres over its things than the first [m]
CLIP = 2.2  # metres of static head shown over the highest thing, where there is far more


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """One of the three sizes of the drawing, and its scale of height."""

    name: str
    width: float
    scale: float


@dataclass(slots=True, kw_only=True)
class Slice:
    """A reach, or a part of a long one, in one row: where each whole `s` is."""

    reach: loop.Reach
    index: int
    first: int
    last: int
    marks: list[float] = field(default_factory=list[float])
    values: list[float] = field(default_factory=list[float])
    cut_before: int = 0
    cut_after: int = 0
    then: loop.Reach | None = None
    new: bool = False

    def x(self, s: float) -> float:
        """Where a place of the way is."""
        k = min(max(bisect.bisect_right(self.values, s) - 1, 0), len(self.values) - 2)
        one, two = self.values[k], self.values[k + 1]
        share = (s - one) / (two - one)
        return self.marks[k] + (self.marks[k + 1] - self.marks[k]) * share

    @property
    def span(self) -> tuple[float, float]:
        """The part of the way that is drawn here, with half a pipe where it is cut."""
        return self.values[0], self.values[-1]

    def holds(self, s: float) -> bool:
        """Whether a place of the way is in this slice."""
        return self.values[0] - 1e-9 <= s <= self.values[-1] + 1e-9


@dataclass(slots=True, kw_only=True)
class Row:
    """A row of slices with the heights it shows."""

    slices: list[Slice]
    low: float
    high: float
    top: float = 0.0
    floor: float = 0.0
    scale: float = 40.0
    clipped: float | None = None

    def y(self, z: float) -> float:
        """Where a height is."""
        return self.floor - (z - self.low) * self.scale


def rows(profile: loop.Profile, size: str, then: loop.Profile | None = None) -> list[Row]:
    """The rows of one size, not yet set below one another.

    A reach of a what-if that goes the same way is laid over today's; one that goes another way stands after.
    """
    other, fresh = loop_overlay.paired(profile.reaches, then.reaches if then is not None else ())
    room = WIDTH[size] - AXIS - 6.0
    packed: list[list[Slice]] = [[]]
    used = 0.0
    for index, reach in enumerate([*profile.reaches, *fresh]):
        for piece in _pieces(reach, index, room, size):
            piece.new = index >= len(profile.reaches)
            piece.then = other.get(index)
            wide = piece.marks[-1]
            turn = bool(packed[-1]) and packed[-1][-1].new != piece.new
            if packed[-1] and (turn or used + GAP + wide > room):
                packed.append([])
                used = 0.0
            packed[-1].append(piece)
            used += wide + (GAP if len(packed[-1]) > 1 else 0.0)
    made = [_row(group, room) for group in packed if group]
    clip = _clip(made)
    tallest = max((min(row.high, clip) - row.low for row in made), default=1.0)
    scale = min(max(HIGH[size] / max(tallest, 0.5), SCALE[0]), SCALE[1])
    for n, row in enumerate(made):
        row.scale = scale
        own = max((z for piece in row.slices for z in solids(piece)), default=row.high)
        limit = clip if n == 0 or row.high - own < FEW else min(clip, own + SHOWN)
        if row.high > limit:
            row.high = row.clipped = limit
    return made


def _clip(made: Sequence[Row]) -> float:
    """How high static head is drawn: all of it, unless it would press everything else flat."""
    highest = max((row.high for row in made), default=0.0)
    solid = max((z for row in made for piece in row.slices for z in solids(piece)), default=highest)
    lowest = min((row.low for row in made), default=0.0)
    return highest if highest - lowest <= 2.1 * (solid - lowest) else solid + CLIP


def solids(piece: Slice) -> Iterator[float]:
    """Heights of what can be touched: floors, rims, pipes, machines."""
    for stop in piece.reach.stops[piece.first : piece.last + 1]:
        for z in (stop.elevation, stop.surface, stop.crest, stop.rim, stop.top, stop.pool):
            if z is not None:
                yield z
        if stop.pool is not None:
            yield stop.pool - 0.4
        yield from (one.elevation for one in stop.members if one.elevation is not None)
    yield from (dot.z for line in piece.reach.pipe for dot in line if piece.holds(dot.s))


def _row(group: list[Slice], room: float) -> Row:
    """A row with its pieces spread over the width, and the heights it has to show."""
    wide = sum(piece.marks[-1] for piece in group) + GAP * (len(group) - 1)
    stretch = min(room / wide, 1.5) if wide > 0.55 * room else 1.15
    at = AXIS
    for piece in group:
        _stretch(piece, stretch)
        piece.marks = [at + mark for mark in piece.marks]
        at = piece.marks[-1] + GAP * stretch
    over = at - GAP * stretch - (AXIS + room)
    if over > 0.0:
        shrink = (room - 0.0) / (room + over)
        for piece in group:
            piece.marks = [AXIS + (mark - AXIS) * shrink for mark in piece.marks]
    heights = [z for piece in group for z in solids(piece)]
    heads = [
        dot.z
        for piece in group
        for reach in (piece.reach, piece.then)
        if reach is not None
        for line in (*reach.head, *reach.gas)
        for dot in line
        if piece.holds(dot.s)
    ]
    low, high = min([*heights, *heads], default=0.0), max([*heights, *heads], default=1.0)
    return Row(slices=group, low=low, high=high)


def _stretch(piece: Slice, stretch: float) -> None:
    """Pipes take most of the room that is left, places a little, machines none."""
    moved = [0.0]
    for k in range(len(piece.values) - 1):
        wide = piece.marks[k + 1] - piece.marks[k]
        at_stop = math.floor(piece.values[k] + 1e-9) % 2 == 0
        stop = piece.reach.stops[int(piece.values[k] + 1e-9) // 2]
        more = wide * (stretch - 1.0) * (1.0 if not at_stop else 0.55 if stop.place else 0.0)
        moved.append(moved[-1] + wide + more)
    piece.marks = moved


def _pieces(reach: loop.Reach, index: int, room: float, size: str) -> list[Slice]:
    """A reach in one piece where it fits; else cut in the pipes."""
    widths = [stop_width(stop, size) for stop in reach.stops]
    pipes = [_link_width(reach, k, size) for k in range(len(reach.stops) - 1)]
    groups: list[tuple[int, int]] = []
    first, used = 0, widths[0]
    for k in range(1, len(reach.stops)):
        more = pipes[k - 1] + widths[k]
        if used + more + 40.0 > room and k - 1 >= first:
            groups.append((first, k - 1))
            first, used = k, widths[k] + 40.0
        else:
            used += more
    groups.append((first, len(reach.stops) - 1))
    if len(groups) > 1 and groups[-1][0] == groups[-1][1] and reach.stops[-1].flag:
        groups[-2:] = [(groups[-2][0], groups[-1][1])]
    return [_slice(reach, index, group, widths, pipes, n, len(groups)) for n, group in enumerate(groups)]


def _slice(
    reach: loop.Reach,
    index: int,
    group: tuple[int, int],
    widths: Sequence[float],
    pipes: Sequence[float],
    n: int,
    count: int,
) -> Slice:
    first, last = group
    values: list[float] = []
    marks: list[float] = []
    at = 0.0
    if n > 0:
        values.append(2 * first - 1 + CUT)
        marks.append(at)
        at += max(40.0, pipes[first - 1] * (1 - CUT))
    for k in range(first, last + 1):
        values += [2.0 * k, 2.0 * k + 1]
        marks += [at, at + widths[k]]
        at += widths[k] + (pipes[k] if k < last else 0.0)
    if n < count - 1:
        values.append(2 * last + 1 + CUT)
        marks.append(at + max(20.0, pipes[last] * CUT))
    return Slice(
        reach=reach,
        index=index,
        first=first,
        last=last,
        marks=marks,
        values=values,
        cut_before=n or 0,
        cut_after=n + 1 if n < count - 1 else 0,
    )


def stop_width(stop: loop.Stop, size: str) -> float:
    """How wide a thing is drawn."""
    if stop.place:
        room = 40.0 + 25.0 * math.sqrt(stop.area or 4.0)
        most = 190.0 if size == "wide" else 150.0
        return min(max(room, 76.0), most)
    if stop.kind == "flag":
        return 26.0
    if stop.kind == "pumps":
        return 40.0 + 44.0 * (len(levels(stop)) - 1)
    if stop.top is not None:
        return 56.0
    return 36.0


def levels(stop: loop.Stop) -> list[list[loop.Member]]:
    """Pumps side by side that stand at one height, the lowest first."""
    groups: list[list[loop.Member]] = []
    for one in sorted(stop.members, key=lambda one: one.elevation if one.elevation is not None else 0.0):
        here = one.elevation
        if groups and here is not None and abs((groups[-1][0].elevation or 0.0) - here) < 0.05:
            groups[-1].append(one)
        elif groups and here is None:
            groups[0].append(one)
        else:
            groups.append([one])
    return groups or [[]]


def _link_width(reach: loop.Reach, k: int, size: str) -> float:
    one, two = reach.stops[k], reach.stops[k + 1]
    small = size == "narrow"
    if two.kind == "pumps":
        return 58.0
    if one.kind == "pumps":
        return 50.0 if small else 64.0
    if two.kind == "flag" or one.kind == "flag":
        return 40.0 + (20.0 if two.place else 0.0)
    if two.place or two.top is not None:
        return 52.0
    return 40.0 if small else 48.0


def text_width(text: str, size: float = 13.0) -> float:
    """Width of a line of a label."""
    return letters.width(text, size)
