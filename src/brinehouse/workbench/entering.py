"""Coming in and going out: by a name and PIN on the hall's phones, by password, passkey or a told code.

Whoever cannot come in hears one and the same sentence after the same work, be it the name, the PIN or the
password that was wrong, or a person who may no longer come in.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from brinehouse.logbook import canon, house, memory
from brinehouse.workbench import clock, guessing, mishaps, one_time, passwords, people, sealing
from brinehouse.workbench import hall as halls

LASTS = timedelta(hours=12)
"""How long a session lasts, whatever happens in it: longer than a shift."""
IDLE = timedelta(minutes=60)
"""On a machine that is not the hall's a session also ends after so long without a request."""
SEEN = timedelta(minutes=5)
"""That somebody was here is written down no oftener than this."""
SURE = timedelta(minutes=5)
"""For so long after the PIN or password was typed it is not asked for again."""

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """What is known of whoever stands at it.

    Attributes
    ----------
    place : Hall
    guesses : Guesses
        The failures so far.
    device : str
        The phone or machine, where it is the hall's.
    address : str
    replaces : str
        What is kept of the session that is there already, and ends.
    """

    place: halls.Hall
    guesses: guessing.Guesses
    device: str = ""
    address: str = ""
    replaces: str = ""

    def who(self, number: int | None = None) -> people.Who:
        """Whoever stands here, for the log of the door."""
        return dataclasses.replace(people.NOBODY, number=number, device=self.device, address=self.address)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """Somebody came in: the ticket for their cookie, and that of the phone where it became the hall's."""

    person: int
    ticket: str
    device_ticket: str = ""
    needs_change: bool = False


# Coming in ------------------------------------------------------------


def tiles(place: halls.Hall) -> list[tuple[int, str]]:
    """Whose name is offered on the hall's phones: everyone who has a PIN."""
    rows = place.book.house(house.accounts)
    return [(row["person"], row["name"]) for row in rows if row["pin"] and row["disabled"] is None]


def by_pin(door: Door, number: int, pin: str) -> Entered:
    """Come in by name and PIN, on a phone of the hall."""
    if not door.device:
        raise people.stop(
            "people/strange-phone",
            "This phone is not the hall's yet, so a PIN does not open the door on it",
            "enter with a password, or ask a lead for a code that makes it the hall's",
        )
    row = row_of(door.place, person=number)
    keys = patient(door, f"#{number}")
    tried = sealing.with_key(door.place.folder, pin)
    if not sealing.fits(row["pin"] if row else "", tried) or row is None:
        raise wrong(door, keys, row)
    return _in(door, row, "pin", keys)


def by_password(
    door: Door, name: str, password: str, code: str = "", *, device_name: str | None = None
) -> Entered:
    """Come in by name and password, and a one-time code where one was set up.

    With `device_name` this phone or machine becomes the hall's.
    """
    row = _named(door.place, name)
    keys = patient(door, name)
    right = sealing.fits(row["password"] if row else "", password[: passwords.LONGEST])
    step = one_time.step(door.place.folder, row["codes"], code) if row and row["codes"] else None
    if row is None or not right or (row["codes"] and step is None):
        raise wrong(door, keys, row)
    more = [] if step is None else [["use step", {"person": row["person"], "step": step}]]
    if sealing.outdated(row["password"]):
        again = sealing.hashed(password)
        more.append(["change account", {"person": row["person"], "password": again}])
    kind = "password" if step is None else "password and code"
    try:
        return _in(door, row, kind, keys, more=more, device_name=device_name)
    except mishaps.Refused as fault:
        if "people/code-used" in {one.code for one in fault.findings}:
            raise wrong(door, keys, row) from None
        raise


def by_code(door: Door, code: str, *, device_name: str = "") -> Entered | str:
    """Use a code that was told: a person comes in to choose a password, or a phone becomes the hall's.

    Returns
    -------
    Entered or str
        For a phone that became the hall's, the ticket for its cookie.
    """
    keys = patient(door, "", code=True)
    at = canon.microseconds(clock.now())
    digest = sealing.code_digest(door.place.folder, code)
    found = door.place.book.house(lambda c: house.code(c, digest))
    if found is None or found["used"] is not None or found["until"] < at:
        raise wrong(door, keys, None)
    use = ["use code", {"id": digest, "at": at}]
    if found["kind"] == "device":
        ticket, acts = _new_device(device_name, found["by"])
        people.do(door.place, [use, *acts], people.event("device", door.who(found["by"]), note=device_name))
        return ticket
    row = row_of(door.place, person=found["person"])
    if row is None:
        raise wrong(door, keys, None)
    return _in(door, row, "code", keys, more=[use])


def by_passkey(door: Door, row: Row, uses: int, id: str) -> Entered:
    """Come in by a passkey that was checked already (`passkeys`)."""
    at = canon.microseconds(clock.now())
    return _in(door, row, "passkey", [], more=[["use passkey", {"id": id, "uses": uses, "at": at}]])


