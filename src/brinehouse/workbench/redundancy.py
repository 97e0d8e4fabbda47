"""What the standby pumps of a hall are worth: its file's rates, and the running time its logbook holds."""

from __future__ import annotations

from typing import Any

from brinehouse import answers, findings
from brinehouse.engines import redundancy
from brinehouse.workbench import clock, hall

NEEDS_A_PERSON = (findings.Level.WATCH, findings.Level.ACT, findings.Level.ASK)

_kept: dict[str, tuple[tuple[Any, ...], answers.Answer]] = {}


def survey(place: hall.Hall) -> answers.Answer:
    """Every duty group; kept while neither logbook nor facility file has changed."""
    head = tuple(place.book.head()) if hall.Hall.has_book(place.folder) else ()
    stamp = (head, place.facility.digest, clock.now().date())
    folder = str(place.folder.resolve())
    known = _kept.get(folder)
    if known is not None and known[0] == stamp:
        return known[1]
    turns = _turns(place) if head and _asked(place) else []
    made = redundancy.survey(place.facility, turns, clock.now())
    _kept[folder] = (stamp, made)
    return made


def _asked(place: hall.Hall) -> bool:
    """Whether any rate counts from the logbook."""
    return any(rate.since for rate in place.facility.rates)


def _turns(place: hall.Hall) -> list[redundancy.Turn]:
    """Starts and stops of pumps, in order of time."""
    return [
        redundancy.Turn(
            at=fact.measured, pump=str(fact.details["pump"]), running=bool(fact.details.get("running"))
        )
        for fact in sorted(place.facts(kinds=["pump-run"]), key=lambda one: one.measured)
        if "pump" in fact.details
    ]


def status(answer: answers.Answer) -> int:
    """1 where something needs a person."""
    return 1 if any(finding.level in NEEDS_A_PERSON for finding in answer.findings) else 0
