"""Courses of scenarios, one after another: each with steps of its own, through its phases to its end."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from brinehouse.network.transients import compiling, crossings, links, placing, rooms, slopes, stages
from brinehouse.network.transients.frames import COLUMNS

PARTS = (
    "frames",
    "links",
    "rooms",
    "waters",
    "passing",
    "placing",
    "slopes",
    "stages",
    "crossings",
    "courses",
    "compiling",
)
MOST = 20_000  # steps: a course that needs more is given up
SHORTEST = 1e-7  # s
LONGEST = 3.0 * 3600.0  # s: what a morning brings is not leapt over
FIRST = 1.0  # s: longest first step after anything was switched
GROWTH, SHRINK, CARE = 6.0, 0.2, 0.9
POWER = -1.0 / 5.0
SCALE = (0.01, 0.1, 0.1, 0.1, 1.0, 0.1, 0.01, 0.1, 1.0, 1.0, 10.0, 10.0)
"""Of each column: the absolute tolerance over the relative one; of volumes for each cubic metre usual."""


@compiling.inner
def opening(rows, place, rtol, grow, scale):
    """A first step that suits the rates at hand."""
    worst = 0.0
    for i in range(len(rows)):
        for column in range(1, COLUMNS):
            allowed = abs(rows[i, column]) + scale[column]
            worst = max(worst, abs(grow[i, column]) / allowed)
        worst = max(worst, abs(grow[i, 0]) / (abs(rows[i, 0]) + scale[0] * place[i, 0] + 1e-9))
    quick = 0.5 * rtol**0.25
    return min(FIRST, quick / worst) if worst > 0.0 else FIRST


@compiling.inner
def look(frame, way, op, place, rows, hour, room):
    """Rates at a water, with constants expanded about it."""
    placing.freshen(frame, op, rows, room.ways, room.sites)
    placing.day(frame, hour, room.solving.hours)
    placing.rates(
        frame, way, op, place, rows, room.solving.hours, room.ways, room.sites, room.places, room.solving.grow
    )


@compiling.inner
def sample(rows, solving, now, size, samples, done, out):
    """Water at the asked times within the step just made; gives how many are done."""
    while done < len(samples) and samples[done] <= now + size:
        stages.between(rows, solving.y, solving.moves, (samples[done] - now) / size, out[done])
        done += 1
    return done


@compiling.inner
def phase(frame, way, op, place, rows, clock, span, settings, room, answers, samples):
    """One phase, ``span`` from its start to its end [s]; steps and samples so far in ``answers.counts``."""
    now, end = span
    rtol = settings
    room.sites.used[0] = links.join(frame, op, len(rows), room.ways.links, room.ways.ends)
    crossed, margin, margin_at, counts, out = answers
    look(frame, way, op, place, rows, clock + now / 3600.0, room)
    crossings.margins(frame, place, rows, room.solving.grow, room.sites, room.watching, room.watching.held)
    if counts[0] == 0:
        crossings.begin(room.watching.held, crossed, margin, margin_at)
    size = opening(rows, place, rtol, room.solving.grow, room.solving.scale)
    known = False
    while now < end:
        last = size >= end - now
        if last:
            size = end - now
        if not known:
            placing.drift(place, rows, room.solving.hours, room.sites.known, room.solving.drift)
            slopes.jacobian(
                frame, op, place, rows, room.solving.hours, room.ways, room.sites, room.places, room.solving.grow,
                room.solving.jacobian,
            )  # fmt: skip
            known = True
        stages.factor(frame, size, room.solving.jacobian, room.solving.matrix)
        off = stages.step(frame, way, op, place, rows, clock + now / 3600.0, size, rtol, room)
        counts[0] += 1
        if counts[0] >= MOST or not size > SHORTEST:
            return False
        if not off <= 1.0:
            size *= max(SHRINK, CARE * off**POWER) if off < math.inf else SHRINK
            counts[2] += 1
            continue
        counts[1] = sample(rows, room.solving, now, size, samples, counts[1], out)
        stages.gather(room.solving.y, stages.STATES[0], 0, room.solving.moves, rows)
        start, now = now, (end if last else now + size)
        look(frame, way, op, place, rows, clock + now / 3600.0, room)
        crossings.margins(frame, place, rows, room.solving.grow, room.sites, room.watching, room.watching.now)
        crossings.check(room.watching.held, room.watching.now, size, start, crossed, margin, margin_at)
        for n in range(len(room.watching.now)):
            room.watching.held[n, 0], room.watching.held[n, 1] = (
                room.watching.now[n, 0],
                room.watching.now[n, 1],
            )
        size = min(size * min(GROWTH, CARE * max(off, 1e-12) ** POWER), LONGEST)
        known = False
    return True


@compiling.inner
def course(frame, way, op, place, until, rows, clock, end, rtol, room, answers, samples):
    """One scenario, phase after phase; whether it reached its end."""
    start = 0.0
    for k in range(len(until)):
        stop = min(until[k], end) if k < len(until) - 1 else end
        if stop <= start and k < len(until) - 1:
            continue
        fine = phase(frame, way[k], op[k], place[k], rows, clock, (start, stop), rtol, room, answers, samples)
        if not fine:
            return False
        start = stop
        if start >= end:
            break
    return True


def _entry(stamp: int) -> Callable[..., Any]:
    """The function called from outside, enclosing the text of all it calls as a number."""

    @compiling.outer
    def entry(frame, way, op, place, until, rows, clock, end, rtol, samples, answers):
        """Every scenario handed in; answers are filled in place."""
        crossed, margin, margin_at, counts, whole, out = answers
        if stamp < 0:
            return
        room = rooms.room(rows.shape[1], frame)
        for column in range(COLUMNS):
            room.solving.scale[column] = SCALE[column]
        for n in range(len(rows)):
            room.sites.about[:] = 1e9
            room.sites.acids[:] = 0.01
            mine = (crossed[n], margin[n], margin_at[n], counts[n], out[n])
            whole[n] = course(
                frame, way[n], op[n], place[n], until[n], rows[n], clock[n], end, rtol, room, mine, samples
            )

    return entry


entry = _entry(compiling.mark(PARTS))


def _rating(stamp: int) -> Callable[..., Any]:
    @compiling.outer
    def rating(frame, way, op, place, rows, hour, out):
        """Rates of one water."""
        if stamp < 0:
            return
        room = rooms.room(rows.shape[0], frame)
        room.sites.used[0] = links.join(frame, op, len(rows), room.ways.links, room.ways.ends)
        look(frame, way, op, place, rows, hour, room)
        stages.gather(room.solving.grow, stages.STATES[0], 0, room.solving.moves, out)

    return rating


rating = _rating(compiling.mark(PARTS))
