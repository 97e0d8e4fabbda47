"""Work orders: asked, begun, done or dropped; each step is a fact, and an order is as its newest one says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from brinehouse import findings, records
from brinehouse.workbench import clock, concern, hall, mishaps, typed

STEPS: Mapping[str, tuple[str, ...]] = {
    "": ("asked",),
    "asked": ("begun", "done", "dropped"),
    "begun": ("done", "dropped"),
    "done": (),
    "dropped": (),
}
"""From how an order stands to what may become of it."""
OPEN = ("asked", "begun")


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of an order: what, when, by whom, and what was written with it."""

    fact: records.Fact
    what: str
    at: datetime
    by: str
    did: str = ""
    parts: Sequence[str] = ()
    minutes: float | None = None
    note: str = ""
    files: Sequence[records.Fact] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """A piece of work, and every step of it, oldest first.

    ``due`` is the day by which it is to be done, ``upkeep`` the key of the work that comes round.
    """

    id: str
    of: str
    name: str
    title: str
    state: str
    due: str
    upkeep: str
    steps: Sequence[Step]

    @property
    def open(self) -> bool:
        """Whether something is still to be done."""
        return self.state in OPEN

    @property
    def asked(self) -> datetime:
        """When it was asked for."""
        return self.steps[0].at

    def overdue(self, today: date) -> bool:
        """Whether its day has passed.

        A day is over when the next one has begun, in the hall's own time.
        """
        return self.open and bool(self.due) and self.due < today.isoformat()


def orders(place: hall.Hall) -> list[Order]:
    """Every order, oldest first."""
    if not hall.Hall.has_book(place.folder):
        return []
    facts = place.facts(kinds=("work", "file"))
    return _orders(place, facts)


def _orders(place: hall.Hall, facts: Iterable[records.Fact]) -> list[Order]:
    grouped: dict[str, list[records.Fact]] = {}
    files: dict[str, list[records.Fact]] = {}
    for fact in facts:
        if fact.kind == "work" and fact.details.get("order"):
            grouped.setdefault(str(fact.details["order"]), []).append(fact)
        elif fact.kind == "file":
            files.setdefault(str(fact.details.get("about", "")), []).append(fact)
    names = {person.number: person.name for person in place.book.people()} if grouped else {}
    return [_order(place, id, steps, files, names) for id, steps in grouped.items()]


def _order(
    place: hall.Hall,
    id: str,
    facts: Sequence[records.Fact],
    files: Mapping[str, Sequence[records.Fact]],
    names: Mapping[int, str],
) -> Order:
    told = sorted(facts, key=lambda fact: (fact.entered, fact.measured))
    steps = [_step(fact, files, names) for fact in told]
    first = told[0].details
    of = str(first.get("of", ""))
    return Order(
        id=id,
        of=of,
        name=name_of(place, of),
        title=str(first.get("title", "")),
        state=steps[-1].what,
        due=next((str(fact.details["due"]) for fact in reversed(told) if fact.details.get("due")), ""),
        upkeep=str(first.get("upkeep", "")),
        steps=steps,
    )


def _step(fact: records.Fact, files: Mapping[str, Sequence[records.Fact]], names: Mapping[int, str]) -> Step:
    minutes = fact.details.get("minutes")
    return Step(
        fact=fact,
        what=str(fact.details.get("what", "")),
        at=fact.measured,
        by=names.get(fact.person, "") if fact.person is not None else "",
        did=str(fact.details.get("did", "")),
        parts=tuple(str(one) for one in fact.details.get("parts", ())),
        minutes=float(minutes) if isinstance(minutes, int | float) else None,
        note=fact.note,
        files=files.get(fact.id, ()),
    )


def order(place: hall.Hall, id: str) -> Order:
    """One order; refused where there is none of that id."""
    for one in orders(place):
        if one.id == id:
            return one
    raise mishaps.Refused(
        _stop("work/unknown", "the log knows no such work order", "look at the list of work")
    )


def name_of(place: hall.Hall, thing: str) -> str:
    """What people call a thing: its name with its id."""
    facility = place.facility
    shelves: tuple[Mapping[str, Any], ...] = (
        facility.vessels, facility.pumps, facility.equipment, facility.instruments, facility.duties,
        facility.runs, facility.boards,
    )  # fmt: skip
    found = next((shelf[thing] for shelf in shelves if thing in shelf), None)
    if found is None or found.name in (thing, ""):
        return thing
    return f"{thing}, {found.name}"


def known(place: hall.Hall, thing: str) -> bool:
    """Whether work can be asked for at it: a place, machine, run, board or meter that is in the file."""
    return place.facility.find(thing) not in ("", "system", "point", "remedy", "failure")


