"""What one day has to say, line by line: plain words for the hand-over, without anybody's name."""

from __future__ import annotations

import collections
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from brinehouse import records
from brinehouse.facility import model
from brinehouse.logbook import kept
from brinehouse.workbench import notices, now, told

KINDS = (
    "instrument-setting", "instrument-check", "event", "pump-run", "observation", "stop", "work", "lock-out",
    "change-over", "renewal", "withdrawal", "feeding",
)  # fmt: skip
USUAL = frozenset({"as usual", "", "yes", "normal"})
EATEN = frozenset({"little", "nothing", "none"})
DEATHS = ("dead", "death", "died", "found dead", "lost")


def _at(when: datetime, zone: str) -> str:
    return f"{when.astimezone(ZoneInfo(zone)):%d %b %H:%M}"


def _name(facility: model.Facility, place: str) -> str:
    vessel = facility.place(place) if place else None
    return vessel.name if vessel else place


def _said(facility: model.Facility, fact: records.Fact, zone: str, text: str = "") -> str:
    place = _name(facility, fact.place)
    return f"{_at(fact.measured, zone)} {place + ': ' if place else ''}{text or told.line(fact)}"


# -- what is not as it should be --------------------------------------------------------------------------


def out(sheet: now.Now, zone: str) -> list[str]:
    """What is out of range or out of order now, then what came and went and nobody saw."""
    inside = {one.id for one in sheet.book.notices if not one.quantity}
    lines = [
        f"{one.what} {one.value}".strip()
        + f" ({one.level.value}) since {_at(one.since, zone)}{'' if one.state != 'seen' else ', seen'}"
        + (f"; {one.next}" if one.next and one.notice else "")
        for one in sheet.concerns
        if one.notice not in inside
    ]
    gone = [
        f"{one.what} {one.value} came and went unseen, {_at(one.since, zone)} to {_at(one.left, zone)}"
        for one in sheet.book.of("gone unseen")
        if one.since and one.left
    ]
    return lines + gone


def overdue(sheet: now.Now, zone: str) -> list[str]:
    """Rounds, work, copies and whatever else is due and not done."""
    return [
        f"{one.what}, since {_at(one.since, zone)}" + (f"; {one.response}" if one.response else "")
        for one in sheet.book.of("new", "seen")
        if not one.quantity and one.since
    ]


def aside(book: notices.Book, zone: str) -> list[str]:
    """What was put aside: shelved until when, out of service why."""
    lines: list[str] = []
    for one in book.of("shelved", "out of service"):
        act = one.act
        until = f" until {_at(act.until, zone)}" if act and act.until else ""
        lines.append(f"{one.what}: {one.state}{until}" + (f" ({act.why})" if act and act.why else ""))
    return lines


# -- what is promised, seen, left out ---------------------------------------------------------------------


def promised(
    facility: model.Facility, notes: Iterable[records.Fact], until: datetime, zone: str
) -> list[str]:
    """Notes that are pinned and have not run out, promises first; one that is past its day says so."""
    today = until.astimezone(ZoneInfo(zone)).date().isoformat()
    lines: list[tuple[bool, str, str]] = []
    for fact in notes:
        end = str(fact.details.get("until", ""))[:10]
        promise = bool(fact.details.get("promised"))
        if not (fact.details.get("pinned") or promise) or (end and end < today and not promise):
            continue
        place = _name(facility, fact.place)
        word = "promised" if promise else "pinned"
        late = ", and not taken back since" if end and end < today else ""
        day = f" {'for' if promise else 'until'} {end}" if end else ""
        lines.append((not promise, end, f"{place + ': ' if place else ''}{fact.note} ({word}{day}{late})"))
    return [line for *_, line in sorted(lines)]


def animals(facility: model.Facility, facts: Iterable[records.Fact], zone: str) -> list[str]:
    """Deaths, observations that are not as usual, and food that was left."""
    first: list[str] = []
    rest: list[str] = []
    for fact in facts:
        details = fact.details
        if fact.kind == "observation":
            answer = str(details.get("answer", details.get("what", details.get("sign", ""))))
            if answer.strip().lower() in USUAL:
                continue
            words = f": {details['words']}" if details.get("words") else ""
            line = _said(facility, fact, zone, _observed(details) + words)
            (first if _died(details) else rest).append(line)
        elif fact.kind == "feeding" and str(details.get("eaten", "")) in EATEN:
            rest.append(_said(facility, fact, zone))
    return first + rest


