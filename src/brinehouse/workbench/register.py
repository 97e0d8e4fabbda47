"""The register: every machine and meter with its tag, where it stands, how long it ran, and what is due."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from brinehouse import findings, records
from brinehouse.facility import model
from brinehouse.workbench import (
    clock,
    hall,
    lock_outs,
    mishaps,
    plant_things,
    running,
    told,
    typed,
    upkeep,
    works,
)

TABLES = ("pump", "equipment", "instrument")
HISTORY = (
    "work",
    "renewal",
    "instrument-check",
    "instrument-setting",
    "run-hours",
    "lock-out",
    "change-over",
)
SHOWN = 40
REGISTER_WORDS = ("serial", "maker", "bought", "spares", "manual")

Thing = model.Pump | model.Equipment | model.Instrument


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the register.

    Attributes
    ----------
    table, kind : str
        ``pump``, ``equipment`` or ``instrument``; and what it is.
    ran : Ran or None
        In all, as far as it is known; from `ran_since`, where no counter tells of before.
    due : Due or None
        The piece of work that is due first.
    locks : sequence of Lock
        Notes that hold for it, its board's too.
    """

    id: str
    table: str
    tag: str
    name: str
    kind: str
    where: str
    board: str
    retired: str
    ran: running.Ran | None = None
    ran_since: datetime | None = None
    runs: bool | None = None
    due: upkeep.Due | None = None
    locks: Sequence[lock_outs.Lock] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """One entry of a thing's history."""

    id: str
    at: datetime
    kind: str
    what: str
    by: str
    note: str
    order: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """All of one thing."""

    row: Row
    data: Sequence[tuple[str, str, str]]
    spares: Sequence[str]
    manual: str
    manual_file: bool
    due: Sequence[upkeep.Due]
    orders: Sequence[works.Order]
    history: Sequence[Past]
    readings: Sequence[records.Reading]
    files: Sequence[records.Fact]
    more: bool = False


def rows(place: hall.Hall) -> list[Row]:
    """Every machine and meter, in the order of the file; the retired last."""
    facility = place.facility
    known = _Known(place)
    shelves: tuple[Mapping[str, Thing], ...] = (facility.pumps, facility.equipment, facility.instruments)
    found = [_row(known, thing) for shelf in shelves for thing in shelf.values()]
    return sorted(found, key=lambda row: bool(row.retired))


class _Known:
    """What the log knows of all of them, asked once."""

    def __init__(self, place: hall.Hall) -> None:
        book = hall.Hall.has_book(place.folder)
        self.place, self.facility, self.now = place, place.facility, clock.now()
        self.courses = running.courses(place.facts(kinds=upkeep.COUNTED)) if book else {}
        self.locks = lock_outs.standing(place)
        self.due: dict[str, list[upkeep.Due]] = {}
        for one in upkeep.due(place):
            self.due.setdefault(one.of, []).append(one)


def _row(known: _Known, thing: Thing) -> Row:
    facility = known.facility
    course = known.courses.get(thing.id)
    ran, since = running.total(course, known.now) if course is not None else (None, None)
    return Row(
        id=thing.id,
        table=facility.find(thing.id),
        tag=thing.tag if isinstance(thing, model.Pump | model.Equipment) and thing.tag else thing.id,
        name=thing.name if thing.name != thing.id else "",
        kind=_kind(thing),
        where=_where(facility, thing),
        board=thing.board if isinstance(thing, model.Pump | model.Equipment) else "",
        retired=thing.retired,
        ran=ran,
        ran_since=since,
        runs=running.running(course) if course is not None else None,
        due=next(iter(known.due.get(thing.id, ())), None),
        locks=lock_outs.at(facility, known.locks, thing.id),
    )


def _kind(thing: Thing) -> str:
    if isinstance(thing, model.Pump):
        return "pump"
    if isinstance(thing, model.Equipment):
        return thing.kind
    return ", ".join(thing.measures)


