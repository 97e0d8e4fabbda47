"""Effects put into the tables of a body of water: rows for each scenario and each of its phases."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.facility import model
from brinehouse.network.compartments import conditions as given
from brinehouse.network.compartments import devices
from brinehouse.network.compartments import plant as plants
from brinehouse.network.plumbing import way as plumbed
from brinehouse.network.transients import body as bodies_of
from brinehouse.network.transients import effects, heights, pumping, tables

Effect = effects.Effect
Body = bodies_of.Body
Floats = NDArray[np.float64]
AT = tables.AT
AIR = [devices.AIR[gas] for gas in plants.DISSOLVED]
GATED = ("packed column", "degasser", "contactor")  # work by a fan or a vacuum
FAN_OFF = 0.4  # of its exchange that a column keeps without fan or vacuum; common practice, no source
BLOWER_OFF = 0.4  # of a place's exchange that is left without its blower; common practice, no source
RUNAWAY = 1.0 / 3600.0  # K/s of a tank's own heater or chiller of which no power is told; common practice
AFTER_FOOD = 0.43  # breathing more for each ration more: `respiration.AFTER_FEEDING` over `ROUTINE`, less one
BREATH_MOST = 2.0  # times its usual; common practice, no source
FASTING = (0.8, 0.3)  # breathing and ammonia without food, over those with; common practice, no source
COLDEST, HOTTEST = 1.0, 45.0  # °C that a machine without end brings water to, by its own safety
_HOUR = 3600.0


@dataclass(slots=True)
class _Phase:
    """What holds during a phase: effects that have come, parts without power, pumps that run."""

    since: float
    now: list[Effect]
    off: frozenset[str]
    running: frozenset[str]
    valves: pumping.Valves

    @property
    def whole(self) -> bool:
        """Whether the power of the whole hall is off."""
        return any(one.kind == "power" for one in self.now)


def batch(
    body: Body,
    scenarios: Sequence[Sequence[Effect]],
    *,
    x: Floats | None = None,
    volume: Floats | None = None,
    clock: float | Sequence[float] = 0.0,
) -> tables.Tables:
    """Tables of many scenarios of one body.

    Parameters
    ----------
    body : Body
    scenarios : sequence of sequences of Effect
        An empty one is the plant as it runs.
    x, volume : ndarray, optional
        (species, places) and (places,) at the start, or one set for each scenario; the body's own where not
        given. [m³]
    clock : float or sequence of float
        Hour of the day at the start. [h]
    """
    courses = [_phases(body, one) for one in scenarios]
    body.shares.prepare({(phase.running, phase.valves) for course in courses for phase in course})
    deep = max((len(course) for course in courses), default=1)
    size, base = len(courses), body.base
    out = tables.Tables(
        way=_many(base.way, size, deep), op=_many(base.op, size, deep), place=_many(base.place, size, deep),
        until=np.full((size, deep), bodies_of.FOREVER),
        x=_start(base.x, x, size), volume=_start(base.volume, volume, size),
        clock=np.broadcast_to(np.asarray(clock, dtype=np.float64), (size,)).copy(),
    )  # fmt: skip
    for row, course in enumerate(courses):
        for at, phase in enumerate(course):
            _put(body, phase, out.way[row, at], out.op[row, at], out.place[row, at])
            if at + 1 < len(course):
                out.until[row, at] = course[at + 1].since
        out.until[row, len(course) - 1 :] = bodies_of.FOREVER * (1.0 + np.arange(deep - len(course) + 1))
        for table in (out.way, out.op, out.place):
            table[row, len(course) :] = table[row, len(course) - 1]
        _returned(body, course, out.volume[row])
    return out


def _many(rows: Floats, size: int, deep: int) -> Floats:
    return np.broadcast_to(rows[0, 0], (size, deep, *rows.shape[2:])).copy()


def _start(base: Floats, told: Floats | None, size: int) -> Floats:
    first = base[0] if told is None else np.asarray(told, dtype=np.float64)
    return np.broadcast_to(first, (size, *base.shape[1:])).copy()


# --- phases ------------------------------------------------------------------------------------------------


def _phases(body: Body, told: Sequence[Effect]) -> list[_Phase]:
    """The stretches of a scenario: something happens at the beginning of each."""
    scenario = sorted(told, key=lambda one: one.after)
    times = {0.0, *(one.after for one in scenario)}
    delays = {group.delay for group in body.groups.values() if group.automatic}
    times |= {one.after + delay for one in scenario if one.kind in ("stop", "board") for delay in delays}
    spent = {at: empty for at, one in enumerate(scenario) if (empty := _emptied(body, one)) is not None}
    times |= set(spent.values())
    found: list[_Phase] = []
    for time in sorted(times):
        now = [
            effects.Effect("top-up", one.part, 0.0) if spent.get(at, np.inf) <= time else one
            for at, one in enumerate(scenario)
            if one.after <= time
        ]
        off = without_power(body.facility, now)
        phase = _Phase(time, now, off, _running(body, scenario, time), _valves(body, now))
        if not found or phase.now != found[-1].now or phase.running != found[-1].running:
            found.append(phase)
    return found


def _emptied(body: Body, one: Effect) -> float | None:
    """When the store of a top-up that runs in is empty; None where no store is told. [s]."""
    vessel = body.facility.vessels.get(one.part)
    if one.kind != "top-up" or not one.value or vessel is None:
        return None
    store = body.facility.vessels.get(vessel.top_up_from)
    water = (store.working or store.volume) if store is not None else None
    return one.after + water / one.value if water else None


def without_power(facility: model.Facility, now: Iterable[Effect]) -> frozenset[str]:
    """Pumps and machines that have no power or are broken."""
    off: set[str] = set()
    for one in now:
        if one.kind == "power":
            off |= {*facility.pumps, *facility.equipment}
        elif one.kind == "board":
            off |= set(facility.fed_by_board(one.part))
        elif one.kind == "stop":
            duty = facility.duties.get(one.part)
            off |= set(duty.pumps) if duty is not None else {one.part}
    return frozenset(off)


def _running(body: Body, scenario: Sequence[Effect], time: float) -> frozenset[str]:
    """Pumps that run at a time; automatic standbys follow their delay after."""
    now = [one for one in scenario if one.after <= time]
    off = without_power(body.facility, now)
    on: set[str] = set()
    for group in body.groups.values():
        on |= _of_group(body, group, scenario, off, time)
    return frozenset(on)


def _of_group(
    body: Body, group: bodies_of.Group, scenario: Sequence[Effect], off: frozenset[str], time: float
) -> set[str]:
    """Pumps of a group that run: those left, standbys that took over, and what people started."""
    now = [one for one in scenario if one.after <= time]
    on = {pump for pump in group.running if pump not in off}
    dead = {one.part for one in now if one.kind == "dead-standby"}
    resting = [pump for pump in group.pumps if pump not in group.running and pump not in off]
    ready = [] if group.id in dead else [pump for pump in resting if pump not in dead]
    if group.automatic and not any(_holds(body.facility, one, group.id) for one in now):
        before = without_power(body.facility, (one for one in scenario if one.after <= time - group.delay))
        lost = sum(pump in before for pump in group.running)
        on |= set(ready[:lost])
    for one in now:
        if one.kind == "start" and one.part in group.pumps:
            on.add(one.part)
        elif one.kind == "start" and one.part == group.id:
            missing = max(len(group.running) - len(on), 0)
            rest = [pump for pump in (*ready, *group.pumps) if pump not in on]
            on |= set(list(dict.fromkeys(rest))[:missing])
    return on


def _holds(facility: model.Facility, one: Effect, group: str) -> bool:
    """Whether an effect keeps a group's standby from starting by itself."""
    if one.kind == "no-change-over":
        return one.part == group
    duty = facility.duties.get(group)
    return one.kind == "board" and duty is not None and duty.board in facility.boards_behind(one.part)


