"""Which notice goes to which address now: no clock, no network, no secret."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from brinehouse import findings
from brinehouse.facility import model
from brinehouse.workbench import notice_states as states
from brinehouse.workbench import notices, people

LONGEST_LINE = 140
FIRST_WAIT, LONGEST_WAIT = timedelta(minutes=1), timedelta(hours=1)
MOST_TRIES = 48  # with waits of up to an hour: some two days without a network
ON_CALL = "on call"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """What became of one letter so far."""

    tries: int
    last: datetime
    ended: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """One notice for one address."""

    to: model.Notify
    notice: notices.Notice
    title: str
    body: str

    @property
    def key(self) -> tuple[str, str]:
        """Names it: the address, and this one occasion of the notice."""
        return self.to.id, self.notice.occasion


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a letter needs to know of the hall."""

    facility: model.Facility
    now: datetime
    on_call: str = ""


def due(found: Iterable[notices.Notice], told: Told, tried: Mapping[tuple[str, str], Tried]) -> list[Letter]:
    """Letters to be sent now, oldest notice first.

    Parameters
    ----------
    found : iterable of Notice
    told : Told
    tried : mapping
        By the key of a letter.
    """
    waiting = sorted(
        (one for one in found if one.state in ("new", "gone unseen") and one.sure and one.asked),
        key=lambda one: one.asked or told.now,
    )
    return [
        letter(address, one, told)
        for one in waiting
        for address in told.facility.notify.values()
        if _wants(address, one, told) and _free(tried.get((address.id, one.occasion)), told.now)
    ]


def _free(known: Tried | None, now: datetime) -> bool:
    return known is None or (not known.ended and now >= known.last + wait(known.tries))


def wait(tries: int) -> timedelta:
    """How long to wait after so many tries: twice as long each time, an hour at most.

    >>> [wait(tries).total_seconds() / 60 for tries in (1, 2, 3, 9)]
    [1.0, 2.0, 4.0, 60.0]
    """
    return min(FIRST_WAIT * 2 ** min(max(tries - 1, 0), 10), LONGEST_WAIT)


def _wants(address: model.Notify, one: notices.Notice, told: Told) -> bool:
    """Whether an address is asked: by level, by hour, by how long nobody has seen it, and for whom."""
    act = one.level is findings.Level.ACT
    if address.level == "act" and not act:
        return False
    if not act and quiet(address, told.facility, told.now):
        return False
    if one.asked is None or told.now - one.asked < timedelta(seconds=address.after):
        return False
    return any(_reaches(name, address, told.on_call) for name in address.whom)


def _reaches(name: str, address: model.Notify, on_call: str) -> bool:
    """Roles and the shared phone always; a person's own address while on call, or as the next to be asked."""
    if name == ON_CALL or name in people.ROLES:
        return True
    return address.after > 0 or not on_call or name == on_call


def quiet(address: model.Notify, facility: model.Facility, now: datetime) -> bool:
    """Whether it is quiet at an address: its own hours, else the hall's."""
    here = now.astimezone(ZoneInfo(facility.timezone))
    return states.in_quiet(60 * here.hour + here.minute, address.quiet or facility.quiet)


# -- words ------------------------------------------------------------------------------------------------


def line(text: str, most: int = LONGEST_LINE) -> str:
    """A text as one line: nothing in it can begin a new line, or a new header of a mail.

    >>> line("tank" + chr(13) + chr(10) + "Bcc: a@b")
    'tank Bcc: a@b'
    """
    plain = " ".join("".join(one if one.isprintable() else " " for one in text).split())
    return plain if len(plain) <= most else plain[: most - 1] + "…"


def letter(address: model.Notify, one: notices.Notice, told: Told) -> Letter:
    """A notice in words: what, what to do, how long, from which reading, and that it is advice."""
    zone = ZoneInfo(told.facility.timezone)
    value = f" {one.value}" if one.value else ""
    title = line(f"{told.facility.name}: {one.level.value}, {one.what}{value}")
    parts = [f"{one.what}{value}: {one.level.value}, {one.priority}."]
    if one.since is not None:
        parts.append(f"Since {one.since.astimezone(zone):%d %b %H:%M}.")
    if one.left is not None:
        parts.append(f"It went back inside at {one.left.astimezone(zone):%d %b %H:%M}, and nobody saw it.")
    if one.second:
        parts.append("One reading only: take a second reading with another meter first.")
    parts += [f"{word}: {text}" for word, text in _said(one) if text]
    if one.read is not None:
        minutes = (told.now - one.read).total_seconds() / 60.0
        old = f"{minutes:.0f} min" if minutes < 90 else f"{minutes / 60:.0f} h"
        parts.append(f"It rests on the reading of {one.read.astimezone(zone):%d %b %H:%M}, {old} old.")
    parts.append(f"On call: {told.on_call}." if told.on_call else "Nobody is on call.")
    parts.append(
        f"Written by Brinehouse at {told.now.astimezone(zone):%d %b %H:%M}: advice, not a command. "
        "Sick animals go to the veterinarian; isolate machines by your own procedure."
    )
    return Letter(to=address, notice=one, title=title, body="\n".join(line(part, 600) for part in parts))


def _said(one: notices.Notice) -> Sequence[tuple[str, str]]:
    hours = ""
    if one.hours is not None:
        span = f"{one.hours * 60:.0f} min" if one.hours < 1.5 else f"{one.hours:.0f} h"
        hours = f"within {span}" + (f", the time in hand if {one.in_hand}" if one.in_hand else "")
    return (
        ("Do", one.response), ("Time for it", hours), ("Or else", one.consequence),
        ("Likely cause", one.cause), ("Why", one.why),
    )  # fmt: skip
