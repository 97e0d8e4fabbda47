"""All of one tank at a glance: its water, what stands there, what is promised, what was done last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from brinehouse import findings, glossary, records
from brinehouse.facility import model
from brinehouse.workbench import clock, concern, hall, limits, logging_book, mishaps, tags, told
from brinehouse.workbench import now as looking

SPAN = timedelta(days=14)
WEEK = timedelta(days=7)
LAST = 8
POINTS = 60
SAID = ("event", "observation", "feeding", "note", "work", "lock-out", "change-over", "renewal", "file")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One quantity of the tank: the newest reading, its week, and the bands it should lie in."""

    quantity: str
    symbol: str
    value: float
    unit: str
    decimals: int
    u: float | None
    at: datetime
    by: str
    level: findings.Level | None
    verdict: str
    stale: bool
    trace: Sequence[tuple[float, float]]
    aim: tuple[float | None, float | None] | None
    limit: str
    reading: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pinned:
    """A note that stays at the tank until a day."""

    id: str
    text: str
    by: str
    since: datetime
    until: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """Something that happened there."""

    id: str
    at: datetime
    kind: str
    text: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The whole sheet of a tank."""

    vessel: model.Vessel
    system: str
    code: str
    animals: Sequence[model.Animals]
    flow: float | None
    lines: Sequence[Line]
    concerns: Sequence[concern.Concern]
    pinned: Sequence[Pinned]
    last: Sequence[Said]
    as_of: datetime | None

    @property
    def away(self) -> int:
        """How many quantities are outside their limits, or may be."""
        return sum(line.level is not None for line in self.lines)


def look(place: hall.Hall, id: str, concerns: Sequence[concern.Concern] = ()) -> Sheet:
    """The sheet of a tank, sump or vessel.

    Parameters
    ----------
    place : Hall
    id : str
        Its id; a test point or machine at it does as well.
    concerns : sequence of Concern
        What is known of the whole hall; what is at this place is kept.

    Raises
    ------
    mishaps.Refused
        Where the facility has no such place.
    """
    facility = place.facility
    vessel = facility.place(id)
    if vessel is None:
        raise mishaps.Refused(
            findings.Finding(
                code="workbench/no-such-place",
                level=findings.Level.STOP,
                text=f"This hall has no tank, sump or vessel '{id}'.",
                hint="look for it on the plant's sheet",
            )
        )
    now = clock.now()
    kept = hall.Hall.has_book(place.folder)
    names = logging_book.people(place)
    history = place.history(places=[vessel.id], since=now - SPAN) if kept else []
    facts = place.facts(SAID, places=[vessel.id], newest_first=True, limit=200) if kept else []
    system = facility.system_of(vessel.id)
    return Sheet(
        vessel=vessel,
        system=system.name if system else "",
        code=next(tag.code for tag in tags.of(facility).values() if tag.id == vessel.id),
        animals=facility.animals_at(vessel.id),
        flow=_flow(facility, vessel.id),
        lines=_lines(facility, history, names, now),
        concerns=[one for one in concerns if one.place == vessel.id],
        pinned=_pinned(facts, names, now.astimezone(ZoneInfo(facility.timezone))),
        last=[_said(fact, names) for fact in facts[:LAST]],
        as_of=hall.newest(history),
    )


def _flow(facility: model.Facility, id: str) -> float | None:
    """Stated flow into a place [m³/s]; None where a run to it does not state one."""
    into = [run.flow for run in facility.runs.values() if run.target == id]
    known = [flow for flow in into if flow is not None]
    return sum(known) if into and len(known) == len(into) else None


def _lines(
    facility: model.Facility, history: Sequence[records.Reading], names: dict[int, str], now: datetime
) -> list[Line]:
    grouped: dict[str, list[records.Reading]] = {}
    for reading in history:
        if reading.value is not None and not reading.bound:
            grouped.setdefault(reading.quantity, []).append(reading)
    order = {word: at for at, word in enumerate(glossary.words())}
    made = (
        _line(facility, grouped[word], names, now)
        for word in sorted(grouped, key=lambda w: order.get(w, 999))
    )
    return [line for line in made if line is not None]


def _line(
    facility: model.Facility, readings: Sequence[records.Reading], names: dict[int, str], now: datetime
) -> Line | None:
    usable = [one for one in readings if one.quality in ("good", "unusual")]
    quantity = glossary.quantity(readings[0].quantity)
    if not usable or quantity is None or (value := limits.in_glossary_unit(usable[-1])) is None:
        return None
    newest = usable[-1]
    rules = facility.limits_for(newest.quantity, newest.place)
    crossed = limits.crossing(readings, facility, rules)
    aim = next((rule.aim for rule in rules if rule.aim), None)
    return Line(
        quantity=quantity.word,
        symbol=quantity.symbol,
        value=value,
        unit=quantity.unit,
        decimals=concern.decimals(newest),
        u=limits.uncertainty(newest, facility),
        at=newest.measured,
        by=names.get(newest.person, "") if newest.person is not None else newest.source.replace("hand", ""),
        level=crossed.level if crossed else None,
        verdict=crossed.verdict if crossed else "inside" if rules else "",
        stale=now - newest.measured > looking.STALE,
        trace=_trace(usable, now),
        aim=(aim.low, aim.high) if aim else None,
        limit=rules[0].text if rules else "",
        reading=newest.id,
    )


def _trace(usable: Sequence[records.Reading], now: datetime) -> list[tuple[float, float]]:
    """The last week: hours from its begin, values; at most so many points, the newest among them."""
    begin = now - WEEK
    week = [one for one in usable if one.measured >= begin]
    kept = week[::-1][:: max(1, -(-len(week) // POINTS))][::-1]
    return [
        ((one.measured - begin).total_seconds() / 3600.0, value)
        for one in kept
        if (value := limits.in_glossary_unit(one)) is not None
    ]


def _pinned(facts: Sequence[records.Fact], names: dict[int, str], now: datetime) -> list[Pinned]:
    """Notes that are pinned here and have not run out."""
    today = now.date().isoformat()
    return [
        Pinned(
            id=fact.id,
            text=fact.note or told.line(fact),
            by=names.get(fact.person, "") if fact.person is not None else "",
            since=fact.measured,
            until=str(fact.details.get("until", "")),
        )
        for fact in facts
        if fact.kind == "note"
        and fact.details.get("pinned")
        and (not fact.details.get("until") or str(fact.details["until"])[:10] >= today)
    ]


def _said(fact: records.Fact, names: dict[int, str]) -> Said:
    return Said(
        id=fact.id,
        at=fact.measured,
        kind=fact.kind,
        text=told.line(fact),
        by=names.get(fact.person, "") if fact.person is not None else "",
    )
