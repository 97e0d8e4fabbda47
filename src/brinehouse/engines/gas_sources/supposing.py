"""What-ifs over a fitted loop: the usual ones, and a keeper's own changed facility."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from brinehouse.engines.gas_sources import fitting, loop
from brinehouse.engines.gas_sources import foretelling as ft
from brinehouse.facility import hidden, model
from brinehouse.network import flows

TODAY = "today"
COLUMNS = ("packed column", "degasser", "contactor")
NEW_COLUMN = fitting.Parameter("", math.log(1.3), 0.4)
"""G of a new packed column: 1.8 measured on one (Dawson and Marking), 1.1 brings 106 to 102 %; most are built
smaller than they should be. Hackney and Colt (1982) give the form."""
NEW_CONTACTOR = fitting.Parameter("", math.log(0.494), 0.5)
"""39 % of the way, as 105 to 99 % against 89.6 % at a vacuum of 76 mmHg: one worked figure."""
VACUUM = -0.104
"""What that vacuum presses less than the air does, as a share of dry air."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Supposed:
    """One what-if: its scene, and what was assumed for it."""

    scene: ft.Scene
    basis: str = ""


def today(fit: fitting.Fit) -> ft.Scene:
    """The loop as it is."""
    return ft.Scene(name=TODAY, loop=fit.case.loop, leak=fit.leak, settled=False)


def usual(fit: fitting.Fit, facility: model.Facility, hour: float) -> list[Supposed]:
    """The what-ifs that any loop is asked."""
    return [
        *_leak(fit, hour),
        *_machines(fit, facility, hour),
        *_below_water(fit, facility),
        *_fed_otherwise(fit, facility),
    ]


def _leak(fit: fitting.Fit, hour: float) -> Iterator[Supposed]:
    if fit.leak is None:
        return
    pump = fit.leak.pump
    hours, states = fit.case.turns[pump]
    running = [state for at, state in zip(hours, states, strict=True) if at <= hour]
    if running and running[-1]:
        name = f"the air at {pump} stopped, or {pump} rested"
        yield Supposed(scene=ft.Scene(name=name, loop=fit.case.loop, leak=None), basis="fitted")
    else:
        scene = ft.Scene(
            name=f"{pump} running again as it is", loop=fit.case.loop, leak=fit.leak, running=True
        )
        yield Supposed(scene=scene, basis="fitted")


def _pumped(leg: loop.Leg) -> bool:
    return any(step.kind == "pumps" for step in leg.steps)


def _machines(fit: fitting.Fit, facility: model.Facility, hour: float) -> Iterator[Supposed]:
    lay, idle = fit.case.loop, ft.idle_at(fit, hour)
    for leg in lay.legs:
        to_tank = _pumped(leg) and lay.places[leg.target] in facility.tanks
        has = [
            s.id for s in leg.steps if s.kind == "strip" and lay.kinds[s.id] in COLUMNS and s.id not in idle
        ]
        if to_tank and not has:
            yield _added(fit, facility, leg, "packed column", NEW_COLUMN, 0.0)
        elif has:
            for machine in has:
                name = f"{_named(facility, machine)} taken out of use"
                scene = ft.Scene(name=name, loop=loop.without(lay, machine), leak=fit.leak)
                yield Supposed(scene=scene, basis="fitted")
    pumped = [leg for leg in lay.legs if _pumped(leg) and lay.places[leg.target] in facility.tanks]
    if pumped:
        widest = max(pumped, key=lambda leg: leg.flow)
        yield _added(fit, facility, widest, "contactor", NEW_CONTACTOR, VACUUM)


def _added(
    fit: fitting.Fit, facility: model.Facility, leg: loop.Leg, kind: str, like: fitting.Parameter, pull: float
) -> Supposed:
    machine = f"new {kind} on {leg.run}"
    words = "membrane contactor under vacuum" if kind == "contactor" else kind
    values = {f"pull:{machine}": pull * fit.case.air.dry} if pull else {}
    scene = ft.Scene(
        name=f"{words} added on {_named(facility, leg.run)}",
        loop=loop.with_machine(fit.case.loop, leg.run, machine, kind),
        leak=fit.leak,
        values=values,
        assumed=(dataclasses.replace(like, name=f"strip:{machine}"),),
    )
    share = 1.0 - math.exp(-math.exp(like.mean))
    low, high = (1.0 - math.exp(-math.exp(like.mean + k * like.sd)) for k in (-1.96, 1.96))
    source = "one worked figure" if pull else "Hackney and Colt (1982)"
    basis = f"assumed to go {share:.0%} of the way ({low:.0%} to {high:.0%}), after {source}"
    return Supposed(scene=scene, basis=basis)


def _below_water(fit: fitting.Fit, facility: model.Facility) -> Iterator[Supposed]:
    lay, values = fit.case.loop, fit.values
    for leg in lay.legs:
        if lay.places[leg.target] in facility.tanks and f"carried:{leg.run}" in values:
            name = f"{_named(facility, leg.run)} led in below the water"
            scene = ft.Scene(name=name, loop=loop.end_below_water(lay, leg.run), leak=fit.leak)
            yield Supposed(scene=scene, basis="fitted; no bubbles carried under and none let out there")


def _fed_otherwise(fit: fitting.Fit, facility: model.Facility) -> Iterator[Supposed]:
    lay = fit.case.loop
    for leg in lay.legs:
        source = lay.places[leg.source] if leg.source != loop.OUTSIDE else ""
        if lay.places[leg.target] not in facility.tanks or source not in facility.tanks:
            continue
        like = [one for one in lay.legs if _pumped(one) and one.target == leg.source]
        if like:
            tank, feeder = lay.places[leg.target], like[0].run
            name = (
                f"{_named(facility, tank)} fed from {_named(facility, feeder)}, not from"
                f" {_named(facility, source)}"
            )
            scene = ft.Scene(name=name, loop=loop.fed_from(lay, leg.run, feeder), leak=fit.leak)
            yield Supposed(scene=scene, basis="fitted; its inlet taken to fall as now")


def planned(fit: fitting.Fit, changed: Mapping[str, model.Facility], system: str) -> Iterator[Supposed]:
    """A keeper's own plans; what a plan adds is taken as usual for its kind."""
    for name, facility in changed.items():
        lay = loop.of(facility, system, flows.stated(facility).flows, ())
        if lay.places and lay.legs:
            leak = fit.leak if fit.leak is not None and fit.leak.pump in lay.pumps else None
            yield Supposed(
                scene=ft.Scene(name=name, loop=lay, leak=leak),
                basis="fitted; what is new as usual for its kind",
            )


def _named(facility: model.Facility, id: str) -> str:
    for shelf in (facility.vessels, facility.runs, facility.equipment):
        if id in shelf:
            return hidden.visible(shelf[id].name or id)
    return hidden.visible(id)
