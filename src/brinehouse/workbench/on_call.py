"""Who is on call: whoever has the phone, since when, until when."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from brinehouse import findings, records
from brinehouse.workbench import clock, hall, logging_book, mishaps, recent, times

LONGEST = timedelta(days=14)


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """One person's time with the phone; `until` is None where nobody said when it ends."""

    id: str
    person: int | None
    name: str
    since: datetime
    until: datetime | None
    by: int | None = None

    def holds(self, at: datetime) -> bool:
        """Whether it is so at a time."""
        return self.since <= at and (self.until is None or at < self.until)


def turns(place: hall.Hall) -> list[Duty]:
    """Everybody who had the phone, newest first."""
    names = logging_book.people(place)
    found = [_duty(fact, names) for fact in recent.facts(place, "on-call")]
    return sorted((one for one in found if one is not None), key=lambda one: one.since, reverse=True)


def now(place: hall.Hall, at: datetime | None = None) -> Duty | None:
    """Who is on call; the one who took the phone last where two are."""
    at = at or clock.now()
    return next((one for one in turns(place) if one.holds(at)), None)


def people(place: hall.Hall) -> list[str]:
    """Who may be named."""
    return [name for name in logging_book.people(place).values() if not name.startswith("person ")]


def take(place: hall.Hall, given: Mapping[str, str], writer: int | None = None) -> None:
    """Somebody takes the phone: name, from when, until when.

    Raises
    ------
    mishaps.Refused
        Where nobody is named, or the end lies before the begin or too far off.
    """
    at, zone = clock.now(), place.facility.timezone
    name = " ".join(given.get("name", "").split())
    if not name or len(name) > 80:
        raise _refused("on-call/nobody", "Nobody is named who takes the phone.", "name one person")
    since = times.local(given["since"], zone) if given.get("since", "").strip() else at
    until = times.local(given["until"], zone) if given.get("until", "").strip() else None
    if until is not None and not since < until <= since + LONGEST:
        said = "The end lies before the begin, or more than a fortnight after it."
        raise _refused("on-call/no-such-end", said, "give an end within a fortnight, or none")
    number = place.person(name)
    details = {  # no name: a person's name can be taken out of the hall for good
        "person": number, "since": since.isoformat(), "until": until.isoformat() if until else "",
    }  # fmt: skip
    fact = records.Fact(
        id=hall.new_id(), kind="on-call", measured=at, entered=at, person=writer,
        details={key: value for key, value in details.items() if value != ""},
    )  # fmt: skip
    place.write([fact], person=writer)


def _refused(code: str, text: str, hint: str) -> mishaps.Refused:
    return mishaps.Refused(findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint))


def _duty(fact: records.Fact, names: Mapping[int, str]) -> Duty | None:
    since, until = (_moment(fact.details.get(word)) for word in ("since", "until"))
    if since is None:
        return None
    number = fact.details.get("person")
    person = number if isinstance(number, int) else None
    return Duty(
        id=fact.id, person=person, name=names.get(person, "") if person is not None else "", since=since,
        until=until, by=fact.person,
    )  # fmt: skip


def _moment(text: object) -> datetime | None:
    try:
        found = datetime.fromisoformat(str(text))
    except ValueError:
        return None
    return found if found.tzinfo is not None else None
