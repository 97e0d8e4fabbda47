"""The flow in every run as the house file tells it: stated ones as they stand, omitted ones from balances."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brinehouse import findings
from brinehouse.facility import hidden, model

DOUBT = 0.05  # of a stated flow, standard uncertainty: common practice, no source
LEAST = 2e-6  # m³/s: below some 7 L/h a stated flow's share says too little
_M3H = 3600.0
_CLEAR = 1e-9  # of a null-space row: above it the balances leave a run open

Matrix = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunFlows:
    """Water in every run.

    Attributes
    ----------
    flows, u : mapping
        Run to flow and its standard uncertainty. [m³/s] A run that nothing tells is absent: see `unknown`.
    basis : mapping
        Run to ``stated``, ``balance``, ``measured``, ``computed`` or ``reconciled``.
    pumps : mapping
        Pump to the water it moves while it runs, its duty group's flow shared alike. [m³/s]
    unknown : tuple of str
        Runs that neither the file nor the balances tell.
    findings : tuple
        What was assumed and what cannot be known.
    """

    flows: Mapping[str, float]
    u: Mapping[str, float]
    basis: Mapping[str, str]
    pumps: Mapping[str, float] = field(default_factory=dict[str, float])
    unknown: tuple[str, ...] = ()
    findings: tuple[findings.Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Balances:
    """Places at which what flows in flows out: rows are places, columns are runs, +1 in and -1 out."""

    places: tuple[str, ...]
    runs: tuple[str, ...]
    matrix: Matrix

    def gaps(self, flows: Mapping[str, float]) -> dict[str, float]:
        """Flow in less flow out at each place; a run without flow counts nothing, in m³/s."""
        column = np.array([flows.get(run, 0.0) for run in self.runs])
        return dict(zip(self.places, (self.matrix @ column).tolist(), strict=True))


def balances(facility: model.Facility) -> Balances:
    """The node balances of a facility.

    A place takes part where runs come in and go out, it is no store, does not stand alone, and no hose that
    is not drawn (``fed_by``) feeds it. What is part of another place shares its balance.

    Returns
    -------
    Balances
        Places and machines in order, every run a column.
    """
    runs = tuple(facility.runs)
    into: dict[str, dict[int, float]] = {}
    for at, run in enumerate(facility.runs.values()):
        for end, sign in ((run.target, 1.0), (run.source, -1.0)):
            node = node_of(facility, end)
            if node:
                row = into.setdefault(node, {})
                row[at] = row.get(at, 0.0) + sign
    rows: list[Matrix] = []
    places: list[str] = []
    for node, row in into.items():
        if _closes(facility, node) and {-1.0, 1.0} <= {np.sign(v) for v in row.values()}:
            line = np.zeros(len(runs))
            line[list(row)] = list(row.values())
            rows.append(line)
            places.append(node)
    matrix = np.array(rows) if rows else np.zeros((0, len(runs)))
    return Balances(places=tuple(places), runs=runs, matrix=matrix)


def node_of(facility: model.Facility, end: str) -> str:
    """The place at which an end of a run balances: its outermost place, or the pump's duty group."""
    if not end or end == model.OUTSIDE:
        return ""
    for duty in facility.duties.values():
        if end in duty.pumps:
            return duty.id
    seen: set[str] = set()
    while (vessel := facility.vessels.get(end)) and vessel.part_of and end not in seen:
        seen.add(end)
        end = vessel.part_of
    return end


def _closes(facility: model.Facility, node: str) -> bool:
    vessel = facility.vessels.get(node)
    if vessel is None:
        return True
    hoses = {feeder for each in facility.vessels.values() for feeder in each.fed_by}
    return vessel.kind != "vessel" and not (vessel.stands_alone or vessel.fed_by or node in hoses)