def _valves(body: Body, now: Iterable[Effect]) -> pumping.Valves:
    turned = {
        one.part: float(one.value or 0.0) for one in now if one.kind == "valve" and len(body.along(one.part))
    }
    return tuple(sorted(turned.items()))


def _returned(body: Body, course: Sequence[_Phase], volume: Floats) -> None:
    """Pipes that empty into a sump whose pumps stand from the beginning and at the end."""
    for group in body.groups.values():
        if group.returns and not (course[0].running | course[-1].running) & set(group.pumps):
            for place, water in group.returns:
                volume[place] += water


# --- rows --------------------------------------------------------------------------------------------------


def _put(body: Body, phase: _Phase, way: Floats, op: Floats, place: Floats) -> None:
    """One phase into its rows."""
    if not phase.now:
        return
    keep = _kept(body, phase)
    if not (keep == 1.0).all():
        way[:, tables.WAY_FLOW] *= keep
        way[:, tables.WAY_SCALE] *= keep
        _through(body, keep, op)
    _pumps(body, phase, way, op)
    _machines(body, phase, op, place)
    if phase.whole:
        _dark(body, way, place)
    for one in {(one.kind, one.part, one.at): one for one in phase.now}.values():  # the last one told counts
        edit = _EDITS.get(one.kind)
        if edit is not None:
            edit(body, one, way, op, place)


