"""Courses of scenarios, one after another: each with steps of its own, through its phases to its end."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.transients.kernel import (
    compiling,
    crossings,
    frames,
    links,
    placing,
    rooms,
    slopes,
    stages,
)
from brinehouse.network.transients.kernel.frames import COLUMNS

Floats = NDArray[np.float64]

PARTS = (
    "frames", "links", "rooms", "waters", "passing", "placing", "slopes", "stages", "crossings", "courses",
)  # fmt: skip
RESTS = (
    "brinehouse.network.transients.tables",
    "brinehouse.science.constants", "brinehouse.science.dissociation", "brinehouse.science.gases",
    "brinehouse.science.exchange", "brinehouse.science.respiration", "brinehouse.science.seawater",
    "brinehouse.science.nitrogen", "brinehouse.network.compartments.building",
)  # fmt: skip
MARK = compiling.mark((*(f"brinehouse.network.transients.kernel.{part}" for part in PARTS), *RESTS))
MOST = 20_000  # steps: a course that needs more is given up
SHORTEST = 1e-7  # s
LONGEST = 2.0 * 3600.0  # s: what a morning brings is not leapt over
FIRST = 20.0  # s: longest first step after anything was switched
GROWTH, SHRINK, CARE = 8.0, 0.2, 0.9
POWER = -1.0 / 5.0
SCALE = (0.01, 0.1, 0.1, 0.1, 1.0, 0.1, 0.01, 0.1, 1.0, 1.0, 10.0, 10.0)
"""Of each column: the absolute tolerance over the relative one; of volumes for each cubic metre usual."""


@compiling.inner
def opening(rows: Floats, place: Floats, rtol: float, grow: Floats, scale: Floats) -> float:
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
def look(
    frame: frames.Frame, way: Floats, op: Floats, place: Floats, rows: Floats, hour: float, room: rooms.Room
) -> None:
    """Rates at a water, with constants expanded about it."""
    placing.freshen(frame, op, rows, room.ways, room.sites)
    placing.day(frame, hour, room.solving.hours)
    placing.rates(
        frame, way, op, place, rows, room.solving.hours, room.ways, room.sites, room.places, room.solving.grow
    )


@compiling.inner
def sample(
    rows: Floats, solving: rooms.Solving, now: float, size: float, samples: Floats, done: int, out: Floats
) -> int:
    """Water at the asked times within the step just made; gives how many are done."""
    while done < len(samples) and samples[done] <= now + size:
        stages.between(rows, solving.y, solving.moves, (samples[done] - now) / size, out[done])
        done += 1
    return done


@compiling.inner
def slopes_here(frame: frames.Frame, op: Floats, place: Floats, rows: Floats, room: rooms.Room) -> None:
    """Slopes at a water that `look` has seen."""
    solving = room.solving
    placing.drift(place, rows, solving.hours, room.sites.known, solving.drift)
    slopes.jacobian(
        frame,
        op,
        place,
        rows,
        solving.hours,
        room.ways,
        room.sites,
        room.places,
        solving.grow,
        solving.jacobian,
    )


@compiling.inner
def moved(
    frame: frames.Frame, way: Floats, op: Floats, place: Floats, rows: Floats, hour: float,
    span: tuple[float, float], room: rooms.Room, answers: tuple[Any, ...],
) -> None:  # fmt: skip
    """The step that is good made: water, its rates, and limits along it."""
    crossed, margin, margin_at, _, _ = answers
    solving, half = room.solving, 0.5 * (span[1] - span[0])
    held, middle, now = room.watching.held, room.watching.middle, room.watching.now
    stages.halfway(rows, solving.y, solving.moves, 2.0 * half, solving.stage, solving.rate)
    placing.stand(solving.stage, room.sites)
    crossings.margins(frame, place, solving.stage, solving.rate, room.sites, room.watching, middle)
    stages.gather(room.solving.y, stages.STATES[0], 0, room.solving.moves, rows)
    look(frame, way, op, place, rows, hour, room)
    crossings.margins(frame, place, rows, solving.grow, room.sites, room.watching, now)
    crossings.check(held, middle, half, span[0], crossed, margin, margin_at)
    crossings.check(middle, now, half, span[0] + half, crossed, margin, margin_at)
    for n in range(len(now)):
        held[n, 0], held[n, 1] = now[n, 0], now[n, 1]


@compiling.inner
def begun(
    frame: frames.Frame, way: Floats, op: Floats, place: Floats, rows: Floats, hour: float, rtol: float,
    room: rooms.Room, answers: tuple[Any, ...],
) -> float:  # fmt: skip
    """A phase begun: what it needs to know, and its first step."""
    crossed, margin, margin_at, counts, _ = answers
    room.sites.used[0] = links.join(frame, op, len(rows), room.ways.links, room.ways.ends)
    look(frame, way, op, place, rows, hour, room)
    held = room.watching.held
    crossings.margins(frame, place, rows, room.solving.grow, room.sites, room.watching, held)
    if counts[0] == 0:
        crossings.begin(held, crossed, margin, margin_at)
    return opening(rows, place, rtol, room.solving.grow, room.solving.scale)


@compiling.inner
def bounded(frame: frames.Frame, hour: float, size: float) -> float:
    """A step that does not go past where the light bends."""
    bend = placing.until_light_bends(frame, hour)
    if 1.0001 * size >= bend:
        return bend
    return size if size < 0.7 * bend else 0.5 * bend  # rather two alike than a long and a short


@compiling.inner
def phase(
    frame: frames.Frame, way: Floats, op: Floats, place: Floats, rows: Floats, clock: float,
    span: tuple[float, float], rtol: float, room: rooms.Room, answers: tuple[Any, ...], samples: Floats,
) -> bool:  # fmt: skip
    """One phase, ``span`` from its start to its end [s]; steps and samples so far in ``answers``' counts."""
    now, end = span
    _, _, _, counts, out = answers
    size = begun(frame, way, op, place, rows, clock + now / 3600.0, rtol, room, answers)
    known, most = False, GROWTH
    while now < end:
        size = bounded(frame, clock + now / 3600.0, size)
        last = 1.0001 * size >= end - now  # no crumb is left over
        if last:
            size = end - now
        if not known:
            slopes_here(frame, op, place, rows, room)
            known = True
        stages.factor(frame, size, room.solving.jacobian, room.solving.matrix)
        off = stages.step(frame, way, op, place, rows, clock + now / 3600.0, size, rtol, room)
        counts[0] += 1
        if counts[0] >= MOST:
            return False
        if not off <= 1.0:
            size *= max(SHRINK, CARE * off**POWER) if off < math.inf else SHRINK
            counts[2] += 1
            most = 1.0  # what was just refused is not tried again at once
            if not size > SHORTEST:
                return False
            continue
        counts[1] = sample(rows, room.solving, now, size, samples, counts[1], out)
        start, now = now, (end if last else now + size)
        moved(frame, way, op, place, rows, clock + now / 3600.0, (start, now), room, answers)
        size = min(size * min(most, CARE * max(off, 1e-12) ** POWER), LONGEST)
        known, most = False, GROWTH
    return True


