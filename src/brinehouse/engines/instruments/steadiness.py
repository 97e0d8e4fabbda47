"""Whether the meters' difference held still over the history; where it did not, intervals say so."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from brinehouse import answers, findings, records
from brinehouse.engines.instruments import history, question
from brinehouse.science import statistics

PARTS = 4
FEWEST = 6  # sittings in a part below which nothing is compared
WORTH = 1.6  # times the offsets' own uncertainty: less than that is in their intervals already
CHANCE = 1e-4  # a history is called unsteady where chance would do so in one of ten thousand


def survey(
    readings: Sequence[records.Reading],
    checks: Sequence[records.Fact],
    accuracies: Mapping[str, Any],
    quantity: str,
    unit: str,
    *,
    u: float | None = None,
    drift: float | None = None,
) -> answers.Answer:
    """Offsets of meters and levels of places, from the logbook; arguments as `history.survey`.

    The history is also cut into quarters by its sittings. Where two meters' difference moves between them by
    more than chance, a finding says so and both offsets' intervals are widened by how much it moved.
    """
    whole = history.survey(readings, checks, accuracies, quantity, unit, u=u, drift=drift)
    mine = [one for one in readings if one.quantity == quantity and one.sitting]
    sittings = list(dict.fromkeys(one.sitting for one in sorted(mine, key=lambda one: one.measured)))
    if len(sittings) < PARTS * FEWEST:
        return whole
    courses: dict[tuple[str, str], list[answers.Value]] = {}
    for part in np.array_split(np.arange(len(sittings)), PARTS):
        wanted = {sittings[number] for number in part}
        some = [one for one in mine if one.sitting in wanted]
        for pair, difference in _differences(history.survey(some, (), {}, quantity, unit, u=u, drift=drift)):
            courses.setdefault(pair, []).append(difference)
    worth = WORTH * _known(whole)
    moved = {pair: width for pair, course in courses.items() if (width := _moved(course)) > worth}
    return _told(whole, courses, moved, unit) if moved else whole


def _known(answer: answers.Answer) -> float:
    """The smallest standard uncertainty of an offset; 0 where none is known against anything absolute."""
    offsets = [row["offset"] for table in answer.tables if table.name == "meters" for row in table.rows]
    return min((one.u for one in offsets if one.u), default=0.0)


def _differences(answer: answers.Answer) -> list[tuple[tuple[str, str], answers.Value]]:
    """Each pair of meters in a fixed order, and how much the first reads above the second."""
    found: list[tuple[tuple[str, str], answers.Value]] = []
    for table in answer.tables:
        if table.name != "differences":
            continue
        for row in table.rows:
            higher, lower, value = str(row["higher"]), str(row["lower"]), row["difference"]
            if value.value is None or not value.u:
                continue
            first, second = sorted((higher, lower))
            sign = 1.0 if first == higher else -1.0
            found.append(
                ((first, second), answers.Value(value=sign * value.value, unit=value.unit, u=value.u))
            )
    return found


def _moved(course: Sequence[answers.Value]) -> float:
    """Standard deviation by which a difference moved beyond its own uncertainty; 0 where chance would do."""
    if len(course) < 3:
        return 0.0
    d = np.array([one.value for one in course], dtype=float)
    u = np.array([one.u for one in course], dtype=float)
    weights = 1.0 / u**2
    middle = float((weights * d).sum() / weights.sum())
    chi_square = float((weights * (d - middle) ** 2).sum())
    if float(statistics.chi_square_tail(chi_square, len(d) - 1)) > CHANCE:
        return 0.0
    return math.sqrt(max(float(d.var(ddof=1)) - float((u**2).mean()), 0.0))


def _told(
    whole: answers.Answer,
    courses: Mapping[tuple[str, str], Sequence[answers.Value]],
    moved: Mapping[tuple[str, str], float],
    unit: str,
) -> answers.Answer:
    """The same answer with a finding for each pair that moved, and their offsets' intervals widened."""
    wider: dict[str, float] = {}
    said: list[findings.Finding] = []
    for (first, second), width in moved.items():
        values = [one.value or 0.0 for one in courses[first, second]]
        for meter in (first, second):
            wider[meter] = max(wider.get(meter, 0.0), width)
        said.append(
            question.said(
                "instruments/not-steady",
                findings.Level.ASK,
                f"{first} against {second} went from {values[0]:+.1f} to {values[-1]:+.1f} {unit} over these"
                " readings: one of them does not hold still",
                "check both in dry air now, and again in a week; an old correction does not hold",
            )
        )
    tables = tuple(_widened(table, wider) if table.name == "meters" else table for table in whole.tables)
    return dataclasses.replace(whole, tables=tables, findings=(*whole.findings, *said))


def _widened(table: answers.Table, wider: Mapping[str, float]) -> answers.Table:
    rows: list[Mapping[str, Any]] = []
    for row in table.rows:
        offset, width = row["offset"], wider.get(str(row["meter"]).split(" from ")[0], 0.0)
        span = offset.interval()
        if not width or span is None or offset.value is None:
            rows.append(row)
            continue
        half = math.hypot((span[1] - span[0]) / 2.0, answers.COVERAGE * width)
        value = dataclasses.replace(
            offset,
            u=math.hypot(offset.u or 0.0, width),
            low=offset.value - half,
            high=offset.value + half,
        )
        rows.append({**row, "offset": value})
    return dataclasses.replace(table, rows=tuple(rows))
