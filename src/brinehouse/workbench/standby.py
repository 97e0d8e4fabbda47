"""What the standby pumps of a hall are worth: its file, and which pumps ran by its logbook."""

from __future__ import annotations

from typing import Any

from brinehouse import answers, records
from brinehouse.engines import redundancy
from brinehouse.workbench import clock, hall

_kept: dict[tuple[Any, ...], answers.Answer] = {}


def survey(place: hall.Hall) -> answers.Answer:
    """How often each duty group is lost, why, and what would help; kept while file and logbook stay."""
    written = hall.Hall.has_book(place.folder)
    head = tuple(place.book.head()) if written else ()
    stamp = (str(place.folder.resolve()), head, place.facility.digest, clock.now().date())
    if stamp not in _kept:
        known = turns(place.facts(["pump-run"])) if written else []
        made = redundancy.survey(place.facility, known, clock.now() if written else None)
        _kept.clear()
        _kept[stamp] = made
    return _kept[stamp]


def turns(facts: list[records.Fact]) -> list[redundancy.Turn]:
    """Starts and stops of pumps in order of time."""
    found = [
        redundancy.Turn(at=fact.measured, pump=str(fact.details["pump"]), running=_runs(fact))
        for fact in facts
        if fact.kind == "pump-run" and fact.details.get("pump")
    ]
    return sorted(found, key=lambda one: one.at)


def _runs(fact: records.Fact) -> bool:
    return fact.details.get("running") in (True, "true")
