"""How sure hours are: courses again with biomass, gas exchange and volumes as they may be.

The samples are the same each time: points of a lattice that fills the cube evenly, so a part of them worked
anywhere is the part itself.
"""

from __future__ import annotations

import dataclasses
import math
import statistics
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from brinehouse.engines.time_in_hand import courses, question
from brinehouse.network.transients import running, tables

Floats = NDArray[np.float64]
MANY = 200
SHORTEST = 30
TAIL = 0.025
RTOL = 1e-4  # of a step: half a minute rms in a crossing, far less than the intervals are wide
Key = tuple[str, str, str, bool]
NAMES = ("biomass", "exchange", "volume")
DOUBTS: Mapping[str, question.Doubt] = {
    "biomass": question.Doubt(
        name="biomass", label="animals' oxygen use and ammonia", u=0.2, source="common practice, no source"
    ),
    "exchange": question.Doubt(
        name="exchange", label="gas exchange of surfaces and columns", u=0.4,
        source="common practice, no source",
    ),
    "volume": question.Doubt(
        name="volume", label="water in each place", u=0.05, source="common practice, no source"
    ),
}  # fmt: skip
"""Standard uncertainties as shares, where nobody tells better ones."""

_ROOT = 1.2207440846057596  # of x**4 = x + 1: its powers fill three sides alike (an R-sequence)
_NORMAL = statistics.NormalDist()


def factors(doubts: Mapping[str, question.Doubt], begin: int, end: int) -> Floats:
    """What biomass, exchange and volume are taken times in samples: (end - begin, 3).

    Biomass and exchange are log-normal with median 1, volume triangular about 1.

    >>> factors(DOUBTS, 0, 200)[57:60].tolist() == factors(DOUBTS, 57, 60).tolist()
    True
    """
    index = np.arange(begin, end, dtype=np.float64)[:, None] + 1.0
    cube = np.modf(0.25 + index * _ROOT ** -np.arange(1.0, 4.0))[0]
    told = [doubts.get(name, DOUBTS[name]).u for name in NAMES]
    out = np.empty_like(cube)
    for column in (0, 1):
        width = math.sqrt(math.log1p(told[column] ** 2))
        out[:, column] = [math.exp(width * _NORMAL.inv_cdf(one)) for one in cube[:, column]]
    half, at = min(told[2] * math.sqrt(6.0), 0.9), cube[:, 2]
    out[:, 2] = 1.0 + half * np.where(at < 0.5, np.sqrt(2.0 * at) - 1.0, 1.0 - np.sqrt(2.0 * (1.0 - at)))
    return out


def varied(structure: tables.Structure, made: tables.Tables, factor: Floats) -> tables.Tables:
    """Tables with other animals, exchange and volumes, heights and first water as they are.

    Another volume means other walls at the same heights, so that every overflow and suction stays where it
    is; the surface that meets the air is kept.
    """
    biomass, exchange, volume = (float(one) for one in factor)
    place, way, op = made.place.copy(), made.way.copy(), made.op.copy()
    at = tables.AT
    for name in ("breath", "ammonia"):
        place[..., at[name]] *= biomass
    place[..., at["velocity"]] *= exchange
    place[..., at["usual"]] *= volume
    for name in ("first", "second"):
        place[..., at[name]] /= volume
    contact = np.asarray(structure.kind) == tables.CONTACT
    op[..., contact, :4] = 1.0 - np.maximum(1.0 - op[..., contact, :4], 0.0) ** exchange
    held = (structure.source >= 0) | (structure.law == tables.MAKE_UP)
    for column in (tables.WAY_LEVEL, tables.WAY_BAND):
        way[..., held, column] *= volume
    way[..., structure.law == tables.SPILL, tables.WAY_SCALE] /= volume**1.5
    way[..., structure.law == tables.PORT, tables.WAY_SCALE] /= volume**0.5
    return dataclasses.replace(made, place=place, way=way, op=op, volume=made.volume * volume)


def samples(
    plant: courses.Courses,
    sets: Sequence[courses.Key],
    doubts: Mapping[str, question.Doubt],
    begin: int = 0,
    end: int = MANY,
    threads: int | None = None,
) -> Floats:
    """Hours until each limit is crossed: (end - begin, sets, limits); infinite where it is not.

    `threads` is how many courses run at once: as many as the machine has cores where not told.
    """
    out = np.empty((end - begin, len(sets), sum(len(water.lines) for water in plant.waters)))
    told = factors(doubts, begin, end)
    first = 0
    for water in plant.waters:
        last = first + len(water.lines)
        if water.lines:
            made, rows = _unlike(water, sets)
            for at, factor in enumerate(told):
                structure = _levels(water.structure, float(factor[2]))
                outcome = running.run(
                    structure, varied(structure, made, factor), plant.hours, rtol=RTOL, threads=threads
                )
                out[at, :, first:last] = outcome.crossed[rows] / 3600.0
        first = last
    return out


def _unlike(water: courses.Water, sets: Sequence[courses.Key]) -> tuple[tables.Tables, list[int]]:
    """Tables of sets that do something else to the water each, and the row of every set in them."""
    made = water.batch([water.reached(one) for one in sets])
    marks = [courses.mark(made, row) for row in range(len(sets))]
    order = list(dict.fromkeys(marks))
    rows = np.array([marks.index(one) for one in order], dtype=np.intp)
    return tables.take(made, rows), [order.index(one) for one in marks]


def _levels(structure: tables.Structure, volume: float) -> tables.Structure:
    """Limits of levels in places of other volume."""
    level = structure.limit_quantity == tables.QUANTITY["level"]
    value = np.where(level, structure.limit_value * volume, structure.limit_value)
    return dataclasses.replace(structure, limit_value=value)


def spans(found: Floats, hours: Floats) -> tuple[Floats, Floats]:
    """The 95 % interval of each crossing, the hours themselves always inside: (sets, limits) twice."""
    ranked = np.sort(found, axis=0)
    last = len(ranked) - 1
    low = ranked[math.floor(TAIL * last)]
    high = ranked[math.ceil((1.0 - TAIL) * last)]
    return np.minimum(low, hours), np.maximum(high, hours)


def with_spans(
    rows: Sequence[question.Row],
    lines: Sequence[question.Line],
    known: Mapping[str, tuple[Floats, Floats]],
) -> list[question.Row]:
    """Rows with intervals, and with limits that only some samples cross.

    Parameters
    ----------
    rows, lines
    known : mapping
        Row's id to low and high over lines.
    """
    at = {_key(line): column for column, line in enumerate(lines)}
    return [_with(row, lines, at, *known[row.id]) if row.id in known else row for row in rows]


def _key(line: question.Line) -> Key:
    return line.place, line.quantity, line.band, line.upper


def _with(
    row: question.Row, lines: Sequence[question.Line], at: Mapping[Key, int], low: Floats, high: Floats
) -> question.Row:
    def told(one: question.Crossing) -> question.Crossing:
        column = at[_key(one.line)]
        return dataclasses.replace(one, low=float(low[column]), high=float(high[column]))

    seen = {at[_key(one.line)] for one in (*row.crossings, *row.signs)}
    also = [
        question.Crossing(line=line, hours=math.inf, low=float(low[column]), high=math.inf)
        for column, line in enumerate(lines)
        if column not in seen and line.band != "watch" and math.isfinite(low[column])
    ]
    return dataclasses.replace(
        row,
        crossings=(*(told(one) for one in row.crossings), *also),
        signs=tuple(told(one) for one in row.signs),
    )
