"""One system as a loop for gas: places joined by legs, and what each leg does to the water on its way.

Gas is counted as excess: a gas's own pressure in the water less what it would be in balance with the air. A
leg changes an excess linearly, x_out = a x_in + c, step by step: a loop in balance is a small linear system.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.facility import model

Floats = NDArray[np.float64]
GASES = ("oxygen", "inert")
SHARES: Mapping[str, float] = {"oxygen": 0.20946, "inert": 0.79014}
STRIPPERS: Mapping[str, tuple[float, float]] = {
    "packed column": (1.0, 0.8),
    "degasser": (1.0, 0.8),
    "contactor": (0.5, 0.8),
    "fractionator": (0.3, 1.0),
    "screen": (0.1, 1.0),
}
"""Kind of machine to the number G it is taken to have before any reading, and how sure: one standard
deviation of its logarithm. Columns: Hackney and Colt (1982) sizes; contactor: 39 % of the way; others
elicited."""
OUTSIDE = -1


@dataclass(frozen=True, slots=True)
class Step:
    """One thing on a leg: ``pumps``, ``warm``, ``strip`` (exchanges gas), ``tap`` or ``end``."""

    kind: str
    id: str


@dataclass(frozen=True, slots=True)
class Leg:
    """One run: from and to a place by number (`OUTSIDE` is -1), its flow [m³/h] and its steps in order."""

    run: str
    source: int
    target: int
    flow: float
    steps: tuple[Step, ...]


@dataclass(frozen=True, kw_only=True)
class Loop:
    """Places with volume [m³] and surface [m²]; legs; pumps by duty; power of machines [kW]."""

    places: tuple[str, ...]
    volumes: Floats
    surfaces: Floats
    legs: tuple[Leg, ...]
    groups: Mapping[str, tuple[str, ...]]
    keep: Mapping[str, int]
    power: Mapping[str, float]
    kinds: Mapping[str, str]
    animals: Mapping[str, float]
    taps: tuple[str, ...]

    @functools.cached_property
    def through(self) -> Mapping[str, float]:
        """Water through each part, whatever leg it goes on. [m³/h]."""
        found: dict[str, float] = {}
        for leg in self.legs:
            for step in leg.steps:
                if step.kind == "warm":
                    found[step.id] = found.get(step.id, 0.0) + leg.flow
        return found

    @property
    def pumps(self) -> tuple[str, ...]:
        """Every pump the loop's water passes."""
        return tuple(dict.fromkeys(pump for members in self.groups.values() for pump in members))

    @property
    def strippers(self) -> tuple[str, ...]:
        """Machines that exchange gas, in the order of the legs."""
        return tuple(dict.fromkeys(s.id for leg in self.legs for s in leg.steps if s.kind == "strip"))


def of(facility: model.Facility, system: str, flows: Mapping[str, float], taps: Iterable[str] = ()) -> Loop:
    """The loop of one system.

    Parameters
    ----------
    facility : Facility
    system : str
    flows : mapping
        Run to flow; a run without one carries nothing here. [m³/s]
    taps : iterable of str
        Runs at which water was sampled: a tap stands behind every machine that only warms and before the
        first one that exchanges gas.
    """
    inside = [vessel for vessel in facility.places if vessel.system == system]
    numbers = {vessel.id: number for number, vessel in enumerate(inside)}
    legs: list[Leg] = []
    for run in facility.runs.values():
        flow = flows.get(run.id, 0.0) * 3600.0
        ends = (_place(facility, run.source, numbers), _place(facility, run.target, numbers))
        if flow <= 0.0 or (ends[0] is None and ends[1] is None) or run.target == model.OUTSIDE:
            continue
        source, target = (OUTSIDE if end is None else end for end in ends)
        if target == OUTSIDE:
            continue
        legs.append(Leg(run.id, source, target, flow, _steps(facility, run, run.id in set(taps))))
    groups, keep = _groups(facility, legs)
    return Loop(
        places=tuple(numbers),
        volumes=np.array([vessel.working or vessel.volume or 1.0 for vessel in inside]),
        surfaces=np.array([_surface(vessel) for vessel in inside]),
        legs=tuple(legs),
        groups=groups,
        keep=keep,
        power=_power(facility, legs, groups, keep),
        kinds={machine.id: machine.kind for machine in facility.equipment.values()},
        animals={v.id: sum(a.mass or 0.0 for a in facility.animals if a.at == v.id) for v in inside},
        taps=tuple(leg.run for leg in legs if any(step.kind == "tap" for step in leg.steps)),
    )


def _surface(vessel: model.Vessel) -> float:
    if vessel.surface:
        return vessel.surface
    held = vessel.working or vessel.volume or 1.0
    return held / vessel.depth if vessel.depth else float(held ** (2.0 / 3.0))


