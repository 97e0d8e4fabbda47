"""The logbook as its sheet shows it: filter, trail, supersede."""

from __future__ import annotations

import typing
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from brinehouse import findings, glossary, records
from brinehouse.facility import model
from brinehouse.logbook import kept
from brinehouse.workbench import clock, hall, mishaps, typed
from brinehouse.workbench import told as said_by

VALUE = ("value", "unit", "text", "bound", "missing", "basis", "quality", "marks")
KINDS = ("reading", *typing.get_args(records.FactKind))


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What the log is filtered by, as its address says."""

    place: str = ""
    quantity: str = ""
    instrument: str = ""
    kind: str = ""
    since: str = ""
    until: str = ""
    all_versions: bool = False
    page: int = 1

    @classmethod
    def read(cls, given: Mapping[str, str]) -> Wanted:
        """From the address; what is not understood is left out.

        >>> Wanted.read({"place": "mangrove", "page": "x"}).page
        1
        """
        page = given.get("page", "1")
        return cls(
            place=given.get("place", ""),
            quantity=given.get("quantity", ""),
            instrument=given.get("instrument", ""),
            kind=given.get("kind", ""),
            since=given.get("since", ""),
            until=given.get("until", ""),
            all_versions=given.get("versions", "") == "all",
            page=max(1, min(100_000, int(page))) if page.isdecimal() and page.isascii() else 1,
        )

    def address(self, **changed: Any) -> str:
        """The address of the same log with something changed."""
        from urllib.parse import urlencode

        parts = {
            "place": self.place,
            "quantity": self.quantity,
            "instrument": self.instrument,
            "kind": self.kind,
            "since": self.since,
            "until": self.until,
            "versions": "all" if self.all_versions else "",
            "page": self.page if self.page > 1 else "",
            **changed,
        }
        return "/log?" + urlencode({name: value for name, value in parts.items() if value})


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the log."""

    id: str
    measured: datetime
    kind: str
    place: str
    what: str
    text: str
    instrument: str
    by: str
    quality: str
    note: str
    superseded: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A page of the log."""

    rows: Sequence[Row]
    newest: datetime | None
    more: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Trail:
    """Every version of one entry, oldest first; `names` gives the people behind the numbers."""

    id: str
    versions: Sequence[kept.Version]
    names: Mapping[int, str]
    zone: str = ""

    @property
    def stands(self) -> kept.Version:
        """The version that holds today; the newest where all were taken back."""
        return next((version for version in reversed(self.versions) if version.stands), self.versions[-1])


def _day(text: str, zone: str) -> datetime | None:
    """The beginning of a day in the hall's zone; None where it is not a day."""
    try:
        return datetime.fromisoformat(text.strip()).replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def faults(place: hall.Hall, wanted: Wanted) -> tuple[findings.Finding, ...]:
    """What of a filter is not known here: a command says so, where a page shows the whole log."""
    facility = place.facility
    checks = (
        ("place", wanted.place, [*facility.vessels, *facility.points]),
        ("quantity", wanted.quantity, glossary.words()),
        ("instrument", wanted.instrument, list(facility.instruments)),
        ("kind", wanted.kind, KINDS),
    )
    found = [
        _stop("workbench/no-such", f"'{named}' is not {_a(what)} known here", typed.near(named, known))
        for what, named, known in checks
        if named and named not in known
    ]
    found += [
        _stop("workbench/not-a-time", f"'{day}' is not a day", "write it like 2026-03-14")
        for day in (wanted.since, wanted.until)
        if day and _day(day, facility.timezone) is None
    ]
    return tuple(found)


def _a(what: str) -> str:
    return f"an {what}" if what[0] in "aeiou" else f"a {what}"


def _stop(code: str, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint)


def look(place: hall.Hall, wanted: Wanted, *, size: int) -> Shown:
    """One page of the log, newest first."""
    if not hall.Hall.has_book(place.folder):
        return Shown(rows=(), newest=None, more=False)
    zone = place.facility.timezone
    until = _day(wanted.until, zone)
    common: dict[str, Any] = {
        "places": [_vessel(place, wanted.place)] if wanted.place else None,
        "since": _day(wanted.since, zone),
        "until": until + timedelta(days=1) if until else None,
        "superseded": wanted.all_versions,
        "limit": wanted.page * size + 1,
        "newest_first": True,
    }
    found: list[records.Reading | records.Fact] = []
    if wanted.kind in ("", "reading"):
        found += place.history(
            **common,
            quantities=[wanted.quantity] if wanted.quantity else None,
            instruments=[wanted.instrument] if wanted.instrument else None,
        )
    if wanted.kind != "reading" and not wanted.quantity and not wanted.instrument:
        found += place.facts([wanted.kind] if wanted.kind else None, **common)
    found.sort(key=lambda one: one.measured, reverse=True)
    begin = (wanted.page - 1) * size
    names = people(place)
    rows = [_row(one, names, place.facility.timezone) for one in found[begin : begin + size]]
    return Shown(rows=rows, newest=found[0].measured if found else None, more=len(found) > begin + size)


