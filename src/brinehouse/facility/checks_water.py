"""Checks on water: flows and their balance, volumes against sizes, parts that nothing reaches."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from brinehouse.facility import cases, hidden, model

_M3H = 3600.0  # m3/h in one m3/s
_SIZES_AGREE = 0.05  # straight walls and a stated volume: within one part in twenty
_FAR_TOO_SMALL = 0.1
_OVER_THE_CREST = 0.15  # m of water that may stand over an overflow


def negative_flows(case: cases.Case) -> None:
    """Water runs the way its run is drawn."""
    for run in case.facility.runs.values():
        if run.flow is not None and run.flow < 0:
            name = hidden.visible(run.id)
            ends = f"from {hidden.visible(run.source)} to {hidden.visible(run.target)}"
            case.say(
                "facility/negative-flow",
                ("run", run.id, "flow"),
                f"the flow of run {name} {ends} is negative",
                "turn the run round instead: swap 'from' and 'to', and write the flow without sign",
                about=f"run {name}",
            )


# -- balance ------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Node:
    """A place or machine at which runs begin and end."""

    into: list[model.Run] = field(default_factory=list[model.Run])
    out: list[model.Run] = field(default_factory=list[model.Run])

    @property
    def known(self) -> bool:
        """Whether every flow here is stated."""
        return all(run.flow is not None for run in (*self.into, *self.out))

    @property
    def sums(self) -> tuple[float, float]:
        """Flow in and flow out, both in m³/s."""
        return sum(run.flow or 0.0 for run in self.into), sum(run.flow or 0.0 for run in self.out)


def balance(case: cases.Case) -> None:
    """What flows into a place flows out of it, but for the stated allowance."""
    if case.broken:
        return
    gaps: dict[str, float] = {}
    nodes = _nodes(case.facility)
    for name, node in nodes.items():
        into, out = node.sums
        if (
            node.known
            and abs(into - out) > case.facility.allowance * max(into, out)
            and _counts(case.facility, name, node)
        ):
            gaps[name] = into - out
    for name, gap in gaps.items():
        _say_gap(case, name, nodes[name], gap, gaps)


def _nodes(facility: model.Facility) -> dict[str, _Node]:
    nodes: dict[str, _Node] = {}
    group = {pump: duty.id for duty in facility.duties.values() for pump in duty.pumps}
    for run in facility.runs.values():
        for end, side in ((run.source, "out"), (run.target, "into")):
            if end and end != model.OUTSIDE:
                getattr(nodes.setdefault(group.get(end, end), _Node()), side).append(run)
    return nodes


def _counts(facility: model.Facility, name: str, node: _Node) -> bool:
    """Stores fill and empty as they please; a machine drawn on one side only is not judged."""
    vessel = facility.vessels.get(name)
    if vessel is None:
        return bool(node.into and node.out)
    return vessel.kind != "vessel" and not (vessel.stands_alone or vessel.fed_by or vessel.part_of)


def _say_gap(case: cases.Case, name: str, node: _Node, gap: float, gaps: dict[str, float]) -> None:
    into, out = (f"{amount * _M3H:.4g}" for amount in node.sums)
    share = abs(gap) / max(node.sums)
    which = "in" if gap > 0 else "out"
    suspect, hint = _suspect(node, name, gap, gaps)
    thing = f"{case.facility.find(name)} {hidden.visible(name)}"
    text = (
        f"{thing}: in {into} m³/h, out {out} m³/h: {abs(gap) * _M3H:.3g} m³/h too much {which} "
        f"({share * 100:.0f} %, where {case.facility.allowance * 100:.3g} % is allowed)"
    )
    case.ask(
        "facility/mass-balance", ("run", suspect.id, "flow"), text, hint, about=thing, place=name,
        into=node.sums[0], out=node.sums[1], gap=gap, allowance=case.facility.allowance,
    )  # fmt: skip


def _suspect(node: _Node, name: str, gap: float, gaps: dict[str, float]) -> tuple[model.Run, str]:
    """The run to look at first: one whose other end has the opposite gap, else the largest."""
    for run in (*node.into, *node.out):
        other = run.target if run.source == name else run.source
        change = gap if run.source == name else -gap
        flow = (run.flow or 0.0) + change
        if flow > 0 and math.isclose(gaps.get(other, 0.0), -gap, rel_tol=1e-6):
            shown, end = hidden.visible(run.id), hidden.visible(other)
            return run, f"look at run {shown}: with {flow * _M3H:.4g} m3/h the gap at {end} closes too"
    full = node.into if gap > 0 else node.out
    run = max(full, key=lambda each: each.flow or 0.0)
    return run, (
        "correct a flow, add the run that is missing, or leave out the 'flow' that was never measured: "
        "it is then worked out from the others"
    )


# -- sizes --------------------------------------------------------------------------------------------


def sizes(case: cases.Case) -> None:
    """The volume fits the sizes, the working volume fits the volume, the water fits under the crest."""
    for vessel in case.facility.vessels.values():
        path = (vessel.kind, vessel.id)
        thing = f"{vessel.kind} {hidden.visible(vessel.id)}"
        most = _most(vessel)
        if most is not None and vessel.volume is not None:
            _volume(case, vessel, thing, most)
        if (
            vessel.working is not None
            and vessel.volume is not None
            and vessel.working > vessel.volume * 1.001
        ):
            case.ask(
                "facility/working-volume",
                (*path, "working"),
                f"{thing}: {vessel.working:.4g} m³ in running is more than its {vessel.volume:.4g} m³",
                "correct 'working' or 'volume'",
                about=thing,
            )
        if vessel.elevation is not None and vessel.crest is not None:
            _crest(case, vessel, thing)


def _most(vessel: model.Vessel) -> float | None:
    """The most that the stated sizes can hold, in m³."""
    if vessel.depth is None:
        return None
    if vessel.length is not None and vessel.width is not None:
        return vessel.length * vessel.width * vessel.depth
    if vessel.diameter is not None:
        return math.pi / 4 * vessel.diameter**2 * vessel.depth
    return None


def _volume(case: cases.Case, vessel: model.Vessel, thing: str, most: float) -> None:
    volume = vessel.volume or 0.0
    if most <= 0 or volume <= 0:
        return
    if volume > most * (1 + _SIZES_AGREE):
        how = f"{volume / most:.2g} times as much"
    elif volume < most * _FAR_TOO_SMALL:
        how = f"a {most / volume:.3g}th of that"
    else:
        return
    case.ask(
        "facility/volume-against-sizes",
        (vessel.kind, vessel.id, "volume"),
        f"{thing}: the sizes give at most {most:.3g} m³, but the volume says {volume:.4g} m³: {how}",
        "correct the volume or the sizes: doses and loads hang on it",
        about=thing,
        most=most,
        volume=volume,
    )


def _crest(case: cases.Case, vessel: model.Vessel, thing: str) -> None:
    crest, floor = vessel.crest or 0.0, vessel.elevation or 0.0
    path = (vessel.kind, vessel.id, "crest")
    if crest <= floor:
        case.ask(
            "facility/crest",
            path,
            f"{thing}: its crest ({crest:.4g} m) is not above its floor ({floor:.4g} m)",
            "measure both from the plant-room datum",
            about=thing,
        )
    elif vessel.depth is not None and vessel.depth > crest - floor + _OVER_THE_CREST:
        case.ask(
            "facility/crest",
            path,
            f"{thing}: {vessel.depth:.4g} m of water, and the crest is {crest - floor:.4g} m above the floor",
            "correct 'depth', 'crest' or 'elevation'",
            about=thing,
        )


# -- parts that nothing reaches -----------------------------------------------------------------------


def unconnected(case: cases.Case) -> None:
    """Every place and machine has its place in the drawing, or says that it stands alone."""
    facility = case.facility
    if not facility.runs:
        if facility.vessels and not all(vessel.stands_alone for vessel in facility.vessels.values()):
            case.note(
                "facility/no-runs",
                ("run",),
                "no run is drawn: nothing says how water goes from place to place",
                'add runs, e.g. [run.supply] with from = "sump" and to = "tank", when they are wanted',
            )
        return
    used = _used(facility)
    for vessel in facility.vessels.values():
        if vessel.id not in used and not vessel.stands_alone and not vessel.retired:
            shown = hidden.visible(vessel.id)
            case.note(
                "facility/unconnected",
                (vessel.kind, vessel.id),
                f"{vessel.kind} {shown} has no connections",
                "write stands_alone = true if that is meant",
                about=f"{vessel.kind} {shown}",
            )
    for name, machine in (*facility.pumps.items(), *facility.equipment.items()):
        if name not in used and not machine.at and not machine.retired:
            thing = f"{facility.find(name)} {hidden.visible(name)}"
            case.note(
                "facility/unconnected",
                (facility.find(name), name),
                f"no run and no duty group has {thing}",
                'name it in a run, or say where it stands: at = "..."',
                about=thing,
            )


def _used(facility: model.Facility) -> set[str]:
    used: set[str] = set()
    for run in facility.runs.values():
        used |= {run.source, run.target, *run.through}
    for duty in facility.duties.values():
        used |= set(duty.pumps)
    for vessel in facility.vessels.values():
        used |= set(vessel.fed_by)
        if vessel.fed_by:
            used.add(vessel.id)
        if vessel.part_of:
            used |= {vessel.id, vessel.part_of}
    return used
