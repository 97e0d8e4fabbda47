"""A plant made ready for courses: its bodies of water with their limits, and from where they start."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse import findings
from brinehouse.engines.time_in_hand import courses, limits, question, starting
from brinehouse.network.transients import body as bodies
from brinehouse.network.transients import laying, running, tables

Floats = NDArray[np.float64]
DAY = 24.0  # h without failure whose hours are looked at for the worst
_HOUR = 3600.0


@dataclass(slots=True, kw_only=True)
class Ready:
    """What rows are worked out from.

    Attributes
    ----------
    courses : Courses
    start : Start
    assumed : tuple of Assumed
    findings : tuple of Finding
    """

    courses: courses.Courses
    start: question.Start
    assumed: tuple[question.Assumed, ...]
    findings: tuple[findings.Finding, ...]


def prepare(asked: question.Asked) -> Ready:
    """Bodies of water, limits and start of what is asked."""
    laid = laying.lay(asked.facility, asked.flows, asked.conditions)
    waters = [_water(asked, body) for body in laid.bodies]
    plant = courses.Courses(waters=waters, hours=asked.hours)
    places = [place for water in waters for place in water.body.places]
    start = worst(asked, plant) if asked.begin == "worst" else now(asked, plant)
    told = (*limits.missing(asked.facility, places, plant.lines), *laid.findings)
    assumed = tuple(
        question.Assumed(what=one.what, value=one.value, unit=one.unit, source=one.source)
        for one in laid.assumed
    )
    return Ready(courses=plant, start=start, assumed=assumed, findings=told)


def _water(asked: question.Asked, body: bodies.Body) -> courses.Water:
    lines = limits.of_facility(asked.facility, body.places)
    for at, place in enumerate(body.places):
        usual = float(body.base.place[0, 0, at, tables.AT["usual"]])
        lines += limits.of_levels(asked.facility, place, usual, float(body.rim[at]), float(body.cut[at]))
    x = starting.measured(body.places, body.x, asked.known, _air(body, 0))
    return courses.Water(
        body=body,
        structure=_with_limits(body, lines, x),
        lines=tuple(lines),
        x=x,
        volume=body.volume.copy(),
        clock=0.0 if asked.begin == "worst" else asked.clock,
    )


def _air(body: bodies.Body, place: int) -> float:
    return float(body.base.place[0, 0, place, tables.AT["pressure"]])


def _with_limits(body: bodies.Body, lines: Sequence[question.Line], x: Floats) -> tables.Structure:
    told = [
        (line.place, line.quantity, limits.number(line, float(x[0, at]), float(x[1, at])), line.upper)
        for line in lines
        for at in [body.home[line.place]]
    ]
    return laying.with_limits(body, told)


# -- from where ------------------------------------------------------------------------------------------


def now(asked: question.Asked, plant: courses.Courses) -> question.Start:
    """From the measured state over the balance."""
    read = sum(len(one) for one in asked.known.values())
    text = (
        f"from now, {clock(asked.clock)}: {read} newest readings, the balance where none was taken"
        if read
        else f"from now, {clock(asked.clock)}: the balance, for there is no reading"
    )
    return question.Start(begin="now", clock=asked.clock, text=text, crossed=_crossed(plant))


def worst(asked: question.Asked, plant: courses.Courses) -> question.Start:
    """From the hour of a day at which the water, nothing failing, is nearest to any of its limits.

    The day begins at midnight with the measured water, whatever the hour is now: the same question all day.
    Limits that are beyond at any hour of that day are left out: no hour makes them worse for a failure.
    """
    hours = np.arange(0.0, DAY + 0.5)
    near, reason = np.full(len(hours), np.inf), np.full(len(hours), -1)
    lines: list[question.Line] = []
    gone: list[tuple[Floats, Floats]] = []
    for water in plant.waters:
        x, volume = running.curves(water.structure, water.batch([()]), 0, hours)
        gone.append((x, volume))
        left = _nearness(water, x, volume)
        for column, line in enumerate(water.lines):
            if line.band == "watch" or not (left[:, column] > 0.0).all():
                continue
            nearer = left[:, column] < near
            near[nearer], reason[nearer] = left[nearer, column], len(lines)
            lines.append(line)
    at = int(np.argmin(near)) if lines else 0
    hour = float(hours[at] % 24.0)
    for water, (x, volume) in zip(plant.waters, gone, strict=True):
        water.x, water.volume, water.clock = x[at].copy(), volume[at].copy(), hour
    why = ""
    if lines:
        line = lines[int(reason[at])]
        place = asked.facility.vessels[line.place].name
        why = f": nothing is nearer to a limit than {limits.WORDS[line.quantity].label} at {place} is then"
    return question.Start(
        begin="worst", clock=hour, text=f"from the worst hour of a day, {clock(hour)}{why}",
        crossed=_crossed(plant),
    )  # fmt: skip


def _nearness(water: courses.Water, x: Floats, volume: Floats) -> Floats:
    """How far each limit is away, in differences that matter: (times, limits)."""
    air = water.body.base.place[0, 0, :, tables.AT["pressure"]]
    found = starting.values(water.structure, x, volume, air)
    weight = np.array([weight_of(water, line) for line in water.lines])
    return starting.distance(water.structure, found) / weight


def weight_of(water: courses.Water, line: question.Line) -> float:
    """A difference that matters, in the tables' unit."""
    at = water.body.home[line.place]
    matters = limits.WORDS[line.quantity].matters
    if line.quantity == "level":
        return matters * float(water.body.base.place[0, 0, at, tables.AT["usual"]])
    return matters * limits.per_unit(line.quantity, float(water.x[0, at]), float(water.x[1, at]))


def _crossed(plant: courses.Courses) -> tuple[question.Line, ...]:
    """Act limits that are beyond at the start."""
    out: list[question.Line] = []
    for water in plant.waters:
        if not water.lines:
            continue
        air = water.body.base.place[0, 0, :, tables.AT["pressure"]]
        found = starting.values(water.structure, water.x[None], water.volume[None], air)
        away = starting.distance(water.structure, found)[0]
        out += [
            line for line, left in zip(water.lines, away, strict=True) if left < 0 and line.band != "watch"
        ]
    return tuple(out)


def clock(hour: float) -> str:
    """An hour of the day as a clock shows it.

    >>> clock(5.25)
    '05:15'
    """
    minutes = round(hour * 60.0) % 1440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