def _vessel(place: hall.Hall, name: str) -> str:
    """The place a test point is at, else the name as it is: readings are kept by place."""
    here = place.facility.place(name)
    return here.id if here is not None else name


def people(place: hall.Hall) -> dict[int, str]:
    """Names of the people by their numbers; a blanked one shows as its number."""
    if not hall.Hall.has_book(place.folder):
        return {}
    return {one.number: one.name or f"person {one.number}" for one in place.book.people()}


def _row(one: records.Reading | records.Fact, names: Mapping[int, str], zone: str) -> Row:
    by = names.get(one.person, "") if one.person is not None else ""
    if isinstance(one, records.Reading):
        return Row(
            id=one.id,
            measured=one.measured,
            kind="reading",
            place=one.point or one.place,
            what=one.quantity,
            text=one.text or "not measured",
            instrument=one.instrument,
            by=by or ("sensor" if one.source == "sensor" else ""),
            quality=one.quality,
            note=one.note,
        )
    return Row(
        id=one.id,
        measured=one.measured,
        kind=one.kind,
        place=one.place,
        what=one.kind.replace("-", " "),
        text=told(one, names, zone),
        instrument=str(one.details.get("instrument", "")),
        by=by,
        quality="good",
        note=one.note,
    )


def told(fact: records.Fact, names: Mapping[int, str] | None = None, zone: str = "") -> str:
    """What a fact says, in one line."""
    return said_by.line(fact, names, zone)


def choices(place: hall.Hall) -> Mapping[str, Sequence[str]]:
    """What can be chosen in the log's forms."""
    facility = place.facility
    return {
        "places": [*facility.vessels, *facility.points],
        "quantities": glossary.words(),
        "instruments": list(facility.instruments),
        "people": [name for name in people(place).values() if not name.startswith("person ")],
    }


def person(place: hall.Hall, name: str) -> int | None:
    """The number of the person who wrote something; a new name is taken in."""
    return place.person(name.strip()) if name.strip() else None


def trail(place: hall.Hall, id: str) -> Trail:
    """Every version of an entry; refused where there is none of that id."""
    versions = place.book.trail(id) if hall.Hall.has_book(place.folder) else []
    if not versions:
        said = "The logbook has no entry of that id."
        raise mishaps.Refused(_stop("workbench/no-entry", said, "look for it in the log"))
    return Trail(id=id, versions=versions, names=people(place), zone=place.facility.timezone)


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """A correction that was stored under an id, or the findings that stood in the way."""

    id: str
    findings: Sequence[findings.Finding] = ()


def supersede(place: hall.Hall, id: str, given: Mapping[str, str], at: datetime | None) -> Done:
    """Correct the value, place, time or person of a reading, or take an entry back, with a reason.

    Only what was changed in the form is changed in the log; the old version stays and can be seen.
    """
    old = trail(place, id).stands.fact
    reason = given.get("reason", "").strip()
    if not reason:
        return Done(id=id, findings=(_no_reason(),))
    if given.get("withdraw"):
        by = person(place, given.get("by", ""))
        outcome = place.withdraw(old.id, reason=reason, entered=clock.now(), person=by)
        return Done(id=outcome.id or old.id)
    if old.id != id and isinstance(old, records.Fact) and old.kind == "withdrawal":
        said = "This entry was taken back: there is nothing to correct."
        return Done(id=id, findings=(_stop("workbench/taken-back", said, "write it anew"),))
    if isinstance(old, records.Reading):
        changes, found = _reading_changes(place.facility, old, given, at)
    else:
        changes = {"measured": at} if at is not None and at != old.measured else {}
        found = typed.future(at)
    if found:
        return Done(id=id, findings=found)
    if taken_by := given.get("taken_by", "").strip():
        number = person(place, taken_by)
        changes |= {"taken_by": number} if number != old.person else {}
    if not changes:
        return Done(id=id, findings=(_nothing_changed(),))
    by = person(place, given.get("by", ""))
    outcome = place.supersede(old.id, reason=reason, entered=clock.now(), person=by, **changes)
    return Done(id=outcome.id)


