"""The plan as a calendar that phones subscribe to (iCalendar, RFC 5545): turns, trials, upkeep, rounds."""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from brinehouse.engines import turns as engine
from brinehouse.workbench import clock, hall, rounds, turns, upkeep

KEY_FILE = "calendar.key"
QUARTER = timedelta(minutes=15)
HALF = timedelta(minutes=30)


def key(folder: Path) -> str:
    """The secret of the calendar's address, made where there is none; readable by the owner alone."""
    file = folder / KEY_FILE
    if not file.is_file():
        made = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(made, "w", encoding="utf-8") as page:
            page.write(secrets.token_urlsafe(24))
    return file.read_text("utf-8").strip()


def renew(folder: Path) -> str:
    """A new secret: calendars that know the old address see nothing more."""
    (folder / KEY_FILE).unlink(missing_ok=True)
    return key(folder)


def fits(folder: Path, given: str) -> bool:
    """Whether what was given is the secret; where none was ever made, nothing fits."""
    file = folder / KEY_FILE
    if not given or not file.is_file():
        return False
    return hmac.compare_digest(given.encode(), file.read_text("utf-8").strip().encode())


def calendar(place: hall.Hall, *, days: int = 28) -> bytes:
    """The turns, trial starts, tests, overhauls, upkeep and rounds of the days to come.

    Parameters
    ----------
    place : Hall
    days : int
        How many days ahead.
    """
    import icalendar

    made = icalendar.Calendar()
    made.add("prodid", "-//Brinehouse//turns//EN")
    made.add("version", "2.0")
    made.add("method", "PUBLISH")
    made.add("x-wr-calname", f"{place.facility.name}: turns and upkeep")
    made.add("x-wr-timezone", place.facility.timezone)
    made.add("refresh-interval", timedelta(hours=1), parameters={"VALUE": "DURATION"})
    stamp = clock.now().replace(microsecond=0)
    for one in _entries(place, days):
        event = icalendar.Event()
        event.add("uid", one.pop("uid") + "@brinehouse.invalid")
        event.add("dtstamp", stamp)
        for name, value in one.items():
            event.add(name, value)
        event.add("transp", "TRANSPARENT")
        made.add_component(event)
    return made.to_ical()


def _entries(place: hall.Hall, days: int) -> Iterator[dict[str, Any]]:
    zone = ZoneInfo(place.facility.timezone)
    for group in turns.survey(place, days=days).groups:
        yield from _turns(group, zone)
        yield from _dues(group, zone)
    if hall.Hall.has_book(place.folder):
        yield from _upkeep(place, zone)
        yield from _rounds(place, zone)


def _uid(*parts: object) -> str:
    return hashlib.sha256("|".join(map(str, parts)).encode()).hexdigest()[:32]


def _whole_day(uid: str, day: date, summary: str, description: str) -> dict[str, Any]:
    return {"uid": uid, "dtstart": day, "dtend": day + timedelta(days=1), "summary": summary,
            "description": description}  # fmt: skip


def _timed(uid: str, at: datetime, lasts: timedelta, summary: str, description: str) -> dict[str, Any]:
    return {"uid": uid, "dtstart": at, "dtend": at + lasts, "summary": summary, "description": description}


def _turns(group: Any, zone: ZoneInfo) -> Iterator[dict[str, Any]]:
    """Each change of the plan: its id stays while day and pumps do, so that it moves and never doubles."""
    for change in group.plan.changes:
        at = change.at.astimezone(zone).replace(second=0, microsecond=0)
        start, stop = ", ".join(change.start), ", ".join(change.stop)
        parts = [f"start {start}" if start else "", f"stop {stop}" if stop else ""]
        trial = change.why == "trial"
        said = f"trial start of {start}" if trial else ", then ".join(part for part in parts if part)
        uid = _uid("turn", group.duty.id, at.date(), start, stop, change.why)
        text = "Advice, not a command. " + engine.QUESTION.cautions[1]
        yield _timed(uid, at, HALF if trial else QUARTER, f"{group.duty.name}: {said}", text)


def _dues(group: Any, zone: ZoneInfo) -> Iterator[dict[str, Any]]:
    """The next test of the change-over, and the overhauls with their intervals."""
    if group.test_due is not None:
        day = max(group.test_due, clock.now()).astimezone(zone).date()
        name = f"{group.duty.name}: try the automatic change-over"
        yield _whole_day(_uid("test", group.duty.id), day, name, "With somebody at the tanks.")
    for pump, when in group.overhauls.items():
        days = [at.astimezone(zone).date() for at in (when.at, when.low, when.high)]
        text = f"Between {days[1]} and {days[2]}, 19 times in 20."
        yield _whole_day(_uid("overhaul", pump), days[0], f"{pump}: overhaul by its hours", text)


def _upkeep(place: hall.Hall, zone: ZoneInfo) -> Iterator[dict[str, Any]]:
    for one in upkeep.due(place):
        if one.when is None:
            continue
        day = max(one.when, clock.now()).astimezone(zone).date()
        yield _whole_day(_uid("upkeep", one.key), day, f"{one.name}: {one.what}", "; ".join(one.said))


def _rounds(place: hall.Hall, zone: ZoneInfo) -> Iterable[dict[str, Any]]:
    for one in rounds.look(place):
        if one.due is None:
            continue
        at = one.due.astimezone(zone)
        yield _timed(_uid("round", one.round.id, at), at, HALF, f"round: {one.round.name}", "")