def _kept(body: Body, phase: _Phase) -> Floats:
    """Share of its flow that each way keeps."""
    keep = np.ones(len(body.usual))
    usual = frozenset(pump for group in body.groups.values() for pump in group.running)
    if phase.running != usual or phase.valves:
        shares = body.shares.of(phase.running, phase.valves)
        for run, share in shares.items():
            keep[body.along(run)] *= share
        for at, onward in body.joins:  # what comes to a join and what leaves it are the same water
            usual_flow = sum(flow for _, flow in onward)
            now = sum(flow * shares.get(run, 1.0) for run, flow in onward)
            keep[at] *= usual_flow / now if now > 0.0 else 0.0
    blocked = {one.part: one.value or 0.0 for one in phase.now if one.kind == "blocked"}
    for part, share in blocked.items():
        keep[body.passing(part)] *= 1.0 - share
    return keep


def _through(body: Body, keep: Floats, op: Floats) -> None:
    """Warming and holding for each litre where a machine gets other water than usual."""
    index = body.warmed
    before, after = index.gets @ body.usual, index.gets @ (body.usual * keep)
    times = np.where(after > 1e-3 * before, before / np.maximum(after, 1e-30), 0.0)
    op[index.heat, 0] *= times[index.heat_part]
    op[index.hold, 1:3] *= times[index.hold_part, None]


def _pumps(body: Body, phase: _Phase, way: Floats, op: Floats) -> None:
    """Heat of other pumps, air they draw in, and siphons where none runs."""
    drawn = {one.part: one.value or 0.0 for one in phase.now if one.kind == "air"}
    for group in body.groups.values():
        on = [pump for pump in group.pumps if pump in phase.running]
        if not on:
            for at, scale in group.siphons:
                way[at, tables.WAY_SCALE] = scale
        if set(on) == set(group.running) and not drawn.keys() & set(on):
            continue
        usual = sum(group.watts.get(pump, 0.0) for pump in group.running)
        watts = sum(group.watts.get(pump, 0.0) for pump in on) / usual if usual else 1.0
        air = sum(group.air.get(pump, 0.0) + drawn.get(pump, 0.0) for pump in on) / max(len(on), 1)
        for part in dict.fromkeys((group.id, *group.pumps)):
            op[body.ops(part, tables.HEAT), 0] *= watts
            op[body.ops(part, tables.AIR), :3] = [air * body.air_unit * share for share in AIR]


