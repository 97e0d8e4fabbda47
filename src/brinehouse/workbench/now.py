"""What is not as it should be, oldest first; then the water, each tank in one quiet line."""

from __future__ import annotations

import bisect
import math
import urllib.parse
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from brinehouse import findings, glossary, records
from brinehouse.facility import model
from brinehouse.workbench import clock, concern, hall, limits, notices, recent

WATER = ("temperature", "salinity", "oxygen", "oxygen saturation", "total gas pressure")
LOOK_BACK = recent.LOOK_BACK
DAY = timedelta(hours=24)
TAIL = 200  # readings looked at before all of them are
MOST_POINTS = 96
STALE = timedelta(hours=36)  # common practice, no source: two missed rounds of a twice-daily walk


Concern = concern.Concern


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """The newest reading of one quantity at one place, its last day, and the aim it should lie in."""

    value: float
    unit: str
    decimals: int
    u: float | None
    at: datetime
    stale: bool
    level: findings.Level | None
    trace: Sequence[tuple[float, float]]
    aim: tuple[float | None, float | None] | None
    reading: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One tank in one line."""

    place: str
    name: str
    volume: float | None
    cells: Mapping[str, Cell]


@dataclass(frozen=True, slots=True, kw_only=True)
class Now:
    """The whole sheet."""

    concerns: Sequence[Concern]
    lines: Mapping[str, Sequence[Line]] = field(default_factory=dict[str, Sequence[Line]])
    as_of: datetime | None = None
    points: int = 0
    silent: Sequence[str] = ()
    book: notices.Book = field(default_factory=lambda: notices.Book(notices=()))
    in_hand: Mapping[str, tuple[float, str]] = field(default_factory=dict[str, tuple[float, str]])
    """The least time in hand by place, and the failure: only where it was worked out already."""


def look(place: hall.Hall, extra: Sequence[Concern] = ()) -> Now:
    """The sheet as things stand.

    Parameters
    ----------
    place : Hall
    extra : sequence of Concern
        What the engines found, to be told among the rest.
    """
    facility = place.facility
    now = clock.now()
    series = recent.readings(place)
    book = notices.look(place, extra)
    asking = {(one.place, one.quantity) for one in book.notices if one.quantity}
    told = [told_of(one) for one in book.of("new", "seen")]
    concerns = [*told, *book.events, *_crossings(series, facility, asking)]
    lines: dict[str, list[Line]] = {}
    silent: list[str] = []
    for tank in facility.tanks.values():
        cells = {
            quantity: cell
            for quantity in WATER
            if (cell := _cell(series.get((tank.id, quantity), []), facility, now)) is not None
        }
        if not cells or all(cell.stale for cell in cells.values()):
            silent.append(tank.name)
        system = facility.system_of(tank.id)
        lines.setdefault(system.name if system else "", []).append(
            Line(place=tank.id, name=tank.name, volume=tank.volume, cells=cells)
        )
    return Now(
        concerns=sorted(concerns, key=lambda one: one.since),
        lines=lines,
        as_of=max((readings[-1].measured for readings in series.values() if readings), default=None),
        points=sum(1 for readings in series.values() if readings),
        silent=silent,
        book=book,
        in_hand={where: least for (where, quantity), least in notices.in_hand(place).items() if not quantity},
    )


def told_of(one: notices.Notice) -> Concern:
    """A notice as a row of the sheet."""
    second = "take a second reading with another meter, then: " if one.second else ""
    return Concern(
        level=one.level,
        since=one.since or clock.now(),
        what=one.what,
        value=one.value,
        why=one.why,
        next=second + one.response,
        href=f"/notices/{one.id}",
        code=one.code,
        place=one.place,
        notice=one.id,
        state=one.state,
        by=one.by,
        at=one.read,
        priority=one.priority,
        hours=one.hours,
        in_hand=one.in_hand,
        consequence=one.consequence,
    )


def _crossings(
    series: Mapping[tuple[str, str], Sequence[records.Reading]],
    facility: model.Facility,
    asking: AbstractSet[tuple[str, str]],
) -> list[Concern]:
    """Limits that are crossed and ask nobody: events, told among the rest."""
    found: list[Concern] = []
    for (place, quantity), readings in series.items():
        if (place, quantity) in asking:
            continue
        crossed = _crossing(readings, facility)
        if crossed is None:
            continue
        vessel = facility.place(place)
        name = vessel.name if vessel else place
        unit = crossed.unit if crossed.unit != "1" else ""
        known = glossary.quantity(quantity)
        text = f"{crossed.value:.{concern.decimals(crossed.reading)}f} {unit}".strip()
        may = " may be" if crossed.verdict == "may be crossed" else " is"
        found.append(
            Concern(
                level=crossed.level,
                since=crossed.since,
                what=f"{name}: {known.word if known else quantity}",
                value=text,
                why=f"the {crossed.level.value} limit{may} crossed: {crossed.limit.text}"
                + (f" ({crossed.limit.source})" if crossed.limit.source else ""),
                next="take a second reading with another meter"
                if crossed.verdict == "may be crossed"
                else "read again, then follow the limit's own steps",
                href="/log?" + urllib.parse.urlencode({"place": place, "quantity": quantity}),
                code="limit/crossed" if crossed.verdict == "crossed" else "limit/may-be-crossed",
            )
        )
    return found


def _crossing(readings: Sequence[records.Reading], facility: model.Facility) -> limits.Crossing | None:
    """What the newest reading crosses; only where that began long ago are all of them looked through."""
    if not readings:
        return None
    rules = facility.limits_for(readings[0].quantity, readings[0].place)
    tail = readings[-TAIL:]
    crossed = limits.crossing(tail, facility, rules)
    if crossed is not None and crossed.since == tail[0].measured and len(readings) > TAIL:
        return limits.crossing(readings, facility, rules)
    return crossed


def _cell(readings: Sequence[records.Reading], facility: model.Facility, now: datetime) -> Cell | None:
    newest = next((one for one in reversed(readings) if one.quality in ("good", "unusual")), None)
    if newest is None:
        return None
    value = limits.in_glossary_unit(newest)
    quantity = glossary.quantity(newest.quantity)
    if value is None or quantity is None:
        return None
    rules = facility.limits_for(newest.quantity, newest.place)
    crossed = _crossing(readings, facility)
    aim = next((rule.aim for rule in rules if rule.aim), None)
    return Cell(
        value=value,
        unit=quantity.unit,
        decimals=concern.decimals(newest),
        u=limits.uncertainty(newest, facility),
        at=newest.measured,
        stale=now - newest.measured > STALE,
        level=crossed.level if crossed else None,
        trace=_trace(readings, newest.measured - DAY),
        aim=(aim.low, aim.high) if aim else None,
        reading=newest.id,
    )


def _trace(readings: Sequence[records.Reading], begin: datetime) -> list[tuple[float, float]]:
    """The last day as a line of at most so many points: hours from its begin, values."""
    first = bisect.bisect_left(readings, begin, key=lambda reading: reading.measured)
    last_day = [one for one in readings[first:] if one.quality in ("good", "unusual")]
    step = max(1, math.ceil(len(last_day) / MOST_POINTS))
    kept = last_day[::-1][::step][::-1]  # the newest is always among them
    return [
        ((reading.measured - begin).total_seconds() / 3600.0, value)
        for reading in kept
        if (value := limits.in_glossary_unit(reading)) is not None
    ]


_NUMBERS = (
    "Nothing is",
    "One thing is",
    "Two things are",
    "Three things are",
    "Four things are",
    "Five things are",
    "Six things are",
    "Seven things are",
    "Eight things are",
    "Nine things are",
    "Ten things are",
    "Eleven things are",
    "Twelve things are",
)


def title(sheet: Now) -> str:
    """The sheet's sentence.

    >>> title(Now(concerns=()))
    'Nothing is out of order.'
    """
    count = len(sheet.concerns)
    if not count:
        return "Nothing is out of order."
    oldest = (clock.now() - sheet.concerns[0].since).total_seconds() / 3600.0
    age = f"{oldest:.0f} hours" if oldest < 48.0 else f"{oldest / 24.0:.0f} days"
    things = _NUMBERS[count] if count < len(_NUMBERS) else f"{count} things are"
    return f"{things} not as {'it' if count == 1 else 'they'} should be; the oldest is {age} old."


def as_json(sheet: Now) -> dict[str, Any]:
    """The sheet as plain data."""
    return {
        "sentence": title(sheet),
        "as_of": sheet.as_of.isoformat() if sheet.as_of else None,
        "concerns": [
            {
                "code": told.code,
                "level": told.level.value,
                "since": told.since.isoformat(),
                "what": told.what,
                "value": told.value,
                "why": told.why,
                "next": told.next,
                "notice": told.notice,
                "state": told.state,
            }
            for told in sheet.concerns
        ],
        "shelved": [notices.as_json(one) for one in sheet.book.of("shelved")],
        "gone_unseen": [notices.as_json(one) for one in sheet.book.of("gone unseen")],
        "out_of_service": [notices.as_json(one) for one in sheet.book.of("out of service")],
        "water": [
            {
                "system": system,
                "place": line.place,
                "values": {
                    quantity: {
                        "value": cell.value,
                        "unit": cell.unit,
                        "u": cell.u,
                        "at": cell.at.isoformat(),
                        "stale": cell.stale,
                    }
                    for quantity, cell in line.cells.items()
                },
            }
            for system, lines in sheet.lines.items()
            for line in lines
        ],
    }