def _observed(details: Mapping[str, Any]) -> str:
    if "answer" in details:
        who = f"{details['animals']}, " if details.get("animals") else ""
        return f"{who}{details.get('sign', '')} {details['answer']}"
    if "sign" in details:
        count = f" ({details['count']})" if details.get("count") else ""
        return f"{details.get('animals', '')}: {details['sign']}{count}".removeprefix(": ")
    return str(details.get("what", ""))


def _died(details: Mapping[str, Any]) -> bool:
    text = " ".join(str(details.get(word, "")) for word in ("sign", "what", "answer")).lower()
    return any(word in text.replace(",", " ").split() for word in DEATHS)


def skipped(facility: model.Facility, facts: Iterable[records.Fact], zone: str) -> list[str]:
    """Stops of rounds that were passed by, with why."""
    lines: list[str] = []
    for fact in facts:
        if fact.kind == "stop" and fact.details.get("what") == "skipped":
            stop, round_ = fact.details.get("stop", ""), fact.details.get("round", "")
            why = fact.details.get("reason") or fact.reason
            lines.append(_said(facility, fact, zone, f"{stop} of {round_}" + (f": {why}" if why else "")))
    return lines


# -- what changed -----------------------------------------------------------------------------------------


def plant(texts: Sequence[kept.FacilityText], zone: str) -> list[str]:
    """New facility files."""
    return [f"{_at(one.since, zone)} the facility file was changed ({one.digest[:8]})" for one in texts]


def corrected(
    facility: model.Facility,
    series: Mapping[tuple[str, str], Sequence[records.Reading]],
    since: datetime,
    zone: str,
) -> list[str]:
    """Readings that were put right."""
    rows = [one for rows in series.values() for one in rows if one.supersedes and one.entered >= since]
    return [
        f"{_at(one.measured, zone)} {_name(facility, one.place)}: {one.quantity} put right to {one.text}"
        + (f" ({one.reason})" if one.reason else "")
        for one in sorted(rows, key=lambda one: one.entered)
    ]


def changed(facility: model.Facility, facts: Iterable[records.Fact], zone: str) -> list[str]:
    """Settings, work done, lock-outs, change-overs, parts renewed, events, what was taken back."""
    kinds = ("instrument-setting", "event", "work", "lock-out", "change-over", "renewal", "withdrawal")
    return [
        f"{_said(facility, fact, zone, _kind(fact))}"
        for fact in facts
        if fact.kind in kinds and not (fact.kind == "work" and fact.details.get("what") == "asked")
    ]


def _kind(fact: records.Fact) -> str:
    of = str(fact.details.get("of", fact.details.get("instrument", "")))
    said = told.line(fact)
    return f"{of}: {said}" if of and of not in said else said


def pumps(facts: Iterable[records.Fact], zone: str) -> list[str]:
    """How often each pump was switched, and how it stands now."""
    turns: dict[str, list[records.Turn]] = collections.defaultdict(list)
    for turn in records.turns(facts):
        turns[turn.pump].append(turn)
    return [
        f"{pump}: {'on' if rows[-1].running else 'off'} since {_at(rows[-1].at, zone)}"
        + (f" ({len(rows)} times switched)" if len(rows) > 1 else "")
        for pump, rows in sorted(turns.items())
    ]


def shift(facility: model.Facility, at: datetime) -> str:
    """The shift that is in the house at a time; empty where none is written down."""
    here = at.astimezone(ZoneInfo(facility.timezone))
    minute = 60 * here.hour + here.minute
    for one in facility.shifts.values():
        inside = (
            one.begins <= minute < one.ends
            if one.begins < one.ends
            else minute >= one.begins or minute < one.ends
        )
        if inside and (not one.days or here.weekday() in one.days):
            return one.name
    return ""
