"""Heads and flows of the driven runs, computed where curves, losses and pipes are told."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinehouse import answers, findings
from brinehouse.facility import model
from brinehouse.network.hydraulics import links, solving
from brinehouse.network.plumbing import curves, losses, netting, parts, way
from brinehouse.network.plumbing.case import Case, shown
from brinehouse.science import hydraulics, seawater

Array = NDArray[np.float64]
OFF_CURVE = curves.PRINTED  # of a pump's head, 95 %
OFF_LOSSES = 0.25  # of every loss, 95 %. Common practice, no source
LEVELS = 0.05  # m: what levels add, 95 %
DIFFERS = 0.15  # of a stated flow: more than that is asked about
_M3H = 3600.0


def solve(case: Case) -> None:
    """Put computed heads and flows into a case; what cannot be computed is left to be estimated."""
    for cut in netting.together(case):
        groups = {step.part for piece in cut for step in piece.steps if step.kind == "pumps"}
        if not groups or not all(case.runs_any(group) for group in groups):
            continue
        if not _told(case, cut):
            continue
        fixed = netting.fixed_heads(case, cut)
        made = netting.net(case, cut, fixed) if fixed is not None else None
        if made is None:
            _not_apart(case, cut, fixed)
            continue
        _solve(case, made)


def _told(case: Case, cut: list[netting.Piece]) -> bool:
    """Whether every pump has a curve, every machine a loss and every run a pipe."""
    for piece in cut:
        if piece.first and not losses.described(piece.run):
            return False
        for part in piece.parts:
            machine = case.facility.equipment.get(part)
            if machine is not None and machine.loss is None:
                return False
            for pump in way.members(case.facility, part):
                if case.running.get(pump) and curves.usable(case.facility.pumps[pump]) is None:
                    return False
    return True


def _not_apart(case: Case, cut: list[netting.Piece], fixed: dict[str, float] | None) -> None:
    if fixed is None:
        return
    runs = list(dict.fromkeys(piece.run.id for piece in cut))
    case.say(
        "plumbing/not-apart",
        f"runs {', '.join(shown(run) for run in runs)} cannot be told apart: heads are estimated",
        "give each its own way behind the pumps, and each duty group one place it draws from",
        runs=runs,
    )


def _solve(case: Case, made: netting.Net) -> None:
    thick = viscosity(case, made)
    base = solving.solve(made.nodes, made.links, viscosity=thick)
    if not base.converged or not base.flows:
        case.said += [one for one in base.findings if one.code.startswith("hydraulics/")]
        case.say(
            "plumbing/not-solved",
            f"flows of {', '.join(shown(run.id) for run in made.runs)} could not be computed: "
            "heads are estimated",
            "look at curves, levels and lengths of these runs",
            level=findings.Level.ASK,
        )
        return
    _judge(case, made, base)
    spread = _spread(made, base, thick)
    _take(case, made, base, spread)


def viscosity(case: Case, made: netting.Net) -> float:
    """Kinematic viscosity of the water that these runs carry: by the places they join. [m²/s]."""
    ends = {end for run in made.runs for end in (run.source, run.target)}
    known = [
        (vessel.temperature, 34.0 if vessel.salinity is None else vessel.salinity)
        for vessel in case.facility.places
        if vessel.id in ends and vessel.temperature is not None
    ]
    if not known:
        return losses.VISCOSITY
    warm, salt = (sum(column) / len(known) for column in zip(*known, strict=True))
    return float(seawater.viscosity(warm, salt) / seawater.density(warm, salt))


def _judge(case: Case, made: netting.Net, base: links.Solution) -> None:
    """Shut branches, pumps that move nothing, pumps pressing against a shut valve."""
    for run in made.runs:
        if run.open is not None and run.open <= losses.SHUT:
            case.say(
                "plumbing/shut", f"the hand valve of run {shown(run.id)} is shut: no water passes",
                "open it, or take the run out",
                spot=run.spot, run=run.id,
            )  # fmt: skip
    for group in made.groups:
        for name in way.members(case.facility, group):
            link = f"pump:{name}"
            if link in base.flows and base.flows[link] < 1e-7:
                pump = case.facility.pumps[name]
                case.say(
                    "plumbing/moves-nothing",
                    f"{shown(name)} runs and moves nothing: its ways are shut or higher than it can lift",
                    "open a way at once: the water in it heats up; then look at valves and its curve",
                    level=findings.Level.ACT, spot=pump.spot, pump=name,
                )  # fmt: skip


def _spread(
    made: netting.Net, base: links.Solution, thick: float
) -> tuple[dict[str, float], dict[str, float]]:
    """How far each head [m] and each flow [m³/s] may be off (95 %): curves and losses varied."""
    factor = np.array([1 - OFF_CURVE, 1 + OFF_CURVE, 1.0])
    pumps = [link.id for link in made.links if link.kind == "pump"]
    more = {
        link.id: link.loss + np.array([0.0, 0.0, _extra(link, base.flows[link.id], thick)])
        for link in made.links
        if link.kind != "pump"
    }
    varied = solving.solve_many(
        made.nodes,
        made.links,
        variations={"curve_factor": dict.fromkeys(pumps, factor), "loss": more},
        viscosity=thick,
    )
    return (
        _half(varied.heads, base.heads, varied.node_ids),
        _half(varied.flows, base.flows, varied.link_ids),
    )


def _half(rows: Array, base: Mapping[str, float], names: tuple[str, ...]) -> dict[str, float]:
    away = np.abs(rows - np.array([base.get(name, np.nan) for name in names]))
    half = np.hypot(np.maximum(away[0], away[1]), away[2])
    return {name: float(one) if one == one else 0.0 for name, one in zip(names, half, strict=True)}


def _extra(link: links.Link, flow: float, thick: float) -> float:
    """Loss coefficient that adds a quarter to what a link takes."""
    if abs(flow) < 1e-9:
        return 0.0
    lost = losses.friction(flow, link.length, link.diameter, link.roughness, thick)
    lost += losses.at_points(link.points, abs(flow)) if link.points else 0.0
    share = 1.0 / max(link.share_open, 1e-3) ** 2 - 1.0 if link.kind == "valve" else 0.0
    return OFF_LOSSES * (lost * link.diameter**4 / (hydraulics.SQUARE * flow**2) + link.loss + share)


def _take(
    case: Case, made: netting.Net, base: links.Solution, spread: tuple[dict[str, float], dict[str, float]]
) -> None:
    """Heads and flows into the case."""
    heads, flows = spread

    def head(name: str) -> parts.Head | None:
        node = made.node(name)
        value = base.heads.get(node)
        return None if value is None else parts.Head.of(value, math.hypot(heads.get(node, 0.0), LEVELS))

    keys = [(part, where, f"{where}:{part}") for part in made.machines for where in ("in", "out")]
    keys += [(group, "discharge", f"out:{group}") for group in made.groups]
    keys += [(group, "in", f"in:{group}") for group in made.groups]
    keys += [(run.id, "valved", f"valved:{run.id}") for run in made.runs]
    for part, where, name in keys:
        found = head(name)
        if found is not None:
            case.solved[part, where] = found
    for run, link in made.carries.items():
        _compare(case, case.facility.runs[run], base.flows[link], flows[link])
        case.flows[run] = max(base.flows[link], 0.0)
        case.flow_halves[run] = flows[link]
        case.computed.add(run)
    for group in made.groups:
        most = 0.0
        for pump in way.members(case.facility, group):
            if f"pump:{pump}" in base.flows:
                case.pump_flows[pump] = base.flows[f"pump:{pump}"]
                most = max(most, case.pump_flows[pump])
        for pump in way.members(case.facility, group):
            if f"pump:{pump}" not in base.flows:
                case.pump_flows[pump] = most
    case.working.append(_step(made, base))


def _compare(case: Case, run: model.Run, flow: float, half: float) -> None:
    """A stated flow that pumps and pipes do not make is asked about."""
    if run.flow is None or not _as_usual(case):
        return
    if abs(flow - run.flow) > max(DIFFERS * run.flow, half):
        case.say(
            "plumbing/flow-differs",
            f"by pumps and pipes run {shown(run.id)} carries {flow * _M3H:.3g} m³/h, and "
            f"{run.flow * _M3H:.3g} m³/h is stated",
            "measure it; then correct the flow, the curve, or what is said of the pipe",
            level=findings.Level.ASK, spot=run.spot, run=run.id, computed=flow, stated=run.flow,
        )  # fmt: skip


def _as_usual(case: Case) -> bool:
    """Whether as many pumps run as the stated flows go with."""
    return all(
        sum(case.running.get(pump, False) for pump in way.members(case.facility, duty.id)) == duty.keep
        for duty in case.facility.duties.values()
    )


def _step(made: netting.Net, base: links.Solution) -> answers.Step:
    inputs: dict[str, tuple[Any, str]] = {
        link.id: (base.flows[link.id] * _M3H, "m³/h") for link in made.links if link.id.startswith("pipe:")
    }
    return answers.Step(
        name=f"flows of {', '.join(made.groups)}",
        equation="head lost round every loop is nought, water in at every joint is water out",
        inputs=inputs,
        result=base.lost,
        unit="m³/s",
        source="global gradient method (EPANET 2.2 user manual, ch. 12); losses after Darcy-Weisbach",
        note=f"{base.iterations} steps; the result is the largest gap of any balance",
    )


def follow(case: Case) -> None:
    """What runs over the crests of fed places follows what is pumped into them, in the stated shares."""
    facility = case.facility
    for _ in range(len(facility.runs)):
        changed = False
        for place in facility.vessels:
            changed |= _pass_on(case, place)
        if not changed:
            return


def _pass_on(case: Case, place: str) -> bool:
    facility = case.facility
    into = [run for run in facility.runs.values() if run.target == place]
    out = [run for run in facility.runs.values() if run.source == place]
    falling = [run for run in out if not way.driven(facility, run)]
    known = into and all(run.id in case.flows for run in into)
    if not falling or not known or any(run not in falling for run in out):
        return False
    if not any(run.id in case.computed or run.id in case.followed for run in into):
        return False
    total = sum(case.flows[run.id] for run in into)
    before = sum(case.flows.get(run.id, 0.0) for run in falling)
    changed = False
    for run in falling:
        share = case.flows.get(run.id, 0.0) / before if before > 0 else 1.0 / len(falling)
        changed |= abs(case.flows.get(run.id, 0.0) - share * total) > 1e-9
        case.flows[run.id] = share * total
        case.followed.add(run.id)
    return changed
