"""What is not as it should be, oldest first; then the water, each tank in one quiet line."""

from __future__ import annotations

import urllib.parse
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from brinehouse import findings, glossary, records
from brinehouse.facility import model
from brinehouse.workbench import clock, hall, limits

WATER = ("temperature", "salinity", "oxygen", "oxygen saturation", "total gas pressure")
LOOK_BACK = timedelta(days=14)
DAY = timedelta(hours=24)
STALE = timedelta(hours=36)  # common practice, no source: two missed rounds of a twice-daily walk


@dataclass(frozen=True, slots=True, kw_only=True)
class Concern:
    """One thing that is not as it should be: what, since when, why we think so, what to do next, who."""

    level: findings.Level
    since: datetime
    what: str
    value: str = ""
    why: str = ""
    next: str = ""
    who: str = ""
    href: str = ""
    code: str = ""


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
    history = place.history(since=now - LOOK_BACK) if hall.Hall.has_book(place.folder) else []
    grouped = _grouped(history)
    concerns = [*extra, *_crossings(grouped, facility)]
    lines: dict[str, list[Line]] = {}
    silent: list[str] = []
    for tank in facility.tanks.values():
        cells = {
            quantity: cell
            for quantity in WATER
            if (cell := _cell(grouped.get((tank.id, quantity), []), facility, now)) is not None
        }
        if not cells or all(cell.stale for cell in cells.values()):
            silent.append(tank.name)
        system = facility.system_of(tank.id)
        lines.setdefault(system.name if system else "", []).append(
            Line(place=tank.id, name=tank.name, volume=tank.volume, cells=cells)
        )
    return Now(
        concerns=sorted(concerns, key=lambda concern: concern.since),
        lines=lines,
        as_of=hall.newest(history),
        points=len(grouped),
        silent=silent,
    )


def _grouped(history: Sequence[records.Reading]) -> dict[tuple[str, str], list[records.Reading]]:
    grouped: dict[tuple[str, str], list[records.Reading]] = {}
    for reading in history:
        if reading.value is not None:
            grouped.setdefault((reading.place, reading.quantity), []).append(reading)
    return grouped


def _crossings(
    grouped: Mapping[tuple[str, str], Sequence[records.Reading]], facility: model.Facility
) -> list[Concern]:
    found: list[Concern] = []
    for (place, quantity), readings in grouped.items():
        crossed = limits.crossing(readings, facility, facility.limits_for(quantity, place))
        if crossed is None:
            continue
        vessel = facility.place(place)
        name = vessel.name if vessel else place
        unit = crossed.unit if crossed.unit != "1" else ""
        known = glossary.quantity(quantity)
        text = f"{crossed.value:.{_decimals(crossed.reading)}f} {unit}".strip()
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


def _decimals(reading: records.Reading) -> int:
    """Decimals as the reading was typed, at most four."""
    digits = reading.text.split()[0] if reading.text else ""
    _, _, tail = digits.replace(",", ".").partition(".")
    return min(len("".join(character for character in tail if character.isdigit())), 4)


def _cell(readings: Sequence[records.Reading], facility: model.Facility, now: datetime) -> Cell | None:
    usable = sorted(
        (reading for reading in readings if reading.quality in ("good", "unusual")),
        key=lambda reading: reading.measured,
    )
    if not usable:
        return None
    newest = usable[-1]
    value = limits.in_glossary_unit(newest)
    quantity = glossary.quantity(newest.quantity)
    if value is None or quantity is None:
        return None
    rules = facility.limits_for(newest.quantity, newest.place)
    crossed = limits.crossing(usable, facility, rules)
    aim = next((rule.aim for rule in rules if rule.aim), None)
    begin = newest.measured - DAY
    trace = [
        ((reading.measured - begin).total_seconds() / 3600.0, one)
        for reading in usable
        if reading.measured >= begin and (one := limits.in_glossary_unit(reading)) is not None
    ]
    return Cell(
        value=value,
        unit=quantity.unit,
        decimals=_decimals(newest),
        u=limits.uncertainty(newest, facility),
        at=newest.measured,
        stale=now - newest.measured > STALE,
        level=crossed.level if crossed else None,
        trace=trace,
        aim=(aim.low, aim.high) if aim else None,
        reading=newest.id,
    )


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
                "code": concern.code,
                "level": concern.level.value,
                "since": concern.since.isoformat(),
                "what": concern.what,
                "value": concern.value,
                "why": concern.why,
                "next": concern.next,
            }
            for concern in sheet.concerns
        ],
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