def _machines(body: Body, phase: _Phase, op: Floats, place: Floats) -> None:
    """Machines without power: along ways, and those that stand in a place."""
    for part in phase.off:
        machine = body.facility.equipment.get(part)
        if machine is None:
            continue
        op[body.ops(part, tables.HEAT), 0] = 0.0
        op[body.ops(part, tables.HOLD), 1:3] = 0.0
        met = body.ops(part, tables.CONTACT)
        op[met, :4] *= without_fan(machine)
        if len(met) and _gated(machine):  # the vacuum is gone with its pump
            op[met, 4:6] = np.maximum(op[met, 4:6], place[0, AT["pressure"]])
        at = body.standing.get(part)
        if at is not None and machine.kind == "blower":
            place[at, AT["velocity"]] *= BLOWER_OFF
        elif at is not None and machine.kind in ("chiller", "heater"):
            place[at, AT["own"]] = 0.0


def _gated(machine: model.Equipment) -> bool:
    return any(word in machine.kind for word in GATED)


def without_fan(machine: model.Equipment) -> float:
    """Share of its exchange that a machine keeps without power: all where water simply falls through it."""
    if _gated(machine):
        return FAN_OFF
    return 1.0 if plumbed.is_open(machine) else 0.0


def _dark(body: Body, way: Floats, place: Floats) -> None:
    """The hall without power: lamps, heaters of tanks' own, their air, dosing, switched top-ups stop."""
    for name, at in body.home.items():
        if body.facility.vessels[name].top_up_by == "level switch" and body.extra.top_up[at] >= 0:
            way[body.extra.top_up[at], tables.WAY_FLOW] = 0.0
    place[:, [AT["lamps"], AT["photo"], AT["own"], AT["dosing"], AT["kept"]]] = 0.0
    alone = body.alone
    place[alone, AT["velocity"]] *= body.quiet[alone] / body.base.place[0, 0, alone, AT["velocity"]]


# --- single effects ----------------------------------------------------------------------------------------


def _full_on(body: Body, one: Effect, _way: Floats, op: Floats, place: Floats) -> None:
    machine = body.facility.equipment.get(one.part)
    if machine is None or machine.kind not in ("chiller", "heater"):
        return
    cold = machine.kind == "chiller"
    for at in body.ops(one.part, tables.HOLD):
        first = body.base.op[0, 0, at, 1 if cold else 2]
        times = op[at, 1 if cold else 2] / first if first else 1.0
        full = body.op_full[at] * times
        op[at, :3] = (COLDEST, full, 0.0) if cold else (HOTTEST, 0.0, full)
    at = body.standing.get(one.part)
    if at is not None:
        gap = abs((COLDEST if cold else HOTTEST) - float(body.x[0, at]))
        rate = machine.power / body.heat_capacity if machine.power else RUNAWAY * body.volume[at]
        place[at, [AT["own"], AT["own_at"]]] = rate / max(gap, 1.0), COLDEST if cold else HOTTEST


def _top_up(body: Body, one: Effect, way: Floats, _op: Floats, _place: Floats) -> None:
    at = body.place_of(one.part)
    if at >= 0 and body.extra.top_up[at] >= 0:
        row = way[body.extra.top_up[at]]
        row[tables.WAY_FLOW], row[tables.WAY_LEVEL] = one.value or 0.0, bodies_of.FOREVER


def _leak(body: Body, one: Effect, way: Floats, _op: Floats, _place: Floats) -> None:
    at = body.place_of(one.part)
    if at < 0:
        return
    usual = body.base.place[0, 0, at, AT["usual"]]
    row = way[body.extra.hole[at]]
    bore = one.value or 0.0
    area = float(body.area[at])
    scale = heights.DISCHARGE * np.pi / 4.0 * bore**2 * np.sqrt(2.0 * heights.GRAVITY / area)
    row[tables.WAY_SCALE] = scale
    row[tables.WAY_LEVEL] = usual * (0.5 if one.at == "middle" else heights.FLOOR)


def _feed(body: Body, one: Effect, _way: Floats, _op: Floats, place: Floats) -> None:
    where = _where(body, one.part)
    food = 0.0 if one.kind == "no-feed" else float(one.value if one.value is not None else 1.0)
    if food < 1.0:
        breath, ammonia = (low + (1.0 - low) * food for low in FASTING)
    else:
        breath, ammonia = min(1.0 + AFTER_FOOD * (food - 1.0), BREATH_MOST), food
    base = body.base.place[0, 0]
    place[where, AT["breath"]] = base[where, AT["breath"]] * breath
    place[where, AT["ammonia"]] = base[where, AT["ammonia"]] * ammonia


