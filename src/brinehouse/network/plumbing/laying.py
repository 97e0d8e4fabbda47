"""The layout of a plant: levels, flows, heads at every station, pumps, findings."""

from __future__ import annotations

from collections.abc import Mapping

from brinehouse.facility import model
from brinehouse.network import flows as network_flows
from brinehouse.network.plumbing import case as cases
from brinehouse.network.plumbing import computing, draining, estimating, parts, suction, way
from brinehouse.network.plumbing.case import shown


def stations(
    facility: model.Facility,
    *,
    flows: Mapping[str, float] | None = None,
    running: Mapping[str, bool] | None = None,
    levels: Mapping[str, float] | None = None,
    surroundings: parts.Surroundings | None = None,
) -> parts.Layout:
    """Heads along every run of a facility.

    Parameters
    ----------
    facility : Facility
        The checked model.
    flows : mapping, optional
        Run to flow [m³/s]; the stated ones, and those that follow from balances, where not given.
    running : mapping, optional
        Pump to whether it runs; as many of each duty group as it keeps where not given.
    levels : mapping, optional
        Place to the height of its water [m]; from crests, depths and volumes where not given.
    surroundings : Surroundings, optional
        Air pressure and water; from the file where not given.

    Returns
    -------
    Layout
        Heads are computed where curves and pipes are told, else estimated with wide bounds.
    """
    told = network_flows.stated(facility, running=running)
    known = dict(told.flows if flows is None else flows)
    on = way.running_now(facility, running)
    case = cases.Case(
        facility=facility,
        flows=known,
        running=on,
        levels=cases.surfaces(facility, known, levels),
        pump_flows=_pump_flows(facility, known, running),
        surroundings=surroundings or parts.Surroundings(),
    )
    _standing(case)
    if flows is None:
        computing.solve(case)
        computing.follow(case)
        case.levels = cases.surfaces(facility, case.flows, levels)
    rows = estimating.stations(case)
    pumps = suction.states(case)
    drains = draining.drains(case)
    draining.over_rims(case)
    _missing(case)
    return parts.Layout(
        stations=rows,
        pumps=pumps,
        flows=case.flows,
        levels=case.levels,
        basis=_basis(case),
        halves=case.flow_halves,
        computed=frozenset(case.computed),
        drains=drains,
        findings=tuple(case.said),
        working=tuple(case.working),
    )


def _pump_flows(
    facility: model.Facility, flows: Mapping[str, float], running: Mapping[str, bool] | None
) -> dict[str, float]:
    """What each pump moves while it runs: a resting one gets what its neighbours have."""
    found = network_flows.pump_flows(facility, flows, running)
    for duty in facility.duties.values():
        most = max((found.get(pump, 0.0) for pump in duty.pumps), default=0.0)
        for pump in duty.pumps:
            if not found.get(pump):
                found[pump] = most
    return found


def _basis(case: cases.Case) -> str:
    driven = {run.id for run in case.facility.runs.values() if way.driven(case.facility, run)}
    if driven and driven <= case.computed:
        return "computed"
    return "partly" if driven & case.computed else "stated"


def _standing(case: cases.Case) -> None:
    """Groups of which no pump runs, and hand valves that are shut."""
    for group in dict.fromkeys(way.group_of(case.facility).values()):
        if not case.runs_any(group) and any(
            group in way.groups_on(case.facility, r) for r in case.facility.runs.values()
        ):
            case.say(
                "plumbing/stands-still", f"no pump of {shown(group)} runs: what it feeds stands still",
                "start one, and watch the level of its sump: water above the crests comes back",
                group=group,
            )  # fmt: skip


def _missing(case: cases.Case) -> None:
    """What would have to be told for heads that are missing."""
    facility = case.facility
    used = {end for run in facility.runs.values() for end in (run.source, run.target)}
    places = [name for name in facility.vessels if name in used and name not in case.levels]
    if places:
        case.say(
            "plumbing/no-level",
            f"nothing tells how high the water stands in {_list(places)}: heads there are unknown",
            "write 'elevation', and 'crest' or 'depth', measured from one datum",
            places=places,
        )
    pumps = [
        name for name, pump in facility.pumps.items() if pump.elevation is None and _on_a_run(case, name)
    ]
    if pumps:
        case.say(
            "plumbing/no-elevation",
            f"nothing tells how high {_list(pumps)} stand: whether air can be drawn in stays open",
            "write 'elevation' of each pump's inlet",
            pumps=pumps,
        )


def _on_a_run(case: cases.Case, pump: str) -> bool:
    group = way.group_of(case.facility)[pump]
    return any(group in way.groups_on(case.facility, run) for run in case.facility.runs.values())


def _list(names: list[str]) -> str:
    names = [shown(name) for name in names]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
