"""Who asks: a person with a role, on a phone or machine of the hall; or whoever sits at an open one.

A hall without people is open to its own machine. The first account is an administrator's; from then on what
each may do goes by role, and nobody comes in without signing in (`entering`).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brinehouse import findings
from brinehouse.logbook import canon, kept
from brinehouse.workbench import clock, mishaps, passwords, sealing, settings

if TYPE_CHECKING:
    from brinehouse.workbench import hall as halls  # the hall needs nothing of this module, and this no hall

ROLES = ("reader", "keeper", "lead", "veterinarian", "administrator")
"""What a person may be here, from the least to the most; `open` is a hall that has no people yet."""

CODE_HOLDS = {"account": timedelta(hours=24), "device": timedelta(minutes=30)}
"""How long a code that was told to somebody lets them in."""
OFFLINE = timedelta(hours=24)
"""How long after signing in on a phone what is made on it offline may be somebody's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Who:
    """Whoever makes a request.

    Attributes
    ----------
    number : int or None
        The person's number; None where nobody signed in.
    name : str
    role : str
        One of `ROLES`; ``open`` in a hall without people, which is served to its own machine only;
        ``nobody`` where people exist and none of them signed in.
    device : str
        The phone or machine, where it is the hall's.
    session : str
        What is kept of the session; empty where there is none.
    strong : bool
        Signed in by a passkey, or by a password and a one-time code.
    sure : bool
        Typed the PIN or password within the last five minutes.
    needs_change : bool
        Must choose a password before anything else.
    address : str
        Where the request comes from.
    """

    number: int | None
    name: str
    role: str
    device: str = ""
    session: str = ""
    strong: bool = False
    sure: bool = False
    needs_change: bool = False
    address: str = ""


OPEN = Who(number=None, name="", role="open", sure=True)
NOBODY = Who(number=None, name="", role="nobody")


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """What a person may do here, and by what they come in; no secret is in it."""

    number: int
    name: str
    role: str
    has_pin: bool
    has_password: bool
    has_codes: bool
    passkeys: int
    needs_change: bool
    disabled: datetime | None
    last: datetime | None


# Writing and asking, for `entering` as well ------------------------------------------------------------


def event(what: str, by: Who, *, about: int | None = None, note: str = "") -> dict[str, Any]:
    """What happened at the door, as it is kept: no name and no secret."""
    return {
        "at": canon.microseconds(clock.now()), "what": what, "person": by.number, "about": about,
        "device": by.device, "address": by.address, "note": note,
    }  # fmt: skip


def do(place: halls.Hall, acts: Sequence[Any], happened: dict[str, Any] | None = None) -> list[Any]:
    """Change who may come in; what is refused is told as any refusal of the workbench."""
    try:
        return place.house(acts, happened)
    except kept.Refused as fault:
        if not fault.finding.code.startswith("people/"):
            raise
        raise mishaps.Refused(fault.finding) from None


def stop(code: str, text: str, hint: str = "", box: str = "") -> mishaps.Refused:
    """A refusal with one finding."""
    spot = findings.Spot(field=box) if box else findings.Spot()
    return mishaps.Refused(
        findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint, spot=spot)
    )


def has_people(place: halls.Hall) -> bool:
    """Whether this hall has people; without any it is open to its own machine."""
    if not settings.has_logbook(place.folder):
        return False
    from brinehouse.logbook import house

    return place.book.house(house.any_account)


def has_administrator(folder: Path) -> bool:
    """Whether somebody may let people in: only then may the pages leave this machine."""
    from brinehouse.workbench import hall as halls

    if not (folder / halls.FACILITY_FILE).is_file():
        return False
    with halls.open_hall(folder) as place:
        return any(one.role == "administrator" and one.disabled is None for one in everyone(place))


