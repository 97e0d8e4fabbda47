"""From a facility, its flows and what acts on its water to tables: one body for each joined water.

`lay` makes the bodies, `batch` the tables of many scenarios of one of them. The equations are those of
`tables`; at the flows of a plant as it runs they are those of `compartments.assembly`.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brinehouse import findings
from brinehouse.facility import model
from brinehouse.network import flows as network_flows
from brinehouse.network.compartments import assembly, building, closing, settling, telling
from brinehouse.network.compartments import conditions as given
from brinehouse.network.compartments import plant as plants
from brinehouse.network.plumbing import way as plumbed
from brinehouse.network.transients import body as bodies_of
from brinehouse.network.transients import daytime, drawing, effects, happening, heights, pumping, tables
from brinehouse.science import excess, respiration
from brinehouse.science.constants import ZERO_CELSIUS

Floats = NDArray[np.float64]
Body = bodies_of.Body
Effect = effects.Effect
STILL = 0.3  # of the gas exchange of a surface that is left where no water comes in
CHANGE_OVER = 60.0  # s until an automatic standby runs
COMMON = "common practice, no source"
TWICE = "twice what it usually does, for its power is not stated; common practice, no source"
AMPLE_KELVIN = 10.0  # K in a pass: a power beyond it stands for one that nobody stated
LEAST_KELVIN = 0.3  # K in a pass
_MICRO = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """Every body of water of a facility, and what is to be said of all."""

    bodies: tuple[Body, ...]
    assumed: tuple[given.Assumed, ...]
    findings: tuple[findings.Finding, ...]


@dataclass(slots=True)
class _Case:
    """What the bodies of one facility share."""

    facility: model.Facility
    flows: Mapping[str, float]
    told: given.Conditions
    built: building.Built
    rest: settling.Rest
    change_over: float
    running: Mapping[str, bool]
    shares: pumping.Shares
    assumed: dict[str, given.Assumed] = field(default_factory=dict[str, given.Assumed])

    def assume(self, what: str, value: float, unit: str, source: str) -> None:
        """A number used though nobody stated it."""
        self.assumed[what] = given.Assumed(what=what, value=value, unit=unit, source=source)


def lay(
    facility: model.Facility,
    flows: Mapping[str, float],
    conditions: given.Conditions | None = None,
    *,
    state: Mapping[str, Mapping[str, float]] | None = None,
    change_over: float = CHANGE_OVER,
) -> Laid:
    """Every joined body of water of a facility in which animals live or water runs.

    Parameters
    ----------
    facility : Facility
        A checked facility.
    flows : mapping
        Run to flow. [m³/s]
    conditions : Conditions
        What acts on the water; named defaults where not told.
    state : mapping
        Place to species to value at the start, as `plant.SPECIES` counts them; where the plant settles where
        not told.
    change_over : float
        Until an automatic standby runs. [s]
    """
    told = conditions or given.Conditions()
    built = building.build(facility, flows, told)
    plant = built.plant
    if not plant.places:
        return Laid(bodies=(), assumed=built.assumed, findings=(*built.findings, _nothing()))
    rest = settling.settle(plant)
    said = [*built.findings, *telling.of_rest(plant, rest)]
    running = {**plumbed.running_now(facility, None), **_told_running(facility, told)}
    case = _Case(
        facility, flows, told, built, rest, change_over, running, pumping.Shares(facility, flows, running)
    )
    made = [_body(case, members, state or {}) for members in _joined(facility, plant)]
    said += [one for body in made for one in body.findings]
    if not made:
        said.append(_nothing())
    assumed = {one.what: one for body in made for one in body.assumed}
    return Laid(bodies=tuple(made), assumed=tuple(assumed.values()), findings=tuple(said))


def bodies(
    facility: model.Facility,
    flows: Mapping[str, float],
    conditions: given.Conditions | None = None,
    *,
    state: Mapping[str, Mapping[str, float]] | None = None,
    change_over: float = CHANGE_OVER,
) -> tuple[Body, ...]:
    """The bodies of `lay`."""
    return lay(facility, flows, conditions, state=state, change_over=change_over).bodies


def with_limits(body: Body, limits: Iterable[tuple[str, str, float, bool]]) -> tables.Structure:
    """A body's structure with limits: place, name in `tables.QUANTITIES`, value, whether more is worse.

    Those at places of other bodies are left out.
    """
    mine = [one for one in limits if one[0] in body.home]
    return dataclasses.replace(
        body.structure,
        limit_place=np.array([body.home[one[0]] for one in mine], dtype=np.intp),
        limit_quantity=np.array([tables.QUANTITY[one[1]] for one in mine], dtype=np.intp),
        limit_value=np.array([one[2] for one in mine], dtype=np.float64),
        limit_upper=np.array([one[3] for one in mine], dtype=np.bool_),
    )


def batch(
    body: Body,
    scenarios: Sequence[Sequence[Effect]],
    *,
    x: Floats | None = None,
    volume: Floats | None = None,
    clock: float | Sequence[float] = 0.0,
) -> tables.Tables:
    """Tables of many scenarios: see `happening.batch`."""
    return happening.batch(body, scenarios, x=x, volume=volume, clock=clock)


def touches(body: Body, what: Sequence[Effect]) -> bool:
    """Whether effects change anything of a body: see `happening.touches`."""
    return happening.touches(body, what)


# --- bodies ------------------------------------------------------------------------------------------------


def _nothing() -> findings.Finding:
    return findings.Finding(
        code="transients/no-water", level=findings.Level.ASK,
        text="no place of this file holds water of which a course could be worked out",
        hint="state a tank with its volume, and the runs that feed it",
    )  # fmt: skip


def _told_running(facility: model.Facility, told: given.Conditions) -> dict[str, bool]:
    """Pumps that conditions say to run or rest; of a duty group with one told, the others rest."""
    out: dict[str, bool] = {}
    for pump in facility.pumps:
        if pump in told.running:
            out[pump] = told.running[pump]
    for duty in facility.duties.values():
        if any(pump in told.running for pump in duty.pumps):
            out |= {pump: told.running.get(pump, False) for pump in duty.pumps}
    return out


def _joined(facility: model.Facility, plant: plants.Plant) -> list[list[int]]:
    """Places that share water, by what flows or could; those without animals, pumps or tanks are left out."""
    group = closing.bodies(plant.places, plant.transport.passages)
    for run in facility.runs.values():  # runs that stand still join as well
        ends = [
            end for one in (run.source, run.target) if (end := network_flows.node_of(facility, one)) in group
        ]
        if len(ends) == 2:
            both = group[ends[0]] | group[ends[1]]
            for place in both:
                group[place] = both
    lived = {place.id for one in facility.animals if (place := facility.place(one.at)) is not None}
    out: list[list[int]] = []
    for members in {id(one): one for one in group.values()}.values():
        kinds = {facility.vessels[place].kind for place in members}
        if kinds & {"tank", "sump"} or members & lived:
            out.append([at for at, place in enumerate(plant.places) if place in members])
    return out


def _body(case: _Case, members: list[int], state: Mapping[str, Mapping[str, float]]) -> Body:
    plant, facility = case.built.plant, case.facility
    case.assumed = {one.what: one for one in case.built.assumed}
    names = tuple(plant.places[at] for at in members)
    shapes = [_shape(case, at) for at in members]
    ways = drawing.Ways(facility, plant, members, shapes, case.assume)
    kinds = {place: facility.vessels[place].kind for place in names}
    free = closing.holders(kinds, dict(zip(names, (one.usual for one in shapes), strict=True)),
                           plant.transport.passages)  # fmt: skip
    drawn = ways.draw([at for at, place in enumerate(names) if place in free])
    groups = _groups(case, ways)
    made = drawing.ops(ways)
    structure = _structure(names, drawn, made)
    alone = np.array([_stands_alone(case, at) for at in members], dtype=np.bool_)
    base = tables.Tables(
        way=np.array(drawn.way, dtype=np.float64).reshape(1, 1, -1, len(tables.WAY)),
        op=np.array(made.rows, dtype=np.float64).reshape(1, 1, -1, tables.OP_COLUMNS),
        place=_places(case, members)[None, None],
        until=np.full((1, 1), bodies_of.FOREVER),
        x=_start(case, members, names, state)[None],
        volume=np.array([one.usual for one in shapes])[None],
        clock=np.zeros(1),
    )
    said = _rims(names, shapes, structure)
    kinds_of = [facility.equipment[one].kind for one in made.machines if one in facility.equipment]
    for one in (*daytime.assumed(), *happening.assumed(kinds_of)):
        case.assume(one.what, one.value, one.unit, one.source)
    case.assume("gas exchange left where no water comes in", STILL, "-", COMMON)
    case.assume("time that water is in pipes", 0.0, "s", "left out: minutes against hours")
    density = plant.density
    return Body(
        places=names, structure=structure, base=base, area=np.array([one.area for one in shapes]),
        rim=ways.rim, cut=ways.cut, assumed=tuple(case.assumed.values()), findings=said, facility=facility,
        groups=groups, runs=tuple(drawn.runs), parts=tuple(drawn.parts), usual=np.array(drawn.usual),
        extra=bodies_of.Extra(top_up=ways.top_up, change=ways.change, drain=ways.drain, rim=ways.over,
                              hole=ways.hole),
        op_way=np.array(made.way, dtype=np.intp), op_full=_full(case, ways, made, base.op[0, 0]),
        quiet=_quiet(case, members), alone=alone, shares=case.shares, joins=_joins(case, drawn.runs),
        air_unit=excess.AIR_IN_A_MILLILITRE * 1000.0 / density,
        heat_capacity=density * plant.heat_capacity, standing=_standing(facility, names, made.machines),
    )  # fmt: skip


def _joins(
    case: _Case, ways: Sequence[tuple[str, ...]]
) -> tuple[tuple[int, tuple[tuple[str, float], ...]], ...]:
    """For each way over a machine where runs join or part: the runs that go on from there."""
    facility, found = case.facility, list[tuple[int, tuple[tuple[str, float], ...]]]()
    for at, runs in enumerate(ways):
        for run in runs[:-1]:
            join = network_flows.node_of(facility, facility.runs[run].target)
            onward = tuple(
                (other.id, max(case.flows.get(other.id, 0.0), 0.0))
                for other in facility.runs.values()
                if network_flows.node_of(facility, other.source) == join
            )
            found.append((at, onward))
    return tuple(found)


def _standing(facility: model.Facility, names: Sequence[str], along: Sequence[str]) -> dict[str, int]:
    """Machines that stand in a place of this body and on no way."""
    found: dict[str, int] = {}
    for machine in facility.equipment.values():
        place = facility.place(machine.at) if machine.at else None
        if place is not None and place.id in names and machine.id not in along:
            found[machine.id] = names.index(place.id)
    return found


def _shape(case: _Case, at: int) -> heights.Shape:
    transport = case.built.plant.transport
    ways = case.built.plant.transport.passages
    over = sum(
        float(transport.flow[column])
        for column in np.flatnonzero(transport.source == at)
        if ways[column].run in case.facility.runs and not _pumped(case.facility, ways[column].parts)
    )
    vessel = case.facility.vessels[case.built.plant.places[at]]
    return heights.shape(vessel, float(transport.volumes[at]), over)


def _pumped(facility: model.Facility, parts: Sequence[str]) -> bool:
    return any(part in facility.duties or part in facility.pumps for part in parts)


def _structure(names: tuple[str, ...], drawn: drawing.Drawn, made: drawing.Ops) -> tables.Structure:
    none = np.zeros(0, dtype=np.intp)
    return tables.Structure(
        places=names, ways=tuple(drawn.names), machines=tuple(made.machines),
        source=np.array(drawn.source, dtype=np.intp), target=np.array(drawn.target, dtype=np.intp),
        law=np.array(drawn.law, dtype=np.intp),
        begin=np.array(made.begin, dtype=np.intp), end=np.array(made.end, dtype=np.intp),
        kind=np.array(made.kind, dtype=np.intp),
        outside=np.array(drawn.outside, dtype=np.float64).reshape(-1, len(plants.SPECIES)),
        day=daytime.day(), limit_place=none, limit_quantity=none, limit_value=np.zeros(0),
        limit_upper=np.zeros(0, dtype=np.bool_),
    )  # fmt: skip


def _start(
    case: _Case, members: list[int], names: tuple[str, ...], state: Mapping[str, Mapping[str, float]]
) -> Floats:
    """Where the water settles, and over it what is told."""
    x = np.where(np.isfinite(case.rest.x), case.rest.x, case.built.plant.start)[:, members]
    for at, place in enumerate(names):
        for species, value in state.get(place, {}).items():
            x[plants.AT[species], at] = value
    return x


def _stands_alone(case: _Case, at: int) -> bool:
    """Whether a tank has filter, air and heater of its own: no drawn water reaches it."""
    plant = case.built.plant
    fed = any(
        plant.transport.passages[column].run in case.facility.runs
        for column in np.flatnonzero(plant.transport.target == at)
    )
    return not fed and case.facility.vessels[plant.places[at]].kind == "tank"


# --- what acts at places -----------------------------------------------------------------------------------


def _places(case: _Case, members: list[int]) -> Floats:
    """Rows of `tables.PLACE`."""
    plant = case.built.plant
    local, at = plant.local, tables.AT
    per, micro = plant.density * plant.heat_capacity, _MICRO / plant.density
    out = np.zeros((len(members), len(tables.PLACE)))
    columns = {
        "usual": plant.transport.volumes, "velocity": local.velocity[0], "warmth": local.warmth / per,
        "lamps": local.lamps / per, "own": local.own / per, "own_at": local.own_at,
        "vapour_heat": local.heat / per, "vapour_slope": local.cooling / per, "about": local.about,
        "evaporation": local.evaporation, "breath": _breath(plant) * micro,
        "photo": local.photosynthesis * micro, "ammonia": local.ammonia * micro,
        "dosing": local.dosing * micro, "first": local.turning[0], "second": local.turning[1],
        "tracer": local.tracer,
    }  # fmt: skip
    for name, column in columns.items():
        out[:, at[name]] = column[members]
    out[:, at["still"]] = STILL
    out[:, at["usual_in"]] = _brought(case)[members]
    out[:, at["room"]] = plant.room_temperature
    out[:, at["kept"]] = float(plant.alkalinity_kept)
    out[:, at["decay"]] = plant.decay
    out[:, at["pressure"]], out[:, at["acid"]] = plant.station_pressure, plant.pco2
    return out


def _breath(plant: plants.Plant) -> Floats:
    """Oxygen used at each place over exp(-5020/T), in mol/s."""
    local = plant.local
    at_zero = respiration.oxygen_use(local.mass, 0.0, activity=plant.activity)
    whole = at_zero * np.exp(respiration.SLOPE / ZERO_CELSIUS) * local.count
    return np.bincount(local.home, weights=whole, minlength=len(plant.places)).astype(np.float64)


def _brought(case: _Case) -> Floats:
    """Water that runs bring to each place, without top-ups and changes."""
    transport = case.built.plant.transport
    drawn = np.array([way.run in case.facility.runs for way in transport.passages], dtype=np.float64)
    return transport.arriving @ drawn if len(drawn) else np.zeros(len(transport.places))


def _quiet(case: _Case, members: list[int]) -> Floats:
    """Transfer of a surface without air stones: that of the quietest place for each square metre."""
    least = min([given.TRANSFER_VELOCITY[0], *(one for one in case.told.transfer.values() if one > 0.0)])
    area = np.array([
        building.surface_of(case.facility.vessels[case.built.plant.places[at]],
                            float(case.built.plant.transport.volumes[at]))
        for at in members
    ])  # fmt: skip
    return np.minimum(least * area, case.built.plant.local.velocity[0][members])


# --- pumps and machines ------------------------------------------------------------------------------------


def _groups(case: _Case, ways: drawing.Ways) -> dict[str, bodies_of.Group]:
    """Groups of pumps that drive ways of this body; siphons are drawn on the way."""
    facility = case.facility
    found: dict[str, list[int]] = {}
    for at, parts in enumerate(ways.drawn.parts):
        for part in parts:
            if part in facility.duties or part in facility.pumps:
                found.setdefault(plumbed.group(facility, part), []).append(at)
    return {name: _group(case, ways, name, found[name]) for name in found}


def _group(case: _Case, ways: drawing.Ways, name: str, columns: list[int]) -> bodies_of.Group:
    facility, told = case.facility, case.told
    pumps = plumbed.members(facility, name)
    duty = facility.duties.get(name)
    held = bool(pumps) and all(facility.pumps[pump].check_valve is True for pump in pumps)
    returns: list[tuple[int, float]] = []
    siphons: list[tuple[int, float]] = []
    for at in dict.fromkeys(columns):
        run = facility.runs[ways.drawn.runs[at][0]]
        source = ways.drawn.source[at]
        if held or source < 0:
            continue
        if run.length and run.diameter:
            returns.append((source, np.pi / 4.0 * run.diameter**2 * run.length))
        sucked = ways.siphon(at)
        if sucked is not None:
            siphons.append(sucked)
    automatic = duty is not None and duty.standby == "automatic"
    delay = duty.change_over if duty is not None and duty.change_over is not None else case.change_over
    if automatic and (duty is None or duty.change_over is None):
        case.assume("until an automatic standby runs", delay, "s", COMMON)
    return bodies_of.Group(
        id=name, pumps=pumps, running=tuple(pump for pump in pumps if case.running.get(pump, False)),
        keep=duty.keep if duty is not None else 1, automatic=automatic, delay=delay,
        ways=np.array(list(dict.fromkeys(columns)), dtype=np.intp),
        watts={pump: told.pump_heat.get(pump, facility.pumps[pump].power or 0.0) for pump in pumps},
        air={pump: told.leaks[pump].air * told.leaks[pump].dissolved for pump in pumps if pump in told.leaks},
        returns=tuple(returns), siphons=tuple(siphons),
    )  # fmt: skip


def _full(case: _Case, ways: drawing.Ways, made: drawing.Ops, rows: Floats) -> Floats:
    """How far a holder changes the water where it runs full on: by its power, else twice what it does."""
    out = np.zeros(len(made.kind))
    balance: assembly.Balance | None = case.rest.balances.get("temperature")
    machines = case.built.plant.machines
    for op, kind in enumerate(made.kind):
        if kind != tables.HOLD:
            continue
        most = max(rows[op, 1], rows[op, 2])
        if most > AMPLE_KELVIN:
            column = ways.columns[made.way[op]]
            here = machines.part[:, column] == made.machines[op]
            usual = float(np.abs(balance.steps[here, column]).max()) if balance is not None else 0.0
            most = max(2.0 * usual, LEAST_KELVIN)
            case.assume(f"most that {made.machines[op]} changes the water by in a pass", most, "K", TWICE)
        out[op] = most
    return out


def _rims(
    names: tuple[str, ...], shapes: Sequence[heights.Shape], structure: tables.Structure
) -> tuple[findings.Finding, ...]:
    """Places of which nobody told how much they hold: water lost over them is not counted."""
    fed = set(structure.target.tolist())
    open_to = [name for at, name in enumerate(names) if shapes[at].rim is None and at in fed]
    if not open_to:
        return ()
    return (
        findings.Finding(
            code="transients/no-rim", level=findings.Level.NOTE,
            text=f"nothing tells how much {', '.join(open_to)} can hold: water that runs over there is not "
            "counted as lost",
            hint="write 'rim' (and 'elevation' or 'crest'), or 'volume' beside 'working'",
            data={"places": open_to},
        ),
    )  # fmt: skip