def stated(facility: model.Facility, *, running: Mapping[str, bool] | None = None) -> RunFlows:
    """The flows that the house file states, and those that follow from them.

    Parameters
    ----------
    facility : Facility
        The checked model.
    running : mapping, optional
        Pump to whether it runs. Without it each duty group keeps as many as it states. With fewer or more,
        what its pumps move is taken in proportion (common practice, no source: parallel pumps share a pipe,
        so the true change is smaller) and what flows on follows in proportion.

    Returns
    -------
    RunFlows
        Stated flows with a standard uncertainty of 5 %, omitted ones solved from the balances; what cannot
        be solved is named in a finding and left out.
    """
    net = balances(facility)
    flows = {run.id: run.flow for run in facility.runs.values() if run.flow is not None}
    doubts = {name: max(DOUBT * abs(flow), LEAST) for name, flow in flows.items()}
    said: list[findings.Finding] = []
    basis = dict.fromkeys(flows, "stated")
    solved, spread, unknown = _solve(net, flows, doubts)
    for name, flow in solved.items():
        flows[name], doubts[name], basis[name] = flow, spread[name], "balance"
        if flow < -2.0 * spread[name]:
            said.append(_backwards(facility, name, flow))
    if running is not None:
        flows, doubts, changed = _with_running(facility, net, flows, doubts, running)
        said += changed
    said += [_not_solved(facility, name) for name in unknown]
    order = [name for name in facility.runs if name in flows]
    return RunFlows(
        flows={name: flows[name] for name in order},
        u={name: doubts[name] for name in order},
        basis={name: basis[name] for name in order},
        pumps=pump_flows(facility, flows, running),
        unknown=tuple(unknown),
        findings=tuple(said),
    )


def pump_flows(
    facility: model.Facility, flows: Mapping[str, float], running: Mapping[str, bool] | None = None
) -> dict[str, float]:
    """What each pump moves: the water of its duty group over the pumps that run, in m³/s.

    Without `running`, every pump of a group carries the share it has while it runs.
    """
    out: dict[str, float] = {}
    for duty in facility.duties.values():
        total = _through(facility, flows, duty.id, duty.pumps)
        on = [pump for pump in duty.pumps if running is None or running.get(pump, False)]
        count = duty.keep if running is None else len(on)
        for pump in duty.pumps:
            out[pump] = total / count if pump in on and count else 0.0
    for pump in facility.pumps:
        if pump not in out:
            stands = running is not None and not running.get(pump, True)
            out[pump] = 0.0 if stands else _through(facility, flows, pump, ())
    return out


def _through(
    facility: model.Facility, flows: Mapping[str, float], name: str, members: Sequence[str]
) -> float:
    """The water of all runs that pass a machine or start at it."""
    names = {name, *members}
    return sum(flows.get(run.id, 0.0) for run in facility.runs.values() if names & {run.source, *run.through})


def closed(facility: model.Facility, flows: Mapping[str, float]) -> dict[str, float]:
    """The flows nearest to those given, in proportion to their size, that close every balance.

    Parameters
    ----------
    facility : Facility
        The checked model.
    flows : mapping
        Run to flow; absent runs count nothing and stay so. [m³/s]

    Returns
    -------
    dict
        Run to flow; each balance closes to rounding.
    """
    net = balances(facility)
    names = [name for name in net.runs if name in flows]
    if not names:
        return {}
    column = np.array([flows[name] for name in names])
    part = net.matrix[:, [net.runs.index(name) for name in names]]
    spread = np.abs(column)
    shift = spread * (np.linalg.pinv(part * spread, rcond=1e-9) @ (part @ column))
    return dict(zip(names, (column - shift).tolist(), strict=True))