def everyone(place: halls.Hall) -> list[Account]:
    """Everyone with an account, by name."""
    if not settings.has_logbook(place.folder):
        return []
    from brinehouse.logbook import house

    rows = place.book.house(house.accounts)
    last = place.book.house(house.signed_in_last)
    keys = [key["person"] for key in place.book.house(house.passkeys)]
    return [_account(row, keys.count(row["person"]), last.get(row["person"])) for row in rows]


def _account(row: Any, keys: int, last: int | None) -> Account:
    disabled = row["disabled"]
    return Account(
        number=row["person"], name=row["name"], role=row["role"], has_pin=bool(row["pin"]),
        has_password=bool(row["password"]), has_codes=bool(row["codes"]), passkeys=keys,
        needs_change=bool(row["needs_change"]), disabled=canon.moment(disabled) if disabled else None,
        last=canon.moment(last) if last else None,
    )  # fmt: skip


def account(place: halls.Hall, number: int) -> Account:
    """The account of a person; refused where there is none."""
    found = [one for one in everyone(place) if one.number == number]
    if not found:
        raise stop("people/no-account", "Nobody of this number has an account", "look at /people who has")
    return found[0]


def without_account(place: halls.Hall) -> list[kept.Person]:
    """Who stands in the logbook by name and cannot come in."""
    if not settings.has_logbook(place.folder):
        return []
    have = {one.number for one in everyone(place)}
    return [one for one in place.book.people() if one.name and one.number not in have]


# Letting in and sending away ------------------------------------------------------------


def first(place: halls.Hall, name: str, password: str, *, address: str = "") -> int:
    """The first account, an administrator's, with a password of their own; from then on roles hold."""
    clean = _name(name)
    found = passwords.faults(password, names=(clean, place.facility.name))
    if found:
        raise mishaps.Refused(*found)
    if has_people(place):
        raise stop("people/not-first", "This hall has people already", "ask one of them to add you")
    sealing.key(place.folder, make=True)
    number = place.person(clean)
    told = {
        "person": number, "role": "administrator", "password": sealing.hashed(password),
        "made": canon.microseconds(clock.now()), "first": True,
    }  # fmt: skip
    by = dataclasses.replace(NOBODY, number=number, address=address)
    do(place, [["add account", told]], event("first", by, about=number, note="administrator"))
    return number


def add(place: halls.Hall, name: str, role: str, by: Who) -> tuple[int, str]:
    """A person who may come in from now on, and the code to tell them; they choose their own password.

    Parameters
    ----------
    place : Hall
    name : str
        As it stands on entries; a name that is in the logbook already keeps its number.
    role : str
        One of `ROLES`; the first person of a hall is its administrator.
    by : Who
    """
    clean, wanted = _name(name), _role(role)
    if not has_people(place) and wanted != "administrator":
        raise stop(
            "people/first-administrator",
            "The first person of a hall is its administrator",
            "add somebody as administrator first",
            "role",
        )
    sealing.key(place.folder, make=True)
    number = place.person(clean)
    at = canon.microseconds(clock.now())
    told = {"person": number, "role": wanted, "needs_change": True, "made": at, "first": False}
    code, act = _code(place, "account", by, number)
    do(place, [["add account", told], act], event("added", by, about=number, note=wanted))
    return number, code


def _code(place: halls.Hall, kind: str, by: Who, person: int | None) -> tuple[str, list[Any]]:
    code = sealing.code()
    until = canon.microseconds(clock.now() + CODE_HOLDS[kind])
    told = {
        "id": sealing.code_digest(place.folder, code), "kind": kind, "person": person, "by": by.number,
        "until": until,
    }  # fmt: skip
    return code, ["add code", told]


def _name(name: str) -> str:
    clean = " ".join(name.split())
    if not 1 <= len(clean) <= 80:
        raise stop("people/no-name", "A person needs a name", "as it shall stand on entries", "name")
    return clean


def _role(role: str) -> str:
    if role not in ROLES:
        raise stop("people/no-role", f"'{role}' is not a role", f"one of {', '.join(ROLES)}", "role")
    return role


