"""Turns of the duty pumps: from what was written down to a plan, and what was done back into the log."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from brinehouse import findings, records
from brinehouse.engines import turns as engine
from brinehouse.facility import model
from brinehouse.workbench import clock, concern, hall, lock_outs, mishaps

Level = findings.Level
KINDS = ("pump-run", "run-hours", "renewal", "work", "change-over")
NEEDS_A_PERSON = (Level.WATCH, Level.ACT, Level.ASK)
CONCERNS = ("turns/change-over-due", "turns/change-over-failed", "turns/standby-idle", "turns/overhaul-due")
FRESH = timedelta(minutes=5)  # a plan is made anew after so long
Survey = engine.Survey
_kept: dict[str, tuple[tuple[Any, ...], engine.Survey]] = {}
_read: dict[str, tuple[tuple[Any, ...], engine.History]] = {}


def survey(place: hall.Hall, *, days: int = 14) -> engine.Survey:
    """Who runs in the days to come; kept for some minutes while file and logbook stay.

    Parameters
    ----------
    place : Hall
    days : int
        How many days ahead.
    """
    now, folder = clock.now(), str(place.folder.resolve())
    known = _history(place, folder)
    stamp = (known, place.facility.digest, days, now.timestamp() // FRESH.total_seconds())
    last = _kept.get(f"{folder} {days}")
    if last is not None and last[0] == stamp:
        return last[1]
    made = engine.survey(place.facility, known, now, days=days)
    _kept[f"{folder} {days}"] = (stamp, made)
    return made


def _history(place: hall.Hall, folder: str) -> engine.History:
    """What is known of the pumps; read anew where anything was written down since."""
    if not hall.Hall.has_book(place.folder):
        return engine.History()
    head = (*place.book.head(), place.facility.digest)
    last = _read.get(folder)
    if last is not None and last[0] == head:
        return last[1]
    made = history(place)
    _read[folder] = (head, made)
    return made


def history(place: hall.Hall) -> engine.History:
    """What the logbook has of the pumps, each list in order of time."""
    facts = sorted(place.facts(kinds=KINDS), key=lambda fact: fact.measured)
    return engine.History(
        turns=records.turns(facts),
        counters=[one for fact in facts if (one := _counter(fact)) is not None],
        overhauls=[
            engine.Overhaul(at=fact.measured, pump=str(fact.details["of"]))
            for fact in facts
            if _is_overhaul(fact)
        ],
        locks=_locks(place),
        change_overs=[_change_over(fact) for fact in facts if fact.kind == "change-over"],
    )


def _counter(fact: records.Fact) -> engine.Counter | None:
    hours, starts = fact.details.get("hours"), fact.details.get("starts")
    if fact.kind != "run-hours" or not isinstance(hours, int | float) or not fact.details.get("of"):
        return None
    return engine.Counter(
        at=fact.measured,
        pump=str(fact.details["of"]),
        hours=float(hours),
        starts=int(starts) if isinstance(starts, int | float) else None,
    )


def _is_overhaul(fact: records.Fact) -> bool:
    """A renewal that is called an overhaul, or a finished order with that in its title."""
    details = fact.details
    if not details.get("of"):
        return False
    if fact.kind == "renewal":
        return "overhaul" in str(details.get("what", "")).casefold()
    title = f"{details.get('title', '')} {details.get('did', '')}".casefold()
    return fact.kind == "work" and details.get("what") == "done" and "overhaul" in title


def _change_over(fact: records.Fact) -> engine.ChangeOver:
    details = fact.details
    return engine.ChangeOver(
        at=fact.measured,
        duty=str(details.get("duty", "")),
        test=details.get("what") != "turn",
        worked=details.get("worked") not in (False, "false"),
    )


def _locks(place: hall.Hall) -> list[engine.Lock]:
    """Every tag that hangs now and holds a pump, its board's tags too."""
    standing = lock_outs.standing(place)
    return [
        engine.Lock(at=lock.since, pump=pump, on=True, why=lock.why)
        for pump in place.facility.pumps
        for lock in lock_outs.at(place.facility, standing, pump)[:1]
    ]


def status(made: engine.Survey) -> int:
    """1 where something needs a person."""
    return 1 if any(one.level in NEEDS_A_PERSON for one in made.answer.findings) else 0


def concerns_of(place: hall.Hall) -> list[concern.Concern]:
    """A change-over test that is overdue or failed, a pump that rested too long, an overhaul that is due."""
    return [
        concern.Concern(
            level=one.level,
            since=datetime.fromisoformat(str(one.data["since"])),
            what=one.text,
            next=one.hint,
            href="/turns",
            code=one.code,
            key=f"{one.code} {one.data['of']}",
            asks=False,
        )
        for one in survey(place).answer.findings
        if one.code in CONCERNS
    ]


# Writing ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What was done: pumps started, pumps stopped, when and by whom."""

    duty: str
    start: Sequence[str] = ()
    stop: Sequence[str] = ()
    at: datetime | None = None
    person: int | None = None
    note: str = ""
    id: str = ""
    """Made where it was typed: the same sent twice is written once."""


