"""What courses came to made into rows: crossings, first signs, least margins, time that is left."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.engines.time_in_hand import courses, failures, limits, question

Floats = NDArray[np.float64]
SOONER = 0.9  # share of the time that nothing failing leaves, from which on a failure is to blame
LITTLE = 0.05  # h: a crossing sooner by no more than this is none of the failure's
FEW = 3  # crossings and margins of a pair that are kept, those that come anyway left out


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What all rows of one answer share.

    Attributes
    ----------
    lines : tuple of Line
    base : Came
        What comes when nothing fails.
    per : ndarray
        The tables' unit for one of each line's.
    weight : ndarray
        Difference that matters, in the tables' unit.
    delay : float
        Notice and travel. [h]
    """

    lines: tuple[question.Line, ...]
    base: courses.Came
    per: Floats
    weight: Floats
    delay: float

    def anyway(self, crossed: Floats) -> NDArray[np.bool_]:
        """Limits that are crossed about as soon when nothing fails."""
        soonest = np.minimum(SOONER * self.base.crossed, self.base.crossed - LITTLE)
        return np.isfinite(self.base.crossed) & ~(crossed < soonest)

    def hours(self, came: courses.Came, here: NDArray[np.bool_] | None = None) -> float:
        """Time in hand: the first crossing of an act limit, or of one that holds by itself; of some lines."""
        some = self.deciding if here is None else self.deciding & here
        mine = came.crossed[some & ~self.anyway(came.crossed)]
        return float(mine.min(initial=math.inf))

    @property
    def deciding(self) -> NDArray[np.bool_]:
        """Lines whose crossing decides the time: all but those of the watch bands."""
        return np.array([line.band != "watch" for line in self.lines], dtype=np.bool_)


def frame(plant: courses.Courses, base: courses.Came, delay: float) -> Frame:
    """The frame of a plant's rows."""
    per, weight = [], []
    for water in plant.waters:
        for line in water.lines:
            at = water.body.home[line.place]
            scale = limits.per_unit(line.quantity, float(water.x[0, at]), float(water.x[1, at]))
            per.append(scale)
            matters = limits.WORDS[line.quantity].matters
            if line.quantity == "level":
                matters *= float(water.body.base.place[0, 0, at, 0])
            weight.append(matters * scale)
    return Frame(lines=plant.lines, base=base, per=np.array(per), weight=np.array(weight), delay=delay)


def row(
    frame: Frame, failed: Sequence[failures.Failure], came: courses.Came, *, few: bool = False
) -> question.Row:
    """One failure, or two together."""
    crossings, signs = _crossings(frame, came)
    margins = _margins(frame, came)
    hours = next((one.hours for one in crossings if not one.anyway), math.inf)
    return question.Row(
        id=" + ".join(one.id for one in failed),
        failures=tuple(one.id for one in failed),
        title=title(failed),
        kind=" + ".join(dict.fromkeys(one.kind for one in failed)),
        noticed=any(not one.unseen for one in failed) or not failed,
        crossings=tuple([one for one in crossings if not one.anyway][:FEW] if few else crossings),
        signs=tuple(signs[:1] if few else signs),
        least_margins=tuple(margins[:FEW] if few else margins),
        left=hours - frame.delay if math.isfinite(hours) else None,
    )


def title(failed: Sequence[failures.Failure]) -> str:
    """What happened, in a keeper's words."""
    first, *rest = (one.title for one in failed) if failed else ("Nothing fails",)
    return " and ".join([first, *(inside(one) for one in rest)])


def inside(title: str) -> str:
    """A title inside a sentence: its first letter small, unless a name or number begins it.

    >>> inside("The hall is dark"), inside("UV of m is off")
    ('the hall is dark', 'UV of m is off')
    """
    return title[:1].lower() + title[1:] if title[1:2].islower() or title[1:2] == " " else title


def _crossings(frame: Frame, came: courses.Came) -> tuple[list[question.Crossing], list[question.Crossing]]:
    anyway = frame.anyway(came.crossed)
    found: list[question.Crossing] = []
    signs: list[question.Crossing] = []
    for at in np.argsort(came.crossed, kind="stable"):
        if not math.isfinite(came.crossed[at]):
            break
        line = frame.lines[at]
        one = question.Crossing(line=line, hours=float(came.crossed[at]), anyway=bool(anyway[at]))
        (signs if line.band == "watch" else found).append(one)
    return found, signs


def _margins(frame: Frame, came: courses.Came) -> list[question.Margin]:
    left = frame.deciding & ~np.isfinite(came.crossed) & np.isfinite(came.margin)
    near = came.margin / frame.weight
    order = [int(at) for at in np.argsort(near, kind="stable") if left[at]]
    return [
        question.Margin(
            line=frame.lines[at],
            margin=float(came.margin[at] / frame.per[at]),
            hours=float(came.margin_at[at]),
        )
        for at in order
    ]


def sort(rows: Sequence[question.Row]) -> list[question.Row]:
    """Shortest first; those without a crossing last, by their least margin."""

    def rank(one: question.Row) -> tuple[float, float, str]:
        margin = one.least_margins[0] if one.least_margins else None
        near = margin.margin / limits.WORDS[margin.line.quantity].matters if margin else math.inf
        return one.hours, near, one.id

    return sorted(rows, key=rank)


def bites(
    frame: Frame,
    rows: Sequence[question.Row],
    silent: Sequence[failures.Failure],
    loud: Sequence[failures.Failure],
    plant: courses.Courses,
) -> list[question.Row]:
    """Rows of failures that the plant cannot notice, with those that they make worse."""
    alone = {one.id: frame.hours(plant.of(one.effects)) for one in loud}
    worse = {
        hidden.id: tuple(
            one.id
            for one in loud
            if frame.hours(plant.of((*one.effects, *hidden.effects))) < SOONER * alone[one.id]
        )
        for hidden in silent
    }
    return [dataclasses.replace(one, bites_with=worse[one.id]) if one.id in worse else one for one in rows]
