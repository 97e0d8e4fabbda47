"""What phones send from their queues: each entry by itself, exactly once, and none in the way of the next."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from concurrent import futures
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, Literal

from brinehouse import findings, records
from brinehouse.logbook import kept
from brinehouse.workbench import clock, hall, mishaps, people, queue_facts, strict_json, typed

MOST = 50  # entries of one batch
LATE = timedelta(days=7)
OLDEST = timedelta(days=400)
STEADY = timedelta(minutes=2)  # a phone's clock that is off by less is left alone
MENDED = timedelta(days=1)  # one that is off by more is not believed at all
WAIT = 20.0  # s; then the phone is told to send again

State = Literal["stored", "same", "aside", "late", "refused", "again"]
_NOT_ASIDE = frozenset({"round/other-person", "round/bad-id", "round/unknown-key"})
_ID = re.compile(r"[0-9a-f]{32}", re.ASCII)
KEYS = frozenset({"id", "made", "person", "round", "walk", "stop", "kind", "body"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What became of one entry."""

    id: str
    state: State
    code: str = ""
    text: str = ""
    hint: str = ""

    @property
    def plain(self) -> dict[str, str]:
        """As JSON has it."""
        return {"id": self.id, "state": self.state, "code": self.code, "text": self.text, "hint": self.hint}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Batch:
    """What holds for all entries of one request."""

    place: hall.Hall
    who: people.Who
    now: datetime
    skew: timedelta
    names: Mapping[int, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ready:
    """One entry, ready to be written or told already."""

    told: Told
    fact: records.Reading | records.Fact | None = None
    person: int | None = None


def take(place: hall.Hall, body: bytes, who: people.Who) -> dict[str, Any]:
    """Take in a batch.

    Parameters
    ----------
    place : Hall
    body : bytes
        JSON with ``device``, ``sent`` (the phone's clock) and ``entries``.
    who : Who
        Whoever is signed in on that phone.

    Returns
    -------
    dict
        ``now`` and ``entries``, each with its ``id``, ``state``, ``code``, ``text`` and ``hint``, in order.

    Raises
    ------
    mishaps.Refused
        Where the body is no batch at all.
    """
    entries, sent = _batch(strict_json.read(body))
    now = clock.now()
    batch = _Batch(place=place, who=who, now=now, skew=_skew(sent, now), names=_names(place))
    try:
        place.keep_facility(who.number)
    except kept.Refused as fault:
        return _answer(now, [_again(_id_of(entry), fault.finding) for entry in entries])
    return _answer(now, _write(batch, entries, [_ready(batch, entry) for entry in entries]))


def _answer(now: datetime, told: Sequence[Told]) -> dict[str, Any]:
    return {"now": now.isoformat(), "entries": [one.plain for one in told]}


def _batch(data: Any) -> tuple[list[Any], datetime | None]:
    entries = data.get("entries") if isinstance(data, dict) else None  # pyright: ignore[reportUnknownVariableType, reportUnknownMemberType]
    if not isinstance(entries, list):
        raise _no_batch("The batch has no list of entries", "send {device, sent, entries}")
    if len(entries) > MOST:  # pyright: ignore[reportUnknownArgumentType]
        raise _no_batch(f"The batch holds more than {MOST} entries", f"send at most {MOST} at a time")
    return entries, time_of(data.get("sent"))  # pyright: ignore[reportUnknownVariableType, reportUnknownMemberType]


def _no_batch(text: str, hint: str) -> mishaps.Refused:
    return mishaps.Refused(
        findings.Finding(code="round/no-batch", level=findings.Level.STOP, text=text, hint=hint)
    )


def _names(place: hall.Hall) -> dict[int, str]:
    return {one.number: one.name for one in place.book.people() if one.name}


def time_of(value: Any) -> datetime | None:
    """A time with its offset as a phone sends it; None where it is none."""
    if not isinstance(value, str) or len(value) > 40:
        return None
    try:
        when = datetime.fromisoformat(value)
        return when if when.tzinfo is not None and 1970 <= when.year <= 2200 else None
    except (ValueError, OverflowError):
        return None


def _skew(sent: datetime | None, now: datetime) -> timedelta:
    """By how much the phone's clock is to be put forward; nought where it is right, or beyond belief."""
    if sent is None:
        return timedelta(0)
    off = now - sent
    return off if STEADY < abs(off) <= MENDED else timedelta(0)


# -- one entry ---------------------------------------------------------------------------------------------


def _id_of(entry: Any) -> str:
    """The id as far as it can be given back."""
    id = entry.get("id") if isinstance(entry, dict) else ""  # pyright: ignore[reportUnknownVariableType, reportUnknownMemberType]
    return id[:64] if isinstance(id, str) and not strict_json.fault(id) else ""


def _ready(batch: _Batch, entry: Any) -> _Ready:
    """One entry as a fact, or why it is none; whatever happens in here is this entry's alone."""
    try:
        return _made(batch, entry)
    except mishaps.Refused as fault:
        return _refuse(entry, fault.findings[0])
    except kept.Refused as fault:
        return _Ready(told=_again(_id_of(entry), fault.finding))
    except Exception as fault:  # noqa: BLE001 - one entry never stops the others
        return _refuse(entry, mishaps.told(fault)[0])


def _made(batch: _Batch, entry: Any) -> _Ready:
    why = strict_json.fault(entry) or ("" if isinstance(entry, dict) else "it is not an entry")
    if why:
        raise queue_facts.no("round/bad-entry", f"This entry cannot be kept: {why}", "type it again")
    if not isinstance(entry.get("id"), str) or not _ID.fullmatch(entry["id"]):
        raise queue_facts.no("round/bad-id", "This entry has no id that can be kept", "type it again")
    queue_facts.only(entry, KEYS, "an entry")
    made = _when(batch, entry.get("made"))
    person = _person(batch, entry.get("person"), made)
    told = queue_facts.Entry(
        id=entry["id"],
        made=made,
        now=batch.now,
        person=person,
        round=queue_facts.text(entry, "round", 80),
        walk=queue_facts.text(entry, "walk", 40),
        stop=queue_facts.text(entry, "stop", 200),
        kind=queue_facts.text(entry, "kind", 20),
        body=entry.get("body"),
    )
    fact, why = queue_facts.fact(batch.place.facility, told)
    fact, code = _marked(batch, fact, made)
    if why is not None:
        said = f"{why.text}: kept as a note for a decision"
        aside = Told(id=told.id, state="aside", code=why.code, text=said, hint=why.hint)
        return _Ready(told=aside, fact=fact, person=person)
    return _Ready(told=_stored(told.id, code, fact), fact=fact, person=person)


def _stored(id: str, code: str, fact: records.Reading | records.Fact) -> Told:
    if code == "round/late":
        return Told(id=id, state="late", code=code, text="Stored, and marked as more than seven days old")
    if code == "round/clock-mended":
        return Told(
            id=id, state="stored", code=code, text="Stored; this phone's clock is off, and was allowed for"
        )
    if isinstance(fact, records.Reading) and fact.quality == "unusual":
        return Told(id=id, state="stored", code="round/unusual", text="Stored, and marked as unusual")
    return Told(id=id, state="stored")


def _when(batch: _Batch, value: Any) -> datetime:
    made = time_of(value)
    if made is None:
        raise queue_facts.no("round/clock", "This entry does not say when it was made", "type it again")
    made = made + batch.skew
    if made > batch.now + typed.AHEAD:
        said = f"{made:%Y-%m-%d %H:%M} UTC is still to come"
        raise queue_facts.no("round/clock", said, "set this phone's clock, and type it again with its time")
    if made < batch.now - OLDEST:
        said = f"{made:%Y-%m-%d} is long ago: this phone's clock was wrong then"
        raise queue_facts.no("round/clock", said, "type it again with its time")
    return min(made, batch.now)


def _marked(
    batch: _Batch, fact: records.Reading | records.Fact, made: datetime
) -> tuple[records.Reading | records.Fact, str]:
    """A late one, and one from a clock that was off, say so."""
    code = "round/late" if batch.now - made > LATE else "round/clock-mended" if batch.skew else ""
    if not code or not isinstance(fact, records.Reading):
        return fact, code
    return replace(fact, marks=(*fact.marks, code)), code


def _person(batch: _Batch, number: Any, made: datetime) -> int | None:
    """Whose entry it is: of whoever is signed in, or of another who has a PIN on this same phone."""
    if number is not None and (isinstance(number, bool) or not isinstance(number, int)):
        raise queue_facts.no("round/other-person", "This entry names nobody", "sign in, and type it again")
    if batch.who.role == "open":
        if number is None or number in batch.names:
            return number
        raise queue_facts.no(
            "round/other-person", "Nobody here has that number", "choose your name, and type it again"
        )
    if number is None or number == batch.who.number:
        return batch.who.number
    if number in batch.names and people.wrote(batch.place, batch.who.device, number, made):
        return number
    said = "This entry is another person's, and is not taken from whoever is signed in now"
    raise queue_facts.no("round/other-person", said, "let that person sign in on this phone and send it")


def _refuse(entry: Any, found: findings.Finding) -> _Ready:
    told = Told(id=_id_of(entry), state="refused", code=found.code, text=found.text, hint=found.hint)
    return _Ready(told=told)


def _again(id: str, found: findings.Finding) -> Told:
    return Told(id=id, state="again", code=found.code, text=found.text, hint=found.hint)


# -- writing -----------------------------------------------------------------------------------------------


def _write(batch: _Batch, entries: Sequence[Any], ready: Sequence[_Ready]) -> list[Told]:
    """Each fact as a batch of its own; those that wait together share one commit."""
    waiting = [None if one.fact is None else _submit(batch, one.fact, one.person) for one in ready]
    told = [
        one.told if later is None else _outcome(one.told, later)
        for one, later in zip(ready, waiting, strict=True)
    ]
    return [
        _second(batch, entry, one) if one.state == "refused" and one.code not in _NOT_ASIDE else one
        for entry, one in zip(entries, told, strict=True)
    ]


def _submit(
    batch: _Batch, fact: records.Reading | records.Fact, person: int | None
) -> futures.Future[list[kept.Outcome]]:
    """Hand it to the writer; what is known under its id already keeps the time that it got at first."""
    return batch.place.book.append_later([fact], person=person, steady=MENDED)


def _second(batch: _Batch, entry: Any, told: Told) -> Told:
    """A refused entry whose id holds something already: what it says is kept beside that, as a conflict."""
    before = batch.place.book.get(told.id) if _ID.fullmatch(told.id) else None
    if before is None:
        return told
    body = entry.get("body")
    said = (
        ", ".join(f"{name} {value}"[:200] for name, value in body.items()) if isinstance(body, dict) else ""
    )  # pyright: ignore[reportUnknownVariableType, reportUnknownMemberType]
    if not said or strict_json.fault(body):
        return told
    note = records.Fact(
        id=told.id, kind="note", measured=before.measured, entered=batch.now, person=batch.who.number,
        details={"what": said, "aside": told.code}, note=told.text,
    )  # fmt: skip
    return _outcome(told, batch.place.book.append_later([note], person=batch.who.number))


def _outcome(told: Told, later: futures.Future[list[kept.Outcome]]) -> Told:
    try:
        state = later.result(WAIT)[0].state
    except (kept.NotSaved, kept.Busy) as fault:
        return _again(told.id, fault.finding)
    except kept.Refused as fault:
        said = fault.finding
        return Told(id=told.id, state="refused", code=said.code, text=said.text, hint=said.hint)
    except futures.TimeoutError:
        return Told(
            id=told.id, state="again", code="round/slow", text="The disk is slow: not known to be saved"
        )
    except Exception as fault:  # noqa: BLE001 - one entry never stops the others
        return _again(told.id, mishaps.told(fault)[0])
    if state == "same":
        return replace(told, state="same", code=told.code, text="It was stored already")
    if state == "conflict":
        said = "Something else is stored under this id: both are kept, side by side"
        return Told(id=told.id, state="aside", code="round/conflict", text=said, hint="look at /rounds/aside")
    return told
