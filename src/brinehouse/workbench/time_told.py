"""Time in hand as its faces tell it: what is shown of a system or a kind, and the first steps of a failure.

Sheet, card, drill and command say the same because they all come from here.
"""

from __future__ import annotations

import collections
import dataclasses
import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from brinehouse import findings
from brinehouse.engines.time_in_hand import failures, question
from brinehouse.facility import model
from brinehouse.workbench import mishaps

Table = question.Table
Row = question.Row
Crossing = question.Crossing
Margin = question.Margin
Line = question.Line
Help = question.Help
CutSet = question.CutSet
Begin = question.Begin
CAUTIONS = question.CAUTIONS
HOURS = question.HOURS
LESS_THAN = question.LESS_THAN
HAPPENS = {"spills": "runs over its rim", "dry": "pump runs dry", "uncovered": "animals out of the water"}
LABELS = {
    "oxygen_percent": "oxygen saturation", "tgp": "TGP", "delta_p": "ΔP", "ph": "pH", "co2": "CO2",
    "tan": "TAN as N", "ammonia": "NH3 as N", "nitrite": "nitrite as N", "nitrate": "nitrate as N",
    "level": "water in it",
}  # fmt: skip
MOST_STEPS = 8  # what a person can hold on to in a bad hour
MOST_GAINS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do: what, and what it brings.

    Attributes
    ----------
    text : str
    gained : float or None
        Hours it gains; infinite where no limit is crossed any more; None where it gains none itself.
    hours : float or None
        Time in hand with it.
    """

    text: str
    gained: float | None = None
    hours: float | None = None

    def as_json(self) -> dict[str, Any]:
        """Plain data; an endless gain is null with ``clears``."""
        out: dict[str, Any] = {
            "text": self.text,
            "gained": question.finite(self.gained),
            "hours": question.finite(self.hours),
        }
        if self.gained is not None and math.isinf(self.gained):
            out["clears"] = True
        return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """One quantity at one place over the hours after a failure, with the limits it is held against."""

    place: str
    quantity: str
    unit: str
    hours: Sequence[float]
    values: Sequence[float]
    lines: Sequence[Line] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a face is asked to show.

    Attributes
    ----------
    begin : str
        ``now`` or ``worst``.
    pairs : bool
        Two failures together instead of one alone.
    system, kind : str
        Only this system, only this kind; empty shows all.
    within : float
        Hours: sets of failures that leave less are told.
    """

    begin: Begin = "now"
    pairs: bool = False
    system: str = ""
    kind: str = ""
    within: float = LESS_THAN


def rows(table: Table, facility: model.Facility, wanted: Wanted) -> list[Row]:
    """The failures asked for, shortest first; with a system, by what happens in it."""
    chosen = [row for row in (table.pairs if wanted.pairs else table.rows)
              if not wanted.kind or wanted.kind in kinds_of(row)]  # fmt: skip
    if wanted.system:
        here = places_of(facility, wanted.system)
        chosen = [one for one in (_held_to(row, here) for row in chosen) if one is not None]
        chosen.sort(key=lambda row: (row.hours, _nearness(row)))
    return chosen


def kinds_of(row: Row) -> tuple[str, ...]:
    """The kinds of one failure, or of both of a pair."""
    return tuple(part.strip() for part in row.kind.split(" + "))


def places_of(facility: model.Facility, system: str) -> frozenset[str]:
    """The places of a system."""
    known = facility.systems.get(system)
    return frozenset(known.places) if known is not None else frozenset()


def _held_to(row: Row, here: frozenset[str]) -> Row | None:
    """What a failure does in some places only; None where it does nothing there that was looked at."""
    crossings = [one for one in row.crossings if one.place in here]
    margins = [one for one in row.least_margins if one.line.place in here]
    if not crossings and not margins:
        return None
    first = next((one for one in crossings if not one.anyway), None)
    return dataclasses.replace(
        row,
        crossings=crossings,
        signs=[one for one in row.signs if one.place in here],
        least_margins=margins,
        helps=row.helps if first is not None and first is row.first else (),
        left=_left(row, first) if first is not None else None,
    )


def _left(row: Row, first: Crossing) -> float | None:
    """Hours left once somebody is there, for another crossing of the same failure."""
    if row.left is None or row.first is None or math.isinf(first.hours):
        return None
    return row.left + first.hours - row.first.hours


def _nearness(row: Row) -> float:
    return row.least_margins[0].margin if row.least_margins else math.inf


def find(table: Table, id: str) -> Row | None:
    """The failure, or the pair, of an id."""
    return next((row for row in (*table.rows, *table.pairs) if row.id == id), None)


def needed(table: Table, id: str) -> Row:
    """The failure, or the pair, of an id; refused where there is none."""
    found = find(table, id)
    if found is None:
        raise mishaps.Refused(
            findings.Finding(
                code="drill/no-failure",
                level=findings.Level.STOP,
                text="There is no failure of that id.",
                hint="choose one from the sheet time in hand",
            )
        )
    return found