def log_change(place: hall.Hall, change: Change) -> list[str]:
    """Write down that pumps were started and others stopped.

    Returns
    -------
    list of str
        Ids of the facts.

    Raises
    ------
    mishaps.Refused
        No such group, a pump that is none of its own, one that is locked out, or nothing done.
    """
    duty = _duty(place, change.duty)
    _sensible(place, duty, change)
    at = change.at or clock.now()
    runs = [(pump, True) for pump in change.start] + [(pump, False) for pump in change.stop]
    told = {"duty": duty.id, "what": "turn", "started": _row(change.start), "stopped": _row(change.stop)}
    facts = [_fact("change-over", at, told, change)]
    facts += [_fact("pump-run", at, {"pump": pump, "running": on}, change) for pump, on in runs]
    place.write(facts, person=change.person)
    return [fact.id for fact in facts]


def log_running(place: hall.Hall, change: Change) -> list[str]:
    """Write down who runs now: `change.start` runs, every other pump of the group rests.

    Raises
    ------
    mishaps.Refused
        No such group, or a pump that is none of its own.
    """
    duty = _duty(place, change.duty)
    _own(duty, change.start)
    at = change.at or clock.now()
    facts = [
        _fact("pump-run", at, {"pump": pump, "running": pump in change.start}, change) for pump in duty.pumps
    ]
    place.write(facts, person=change.person)
    return [fact.id for fact in facts]


def log_test(place: hall.Hall, change: Change, *, worked: bool, seconds: float | None = None) -> list[str]:
    """Write down a trial of the automatic change-over: did a standby start by itself, and after how long.

    Raises
    ------
    mishaps.Refused
        No such group, or a pump that is none of its own.
    """
    duty = _duty(place, change.duty)
    _own(duty, [*change.start, *change.stop])
    at = change.at or clock.now()
    told: dict[str, Any] = {"duty": duty.id, "what": "test", "worked": worked}
    told |= {"started": _row(change.start), "stopped": _row(change.stop)}
    if seconds is not None:
        told["seconds"] = seconds
    facts = [_fact("change-over", at, told, change)]
    if worked:
        runs = [(pump, True) for pump in change.start] + [(pump, False) for pump in change.stop]
        facts += [_fact("pump-run", at, {"pump": pump, "running": on}, change) for pump, on in runs]
    place.write(facts, person=change.person)
    return [fact.id for fact in facts]


def log_trial(place: hall.Hall, change: Change) -> list[str]:
    """Write down a trial start: each pump of `change.start` ran for half an hour until now, and rests again.

    Raises
    ------
    mishaps.Refused
        No such group, a pump that is none of its own or locked out, or none named.
    """
    duty = _duty(place, change.duty)
    _sensible(place, duty, change)
    end = change.at or clock.now()
    begin = end - engine.TRIAL
    facts = [
        _fact("pump-run", at, {"pump": pump, "running": on}, change)
        for pump in change.start
        for at, on in ((begin, True), (end, False))
    ]
    place.write(facts, person=change.person)
    return [fact.id for fact in facts]


def _row(pumps: Iterable[str]) -> str:
    return ", ".join(pumps)


def _fact(kind: records.FactKind, at: datetime, details: Mapping[str, Any], change: Change) -> records.Fact:
    words = (change.id, kind, str(details.get("pump", "")), str(details.get("running", "")))
    own = hashlib.sha256("|".join(words).encode()).hexdigest()[:32] if change.id else hall.new_id()
    return records.Fact(
        id=own,
        kind=kind,
        measured=at,
        entered=clock.now(),
        details=details,
        person=change.person,
        note=change.note,
    )


def _duty(place: hall.Hall, name: str) -> model.Duty:
    duty = place.facility.duties.get(name)
    if duty is None:
        raise mishaps.Refused(
            _stop("turns/no-group", f"'{name}' is not a duty group", "choose one of the groups shown")
        )
    return duty


def _own(duty: model.Duty, pumps: Iterable[str]) -> None:
    strangers = [pump for pump in pumps if pump not in duty.pumps]
    if strangers:
        text = f"{_row(strangers)} is none of the pumps of {duty.name}"
        raise mishaps.Refused(_stop("turns/other-pump", text, f"they are {_row(duty.pumps)}"))


def _sensible(place: hall.Hall, duty: model.Duty, change: Change) -> None:
    """Something was done, with pumps of the group, and none that is locked out was started."""
    _own(duty, [*change.start, *change.stop])
    if not change.start and not change.stop:
        hint = "tick the pumps that were started or stopped"
        raise mishaps.Refused(
            _stop("turns/nothing-done", "No pump is named that was started or stopped", hint)
        )
    tags = {lock.pump: lock for lock in _locks(place)}
    held = [pump for pump in change.start if pump in tags]
    if held:
        text = f"{held[0]} is locked out: {tags[held[0]].why}"
        hint = "the tag is taken away first, by whoever hung it"
        raise mishaps.Refused(_stop("turns/locked", text, hint))


def _stop(code: str, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=Level.STOP, text=text, hint=hint)