def row_of(place: halls.Hall, **where: Any) -> Row | None:
    """The account of somebody who may come in."""
    rows = place.book.house(lambda c: house.accounts(c, **where))
    return dict(rows[0]) if rows and rows[0]["disabled"] is None else None


def _named(place: halls.Hall, name: str) -> Row | None:
    wanted = " ".join(name.split()).casefold()
    for row in place.book.house(house.accounts):
        if row["disabled"] is None and wanted and row["name"].casefold() == wanted:
            return dict(row)
    return None


def patient(door: Door, name: str, *, code: bool = False) -> list[guessing.Key]:
    """What this try counts for; refused while a wait runs."""
    keys = guessing.keys(name=name, code=code, device=door.device, address=door.address)
    wait = door.guesses.wait(keys)
    if wait > 0.0:
        minutes = math.ceil(wait / 60.0)
        raise people.stop(
            "people/wait",
            "This was tried too often just now",
            f"try again in {minutes} min; it lasts no longer than {guessing.LONGEST_WAIT / 60:.0f} min",
        )
    return keys


def wrong(door: Door, keys: list[guessing.Key], row: Row | None) -> mishaps.Refused:
    """Count and note a failure; the refusal, the same for every cause."""
    closed = door.guesses.failed(keys)
    happened = people.event(
        "waits" if closed else "refused", door.who(), about=row["person"] if row else None
    )
    people.do(door.place, [["nothing", {}]], happened)
    return people.stop(
        "people/not-let-in",
        "This does not open the door",
        "look at the name and type it again; a lead or administrator can give you a new code",
    )


def _in(
    door: Door,
    row: Row,
    kind: str,
    keys: list[guessing.Key],
    *,
    more: list[Any] | None = None,
    device_name: str | None = None,
) -> Entered:
    """Begin a session, under a number that was never used before."""
    person, acts = row["person"], list(more or [])
    device_ticket, device = "", door.device
    if device_name is not None and not device:
        device_ticket, made = _new_device(device_name, person)
        device = made[0][1]["id"]
        acts += made
    ticket, act = _session(person, device, kind, door.replaces)
    by = dataclasses.replace(door.who(person), device=device)
    people.do(door.place, [*acts, act], people.event("entered", by, note=kind))
    for key in keys:
        if key[0] == "name":
            door.guesses.succeeded(key)
    return Entered(
        person=person, ticket=ticket, device_ticket=device_ticket, needs_change=bool(row["needs_change"])
    )


def _session(person: int, device: str, kind: str, replaces: str = "") -> tuple[str, list[Any]]:
    ticket, now = sealing.ticket(), clock.now()
    at = canon.microseconds(now)
    told = {
        "id": sealing.digest(ticket), "person": person, "device": device, "kind": kind, "begun": at,
        "seen": at, "until": canon.microseconds(now + LASTS), "sure": at, "at": at, "replaces": replaces,
    }  # fmt: skip
    return ticket, ["begin session", told]


def _new_device(name: str, person: int | None) -> tuple[str, list[Any]]:
    ticket, at = sealing.ticket(), canon.microseconds(clock.now())
    told = {
        "id": sealing.short_id(), "token": sealing.digest(ticket), "name": " ".join(name.split())[:60],
        "admitted_by": person, "first_seen": at, "last_seen": at,
    }  # fmt: skip
    return ticket, [["add device", told]]


# Being in ------------------------------------------------------------


def device(place: halls.Hall, ticket: str) -> Row | None:
    """The hall's phone or machine that holds a ticket."""
    if not ticket:
        return None
    found = place.book.house(lambda c: house.device(c, sealing.digest(ticket)))
    return dict(found) if found else None


def who(place: halls.Hall, ticket: str, *, address: str = "") -> people.Who:
    """Whoever holds a ticket, as they stand at this moment; nobody where it does not count any more."""
    if not ticket:
        return people.NOBODY
    id = sealing.digest(ticket)
    return _who(place, id, place.book.remembered_of(("session", id), lambda c: house.session(c, id)), address)


def known(place: halls.Hall, ticket: str, *, address: str = "") -> people.Who | None:
    """As `who`, where it can be said without the disk; else None."""
    id = sealing.digest(ticket)
    row = place.book.peek(("session", id)) if ticket else memory.NOTHING
    return None if row is memory.NOTHING else _who(place, id, row, address)


def _who(place: halls.Hall, id: str, row: Any, address: str) -> people.Who:
    now = clock.now()
    if row is None or not _holds(row, now):
        return people.NOBODY
    if now - canon.moment(row["seen"]) > SEEN:
        at = canon.microseconds(now)
        place.book.house_aside([["see session", {"id": id, "at": at}]])  # no page waits for a write
        row["seen"] = at  # also in what is remembered of it
    sure = row["sure"]
    return people.Who(
        number=row["person"],
        name=row["name"],
        role=row["role"],
        device=row["device"],
        session=id,
        strong=row["kind"] in ("passkey", "password and code"),
        sure=sure is not None and now - canon.moment(sure) <= SURE,
        needs_change=bool(row["needs_change"]),
        address=address,
    )