def lost(table: Table) -> float:
    """Hours that pass before somebody stands at the plant."""
    return table.asked.notice + table.asked.travel


def level(row: Row, table: Table) -> str:
    """``act`` where the limit comes before anybody does, ``watch`` where less than the asked time is left."""
    if row.first is None or math.isinf(row.hours):
        return ""
    if row.left is not None and row.left <= 0.0:
        return "act"
    return "watch" if row.hours < table.asked.less_than else ""


def systems(facility: model.Facility) -> list[tuple[str, str]]:
    """Systems with animals or limits, as id and name."""
    return [(one.id, one.name or one.id) for one in facility.systems.values() if one.places]


def shortest_of_kinds(shown: Sequence[Row], each: int) -> list[Row]:
    """The shortest few of each kind, shortest first."""
    seen: collections.Counter[str] = collections.Counter()
    kept: list[Row] = []
    for row in shown:
        seen[row.kind] += 1
        if seen[row.kind] <= each:
            kept.append(row)
    return kept


SOONER = 0.9  # share of what the shorter of two leaves alone, from which on both together are worse


def worse_together(table: Table, shown: Sequence[Row]) -> list[Row]:
    """Pairs that leave less time than either of the two alone."""
    alone = {row.id: row.hours for row in table.rows}
    return [
        row for row in shown if row.hours < SOONER * min(alone.get(one, math.inf) for one in row.failures)
    ]


def short(table: Table, shown: Sequence[Row]) -> int:
    """How many leave less than the hours asked for."""
    return sum(1 for row in shown if row.hours < table.asked.less_than)


def sets_of_two(table: Table) -> list[CutSet]:
    """Least sets of two failures, each of which alone leaves more time."""
    return [one for one in table.cut_sets if len(one.failures) > 1]


def kinds(table: Table) -> list[str]:
    """Kinds of failure that are in the table, in its order."""
    return list(dict.fromkeys(row.kind for row in table.rows))


# -- first steps ------------------------------------------------------------------------------------------


def first_steps(table: Table, row: Row) -> tuple[Step, ...]:
    """What to do first, in order, then what gains most time."""
    return (*own_steps(table, row), *gaining(row))


def own_steps(table: Table, row: Row) -> tuple[Step, ...]:
    """The steps of the failure itself, the tanks as they come to need; of two, those of both, each once."""
    soonest = [
        one.place for one in row.crossings if not one.anyway and one.quantity in failures.AIRED
    ]  # fmt: skip
    told = (failures.steps(one, table.asked.facility, soonest) for one in _failures(table, row))
    return tuple(Step(text=text) for text in dict.fromkeys(itertools.chain(*told)))[:MOST_STEPS]


def gaining(row: Row) -> tuple[Step, ...]:
    """What gains most time, once somebody is there."""
    return tuple(Step(text=one.title, gained=one.gained, hours=one.hours) for one in row.helps[:MOST_GAINS])


def cautions(table: Table, row: Row) -> tuple[str, ...]:
    """The cautions of a failure itself, each once; those of every failure stand on each card anyway."""
    told = itertools.chain(*(one.cautions for one in _failures(table, row)))
    return tuple(one for one in dict.fromkeys(told) if one not in CAUTIONS)


def _failures(table: Table, row: Row) -> list[Any]:
    """The failures of a row as the catalogue has them."""
    known: Mapping[str, Any] = {one.id: one for one in table.asked.failures}
    return [known[id] for id in row.failures if id in known]


def is_left(line: Line) -> bool:
    """Whether a limit is what is left of the water of a place, and not the depth its animals use."""
    return line.band == "uncovered" and "quarter" in line.text


def limit_at(line: Line, facility: model.Facility) -> str:
    """A limit with its place in words, for the terminal."""
    vessel = facility.vessels.get(line.place)
    place = vessel.name or line.place if vessel else line.place
    happens = "a quarter of its water left" if is_left(line) else HAPPENS.get(line.band)
    said = happens or f"{LABELS.get(line.quantity, line.quantity)} {line.text}"
    return f"{said}, {place}"


def as_json(table: Table, sentence: str, facility: model.Facility, only: Row | None = None) -> dict[str, Any]:
    """The object that other programs read: each failure with its crossings, margins and first steps.

    ``only`` leaves one failure, or one pair, in the list.
    """

    def told(row: Row) -> dict[str, Any]:
        steps = [step.as_json() for step in first_steps(table, row)]
        return {**row.as_json(), "first_steps": steps, "cautions": list(cautions(table, row))}

    return {
        **table.as_json(),
        "question": question.QUESTION.name,
        "facility": facility.name,
        "sentence": sentence,
        "failures": [told(row) for row in ([only] if only is not None else table.rows)],
        "pairs": [told(row) for row in table.pairs] if only is None else [],
        "cautions": list(CAUTIONS),
        "advice": "Advice, not a command.",
    }
