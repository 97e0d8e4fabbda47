"""What the standby pumps of a hall are worth: its file's rates, and which pumps ran by its logbook."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from brinehouse import answers, findings, records
from brinehouse.engines import redundancy
from brinehouse.workbench import clock, hall

NEEDS_A_PERSON = (findings.Level.WATCH, findings.Level.ACT, findings.Level.ASK)

_kept: dict[str, tuple[tuple[Any, ...], answers.Answer]] = {}


def survey(place: hall.Hall) -> answers.Answer:
    """How often each duty group is lost, why, and what would help; kept while file and logbook stay."""
    written = hall.Hall.has_book(place.folder)
    head = tuple(place.book.head()) if written else ()
    stamp = (head, place.facility.digest, clock.now().date())
    folder = str(place.folder.resolve())
    known = _kept.get(folder)
    if known is not None and known[0] == stamp:
        return known[1]
    counted = any(rate.since for rate in place.facility.rates)  # a rate that counts from the logbook
    ran = turns(place.facts(kinds=["pump-run"])) if written and counted else []
    made = redundancy.survey(place.facility, ran, clock.now())
    _kept[folder] = (stamp, made)
    return made


def turns(facts: Iterable[records.Fact]) -> list[redundancy.Turn]:
    """Starts and stops of pumps in order of time."""
    found = [
        redundancy.Turn(at=fact.measured, pump=str(fact.details["pump"]), running=_runs(fact))
        for fact in facts
        if fact.kind == "pump-run" and fact.details.get("pump")
    ]
    return sorted(found, key=lambda one: one.at)


def _runs(fact: records.Fact) -> bool:
    return fact.details.get("running") in (True, "true")


def status(answer: answers.Answer) -> int:
    """1 where something needs a person."""
    return 1 if any(finding.level in NEEDS_A_PERSON for finding in answer.findings) else 0