def _with_running(
    facility: model.Facility,
    net: Balances,
    flows: Mapping[str, float],
    doubts: Mapping[str, float],
    running: Mapping[str, bool],
) -> tuple[dict[str, float], dict[str, float], list[findings.Finding]]:
    """Pumped runs in proportion to the pumps that run; what a place passes on follows what it gets."""
    shares = {run.id: _share(facility, run, running) for run in facility.runs.values() if run.id in flows}
    turned = {name for name, share in shares.items() if share != 1.0}
    if not turned:
        return dict(flows), dict(doubts), []
    moved = {name: flow * shares[name] for name, flow in flows.items()}
    falls = {
        run.id: node
        for run in facility.runs.values()
        if run.id in flows and not _driven(facility, run) and (node := node_of(facility, run.source))
        in net.places
    }  # fmt: skip
    feeds = {
        place: [name for name, sign in zip(net.runs, row, strict=True) if sign > 0 and name in flows]
        for place, row in zip(net.places, net.matrix, strict=True)
    }
    before = {place: sum(flows[name] for name in names) for place, names in feeds.items()}
    for _ in range(len(flows) + 1):  # falls never make a ring, so this many passes reach the last one
        for name, place in falls.items():
            now = sum(moved[feed] for feed in feeds[place])
            moved[name] = flows[name] * now / before[place] if before[place] else flows[name]
    wider = {name: max(doubts[name], LEAST) + 0.5 * abs(moved[name] - flows[name]) for name in flows}
    wider |= {name: LEAST for name in flows if moved[name] == 0.0}
    said = findings.Finding(
        code="flows/in-proportion",
        level=findings.Level.NOTE,
        text="Other pumps run than the stated flows go with: flows were taken in proportion to their number.",
        hint="give curves and pipes, or measure the flow with these pumps running",
        data={"runs": sorted(turned)},
    )
    return moved, wider, [said]


def _share(facility: model.Facility, run: model.Run, running: Mapping[str, bool]) -> float:
    """The share of its stated flow that a run keeps with these pumps running."""
    share = 1.0
    for part in (run.source, *run.through):
        if part in facility.duties:
            duty = facility.duties[part]
            on = sum(running.get(pump, False) for pump in duty.pumps)
            share *= on / duty.keep if duty.keep else 1.0
        elif part in facility.pumps and not running.get(part, True):
            share = 0.0
    return share


def _driven(facility: model.Facility, run: model.Run) -> bool:
    return any(part in facility.duties or part in facility.pumps for part in (run.source, *run.through))


def _solve(
    net: Balances, flows: Mapping[str, float], doubts: Mapping[str, float]
) -> tuple[dict[str, float], dict[str, float], list[str]]:
    """Omitted flows by least squares on the balances; those the balances leave open by name."""
    names = [name for name in net.runs if name not in flows]
    if not names:
        return {}, {}, []
    known = [at for at, name in enumerate(net.runs) if name in flows]
    open_part = net.matrix[:, [net.runs.index(name) for name in names]]
    stated_part = net.matrix[:, known]
    column = np.array([flows[net.runs[at]] for at in known])
    spread = np.array([doubts[net.runs[at]] for at in known])
    back = np.linalg.pinv(open_part, rcond=1e-9)
    found = -back @ (stated_part @ column)
    doubt = np.sqrt(((back @ stated_part) ** 2) @ spread**2)
    loose = np.abs(np.eye(len(names)) - back @ open_part).max(axis=1) > _CLEAR
    solved = {name: float(found[at]) for at, name in enumerate(names) if not loose[at]}
    unsure = {name: max(float(doubt[at]), LEAST) for at, name in enumerate(names) if not loose[at]}
    return solved, unsure, [name for at, name in enumerate(names) if loose[at]]


def _backwards(facility: model.Facility, name: str, flow: float) -> findings.Finding:
    run = facility.runs[name]
    shown = hidden.visible(name)
    return findings.Finding(
        code="flows/backwards",
        level=findings.Level.ASK,
        text=f"By the other flows run {shown} would carry {flow * _M3H:.3g} m³/h, against its direction.",
        hint="correct a stated flow beside it, or swap 'from' and 'to'",
        spot=run.spot,
        data={"run": name, "flow": flow},
    )


def _not_solved(facility: model.Facility, name: str) -> findings.Finding:
    run = facility.runs[name]
    shown = hidden.visible(name)
    return findings.Finding(
        code="flows/not-determined",
        level=findings.Level.NOTE,
        text=f"The flow of run {shown} is not stated, and the balances do not tell it.",
        hint=f"state or measure the flow of run {shown}, or of the others at one of its ends",
        spot=run.spot,
        data={"run": name},
    )
