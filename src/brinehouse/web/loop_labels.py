"""Where a label fits: no text over another, none over a line, an edge or a mark.

The drawing is kept as small squares, a row of them one whole number with a bit for each: what is drawn sets
bits, and a label may stand where its bits are free.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

CELL = 3.0  # [px]
AIR = 2.0  # kept free around a label [px]
FAR = 230  # how far a label may stand from where it is wanted [px]

Box = tuple[float, float, float, float]  # left, top, right, bottom


class Sheet:
    """What is taken in a drawing of one size; it may grow downwards."""

    def __init__(self, width: float, top: float = 0.0) -> None:
        self.width, self.top = width, top
        self._rows: dict[int, int] = {}

    def _span(self, left: float, right: float) -> int:
        first = math.floor(max(left, 0.0) / CELL)
        last = math.floor(max(right, 0.0) / CELL)
        return ((1 << (last - first + 1)) - 1) << first

    def take(self, box: Box) -> None:
        """Nothing else may stand in this box."""
        left, top, right, bottom = box
        bits = self._span(left, right)
        for row in range(math.floor(top / CELL), math.floor(bottom / CELL) + 1):
            self._rows[row] = self._rows.get(row, 0) | bits

    @property
    def bottom(self) -> float:
        """How far down anything stands."""
        return (max(self._rows, default=0) + 1) * CELL

    def line(self, points: Sequence[tuple[float, float]], half: float = 1.5) -> None:
        """Nor over this line, `half` being half its width."""
        for (x0, y0), (x1, y1) in itertools.pairwise(points):
            steps = max(1, math.ceil(max(abs(x1 - x0), abs(y1 - y0)) / CELL))
            if x0 == x1 or y0 == y1:
                self.take((min(x0, x1) - half, min(y0, y1) - half, max(x0, x1) + half, max(y0, y1) + half))
                continue
            for n in range(steps + 1):
                x, y = x0 + (x1 - x0) * n / steps, y0 + (y1 - y0) * n / steps
                self.take((x - half - 1, y - half - 1, x + half + 1, y + half + 1))

    def free(self, box: Box) -> bool:
        """Whether a box is free and inside the drawing."""
        left, top, right, bottom = box
        if left < 0.0 or right > self.width or top < self.top:
            return False
        bits = self._span(left, right)
        rows = self._rows
        return not any(
            rows.get(row, 0) & bits for row in range(math.floor(top / CELL), math.floor(bottom / CELL) + 1)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A label before it has its place.

    Attributes
    ----------
    width, height : float
        [px]
    spots : sequence of (x, y)
        Where its left upper corner would best be, the best first.
    anchor : (x, y) or None
        What it speaks of: a label that had to go far gets a thin line to it.
    reach : float
        How far what it speaks of reaches around its anchor: a thin line ends there. [px]
    """

    width: float
    height: float
    spots: Sequence[tuple[float, float]]
    anchor: tuple[float, float] | None = None
    reach: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Where a label stands, and the line to what it speaks of, where it needs one."""

    x: float
    y: float
    leader: tuple[tuple[float, float], tuple[float, float]] | None = None


@functools.cache
def _rings() -> tuple[tuple[float, float], ...]:
    """Steps away from a wanted spot, the nearest first; down and up are cheaper than sideways."""
    steps = [
        (dx * 6.0, dy * 4.0) for dx in range(-FAR // 6, FAR // 6 + 1) for dy in range(-FAR // 4, FAR // 4 + 1)
    ]
    return tuple(sorted(steps, key=lambda step: (math.hypot(step[0] * 1.2, step[1]), step)))


def place(sheet: Sheet, wanted: Wanted, texts: Sheet) -> Placed:
    """A free place for a label, taken at once.

    Parameters
    ----------
    sheet : Sheet
        All that is drawn.
    wanted : Wanted
    texts : Sheet
        Labels only: a thin line may cross lines, but no text.

    Returns
    -------
    Placed
        Always: below everything, where nothing nearer is free.
    """
    for x, y in wanted.spots:
        if sheet.free(_box(wanted, x, y)):
            return _settle(sheet, texts, wanted, x, y)
    for dx, dy in _rings():
        x, y = wanted.spots[0][0] + dx, wanted.spots[0][1] + dy
        if sheet.free(_box(wanted, x, y)):
            leader = _leader(wanted, x, y)
            if leader is None or _clear(texts, leader):
                return _settle(sheet, texts, wanted, x, y)
    x = max(AIR, min(wanted.spots[0][0], sheet.width - wanted.width - AIR))
    y = wanted.spots[0][1]
    y = max(y, sheet.top + AIR + 1.0)
    while not sheet.free(_box(wanted, x, y)) and y < sheet.bottom + 4.0:
        y += 4.0
    return _settle(sheet, texts, wanted, x, y)


def _box(wanted: Wanted, x: float, y: float) -> Box:
    return (x - AIR, y - AIR, x + wanted.width + AIR, y + wanted.height + AIR)


def _settle(sheet: Sheet, texts: Sheet, wanted: Wanted, x: float, y: float) -> Placed:
    box = _box(wanted, x, y)
    sheet.take(box)
    texts.take(box)
    leader = _leader(wanted, x, y)
    if leader is not None:
        sheet.line(leader, 0.5)
        texts.line(leader, 0.5)
    return Placed(x=x, y=y, leader=leader)


def _leader(wanted: Wanted, x: float, y: float) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """From the edge of a label to what it speaks of, where that is not plainly beside it."""
    if wanted.anchor is None:
        return None
    ax, ay = wanted.anchor
    nx, ny = min(max(ax, x), x + wanted.width), min(max(ay, y), y + wanted.height)
    far = math.hypot(ax - nx, ay - ny)
    if far <= wanted.reach + 20.0:
        return None
    ax, ay = nx + (ax - nx) * (1 - wanted.reach / far), ny + (ay - ny) * (1 - wanted.reach / far)
    if ny == ay:
        return (nx + (3.0 if ax > nx else -3.0), ny), (ax, ay)
    return (nx, ny + (3.0 if ay > ny else -3.0)), (ax, ay)


def _clear(texts: Sheet, leader: tuple[tuple[float, float], tuple[float, float]]) -> bool:
    (x0, y0), (x1, y1) = leader
    steps = max(2, math.ceil(math.hypot(x1 - x0, y1 - y0) / CELL))
    marks: Iterable[tuple[float, float]] = (
        (x0 + (x1 - x0) * n / steps, y0 + (y1 - y0) * n / steps) for n in range(2, steps + 1)
    )
    return all(texts.free((x, y, x, y)) for x, y in marks)
