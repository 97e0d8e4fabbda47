"""A whole logbook: the latest budget of every place, and which meters' settings to doubt, since when."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta

from brinehouse import answers, findings, records
from brinehouse.engines.gas_budget import (
    answering,
    comparing,
    meters,
    places,
    question,
    shelves,
    visits,
)
from brinehouse.facility import model


def survey(
    facility: model.Facility,
    readings: Sequence[records.Reading],
    *,
    corrections: shelves.Corrections | None = None,
    facts: Sequence[records.Fact] = (),
    as_of: datetime,
) -> answers.Answer:
    """What is in the water everywhere, and which meters can be believed.

    Parameters
    ----------
    facility : Facility
    readings : sequence of Reading
        Effective readings; later ones than `as_of`, bounds, doubtful ones and faults are left out here.
    corrections : mapping, optional
        Instrument, quantity: (what to add to its readings, the standard uncertainty that is left) in the
        reading's unit, as another engine found it.
    facts : sequence of Fact
        Air checks and written-down settings among them are heeded.
    as_of : datetime
        The moment for which it is asked. Aware.

    Returns
    -------
    Answer
        Tables ``budget`` (a row for each place), ``meters`` (a row for each gas meter), and one of corrected
        readings for each oxygen meter that stood wrong.
    """
    usable = shelves.usable(readings, as_of)
    worth = shelves.Worth(facility, corrections)
    around = visits.Surroundings(facility, usable, worth)
    found = visits.gather(usable)
    for visit in found:
        around.fill(visit)
    doubted = meters.gather(found)
    trusted = {visit.instrument: 1.0 for visit in found} | meters.factors(doubted)
    held = comparing.hold(usable, found, around, trusted)
    rows = [places.row(facility, visit, doubted) for visit in visits.latest(found).values()]
    rows.sort(key=lambda row: row.margin.value if row.margin and row.margin.value is not None else math.inf)
    said = [
        *meters.barometer_findings(facility, around),
        *(finding for meter in doubted for finding in meters.meter_findings(meter)),
        *(finding for one in held for finding in meters.held_findings(one, facts)),
        *(finding for row in rows for finding in places.row_findings(facility, row, as_of)),
    ]
    unseen = _unseen(doubted, facts, as_of)
    explanations = meters.explanations(doubted)
    return answers.Answer(
        question=question.QUESTION,
        sentence=_sentence(rows, said),
        state="surveyed" if rows else "not-enough",
        tables=(
            *((places.budget_table(rows),) if rows else ()),
            *((meters.meter_table(doubted),) if doubted else ()),
            *(comparing.corrected(one, around) for one in held if one.wrong),
        ),
        findings=tuple(said) or ((_nothing(),) if not rows else ()),
        explanations=explanations,
        not_excluded=unseen,
        next_readings=_next(said, explanations, unseen),
        working=tuple(step for row in rows for step in places.steps(row)),
        as_of=max((visit.when for visit in found), default=None),
        used=sum(len(visit.readings) for visit in found),
    )


def _unseen(
    doubted: Sequence[meters.Meter], facts: Sequence[records.Fact], as_of: datetime
) -> tuple[answers.Open, ...]:
    """What stays open: zero drift is not, where each meter passed a dry air check within a week."""
    checked = {
        str(fact.details.get("instrument", ""))
        for fact in facts
        if fact.kind == "instrument-check"
        and fact.details.get("check") == "air"
        and timedelta(0) <= as_of - fact.measured <= timedelta(days=7)
        and abs(float(fact.details.get("reads", 0.0)) - float(fact.details.get("should_read", 100.0))) <= 0.3
    }
    known = (*question.NOT_EXCLUDED, question.CARBON_DIOXIDE_UNSEEN)
    if doubted and {meter.name for meter in doubted} <= checked:
        return tuple(one for one in known if one.code != "gas/zero-drift")
    return known


def _next(
    said: Sequence[findings.Finding],
    explanations: Sequence[answers.Explanation],
    unseen: Sequence[answers.Open],
) -> tuple[str, ...]:
    order = list(findings.Level)
    ranked = sorted(said, key=lambda one: -order.index(one.level))
    hints = [one.hint for one in ranked if one.hint and one.level is not findings.Level.NOTE]
    texts = [text[0].upper() + text[1:] for text in hints]
    return tuple(dict.fromkeys([*texts, *answering.next_readings(explanations, unseen)]))


def _sentence(rows: Sequence[places.Row], said: Sequence[findings.Finding]) -> str:
    if not rows:
        return "No gas reading in the logbook makes a budget yet."
    worst = rows[0]
    total = worst.values["total_gas_pressure"].value or 0.0
    doubted = sorted({str(one.data["instrument"]) for one in said if "instrument" in one.data})
    tail = f"; look at the settings of {', '.join(doubted)}" if doubted else ""
    if worst.margin is None or worst.margin.value is None:
        count = "one place" if len(rows) == 1 else f"{len(rows)} places"
        return f"Gas was read at {count}{tail}."
    line = worst.values["compensation_depth"].value or 0.0
    return (
        f"The least room is at {worst.visit.place}: total gas pressure {total:.1f} %, gas line at"
        f" {line:.2f} m, animals at {worst.animals_at:g} m{tail}."
    )


def _nothing() -> findings.Finding:
    return findings.Finding(
        code="gas/not-enough",
        level=findings.Level.NOTE,
        text="No place has total gas pressure and oxygen read together",
        hint="hang a gas meter, leave it to settle, and write down all its numbers",
    )