def _holds(row: Row, now: datetime) -> bool:
    """Whether a session still counts."""
    if row["ended"] is not None or row["disabled"] is not None or row["device_ended"] is not None:
        return False
    idle = now - canon.moment(row["seen"]) > IDLE + SEEN and not row["device"]
    return now < canon.moment(row["until"]) and not idle


def leave(place: halls.Hall, by: people.Who) -> None:
    """End one's own session."""
    at = canon.microseconds(clock.now())
    people.do(place, [["end sessions", {"id": by.session, "at": at}]], people.event("left", by))


def sessions(place: halls.Hall, by: people.Who) -> list[Row]:
    """One's own sessions that still count, the one that asks marked."""
    now, shown = clock.now(), list[Row]()
    for row in place.book.house(lambda c: house.sessions(c, by.number or 0)):
        if _holds({**row, "disabled": None, "device_ended": None}, now):
            shown.append(
                {
                    "ref": row["id"][:16],
                    "device": row["device_name"] or "",
                    "kind": row["kind"],
                    "begun": canon.moment(row["begun"]),
                    "seen": canon.moment(row["seen"]),
                    "until": canon.moment(row["until"]),
                    "own": row["id"] == by.session,
                }
            )
    return shown


def end_session(place: halls.Hall, by: people.Who, ref: str) -> None:
    """End one of one's own sessions; somebody else's is not there."""
    rows = place.book.house(lambda c: house.sessions(c, by.number or 0))
    found = [row["id"] for row in rows if len(ref) == 16 and row["id"].startswith(ref)]
    if not found:
        raise people.stop("people/no-session", "You have no session of this number", "look at /me")
    at = canon.microseconds(clock.now())
    people.do(place, [["end sessions", {"id": found[0], "at": at}]], people.event("session-ended", by))


def end_others(place: halls.Hall, by: people.Who) -> None:
    """End all of one's own sessions but the one that asks."""
    told = {"person": by.number, "but": by.session, "at": canon.microseconds(clock.now())}
    people.do(place, [["end sessions", told]], people.event("session-ended", by, note="all others"))


# One's own secrets ------------------------------------------------------------


def again(door: Door, by: people.Who, typed: str) -> None:
    """Type the PIN or password again, before something that asks for it."""
    if by.number is None:
        return
    row = row_of(door.place, person=by.number)
    keys = patient(door, f"#{by.number}")
    if row is None or not _is_own(door.place, row, typed):
        raise wrong(door, keys, row)
    told = {"id": by.session, "at": canon.microseconds(clock.now())}
    people.do(door.place, [["sure session", told]])


def _is_own(place: halls.Hall, row: Row, typed: str) -> bool:
    if passwords.PIN.fullmatch(typed) and row["pin"]:
        return sealing.fits(row["pin"], sealing.with_key(place.folder, typed))
    return sealing.fits(row["password"], typed)


def set_password(door: Door, by: people.Who, old: str, new: str) -> Entered:
    """Choose another password: all sessions end, and this one goes on under a new number."""
    row = row_of(door.place, person=by.number)
    keys = patient(door, by.name)
    if row is None or (not row["needs_change"] and not sealing.fits(row["password"], old)):
        raise wrong(door, keys, row)
    found = passwords.faults(new, names=(by.name, door.place.facility.name), box="new")
    if found:
        raise mishaps.Refused(*found)
    at = canon.microseconds(clock.now())
    ticket, act = _session(row["person"], by.device, "password")
    told = {"person": by.number, "password": sealing.hashed(new), "needs_change": False}
    acts = [["change account", told], ["end sessions", {"person": by.number, "at": at}], act]
    people.do(door.place, acts, people.event("password", by, about=by.number))
    return Entered(person=row["person"], ticket=ticket)


def set_pin(place: halls.Hall, by: people.Who, pin: str) -> None:
    """Choose a PIN; other sessions end."""
    found = passwords.pin_faults(pin)
    if found:
        raise mishaps.Refused(*found)
    kept = sealing.hashed(sealing.with_key(place.folder, pin))
    end = {"person": by.number, "but": by.session, "at": canon.microseconds(clock.now())}
    acts = [["change account", {"person": by.number, "pin": kept}], ["end sessions", end]]
    people.do(place, acts, people.event("pin", by, about=by.number))


def set_codes(place: halls.Hall, by: people.Who, secret: str, code: str) -> None:
    """Ask for one-time codes from now on, once one of them was typed rightly."""
    sealed = sealing.seal(place.folder, secret)
    step = one_time.step(place.folder, sealed, code)
    if step is None:
        raise people.stop(
            "people/code-wrong", "This is not the code of this moment", "type the one shown now", "code"
        )
    told = {"person": by.number, "codes": sealed, "codes_step": step}
    people.do(place, [["change account", told]], people.event("codes", by, about=by.number))


def end_codes(place: halls.Hall, by: people.Who) -> None:
    """Ask for no one-time code any more."""
    told = {"person": by.number, "codes": "", "codes_step": 0}
    people.do(place, [["change account", told]], people.event("codes-ended", by, about=by.number))
