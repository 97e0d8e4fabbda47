"""What happened at the door, and what is odd about who may come in."""

from __future__ import annotations

import stat
import sys
from dataclasses import dataclass
from datetime import datetime, timedelta

from brinehouse import findings
from brinehouse.logbook import canon, house
from brinehouse.workbench import clock, people, sealing, settings
from brinehouse.workbench import hall as halls

UNUSED = timedelta(days=90)
UNCHOSEN = timedelta(days=7)
REFUSED_A_DAY = 50
"""So many failures in a day are told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One thing that happened: who did it, whom it was about, on which phone, from where."""

    seq: int
    at: datetime
    what: str
    person: str
    about: str
    device: str
    address: str
    note: str


def events(place: halls.Hall, *, before: int | None = None, size: int = 100) -> list[Event]:
    """What happened, newest first; people by name, or by number where the name was taken out."""
    if not settings.has_logbook(place.folder):
        return []
    names = {one.number: one.name or f"#{one.number}" for one in place.book.people()}
    devices = {row["id"]: row["name"] or row["id"] for row in place.book.house(house.devices)}
    rows = place.book.house(lambda c: house.events(c, before=before, limit=size))
    return [
        Event(
            seq=row["seq"],
            at=canon.moment(row["at"]),
            what=row["what"],
            person=names.get(row["person"], ""),
            about=names.get(row["about"], ""),
            device=devices.get(row["device"], row["device"]),
            address=row["address"],
            note=row["note"],
        )
        for row in rows
    ]


def odd(place: halls.Hall) -> list[findings.Finding]:
    """What somebody should look at: doors that stand open wider than they need to."""
    everybody = [one for one in people.everyone(place) if one.disabled is None]
    if not everybody:
        return []
    now = clock.now()
    return [
        *_administrators(everybody),
        *_unused(everybody, now),
        *_phones(place, now),
        *_tries(place, now),
        *_key(place),
    ]


def _watch(code: str, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.WATCH, text=text, hint=hint)


def _administrators(everybody: list[people.Account]) -> list[findings.Finding]:
    able = [one for one in everybody if one.role == "administrator"]
    weak = [one.name for one in able if not one.has_codes and not one.passkeys]
    found: list[findings.Finding] = []
    if weak:
        found.append(
            _watch(
                "people/one-factor",
                f"{', '.join(weak)} may change everything by a password alone",
                "set up a passkey or one-time codes under your own name",
            )
        )
    if len(able) == 1:
        found.append(
            _watch(
                "people/one-administrator",
                f"{able[0].name} is the only administrator",
                "make somebody else one as well, for the day this one is away",
            )
        )
    return found


def _unused(everybody: list[people.Account], now: datetime) -> list[findings.Finding]:
    long_ago = [one.name for one in everybody if one.last is not None and now - one.last > UNUSED]
    if not long_ago:
        return []
    said = f"{', '.join(long_ago)} did not come in for {UNUSED.days} days"
    return [_watch("people/unused", said, "disable who has left")]


def _phones(place: halls.Hall, now: datetime) -> list[findings.Finding]:
    lost = [
        one["name"] or one["id"]
        for one in people.devices(place)
        if one["ended"] is None and now - one["last"] > UNUSED
    ]
    if not lost:
        return []
    said = f"Not seen for {UNUSED.days} days, and still the hall's: {', '.join(lost)}"
    return [_watch("people/phone-unused", said, "end phones that are lost or given away at /people/devices")]


def _tries(place: halls.Hall, now: datetime) -> list[findings.Finding]:
    since = canon.microseconds(now - timedelta(days=1))
    counts = place.book.house(lambda c: house.counted(c, since))
    count = counts.get("refused", 0) + counts.get("waits", 0)
    if count < REFUSED_A_DAY:
        return []
    said = f"{count} times in a day somebody was not let in"
    return [_watch("people/many-tries", said, "look in /people/log where they came from")]


def _key(place: halls.Hall) -> list[findings.Finding]:
    path = place.folder / sealing.FILE
    if not path.is_file():
        hint = "passwords and passkeys still open the door; take PINs and codes anew under your own name"
        return [_watch("people/key-gone", f"{sealing.FILE} is not in the hall's folder", hint)]
    if sys.platform != "win32" and stat.S_IMODE(path.stat().st_mode) & 0o077:
        said = f"{sealing.FILE} can be read by others on this machine"
        return [_watch("people/key-open", said, f"chmod 600 {sealing.FILE}")]
    return []