def _place(facility: model.Facility, end: str, numbers: Mapping[str, int]) -> int | None:
    vessel = facility.place(end)
    while vessel is not None and vessel.id not in numbers and vessel.part_of:
        vessel = facility.vessels.get(vessel.part_of)
    return numbers.get(vessel.id) if vessel is not None else None


def _steps(facility: model.Facility, run: model.Run, tapped: bool) -> tuple[Step, ...]:
    steps: list[Step] = []
    for part in run.through:
        if part in facility.duties or part in facility.pumps:
            steps += [Step("pumps", part), Step("warm", part)]
        elif part in facility.equipment:
            kind = facility.equipment[part].kind
            steps.append(Step("strip" if kind in STRIPPERS else "warm", part))
    if tapped:
        first = next((n for n, step in enumerate(steps) if step.kind == "strip"), len(steps))
        steps.insert(first, Step("tap", run.id))
    return (*steps, Step("end", run.id))


def _groups(
    facility: model.Facility, legs: Iterable[Leg]
) -> tuple[dict[str, tuple[str, ...]], dict[str, int]]:
    names = dict.fromkeys(step.id for leg in legs for step in leg.steps if step.kind == "pumps")
    groups = {n: facility.duties[n].pumps if n in facility.duties else (n,) for n in names}
    return groups, {n: facility.duties[n].keep if n in facility.duties else 1 for n in names}


def _power(
    facility: model.Facility,
    legs: Iterable[Leg],
    groups: Mapping[str, tuple[str, ...]],
    keep: Mapping[str, int],
) -> dict[str, float]:
    """Heat that goes into the water at each part, in kW; a chiller takes heat out and counts none here."""
    power: dict[str, float] = {}
    for part in dict.fromkeys(step.id for leg in legs for step in leg.steps if step.kind == "warm"):
        if part in groups:
            each = [facility.pumps[p].power or 0.0 for p in groups[part] if p in facility.pumps]
            power[part] = sum(sorted(each)[-keep[part] :]) / 1000.0
        elif facility.equipment[part].kind != "chiller":
            power[part] = (facility.equipment[part].power or 0.0) / 1000.0
    return power


def without(loop: Loop, machine: str) -> Loop:
    """The loop with one machine taken out."""
    legs = tuple(
        dataclasses.replace(leg, steps=tuple(step for step in leg.steps if step.id != machine))
        for leg in loop.legs
    )
    return dataclasses.replace(loop, legs=legs)


def with_machine(loop: Loop, run: str, machine: str, kind: str) -> Loop:
    """The loop with a machine added where a run comes near its end."""
    legs = tuple(
        dataclasses.replace(leg, steps=(*leg.steps[:-1], Step("strip", machine), leg.steps[-1]))
        if leg.run == run
        else leg
        for leg in loop.legs
    )
    return dataclasses.replace(loop, legs=legs, kinds={**loop.kinds, machine: kind})


def end_below_water(loop: Loop, run: str) -> Loop:
    """The loop with one run ending below the water it goes to: it neither falls nor carries bubbles under."""
    legs = tuple(
        dataclasses.replace(leg, steps=tuple(step for step in leg.steps if step.kind != "end"))
        if leg.run == run
        else leg
        for leg in loop.legs
    )
    return dataclasses.replace(loop, legs=legs)


def fed_from(loop: Loop, run: str, like: str) -> Loop:
    """The loop with one run taking its water as another does, through the machines of that one."""
    model_leg = next(leg for leg in loop.legs if leg.run == like)
    legs: list[Leg] = []
    for leg in loop.legs:
        if leg.run == run:
            machines = tuple(step for step in model_leg.steps if step.kind in ("pumps", "warm", "strip"))
            legs.append(dataclasses.replace(leg, source=model_leg.source, steps=(*machines, leg.steps[-1])))
        else:
            legs.append(leg)
    return balanced(dataclasses.replace(loop, legs=tuple(legs)))


def balanced(loop: Loop) -> Loop:
    """The loop with what leaves each place scaled to what comes in."""
    flows = {leg.run: leg.flow for leg in loop.legs}
    for _ in range(3 * len(loop.legs)):
        for place in range(len(loop.places)):
            came = sum(flows[leg.run] for leg in loop.legs if leg.target == place)
            free = [leg for leg in loop.legs if leg.source == place and not _pumped(leg)]
            fixed = sum(flows[leg.run] for leg in loop.legs if leg.source == place and _pumped(leg))
            left = sum(flows[leg.run] for leg in free)
            if left > 0.0 and came > fixed:
                for leg in free:
                    flows[leg.run] *= (came - fixed) / left
    legs = tuple(dataclasses.replace(leg, flow=flows[leg.run]) for leg in loop.legs)
    return dataclasses.replace(loop, legs=legs)


def _pumped(leg: Leg) -> bool:
    return any(step.kind == "pumps" for step in leg.steps)
