"""What comes back to each sump when everything stops, against the room it has."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from brinehouse import answers, findings
from brinehouse.facility import model
from brinehouse.network.plumbing import levels, way
from brinehouse.network.plumbing.case import Case, shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One part of what comes back: ``what`` is crest, pipe or siphon; ``usual`` whether it always does.

    The other parts come only where a check valve leaks or a siphon break is blocked.
    """

    of: str
    what: str
    volume: float  # m³
    usual: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Drain:
    """One sump when everything stops.

    Attributes
    ----------
    usual, worst : float
        What comes back while check valves hold and siphon breaks breathe, and when neither does. [m³]
    room : float or None
        Between its level and its rim. [m³]
    level_usual, level_worst : float or None
        Where its water would stand, were there no rim. [m]
    unknown : tuple of str
        Places and runs of which too little is told to count them.
    """

    sump: str
    usual: float
    worst: float
    room: float | None
    level_usual: float | None
    level_worst: float | None
    shares: tuple[Share, ...] = ()
    unknown: tuple[str, ...] = ()


def drains(case: Case) -> dict[str, Drain]:
    """Every sump that driven runs draw from, with findings where it would run over."""
    found: dict[str, Drain] = {}
    for vessel in case.facility.vessels.values():
        runs = [
            run
            for run in case.facility.runs.values()
            if run.source == vessel.id and way.driven(case.facility, run)
        ]
        if vessel.kind == "sump" and runs:
            found[vessel.id] = _drain(case, vessel, runs)
            _judge(case, found[vessel.id], vessel)
    return found


def _drain(case: Case, sump: model.Vessel, runs: list[model.Run]) -> Drain:
    shares: list[Share] = []
    unknown: list[str] = []
    for place in _above(case.facility, sump.id):
        _crest(case, case.facility.vessels[place], shares, unknown)
    for run in runs:
        _pipe(case, run, shares, unknown)
    usual = sum(share.volume for share in shares if share.usual)
    worst = sum(share.volume for share in shares)
    level, area = case.levels.get(sump.id), levels.area(sump)
    here = level.value if level is not None else None
    room = levels.room(sump, here) if here is not None else None
    told = here is not None and area is not None and area > 0
    _work(case, sump, shares, worst)
    return Drain(
        sump=sump.id,
        usual=usual,
        worst=worst,
        room=room,
        level_usual=(here or 0.0) + usual / (area or 1.0) if told else None,
        level_worst=(here or 0.0) + worst / (area or 1.0) if told else None,
        shares=tuple(shares),
        unknown=tuple(unknown),
    )


def _above(facility: model.Facility, sump: str) -> list[str]:
    """Places whose overflow comes to a sump, by itself or through other places."""
    found: list[str] = []
    ends = {sump}
    grown = True
    while grown:
        more = [
            run.source
            for run in facility.runs.values()
            if run.target in ends and run.source in facility.vessels and not way.driven(facility, run)
        ]
        grown = any(place not in ends for place in more)
        found += [place for place in dict.fromkeys(more) if place not in ends]
        ends |= set(more)
    return found


def _crest(case: Case, place: model.Vessel, shares: list[Share], unknown: list[str]) -> None:
    """Water that stands over a crest runs off."""
    level, area = case.levels.get(place.id), levels.area(place)
    if level is None or area is None or place.crest is None:
        unknown.append(place.id)
        return
    over = max(level.value - place.crest, 0.0)
    if over > 0:
        shares.append(Share(of=place.id, what="crest", volume=over * area, usual=True))


def _pipe(case: Case, run: model.Run, shares: list[Share], unknown: list[str]) -> None:
    """A supply pipe empties back through its pumps, and sucks its place down to the pipe's mouth."""
    held = _held(case.facility, run)
    if run.length is not None and run.diameter is not None:
        volume = math.pi / 4 * run.diameter**2 * run.length
        shares.append(Share(of=run.id, what="pipe", volume=volume, usual=not held))
    else:
        unknown.append(run.id)
    if any(step.kind in ("open", "column") for step in way.steps(case.facility, run)):
        return  # air gets in at the top of what is open
    depth = siphoned(case, run)
    place = case.facility.vessels.get(run.target)
    area = levels.area(place) if place is not None else None
    if depth is None:
        unknown.extend([run.id] if run.id not in unknown else [])
    elif depth > 0 and place is not None and place.id != run.source:
        if area is None:
            unknown.append(place.id)
            return
        breathes = bool(run.siphon_break)
        shares.append(Share(of=run.id, what="siphon", volume=depth * area, usual=not (held or breathes)))


