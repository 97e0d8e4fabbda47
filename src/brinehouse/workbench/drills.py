"""Drills: the steps of one failure against the clock, and their result as an event in the logbook."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from brinehouse import findings, units
from brinehouse.workbench import clock, hall, logging_book

LONGEST = timedelta(hours=24)  # a clock that was started longer ago was forgotten


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """One step of a drill: whether it was done, and after how many minutes where that was written."""

    text: str
    done: bool
    minute: float | None = None


def begun(text: str) -> datetime | None:
    """When the clock of a drill was started, as the address holds it; None where it says nothing that can be.

    >>> begun("2026-03-14T06:30:00+00:00"), begun("yesterday")
    (datetime.datetime(2026, 3, 14, 6, 30, tzinfo=datetime.timezone.utc), None)
    """
    try:
        when = datetime.fromisoformat(text.strip().replace(" ", "+"))
    except ValueError:
        return None
    return when.astimezone(UTC) if when.tzinfo is not None else None


def told(seconds: float) -> str:
    """Elapsed time as a clock shows it.

    >>> told(75.9), told(3600 * 2 + 5)
    ('0:01:15', '2:00:05')
    """
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def result(given: Mapping[str, str], steps: Sequence[str]) -> tuple[Done, ...]:
    """What a form says of each step; a step with a minute counts as done."""
    return tuple(
        Done(
            text=text,
            done=bool(given.get(f"done-{number}")) or _minute(given, number) is not None,
            minute=_minute(given, number),
        )
        for number, text in enumerate(steps, 1)
    )


def _minute(given: Mapping[str, str], number: int) -> float | None:
    value = units.read_plain(given.get(f"minute-{number}", "").strip().replace(",", "."))
    return value if value is not None and math.isfinite(value) and value >= 0.0 else None


def faults(given: Mapping[str, str], began: datetime | None, steps: int) -> tuple[findings.Finding, ...]:
    """What stands in the way of writing a result down."""
    found = [
        findings.Finding(
            code="drill/not-a-minute",
            level=findings.Level.STOP,
            text=f"step {number}: '{given[f'minute-{number}']}' is no number of minutes",
            hint="write it like 4.5, or leave it empty",
            spot=findings.Spot(field=f"minute-{number}"),
        )
        for number in range(1, steps + 1)
        if given.get(f"minute-{number}", "").strip() and _minute(given, number) is None
    ]
    if began is None or not timedelta() <= clock.now() - began <= LONGEST:
        found.append(
            findings.Finding(
                code="drill/not-started",
                level=findings.Level.STOP,
                text="The clock of this drill was not started",
                hint="start the clock, then write down the result",
            )
        )
    return tuple(found)


def sentence(title: str, hours: float, done: Sequence[Done], remark: str = "") -> str:
    """The result of a drill in one line, as the log keeps it.

    >>> steps = (Done(text="open V-3", done=True, minute=4.5), Done(text="aerate", done=False))
    >>> sentence("P-201 stops", 2.3, steps)
    'drill, P-201 stops: 1 of 2 steps done, the last after 4.5 min, against 2.3 h in hand; not done: aerate'
    """
    made = [one for one in done if one.done]
    minutes = [one.minute for one in made if one.minute is not None]
    parts = [f"drill, {title}: {len(made)} of {len(done)} steps done"]
    if minutes:
        parts.append(f"the last after {max(minutes):g} min")
    if math.isfinite(hours):
        parts.append(f"against {hours:.2g} h in hand")
    left = "; ".join(one.text for one in done if not one.done)
    text = ", ".join(parts) + (f"; not done: {left}" if left else "")
    return f"{text}; {remark.strip()}" if remark.strip() else text


def note(
    place: hall.Hall,
    title: str,
    hours: float,
    began: datetime,
    done: Sequence[Done],
    remark: str = "",
    by: str = "",
) -> str:
    """Write the result of a drill into the logbook, at the time it began; gives the entry's id."""
    text = sentence(title, hours, done, remark)
    return logging_book.note(place, text, kind="event", at=began, by=by).id
