"""What each pump's inlet stands under: static head, whether air can be drawn in, NPSH, place on its curve."""

from __future__ import annotations

from brinehouse import answers, findings
from brinehouse.facility import model
from brinehouse.network.plumbing import curves, losses, parts, way
from brinehouse.network.plumbing.case import Case, shown
from brinehouse.science import barometer, gases, seawater
from brinehouse.science.constants import ATM, GRAVITY

MARGIN = 1.3  # of the required NPSH: Crane TP-410 (2009) 7.32
UNDER_AIR = "plumbing/suction-under-air"


def states(case: Case) -> dict[str, parts.PumpState]:
    """The state of every pump."""
    found = {pump.id: _state(case, pump) for pump in case.facility.pumps.values()}
    _under_air(case, found)
    return found


def feeding(case: Case, pump: str) -> str:
    """The place a pump draws from: the start of a run that it stands on first; empty where none is."""
    group = way.group(case.facility, pump)
    for run in case.facility.runs.values():
        passed = [step.part for step in way.steps(case.facility, run)]
        if group in passed[:-1] and case.facility.vessels.get(run.source) is not None:
            return run.source
    stands = case.facility.pumps[pump].at
    return stands if stands in case.facility.vessels else ""


def before(case: Case, pump: str) -> parts.Head | None:
    """Head at which a pump's suction begins: its water, or what the machine before it leaves."""
    group = way.group(case.facility, pump)
    place = feeding(case, pump)
    level = case.levels.get(place)
    machines = _machines_before(case, group)
    if level is not None and not machines:
        return level
    if (group, "in") in case.solved:
        return case.solved[group, "in"]
    if level is None:
        return None
    flow = sum(case.flows.get(run, 0.0) for run in _runs_of(case, group)) or None
    for name in machines:
        machine = case.facility.equipment[name]
        if way.is_column(machine) and machine.pool is not None:
            level = parts.Head.of(machine.pool, 0.1)
        elif not way.is_open(machine):
            level = level.less(losses.machine(machine, flow, None))
    return level


def _runs_of(case: Case, group: str) -> list[str]:
    return [run.id for run in case.facility.runs.values() if group in way.groups_on(case.facility, run)]


def _machines_before(case: Case, group: str) -> list[str]:
    for run in case.facility.runs.values():
        passed = [step.part for step in way.steps(case.facility, run)]
        if group in passed[1:-1]:
            return [part for part in passed[1 : passed.index(group)] if part in case.facility.equipment]
    return []


def inlet(case: Case, pump: model.Pump) -> tuple[parts.Head | None, parts.Head | None]:
    """Static head behind the suction pipe, before the strainer, and at the inlet itself."""
    start = before(case, pump.id)
    if start is None:
        return None, None
    flow = case.pump_flows.get(pump.id) or curves.middle(pump)
    piped, strained = losses.suction(pump, flow)
    bore = pump.suction_diameter
    if bore is not None and flow is not None:
        piped = piped.plus(parts.Head.of(losses.velocity_head(flow, bore)))
    ahead = start.less(piped)
    return ahead, ahead.less(strained)


def _state(case: Case, pump: model.Pump) -> parts.PumpState:
    running = bool(case.running.get(pump.id, False))
    flow = case.pump_flows.get(pump.id) or None
    _, head = inlet(case, pump)
    below = _below(case, pump, head)
    available = _npsh(case, pump, head, flow)
    end = curves.end(pump)
    share = flow / end if flow is not None and end else None
    codes = _judge(case, pump, running, below, available, share)
    return parts.PumpState(
        pump=pump.id,
        running=running,
        flow=flow if flow is not None else (0.0 if not running else None),
        head=curves.head(pump, flow) if flow is not None else None,
        suction_head=head.value if head else None,
        suction_low=head.low if head else None,
        suction_high=head.high if head else None,
        below_air=below,
        npsh_available=available.value if available else None,
        npsh_required=pump.npsh,
        share_of_curve=share,
        basis=_basis(case, pump, head),
        codes=tuple(codes),
    )


def _basis(case: Case, pump: model.Pump, head: parts.Head | None) -> str:
    if head is None:
        return parts.UNKNOWN
    group = way.group(case.facility, pump.id)
    return "computed" if (group, "discharge") in case.solved else "estimated"


def _below(case: Case, pump: model.Pump, head: parts.Head | None) -> str:
    """Whether the inlet is under less than the air's pressure."""
    if dry(case, pump.id):
        return "yes"
    if head is None or pump.elevation is None:
        return "may be"
    if head.high < pump.elevation:
        return "yes"
    return "no" if head.low > pump.elevation else "may be"


