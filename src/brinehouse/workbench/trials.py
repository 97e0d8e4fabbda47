"""Gas trials: one sitting of a gas meter, readings against minutes until they settle."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from brinehouse import answers, findings, records
from brinehouse.engines import settling
from brinehouse.workbench import clock, hall, mishaps

RECENT = timedelta(days=30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One sitting: where, with which meter, and what it showed after how many minutes."""

    id: str
    began: datetime
    place: str
    depth: float | None
    instrument: str
    quantity: str
    unit: str
    minutes: Sequence[float]
    values: Sequence[float]
    person: int | None = None
    concluded: bool = False

    def settle(self) -> answers.Answer:
        """What it will settle at, from the readings so far."""
        return settling.answer({"minutes": self.minutes, "value": self.values, "unit": self.unit})


def trials(place: hall.Hall, since: datetime | None = None) -> list[Trial]:
    """Trials of the last month or since a time, newest first."""
    facts = place.facts(["gas-trial"], since=since or clock.now() - RECENT)
    return sorted(_assembled(facts), key=lambda trial: trial.began, reverse=True)


def trial(place: hall.Hall, id: str) -> Trial:
    """One trial by its id; refused where there is none."""
    for one in _assembled(place.facts(["gas-trial"])):
        if one.id == id:
            return one
    raise mishaps.Refused(
        findings.Finding(
            code="trial/unknown",
            level=findings.Level.STOP,
            text="There is no gas trial of that id.",
            hint="choose one from the list of trials",
        )
    )


def _assembled(facts: Iterable[records.Fact]) -> list[Trial]:
    """Trials whole: their beginnings, with the readings that were added one by one."""
    begun: dict[str, records.Fact] = {}
    added: dict[str, list[tuple[float, float]]] = {}
    ended: set[str] = set()
    for fact in facts:
        of = fact.details.get("trial")
        if of is None:
            begun[fact.id] = fact
        elif fact.details.get("concluded"):
            ended.add(str(of))
        else:
            added.setdefault(str(of), []).append(
                (float(fact.details["minute"]), float(fact.details["value"]))
            )
    return [_whole(fact, added.get(id, []), id in ended) for id, fact in begun.items()]


def _whole(fact: records.Fact, added: Sequence[tuple[float, float]], ended: bool) -> Trial:
    details = fact.details
    pairs = [
        *zip(map(float, details.get("minutes", ())), map(float, details.get("values", ())), strict=True),
        *sorted(added),
    ]
    depth = details.get("depth")
    return Trial(
        id=fact.id,
        began=fact.measured,
        place=fact.place,
        depth=float(depth) if depth is not None else None,
        instrument=str(details.get("instrument", "")),
        quantity=str(details.get("quantity", "total gas pressure")),
        unit=str(details.get("unit", "%")),
        minutes=[minute for minute, _ in pairs],
        values=[value for _, value in pairs],
        person=fact.person,
        concluded=ended or bool(details.get("minutes")),
    )


def begin(
    place: hall.Hall, *, at: str, instrument: str, depth: float | None, unit: str, person: int | None
) -> str:
    """Start a trial now; its id."""
    facility = place.facility
    found = [
        findings.Finding(
            code="trial/unknown-name",
            level=findings.Level.STOP,
            text=f"'{name}' is not {what} of this facility.",
            hint=f"known: {', '.join(known)}",
        )
        for name, what, known in (
            (at, "a place", list(facility.vessels)),
            (instrument, "an instrument", list(facility.instruments)),
        )
        if name not in known
    ]
    if found:
        raise mishaps.Refused(*found)
    id = hall.new_id()
    details: dict[str, Any] = {
        "instrument": instrument,
        "quantity": "total gas pressure",
        "unit": unit,
        "depth": depth,
    }
    _write(place, id, at, details, person)
    return id


def add(place: hall.Hall, one: Trial, *, minute: float, value: float, person: int | None) -> None:
    """Write one more reading of a running trial."""
    _write(place, hall.new_id(), one.place, {"trial": one.id, "minute": minute, "value": value}, person)


def conclude(place: hall.Hall, one: Trial, *, person: int | None) -> None:
    """End a trial: its last reading becomes a reading in the log, doubtful unless the fit says settled."""
    if not one.values:
        raise mishaps.Refused(
            findings.Finding(
                code="trial/empty",
                level=findings.Level.STOP,
                text="This trial has no reading yet.",
                hint="write at least one value with its minute before ending it",
            )
        )
    settled = one.settle().state == "settled"
    now = clock.now()
    last = one.values[-1]
    reading = records.Reading(
        id=hall.new_id(),
        measured=one.began + timedelta(minutes=max(one.minutes)),
        entered=now,
        place=one.place,
        depth=one.depth,
        quantity=one.quantity,
        value=last,
        unit=one.unit,
        text=f"{last:g} {one.unit}",
        instrument=one.instrument,
        sitting=one.id,
        person=person,
        quality="good" if settled else "doubtful",
        marks=() if settled else ("trial/not-settled",),
        note="" if settled else "taken before the trial had settled",
    )
    end = _fact(hall.new_id(), one.place, {"trial": one.id, "concluded": True}, person)
    place.write([reading, end], person=person)


def _fact(id: str, at: str, details: dict[str, Any], person: int | None) -> records.Fact:
    now = clock.now()
    return records.Fact(
        id=id, kind="gas-trial", measured=now, entered=now, place=at, details=details, person=person
    )


def _write(place: hall.Hall, id: str, at: str, details: dict[str, Any], person: int | None) -> None:
    place.write([_fact(id, at, details, person)], person=person)
