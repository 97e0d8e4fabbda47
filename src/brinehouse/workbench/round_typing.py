"""A written sheet typed in afterwards: all of it judged at once, stored in one go, and lost by no fault."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from brinehouse import findings, records
from brinehouse.logbook import kept
from brinehouse.workbench import (
    clock,
    hall,
    judging,
    recent,
    round_asks,
    round_stops,
    round_writing,
    rounds,
    typed,
)

Facts = Sequence[records.Reading | records.Fact]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One stop of the sheet: what it asks, and what is to be said about what was typed."""

    screen: round_stops.Screen
    asks: Sequence[Mapping[str, Any]]
    filled: bool = False
    findings: Sequence[findings.Finding] = ()
    judged: judging.Judged | None = None

    @property
    def ask(self) -> bool:
        """Whether one more yes would do."""
        return findings.worst(self.findings) is findings.Level.ASK


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet as typed: its lines, and the outcomes where it was stored."""

    lines: Sequence[Line]
    findings: Sequence[findings.Finding] = ()
    stored: Sequence[kept.Outcome] = field(default=())

    @property
    def wrong(self) -> int:
        """How many lines cannot be kept as they are."""
        return sum(1 for line in self.lines if line.findings and not line.ask)

    @property
    def unusual(self) -> int:
        """How many are asked about."""
        return sum(1 for line in self.lines if line.ask)


def blank(place: hall.Hall, name: str) -> Sheet:
    """The sheet with nothing typed."""
    facility = place.facility
    whole = round_stops.find(facility, name)
    history, names = recent.readings(place), rounds.people(place)
    return Sheet(
        lines=[
            Line(screen=screen, asks=round_asks.ask(place, screen, history, names))
            for screen in round_stops.screens(facility, whole)
        ]
    )


def box(key: str, name: str) -> str:
    """The name of a box in the form."""
    return f"{key}|{name}"


def take(
    place: hall.Hall, name: str, given: Mapping[str, str], at: datetime | None, person: int | None
) -> Sheet:
    """Judge a typed sheet; store all of it where nothing stands in the way.

    Parameters
    ----------
    given : mapping
        ``KEY|value``, ``KEY|unit``, ``KEY|basis``, ``KEY|sure``, ``KEY|reason``, ``KEY|appetite`` and so on;
        ``id`` makes the same sheet sent twice the same.
    at : datetime or None
        When it was read: asked once for the sheet.
    """
    sheet = blank(place, name)
    if at is None:
        return replace(
            sheet, findings=(_stop("round/no-time", "It is not said when it was read", "give the time"),)
        )
    late = typed.future(at)
    if late:
        return replace(sheet, findings=late)
    id = round_writing.own_id(given.get("id", ""))
    walk = rounds.Walk(id=round_writing.derived("typed", id), round=name, begun=at, by=person)
    lines: list[Line] = []
    facts: list[records.Reading | records.Fact] = []
    for line in sheet.lines:
        told, made = _line(place, walk, line, given, id, at, person)
        lines.append(told)
        facts += made
    sheet = replace(sheet, lines=lines)
    if not facts and not any(line.findings for line in lines):
        said = _stop(
            "round/empty-sheet", "Nothing was typed", "type what was written, and leave the rest blank"
        )
        return replace(sheet, findings=(said,))
    if any(line.findings for line in lines):
        return sheet
    now = clock.now()
    ends = [
        replace(one, entered=now)
        for one in (
            round_writing.mark(walk, "begun", at, person),
            round_writing.mark(walk, "ended", at, person),
        )
    ]
    return replace(sheet, stored=place.write([*ends, *facts], person=person))


def _line(
    place: hall.Hall,
    walk: rounds.Walk,
    line: Line,
    given: Mapping[str, str],
    id: str,
    at: datetime,
    person: int | None,
) -> tuple[Line, Facts]:
    """One line: left out where it is blank."""
    start = f"{line.screen.key}|"
    mine = {name[len(start) :]: value for name, value in given.items() if name.startswith(start)}
    asked = ("value",) if line.screen.kind == "reading" else (*round_stops.SIGNS, "eaten")
    if not any(mine.get(name, "").strip() for name in asked):
        return line, ()
    mine["id"] = round_writing.derived("typed", id, line.screen.key)
    made = round_writing.save(place, walk, line.screen, line.asks, mine, person, at)
    told = replace(line, filled=True, judged=made.judged, findings=made.findings if made.refused else ())
    return told, made.facts


def _stop(code: str, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint)
