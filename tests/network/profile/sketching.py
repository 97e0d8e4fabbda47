"""Stations drawn up by hand for the tests of the profile: round losses, no hydraulics behind them."""

import dataclasses
from types import SimpleNamespace as Some

LOSS = 0.5  # of head at each machine [m]


@dataclasses.dataclass(frozen=True)
class Station:
    run: str
    part: str
    where: str
    along: float
    elevation: float | None
    head: float | None
    low: float | None = None
    high: float | None = None
    basis: str = "estimated"
    flow: float | None = None
    open: bool = False


def surface(vessel):
    if vessel.elevation is None:
        return None
    if vessel.crest is not None:
        return vessel.crest
    if vessel.depth is not None:
        return vessel.elevation + vessel.depth
    volume = vessel.working or vessel.volume
    return vessel.elevation + volume / vessel.surface if volume and vessel.surface else None


def layout(facility, blocked=()):
    """A layout of every run whose places have heights."""
    rows = {}
    for run in facility.runs.values():
        source, target = facility.vessels.get(run.source), facility.vessels.get(run.target)
        rows[run.id] = tuple(_run(facility, run, source, target))
    pumps = {}
    groups = {pump: duty for duty in facility.duties.values() for pump in duty.pumps}
    for name, pump in facility.pumps.items():
        duty = groups.get(name)
        named = {name, duty.id if duty else ""}
        source = next(
            (facility.vessels.get(r.source) for r in facility.runs.values() if named & set(r.through)), None
        )
        level = surface(source) if source else None
        head = level - 0.3 - (1.0 if name in blocked else 0.0) if level is not None else None
        below = head is not None and pump.elevation is not None and head < pump.elevation
        running = duty is None or duty.pumps.index(name) < duty.keep
        pumps[name] = Some(
            pump=name, running=running, flow=None, head=None, suction_head=head,
            suction_low=head and head - 0.2, suction_high=head and head + 0.2,
            below_air="yes" if below else "no",
        )  # fmt: skip
    return Some(
        stations=rows, pumps=pumps, flows={r.id: r.flow for r in facility.runs.values()}, basis="stated"
    )


def _run(facility, run, source, target):
    def at(part, where, z, head, open=False, spread=0.15):
        return Station(
            run.id,
            part,
            where,
            0.0,
            z,
            head,
            head and head - spread,
            head and head + spread,
            flow=run.flow,
            open=open,
        )

    begin, end = (surface(v) if v else None for v in (source, target))
    pumped = [part for part in run.through if part in facility.duties or part in facility.pumps]
    if begin is not None:
        yield at(run.source, "surface", begin, begin, True, 0.0)
        if pumped:
            yield at(run.source, "outlet", source.elevation + 0.5 * (begin - source.elevation), begin)
        else:
            yield at(run.source, "outlet", begin, begin)
    top = run.high if run.high is not None else end
    parts = list(run.through)
    columns = [p for p in parts if p in facility.equipment and "column" in facility.equipment[p].kind]
    if pumped and top is not None:
        head = top + 0.2 + LOSS * (len(parts) - 1)
        before = True
        for part in parts:
            thing = facility.equipment.get(part)
            if part in facility.duties or part in facility.pumps:
                z = (
                    facility.pumps[facility.duties[part].pumps[0]].elevation
                    if part in facility.duties
                    else facility.pumps[part].elevation
                )
                yield at(part, "strainer", z, begin - 0.2 if begin is not None else None)
                yield at(part, "suction", z, begin - 0.3 if begin is not None else None)
                yield at(part, "discharge", z, head)
                before = False
            elif part in columns:
                yield at("", "high", run.high, head)
                yield at(part, "in", run.high, run.high + 0.1)
                yield at(part, "fall", thing.elevation + 2.0, None, True)
                yield at(part, "pool", thing.elevation + 0.5, thing.elevation + 0.5, True)
                yield at(part, "out", thing.elevation + 0.2, thing.elevation + 0.5)
                head = thing.elevation + 0.3
            else:
                z = thing.elevation
                yield at(part, "in", z, head if not before else begin - 0.1)
                head = head - LOSS
                yield at(part, "out", z, head if not before else begin - 0.2)
        if run.high is not None and not columns:
            yield at("", "high", run.high, head)
    else:
        for part in parts:
            thing = facility.equipment.get(part)
            z = thing.elevation if thing else None
            yield at(part, "fall", z, z, True)
    if end is not None:
        yield at(run.target, "fall", end + 0.05, end + 0.05, True)
        yield at(run.target, "surface", end, end, True, 0.0)