def _reading_changes(
    facility: model.Facility, old: records.Reading, given: Mapping[str, str], at: datetime | None
) -> tuple[dict[str, Any], tuple[findings.Finding, ...]]:
    """Fields of a reading that a form changes, or why they cannot be changed so."""
    stood = old.point or old.place
    where, meter = given.get("place") or stood, given.get("instrument", old.instrument)
    found = typed.names(
        facility, place=where, instrument=meter if meter != old.instrument else "", at=at
    ) if (where, meter, at) != (stood, old.instrument, None) else ()  # fmt: skip
    if found:
        return {}, found
    wanted: dict[str, Any] = {"instrument": meter, "measured": at or old.measured}
    here = facility.place(where)
    if where != stood and here is not None:
        point = facility.points.get(where)
        wanted |= {"place": here.id, "point": where if point else "", "depth": point.depth if point else None}
    text = given.get("value", "").strip()
    if text and text != old.text:
        made = typed.understand(
            facility,
            place=where,
            quantity=old.quantity,
            text=text,
            at=at,
            basis=given.get("basis", "") or old.basis,
            sure=bool(given.get("sure")),
            reason=given.get("reason", ""),
        )
        if made.reading is None or made.ask or made.refused:
            return {}, tuple(made.findings)
        wanted |= {name: getattr(made.reading, name) for name in VALUE}
    return {name: value for name, value in wanted.items() if value != getattr(old, name)}, ()


def _no_reason() -> findings.Finding:
    return _stop(
        "workbench/no-reason",
        "A correction needs a reason.",
        "say why the old entry is wrong: it stays in the trail beside the new one",
    )


def _nothing_changed() -> findings.Finding:
    return _stop(
        "workbench/nothing-changed",
        "Nothing was changed.",
        "change the value, the place or the time, or take the entry back",
    )


def note(
    place: hall.Hall,
    text: str,
    *,
    kind: str = "note",
    at: datetime | None = None,
    about: str = "",
    by: str = "",
) -> kept.Outcome:
    """Write a note, an event or an observation."""
    now = clock.now()
    if not text.strip():
        nothing = "There are no words to write down."
        raise mishaps.Refused(_stop("workbench/no-text", nothing, "say what was seen or done"))
    here = place.facility.place(about) if about else None
    if about and here is None:
        said = f"'{about}' is not a place of this facility"
        raise mishaps.Refused(
            _stop("workbench/unknown-place", said, typed.near(about, list(place.facility.vessels)))
        )
    if later := typed.future(at):
        raise mishaps.Refused(*later)
    number = person(place, by)
    fact = records.Fact(
        id=hall.new_id(),
        kind=kind,  # pyright: ignore[reportArgumentType] - the command's choices are the kinds
        measured=at or now,
        entered=now,
        place=here.id if here else "",
        details={} if kind == "note" else {"what": text.strip()},
        person=number,
        note=text.strip() if kind == "note" else "",
    )
    return place.write([fact], person=number)[0]


def whole_id(place: hall.Hall, id: str) -> str:
    """An entry's id from its first digits; as it is where none begins so.

    Raises
    ------
    mishaps.Refused
        Where several begin so.
    """
    if len(id) >= 32 or not hall.Hall.has_book(place.folder):
        return id
    found = set(place.book.ids(id))
    if len(found) > 1:
        said = f"{len(found)} entries have an id that begins with '{id}'"
        raise mishaps.Refused(_stop("workbench/no-entry", said, "give more of its digits"))
    return found.pop() if found else id


def verify(place: hall.Hall, against: str | None) -> tuple[Sequence[findings.Finding], tuple[int, str]]:
    """What is not as it was written, and the head; a hall that never wrote anything has the head 0."""
    if hall.Hall.has_book(place.folder):
        return place.book.verify(against=against), place.book.head()
    if not against:
        return (), (0, "0" * 64)
    gone = _stop(
        "workbench/no-logbook",
        f"There is no logbook in {place.folder}, and the head {against} was printed from one.",
        "look for logbook.sqlite in a copy of this folder",
    )
    return (gone,), (0, "0" * 64)


def says(fact: records.Reading | records.Fact, names: Mapping[int, str] | None = None, zone: str = "") -> str:
    """What an entry says, in one line."""
    if isinstance(fact, records.Reading):
        return f"{fact.point or fact.place} {fact.quantity} {fact.text or 'not measured'}"
    return f"{fact.kind.replace('-', ' ')}: {told(fact, names, zone)}"


def row_json(row: Row) -> dict[str, Any]:
    """A row as plain data."""
    return {
        "id": row.id,
        "measured": row.measured.isoformat(),
        "kind": row.kind,
        "place": row.place,
        "what": row.what,
        "text": row.text,
        "instrument": row.instrument,
        "by": row.by,
        "quality": row.quality,
        "note": row.note,
    }


def version_json(version: kept.Version, names: Mapping[int, str]) -> dict[str, Any]:
    """A version as plain data."""
    return {
        "entry": version.seq,
        "id": version.fact.id,
        "entered": version.entered.isoformat(),
        "by": names.get(version.person, "") if version.person is not None else "",
        "says": says(version.fact),
        "reason": version.reason,
        "stands": version.stands,
    }