def dry(case: Case, pump: str) -> bool:
    """Whether the place a pump draws from holds no water."""
    place = case.facility.vessels.get(feeding(case, pump))
    level = case.levels.get(place.id) if place is not None else None
    return (
        place is not None
        and level is not None
        and place.elevation is not None
        and level.value <= place.elevation + 0.02
    )


def weather(case: Case, place: str) -> tuple[float, float, float]:
    """Station pressure [Pa], temperature [°C] and salinity of the water at a place."""
    around = case.surroundings
    vessel = case.facility.vessels.get(place)
    warm = around.temperature if around.temperature is not None else (vessel.temperature if vessel else None)
    salt = around.salinity if around.salinity is not None else (vessel.salinity if vessel else None)
    pressure = around.pressure
    if pressure is None:
        altitude = case.facility.altitude
        pressure = ATM if altitude is None else float(barometer.station_pressure_from_altitude(altitude))
    return pressure, 25.0 if warm is None else warm, 34.0 if salt is None else salt


def _npsh(case: Case, pump: model.Pump, head: parts.Head | None, flow: float | None) -> parts.Head | None:
    """NPSH available at the inlet (Crane TP-410 7.32): absolute total head there above vapour. [m]."""
    if head is None or pump.elevation is None:
        return None
    pressure, warm, salt = weather(case, feeding(case, pump.id))
    weight = float(seawater.density(warm, salt)) * GRAVITY
    vapour = float(gases.vapour_pressure(warm, salt))
    moving = losses.velocity_head(flow, pump.suction_diameter) if flow and pump.suction_diameter else 0.0
    air = (pressure - vapour) / weight
    found = head.plus(parts.Head.of(air - pump.elevation + moving))
    case.working.append(
        answers.Step(
            name=f"NPSH at {pump.id}",
            equation="NPSH = (p - p_v) / (ρ g) + suction head + v²/2g - elevation",
            inputs={
                "p": (pressure, "Pa"),
                "p_v": (vapour, "Pa"),
                "ρ g": (weight, "Pa/m"),
                "suction head": (head.value, "m"),
                "v²/2g": (moving, "m"),
                "elevation": (pump.elevation, "m"),
            },
            result=found.value,
            unit="m",
            source="Crane TP-410 (2009), 7.32",
        )
    )
    return found


def _judge(
    case: Case,
    pump: model.Pump,
    running: bool,
    below: str,
    available: parts.Head | None,
    share: float | None,
) -> list[str]:
    """Findings about a pump that runs; gives back their codes."""
    if not running:
        return []
    first = len(case.said)
    name = shown(pump.id)
    if dry(case, pump.id):
        place = shown(feeding(case, pump.id))
        case.say(
            "plumbing/dry", f"{place} holds no water, and {name} runs: it draws air and its seal runs dry",
            f"stop {name}, fill {place}, and vent the pump before it is started again",
            level=findings.Level.ACT, spot=pump.spot, pump=pump.id,
        )  # fmt: skip
    if available is not None and pump.npsh is not None and available.value < MARGIN * pump.npsh:
        case.say(
            "plumbing/npsh-short",
            f"{name} has {available.value:.1f} m of NPSH and requires {pump.npsh:.1f} m: "
            f"less than {MARGIN:g} times",
            "clean the strainer, shorten or widen the suction, or run it at less flow; vapour bubbles eat it",
            level=findings.Level.WATCH, spot=pump.spot,
            pump=pump.id, available=available.value, required=pump.npsh, low=available.low,
        )  # fmt: skip
    if share is not None and share > 1.0:
        case.say(
            "plumbing/beyond-curve",
            f"{name} would move {share * 100:.0f} % of the flow at which its curve ends",
            "add points to the curve, throttle it, or correct the flow: beyond its curve nothing is promised",
            level=findings.Level.ASK, spot=pump.spot, pump=pump.id, share=share,
        )  # fmt: skip
    codes = [one.code for one in case.said[first:]]
    return [*codes, UNDER_AIR] if below == "yes" and not dry(case, pump.id) else codes


def _under_air(case: Case, states: dict[str, parts.PumpState]) -> None:
    """One finding for the running pumps whose inlets are under less than the air's pressure."""
    names = [name for name, state in states.items() if UNDER_AIR in state.codes]
    if not names:
        return
    told = ", ".join(shown(name) for name in names)
    case.say(
        UNDER_AIR,
        f"at the inlet of {told} the water is under less than the air's pressure: a leak there draws air in",
        "look for air at joints, seals and strainer lids; a lower pump or a clean strainer helps",
        spot=case.facility.pumps[names[0]].spot,
        pumps=names,
    )