@compiling.inner
def course(
    frame: frames.Frame,
    way: Floats,
    op: Floats,
    place: Floats,
    until: Floats,
    rows: Floats,
    clock: float,
    end: float,
    rtol: float,
    room: rooms.Room,
    answers: tuple[Any, ...],
    samples: Floats,
) -> bool:
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
    def entry(
        frame: frames.Frame,
        way: Floats,
        op: Floats,
        place: Floats,
        until: Floats,
        rows: Floats,
        clock: Floats,
        end: float,
        rtol: float,
        samples: Floats,
        answers: tuple[Any, ...],
    ) -> None:
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


entry = _entry(MARK)


def _rating(stamp: int) -> Callable[..., Any]:
    @compiling.outer
    def rating(
        frame: frames.Frame, way: Floats, op: Floats, place: Floats, rows: Floats, hour: float, out: Floats
    ) -> None:
        """Rates of one water."""
        if stamp < 0:
            return
        room = rooms.room(rows.shape[0], frame)
        room.sites.used[0] = links.join(frame, op, len(rows), room.ways.links, room.ways.ends)
        look(frame, way, op, place, rows, hour, room)
        stages.gather(room.solving.grow, stages.STATES[0], 0, room.solving.moves, out)

    return rating


rating = _rating(MARK)