# -- writing ----------------------------------------------------------------------------------------------


def ask(
    place: hall.Hall,
    *,
    of: str,
    title: str,
    due: str = "",
    upkeep: str = "",
    note: str = "",
    person: int | None = None,
) -> str:
    """Ask for a piece of work; the order's id.

    Raises
    ------
    mishaps.Refused
        It has no words, its thing is not in the facility file, or its day is no day.
    """
    found = _not_a_day(due)
    if not title.strip():
        found.append(_stop("work/nothing", "the work has no words", "write what is to be done", "title"))
    if of and not known(place, of):
        found.append(_unknown_thing(of))
    if found:
        raise mishaps.Refused(*found)
    id = hall.new_id()
    told = {"title": title.strip(), "due": due, "upkeep": upkeep}
    _write(place, id, of, "asked", told, note, person)
    return id


def step(
    place: hall.Hall,
    id: str,
    what: str,
    *,
    did: str = "",
    parts: Sequence[str] = (),
    minutes: float | None = None,
    note: str = "",
    at: datetime | None = None,
    person: int | None = None,
) -> records.Fact:
    """The next step of an order: ``begun``, ``done`` with what was done, or ``dropped`` with why."""
    now = order(place, id)
    if what not in STEPS[now.state]:
        said = f"this work is {now.state} already, so it cannot be {what or 'nothing'}"
        raise mishaps.Refused(_stop("work/not-so", said, "look at the order as it is now"))
    if what == "done" and not did.strip():
        said = "nothing is written of what was done"
        raise mishaps.Refused(
            _stop("work/no-words", said, "write what was done, for whoever does it next", "did")
        )
    if what == "dropped" and not note.strip():
        said = "nothing is written of why it is dropped"
        raise mishaps.Refused(_stop("work/no-words", said, "write why it is not done", "note"))
    told: dict[str, Any] = {"upkeep": now.upkeep, "title": now.title}
    if what == "done":
        told |= {"did": did.strip(), "parts": [one for one in parts if one.strip()], "minutes": minutes}
    ahead = typed.future(at, findings.Spot(field="at"))
    if ahead:
        raise mishaps.Refused(*ahead)
    return _write(place, id, now.of, what, told, note, person, at)


def _write(
    place: hall.Hall,
    id: str,
    of: str,
    what: str,
    told: Mapping[str, Any],
    note: str,
    person: int | None,
    at: datetime | None = None,
) -> records.Fact:
    now = clock.now()
    vessel = place.facility.place(of) if of else None
    details = {"order": id, "of": of, "what": what, **told}
    fact = records.Fact(
        id=hall.new_id(),
        kind="work",
        measured=at or now,
        entered=now,
        place=vessel.id if vessel else "",
        details={name: one for name, one in details.items() if one not in ("", None, [])},
        person=person,
        note=note.strip(),
    )
    place.write([fact], person=person)
    return fact


def _not_a_day(text: str) -> list[findings.Finding]:
    try:
        if text:
            date.fromisoformat(text)
    except ValueError:
        return [_stop("work/no-day", f"'{text}' is not a day", "write it like 2026-03-14", "due")]
    return []


def _unknown_thing(of: str) -> findings.Finding:
    said = f"'{of}' is not a thing of this facility"
    return _stop("work/unknown-thing", said, "choose one from the list, or leave it empty", "of")


def _stop(code: str, text: str, hint: str, field: str = "") -> findings.Finding:
    return findings.Finding(
        code=code, level=findings.Level.STOP, text=text, hint=hint, spot=findings.Spot(field=field)
    )


# -- what is not as it should be ----------------------------------------------------------------------------


def today(place: hall.Hall) -> date:
    """The hall's own day."""
    return clock.now().astimezone(ZoneInfo(place.facility.timezone)).date()


def concerns_of(place: hall.Hall) -> list[concern.Concern]:
    """Orders whose day has passed."""
    day, zone = today(place), ZoneInfo(place.facility.timezone)
    return [
        concern.Concern(
            level=findings.Level.WATCH,
            since=datetime.fromisoformat(one.due).replace(tzinfo=zone),
            what=f"work overdue: {one.title}",
            value="",
            why=f"{one.name + ', ' if one.name else ''}to be done by {one.due}, and {one.state}",
            next="do it, or say why not",
            href=f"/work/{one.id}",
            code="work/overdue",
            key=f"work {one.id}",
            asks=False,
        )
        for one in orders(place)
        if one.overdue(day)
    ]
