"""Lock-out notes: who hung which tag on what, and why. A note is not a lock.

The note says that somebody works on a thing. It is taken off by whoever hung it, or by a lead with a reason.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from brinehouse import findings, records
from brinehouse.facility import model
from brinehouse.workbench import clock, concern, hall, mishaps, people, works

MAY_TAKE_OFF = ("lead", "administrator", "open")
"""Roles that may take off somebody else's note, with a reason."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lock:
    """One note: on what, which tag, why, since when, by whom; `off` is when it was taken off."""

    id: str
    of: str
    name: str
    tag: str
    why: str
    since: datetime
    person: int | None
    by: str
    off: datetime | None = None
    off_by: str = ""
    off_why: str = ""


def every(place: hall.Hall) -> list[Lock]:
    """Every note there ever was, oldest first."""
    if not hall.Hall.has_book(place.folder):
        return []
    facts = place.facts(kinds=("lock-out",))
    names = {person.number: person.name for person in place.book.people()} if facts else {}
    ended = {str(fact.details.get("lock", "")): fact for fact in facts if not _on(fact)}
    found: list[Lock] = []
    for fact in facts:
        if not _on(fact):
            continue
        end = ended.get(fact.id)
        of = str(fact.details.get("of", ""))
        found.append(
            Lock(
                id=fact.id,
                of=of,
                name=works.name_of(place, of),
                tag=str(fact.details.get("tag", "")),
                why=str(fact.details.get("why", "")),
                since=fact.measured,
                person=fact.person,
                by=_called(names, fact.person),
                off=end.measured if end else None,
                off_by=_called(names, end.person) if end else "",
                off_why=str(end.details.get("why", "")) if end else "",
            )
        )
    return found


def _called(names: Any, person: int | None) -> str:
    return names.get(person, "") if person is not None else ""


def _on(fact: records.Fact) -> bool:
    return fact.details.get("on") in (True, "true")


def standing(place: hall.Hall, found: Iterable[Lock] | None = None) -> list[Lock]:
    """The notes that hang now."""
    return [lock for lock in (every(place) if found is None else found) if lock.off is None]


def at(facility: model.Facility, locks: Sequence[Lock], thing: str) -> list[Lock]:
    """The notes that hold for a thing: its own, and those on the board that feeds it.

    A duty group is held by a note on any of its pumps.
    """
    part = facility.pumps.get(thing) or facility.equipment.get(thing)
    names = {thing}
    if thing in facility.duties:
        names |= set(facility.duties[thing].pumps)
    if part is not None and part.board:
        names |= {board for board in facility.boards if thing in facility.fed_by_board(board)}
    return [lock for lock in locks if lock.of in names]


def named(facility: model.Facility, locks: Sequence[Lock], texts: Iterable[str]) -> list[Lock]:
    """The notes on things that some texts name, by id, tag or name, or by the group a pump belongs to."""
    told = "\n".join(texts).casefold()
    return [lock for lock in locks if any(_in(name, told) for name in _names(facility, lock.of))]


def _names(facility: model.Facility, of: str) -> set[str]:
    """Every name by which a sheet may speak of a thing, or of what it belongs to."""
    things: list[Any] = [facility.pumps.get(of), facility.equipment.get(of), facility.boards.get(of)]
    things += [duty for duty in facility.duties.values() if of in duty.pumps]
    found = {of}
    for thing in things:
        if thing is not None:
            found |= {thing.id, thing.name, getattr(thing, "tag", "")}
    return found - {""}


def _in(name: str, text: str) -> bool:
    """Whether a text names it, as a word of its own."""
    return re.search(rf"(?<![\w-]){re.escape(name.casefold())}(?![\w-])", text) is not None


def hang(place: hall.Hall, *, of: str, tag: str, why: str, person: int | None = None) -> records.Fact:
    """Hang a note on a thing.

    Raises
    ------
    mishaps.Refused
        The thing is not in the facility file, or tag or reason is missing.
    """
    found: list[findings.Finding] = []
    if not works.known(place, of):
        found.append(
            _stop("lock/unknown-thing", f"'{of}' is not a thing of this facility", "choose one", "of")
        )
    if not tag.strip():
        found.append(_stop("lock/no-tag", "the tag has no number", "write what stands on the tag", "tag"))
    if not why.strip():
        found.append(
            _stop("lock/no-why", "nothing is written of why", "write what is being done there", "why")
        )
    if found:
        raise mishaps.Refused(*found)
    return _write(place, {"of": of, "on": True, "tag": tag.strip(), "why": why.strip()}, person)


def take_off(place: hall.Hall, id: str, *, person: int | None, role: str, why: str = "") -> records.Fact:
    """Take a note off: by whoever hung it, or by a lead with a reason.

    Raises
    ------
    mishaps.Refused
        No such note hangs; or somebody else hung it, and a lead's word or a reason is missing.
    """
    lock = next((one for one in standing(place) if one.id == id), None)
    if lock is None:
        raise mishaps.Refused(_stop("lock/not-there", "no such note hangs", "look at the thing as it is now"))
    own = person is not None and person == lock.person
    if not own and role not in MAY_TAKE_OFF:
        said = f"this note was hung by {lock.by or 'somebody else'}"
        raise mishaps.Refused(_stop("lock/not-yours", said, "ask them, or a lead, to take it off"))
    if not own and not why.strip():
        said = f"this note was hung by {lock.by or 'somebody not named'}, and no reason is written"
        hint = "see that nobody works there, then write why you take it off"
        raise mishaps.Refused(_stop("lock/no-why", said, hint, "why"))
    told = {"of": lock.of, "on": False, "tag": lock.tag, "why": why.strip(), "lock": id}
    return _write(place, told, person)


def _write(place: hall.Hall, details: dict[str, Any], person: int | None) -> records.Fact:
    now = clock.now()
    vessel = place.facility.place(details["of"])
    fact = records.Fact(
        id=hall.new_id(),
        kind="lock-out",
        measured=now,
        entered=now,
        place=vessel.id if vessel else "",
        details={name: one for name, one in details.items() if one != ""},
        person=person,
    )
    place.write([fact], person=person)
    return fact


def concerns_of(place: hall.Hall) -> list[concern.Concern]:
    """Every note that hangs: it is told to all, and asks nobody."""
    return [
        concern.Concern(
            level=findings.Level.NOTE,
            since=lock.since,
            what=f"locked out: {lock.name}",
            value="",
            why=f"tag {lock.tag}: {lock.why}",
            next="do not start it",
            who=lock.by,
            href=f"/equipment/{lock.of}",
            code="lock/hangs",
            key=f"lock {lock.id}",
            asks=False,
        )
        for lock in standing(place)
    ]


def may_take_off(lock: Lock, who: people.Who) -> bool:
    """Whether somebody may take a note off at all: their own, or any as a lead."""
    return who.role in MAY_TAKE_OFF or (who.number is not None and who.number == lock.person)


def _stop(code: str, text: str, hint: str, field: str = "") -> findings.Finding:
    return findings.Finding(
        code=code, level=findings.Level.STOP, text=text, hint=hint, spot=findings.Spot(field=field)
    )