def _where(facility: model.Facility, thing: Thing) -> str:
    """Where it stands: as its file says, else its group, or the run it stands in; of a meter its points."""
    if isinstance(thing, model.Instrument):
        return ", ".join(point.id for point in facility.points.values() if point.instrument == thing.id)
    if thing.at:
        return thing.at
    groups = [duty.id for duty in facility.duties.values() if thing.id in duty.pumps]
    if groups:
        return ", ".join(groups)
    return ", ".join(run.id for run in facility.runs.values() if thing.id in run.through)


def sheet(place: hall.Hall, id: str) -> Sheet:
    """All of one thing; refused where the file has no pump, machine or meter of that id."""
    facility = place.facility
    table = facility.find(id)
    if table not in TABLES:
        said = f"the facility file has no pump, machine or meter '{id}'"
        raise mishaps.Refused(
            findings.Finding(
                code="register/unknown",
                level=findings.Level.STOP,
                text=said,
                hint=typed.near(id, [*facility.pumps, *facility.equipment, *facility.instruments]),
            )
        )
    thing: Thing = {**facility.pumps, **facility.equipment, **facility.instruments}[id]
    known = _Known(place)
    _, boxes, _ = plant_things.form(place, table, id)
    book = hall.Hall.has_book(place.folder)
    facts = place.facts(kinds=(*HISTORY, "file")) if book else []
    past = _history(place, facts, id)
    return Sheet(
        row=_row(known, thing),
        data=[
            (box.word.name.replace("_", " "), box.value.replace("\n", "; "), box.word.meaning)
            for box in boxes
            if box.value and box.word.name not in ("name", "spares", "manual")
        ],
        spares=thing.spares,
        manual=thing.manual,
        manual_file=_is_hash(thing.manual),
        due=known.due.get(id, ()),
        orders=[one for one in works.orders(place) if one.of == id and one.open],
        history=past[:SHOWN],
        more=len(past) > SHOWN,
        readings=_readings(place, thing) if book else (),
        files=[fact for fact in facts if fact.kind == "file" and fact.details.get("about") == id],
    )


def _is_hash(text: str) -> bool:
    return len(text) == 64 and all(one in "0123456789abcdef" for one in text)


def _history(place: hall.Hall, facts: Sequence[records.Fact], id: str) -> list[Past]:
    """What was done to it, newest first."""
    mine = [fact for fact in facts if fact.kind != "file" and _about(fact, id)]
    names = {person.number: person.name for person in place.book.people()} if mine else {}
    found = [
        Past(
            id=fact.id,
            at=fact.measured,
            kind=fact.kind,
            what=told.line(fact),
            by=names.get(fact.person, "") if fact.person is not None else "",
            note=fact.note,
            order=str(fact.details.get("order", "")),
        )
        for fact in mine
    ]
    return sorted(found, key=lambda one: one.at, reverse=True)


def _about(fact: records.Fact, id: str) -> bool:
    details: Mapping[str, Any] = fact.details
    return id in (
        details.get("of"),
        details.get("instrument"),
        details.get("stopped"),
        details.get("started"),
    )


def _readings(place: hall.Hall, thing: Thing) -> list[records.Reading]:
    """The newest reading of each quantity at its points; of a meter, the newest that were taken with it."""
    facility = place.facility
    if isinstance(thing, model.Instrument):
        found = place.history(instruments=[thing.id], newest_first=True, limit=200)
    else:
        points = {point.id for point in facility.points.values() if point.at == thing.id}
        places = {typed.standing(facility, point) for point in points} - {""}
        wide = place.history(places=places, newest_first=True, limit=2000) if places else []
        found = [reading for reading in wide if reading.point in points]
    newest: dict[tuple[str, str], records.Reading] = {}
    for reading in found:
        newest.setdefault((reading.point or reading.place, reading.quantity), reading)
    return list(newest.values())[:SHOWN]