def _where(body: Body, part: str) -> list[int]:
    if not part:
        return list(range(len(body.places)))
    at = body.place_of(part)
    return [at] if at >= 0 else []


def _room(_body: Body, one: Effect, _way: Floats, _op: Floats, place: Floats) -> None:
    place[:, AT["room"]] = one.value


def _no_exchange(body: Body, _one: Effect, way: Floats, _op: Floats, _place: Floats) -> None:
    for rows in (body.extra.change, body.extra.drain, body.extra.top_up):
        way[rows[rows >= 0], tables.WAY_FLOW] = 0.0


def _aerate(body: Body, one: Effect, _way: Floats, _op: Floats, place: Floats) -> None:
    """Air stones: so many times a quiet surface, stirred by themselves; once the air is used up, 1 time."""
    times = one.value or 1.0
    for at in _where(body, one.part) if times > 1.0 else ():
        place[at, AT["velocity"]] = max(place[at, AT["velocity"]], body.quiet[at] * times)
        place[at, AT["still"]] = 1.0


def _exchange(body: Body, one: Effect, way: Floats, _op: Floats, _place: Floats) -> None:
    """Water run in and out by people, beside what is changed anyhow."""
    for at in _where(body, one.part):
        flow = (one.value or 0.0) / _HOUR * body.base.place[0, 0, at, AT["usual"]]
        for row in (body.extra.change[at], body.extra.drain[at]):
            way[row, tables.WAY_FLOW] = body.base.way[0, 0, row, tables.WAY_FLOW] + flow


_EDITS = {
    "full-on": _full_on, "top-up": _top_up, "leak": _leak, "feed": _feed, "no-feed": _feed, "room": _room,
    "no-exchange": _no_exchange, "aerate": _aerate, "exchange": _exchange,
}  # fmt: skip


def assumed(kinds: Iterable[str]) -> tuple[given.Assumed, ...]:
    """What effects rest on, for a body with these kinds of machine."""
    told = [
        ("breathing after twice the food, over the usual", 1.0 + AFTER_FOOD, "-", "from memory"),
        ("breathing without food, over the usual", FASTING[0], "-", heights.COMMON),
        ("ammonia given off without food, over the usual", FASTING[1], "-", heights.COMMON),
        ("discharge coefficient of a hole", heights.DISCHARGE, "-", "sharp round hole, from memory"),
    ]
    if any(word in kind for kind in kinds for word in GATED):
        told.append(("exchange that a column keeps without its fan", FAN_OFF, "-", heights.COMMON))
    return tuple(
        given.Assumed(what=what, value=one, unit=unit, source=source) for what, one, unit, source in told
    )


# --- what concerns a body ----------------------------------------------------------------------------------


def touches(body: Body, what: Sequence[Effect]) -> bool:
    """Whether effects change anything of a body: one that they leave alone goes as the plant does."""
    return any(_touched(body, one) for one in what)


def _touched(body: Body, one: Effect) -> bool:
    if one.kind in ("power", "room", "no-exchange"):
        return True
    if one.kind in ("feed", "no-feed"):
        return bool(_where(body, one.part))
    if one.kind == "top-up":
        at = body.place_of(one.part)
        return at >= 0 and bool(body.extra.top_up[at] >= 0)
    if one.kind in ("leak", "aerate", "exchange"):
        return body.place_of(one.part) >= 0
    if one.kind == "valve":
        return len(body.along(one.part)) > 0
    board = body.facility.fed_by_board(one.part) if one.kind == "board" else ()
    parts = without_power(body.facility, [one]) | {one.part, *board}
    pumps = {pump for group in body.groups.values() for pump in (group.id, *group.pumps)}
    machines = set(body.structure.machines) | {part for parts in body.parts for part in parts}
    return bool(parts & (pumps | machines)) or bool(parts & body.standing.keys())