def siphoned(case: Case, run: model.Run) -> float | None:
    """How deep a run would suck down the place it feeds, below its crest; None where not told. [m]."""
    place = case.facility.vessels.get(run.target)
    if place is None:
        return 0.0
    if run.outlet is None:
        return None
    level = case.levels.get(place.id)
    top = place.crest if place.crest is not None else (level.value if level else None)
    source = case.levels.get(run.source)
    if top is None:
        return None
    lowest = max(
        run.outlet, source.value if source is not None else run.outlet, place.elevation or run.outlet
    )
    return max(top - lowest, 0.0)


def _held(facility: model.Facility, run: model.Run) -> bool:
    """Whether a check valve stands at every pump on its way."""
    pumps = [pump for group in way.groups_on(facility, run) for pump in way.members(facility, group)]
    return bool(pumps) and all(facility.pumps[pump].check_valve is True for pump in pumps)


def _judge(case: Case, drain: Drain, sump: model.Vessel) -> None:
    name = shown(sump.id)
    if drain.room is None:
        return
    numbers = {"sump": sump.id, "usual": drain.usual, "worst": drain.worst, "room": drain.room}
    if drain.usual > drain.room:
        case.say(
            "plumbing/floods",
            f"when everything stops {drain.usual:.2g} m³ come back to {name}, and it has room for "
            f"{drain.room:.2g} m³: it runs over",
            "run it at a lower level, raise its rim, or hold the water back above",
            level=findings.Level.ACT, spot=sump.spot, **numbers,
        )  # fmt: skip
    elif drain.worst > drain.room:
        case.say(
            "plumbing/floods-at-worst",
            f"{name} has room for {drain.room:.2g} m³; {drain.usual:.2g} m³ come back when all stops, "
            f"{drain.worst:.2g} m³ if check valves leak and siphon breaks are blocked",
            "look at check valves and siphon breaks on every round, or end the pipes nearer to the water",
            level=findings.Level.WATCH, spot=sump.spot, **numbers,
        )  # fmt: skip


def _work(case: Case, sump: model.Vessel, shares: list[Share], worst: float) -> None:
    inputs: Mapping[str, tuple[float | str, str]] = {
        f"{share.what} of {share.of}": (share.volume, "m³") for share in shares
    }
    case.working.append(
        answers.Step(
            name=f"what comes back to {sump.id}",
            equation="Σ area (level - crest) + Σ pipe volumes + Σ area (crest - mouth of a siphon)",
            inputs=inputs,
            result=worst,
            unit="m³",
            source="volumes by the house file",
            note="at worst: everything stops at once, check valves leak, siphon breaks are blocked",
        )
    )


def over_rims(case: Case) -> None:
    """Places whose water stands at or over the rim, and standpipes that gulp air."""
    for vessel in case.facility.vessels.values():
        level = case.levels.get(vessel.id)
        if level is None:
            continue
        over = level.value - vessel.crest if vessel.crest is not None else 0.0
        if vessel.rim is not None and level.value >= vessel.rim:
            case.say(
                "plumbing/over-rim",
                f"the water of {shown(vessel.id)} would stand at {level.value:.2f} m, and its rim is at "
                f"{vessel.rim:.2f} m: it runs over",
                "a wider overflow, less flow, or look for what blocks it",
                level=findings.Level.ACT, spot=vessel.spot, place=vessel.id, level_m=level.value,
            )  # fmt: skip
        kind = vessel.overflow.kind if vessel.overflow is not None else ""
        if vessel.overflow is not None and kind == "standpipe" and over > vessel.overflow.size / 2:
            case.say(
                "plumbing/gulps",
                f"the standpipe of {shown(vessel.id)} has {over * 100:.0f} cm of water over it, over half "
                "its bore: it gulps air and may suck by turns",
                "a wider pipe, or less flow",
                spot=vessel.spot, place=vessel.id, over=over,
            )  # fmt: skip
