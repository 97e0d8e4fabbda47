"""The flows of a hall: what its file states, what its log measured, and what agrees."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from brinehouse import answers, findings, records
from brinehouse.engines import flows
from brinehouse.facility import model
from brinehouse.network import flows as network
from brinehouse.network import plumbing
from brinehouse.workbench import clock, hall, now, recent

SPAN = timedelta(days=45)
QUANTITIES = ("flow", "level")
LONGEST_TURN = timedelta(days=60)  # how far back a pump's last start is looked for
NEEDS_A_PERSON = (findings.Level.WATCH, findings.Level.ACT, findings.Level.ASK)

PUMPS_DIFFER = 0.05  # of a computed flow: wear and what grows in pipes. Common practice, no source

Computed = Mapping[str, tuple[float, float | None]]

_kept: dict[str, tuple[tuple[Any, ...], answers.Answer]] = {}


def survey(place: hall.Hall) -> answers.Answer:
    """The flows as things stand; kept while neither logbook nor facility file has changed."""
    facility = place.facility
    head = tuple(place.book.head()) if hall.Hall.has_book(place.folder) else ()
    stamp = (head, facility.digest, clock.now().date())
    folder = str(place.folder.resolve())
    known = _kept.get(folder)
    if known is not None and known[0] == stamp:
        return known[1]
    readings, facts = _read(place) if head else ((), ())
    made = examine(facility, readings, facts, as_of=clock.now(), computed=computed(facility, readings, facts))
    _kept[folder] = (stamp, made)
    return made


def _read(place: hall.Hall) -> tuple[Sequence[records.Reading], Sequence[records.Fact]]:
    newest = recent.newest_of(place, "flow")
    since = (newest or clock.now()) - SPAN
    return (
        place.history(quantities=list(QUANTITIES), since=since),
        place.facts(kinds=["pump-run"], since=since - LONGEST_TURN),
    )


def examine(
    facility: model.Facility,
    readings: Sequence[records.Reading],
    facts: Sequence[records.Fact],
    *,
    as_of: datetime | None = None,
    computed: Computed | None = None,
) -> answers.Answer:
    """The flows of given readings and facts.

    Parameters
    ----------
    facility : Facility
    readings, facts : sequences
        Effective ones, in order of time.
    as_of : datetime, optional
        Aware; later readings are left out.
    computed : mapping, optional
        Run to (flow, standard uncertainty or None) from the hydraulics. [m³/s]
    """
    return flows.survey(facility, readings, records.turns(facts), computed=computed, as_of=as_of)


def computed(
    facility: model.Facility, readings: Sequence[records.Reading], facts: Sequence[records.Fact]
) -> Computed:
    """Flows from curves and pipes, with the pumps that ran when a flow was last read, in m³/s.

    Only runs whose flow the hydraulics solve; none where the file tells too little.
    """
    newest = max((one.measured for one in readings if one.quantity == "flow"), default=None)
    known = {turn.pump: turn.running for turn in records.turns(facts) if newest is None or turn.at <= newest}
    asked = known if all(pump in known for duty in facility.duties.values() for pump in duty.pumps) else None
    layout = plumbing.stations(facility, running=asked)
    return {
        run: (layout.flows[run], _least(layout.flows[run], layout.halves.get(run)))
        for run in facility.runs
        if run in layout.computed and run in layout.flows
    }


def _least(flow: float, half: float | None) -> float:
    """Standard uncertainty of a computed flow: the solver's own, and never less than pumps differ."""
    own = (half or 0.0) / answers.COVERAGE
    return max(own, PUMPS_DIFFER * abs(flow))


def status(answer: answers.Answer) -> int:
    """1 where something needs a person."""
    return 1 if any(finding.level in NEEDS_A_PERSON for finding in answer.findings) else 0


def best(place: hall.Hall) -> network.RunFlows:
    """The best known flow of every run, for whatever works with flows: reconciled where that can be."""
    return best_of(place.facility, survey(place))


def best_of(facility: model.Facility, answer: answers.Answer) -> network.RunFlows:
    """The reconciled flows of an answer in the form the network works with, in m³/s.

    Flows of a part in which nothing was measured stay as the file states them.
    """
    stated = network.stated(facility)
    table = next(table for table in answer.tables if table.name == "flows")
    flow, u, basis = dict(stated.flows), dict(stated.u), dict(stated.basis)
    for row in table.rows:
        value = row["flow"]
        if isinstance(value, answers.Value) and value.value is not None and row["mark"] != "stated":
            name = str(row["run"])
            flow[name] = value.value / 3600.0
            u[name] = (value.u or 0.0) / 3600.0
            basis[name] = "reconciled"
    return network.RunFlows(
        flows=flow,
        u=u,
        basis=basis,
        pumps=network.pump_flows(facility, flow),
        unknown=tuple(run for run in facility.runs if run not in flow),
        findings=stated.findings,
    )


def concerns_of(answer: answers.Answer) -> list[now.Concern]:
    """What the flows add to the sheet of what is not as it should be."""
    if answer.as_of is None:
        return []
    return [
        now.Concern(
            level=findings.Level.WATCH if finding.level is findings.Level.ASK else finding.level,
            since=answer.as_of,
            what=finding.text,
            why=_why(finding),
            next=finding.hint,
            href="/flows",
            code=finding.code,
            asks=False,
        )
        for finding in answer.findings
        if finding.level in NEEDS_A_PERSON
    ]


def _why(finding: findings.Finding) -> str:
    fits, of = finding.data.get("spans", (1, 1))
    often = f"; the same in {fits} of {of} times between change-overs" if of > 1 else ""
    return f"the balance of its loop does not close with it{often}"
