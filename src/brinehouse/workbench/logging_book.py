"""The logbook as its sheet shows it: filter, trail, supersede."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from brinehouse import findings, glossary, records
from brinehouse.logbook import kept
from brinehouse.workbench import clock, hall, mishaps, typed

CORRECTABLE = (
    "value", "unit", "text", "bound", "missing", "place", "point", "measured", "instrument", "quality",
    "marks",
)  # fmt: skip


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

    @property
    def stands(self) -> kept.Version:
        """The version that holds today; the newest where all were taken back."""
        return next((version for version in reversed(self.versions) if version.stands), self.versions[-1])


def _day(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text).replace(tzinfo=UTC)
    except ValueError:
        return None


def look(place: hall.Hall, wanted: Wanted, *, size: int) -> Shown:
    """One page of the log, newest first."""
    if not hall.Hall.has_book(place.folder):
        return Shown(rows=(), newest=None, more=False)
    until = _day(wanted.until)
    common: dict[str, Any] = {
        "places": [wanted.place] if wanted.place else None,
        "since": _day(wanted.since),
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
    rows = [_row(one, names) for one in found[begin : begin + size]]
    return Shown(rows=rows, newest=found[0].measured if found else None, more=len(found) > begin + size)


def people(place: hall.Hall) -> dict[int, str]:
    """Names of the people by their numbers; a blanked one shows as its number."""
    return {one.number: one.name or f"person {one.number}" for one in place.book.people()}


def _row(one: records.Reading | records.Fact, names: Mapping[int, str]) -> Row:
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
        text=told(one),
        instrument=str(one.details.get("instrument", "")),
        by=by,
        quality="good",
        note=one.note,
    )


def told(fact: records.Fact) -> str:
    """What a fact says, in one line."""
    details = {name: value for name, value in fact.details.items() if name not in ("instrument", "trial")}
    if fact.kind == "gas-trial" and details.get("values"):
        return f"{len(details['values'])} readings, last {details['values'][-1]} {details.get('unit', '')}"
    if fact.kind == "pump-run":
        return f"{details.get('pump', '')} {'on' if details.get('running') else 'off'}"
    if "what" in details:
        return str(details["what"])
    return ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in details.items()) or fact.note


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
    versions = place.book.trail(id)
    if not versions:
        raise mishaps.Refused(
            findings.Finding(
                code="workbench/no-entry",
                level=findings.Level.STOP,
                text="The logbook has no entry of that id.",
                hint="look for it in the log",
            )
        )
    return Trail(id=id, versions=versions, names=people(place))


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """A correction that was stored under an id, or the findings that stood in the way."""

    id: str
    findings: Sequence[findings.Finding] = ()


def supersede(place: hall.Hall, id: str, given: Mapping[str, str], at: datetime | None) -> Done:
    """Correct the value, place, time or person of a reading, or take an entry back, with a reason.

    Only what was changed in the form is changed in the log; the old version stays and can be seen.
    """
    now = clock.now()
    old = trail(place, id).stands.fact
    reason = given.get("reason", "").strip()
    by = person(place, given.get("by", ""))
    if not reason:
        return Done(id=id, findings=(_no_reason(),))
    if given.get("withdraw"):
        outcome = place.withdraw(old.id, reason=reason, entered=now, person=by)
        return Done(id=outcome.id or old.id)
    changes: dict[str, Any] = {}
    if isinstance(old, records.Reading):
        made = typed.understand(
            place.facility,
            place=given.get("place") or old.point or old.place,
            quantity=old.quantity,
            text=given.get("value") or old.text,
            at=at or old.measured,
            instrument=given.get("instrument", old.instrument),
            basis=old.basis,
            sure=bool(given.get("sure")),
            person=by,
        )
        if made.reading is None or made.ask or made.refused:
            return Done(id=id, findings=tuple(made.findings))
        changes = {
            name: getattr(made.reading, name)
            for name in (
                "value",
                "unit",
                "text",
                "bound",
                "missing",
                "place",
                "point",
                "measured",
                "instrument",
                "quality",
                "marks",
            )
            if getattr(made.reading, name) != getattr(old, name)
        }
        if given.get("text") == old.text:
            changes.pop("text", None)
    elif at is not None and at != old.measured:
        changes["measured"] = at
    if not changes:
        return Done(id=id, findings=(_nothing_changed(),))
    outcome = place.supersede(old.id, reason=reason, entered=now, person=by, **changes)
    return Done(id=outcome.id)


def _no_reason() -> findings.Finding:
    return findings.Finding(
        code="workbench/no-reason",
        level=findings.Level.STOP,
        text="A correction needs a reason.",
        hint="say why the old entry is wrong: it stays in the trail beside the new one",
    )


def _nothing_changed() -> findings.Finding:
    return findings.Finding(
        code="workbench/nothing-changed",
        level=findings.Level.STOP,
        text="Nothing was changed.",
        hint="change the value, the place or the time, or take the entry back",
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
        raise mishaps.Refused(
            findings.Finding(
                code="workbench/no-text", level=findings.Level.STOP, text="There are no words to write down.",
                hint="say what was seen or done",
            )
        )  # fmt: skip
    here = place.facility.place(about) if about else None
    if about and here is None:
        near = glossary.nearest(about, list(place.facility.vessels))
        raise mishaps.Refused(
            findings.Finding(
                code="workbench/unknown-place",
                level=findings.Level.STOP,
                text=f"'{about}' is not a place of this facility",
                hint=f"did you mean {' or '.join(near)}?" if near else "name a tank, sump or vessel",
            )
        )
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
    """An entry's id from its first digits; as it is where they fit none or several."""
    if len(id) >= 32:
        return id
    found = {
        row.id
        for row in [*place.history(superseded=True), *place.facts(superseded=True)]
        if row.id.startswith(id)
    }
    return found.pop() if len(found) == 1 else id


def says(fact: records.Reading | records.Fact) -> str:
    """What an entry says, in one line."""
    if isinstance(fact, records.Reading):
        return f"{fact.point or fact.place} {fact.quantity} {fact.text or 'not measured'}"
    return f"{fact.kind.replace('-', ' ')}: {told(fact)}"


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