def change_role(place: halls.Hall, number: int, role: str, by: Who) -> None:
    """Give another role; sessions stay, and hold the new one from the next request on."""
    before = account(place, number).role
    acts = [["change account", {"person": number, "role": _role(role)}]]
    do(place, acts, event("role", by, about=number, note=f"{before} > {role}"))


def disable(place: halls.Hall, number: int, by: Who) -> None:
    """Let a person in no more; every session of theirs ends at once."""
    at = canon.microseconds(clock.now())
    acts = [
        ["change account", {"person": number, "disabled": at}],
        ["end sessions", {"person": number, "at": at}],
    ]
    do(place, acts, event("disabled", by, about=number))


def enable(place: halls.Hall, number: int, by: Who) -> None:
    """Let a person in again."""
    acts = [["change account", {"person": number, "disabled": None}]]
    do(place, acts, event("enabled", by, about=number))


def reset(place: halls.Hall, number: int, by: Who) -> str:
    """Take away all that a person comes in by, and give a code: for who lost a phone or forgot."""
    sealing.key(place.folder, make=True)
    at = canon.microseconds(clock.now())
    bare = {"pin": "", "password": "", "codes": "", "needs_change": True}
    code, act = _code(place, "account", by, number)
    acts = [
        ["change account", {"person": number, **bare}],
        ["end passkeys", {"person": number}],
        ["end sessions", {"person": number, "at": at}],
        act,
    ]
    do(place, acts, event("reset", by, about=number))
    return code


def blank(place: halls.Hall, number: int, reason: str, by: Who) -> None:
    """Take a name out for good, with the account; entries keep the number, and the chain stays whole."""
    if not reason.strip():
        raise stop("people/no-reason", "A name is taken out for a reason", "say why in a few words", "reason")
    at = clock.now()
    try:
        place.blank_person(number, reason.strip(), at=at, person=by.number)
    except kept.NotSaved:
        raise
    except kept.Refused as fault:
        raise mishaps.Refused(fault.finding) from None
    do(place, [["nothing", {}]], event("blanked", by, about=number))


# Phones and machines of the hall ------------------------------------------------------------


def device_code(place: halls.Hall, by: Who) -> str:
    """A code that makes one phone the hall's: names with PINs are offered on it from then on."""
    code, act = _code(place, "device", by, None)
    do(place, [act], event("device-code", by))
    return code


def devices(place: halls.Hall) -> list[dict[str, Any]]:
    """Every phone and machine that is or was the hall's, with its times."""
    if not settings.has_logbook(place.folder):
        return []
    from brinehouse.logbook import house

    names = {one.number: one.name for one in place.book.people()}
    return [
        {
            "id": row["id"],
            "name": row["name"],
            "by": names.get(row["admitted_by"], ""),
            "first": canon.moment(row["first_seen"]),
            "last": canon.moment(row["last_seen"]),
            "ended": canon.moment(row["ended"]) if row["ended"] else None,
        }
        for row in place.book.house(house.devices)
    ]


def end_device(place: halls.Hall, id: str, by: Who) -> None:
    """A phone is the hall's no more: its sessions end, and no names are offered on it."""
    at = canon.microseconds(clock.now())
    do(place, [["end device", {"device": id, "at": at}]], event("device-ended", by, note=id))


def wrote(place: halls.Hall, device: str, person: int, at: datetime) -> bool:
    """Whether an entry made on a phone out of reach may be this person's.

    Parameters
    ----------
    place : Hall
    device : str
        The phone, as `Who.device` of whoever sends it.
    person : int
        Whose entry the phone says it is.
    at : datetime
        When it was made, as the phone says.

    Returns
    -------
    bool
        True where that person signed in on that phone within a day before, and may still come in.
    """
    if not device:
        return False
    from brinehouse.logbook import house

    since, until = (canon.microseconds(one) for one in (at - OFFLINE, at))
    return place.book.house(
        lambda c: (
            house.signed_in(c, person, device, since, until)
            and any(row["disabled"] is None for row in house.accounts(c, person=person))
        )
    )
