"""Which reading would tell most: the expected information of readings that could be taken.

Two kinds are weighed. A pair of readings at one spot, just before a pump starts and some minutes after, parts
the pumps: its worth is half the squared signal over its error (the expected logarithm of the odds, in nats).
A pair across a machine or a fall narrows what happens there: its worth is how much of that variance it takes.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.engines.gas_sources import case as cases
from brinehouse.engines.gas_sources import fitting, leaks, loop
from brinehouse.engines.gas_sources import foretelling as ft
from brinehouse.facility import hidden, model

Floats = NDArray[np.float64]
SHOWN = 4
SOON = (1.0 / 6.0, 1.0, 4.0)  # hours after a start at which it is worth reading
ENOUGH = 3.0  # nats: twenty to one
TRIED = 12.0  # mmHg put into the flow by the leak that is looked for, where none is fitted


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A reading to take: in words, its expected information in nats, and what it is about."""

    text: str
    worth: float
    about: str


def best(
    fit: fitting.Fit, weighed: leaks.Weighed, facility: model.Facility, hour: float
) -> tuple[Reading, ...]:
    """The most telling readings first: one for each thing that is not known well."""
    found = [*_starts(fit, weighed, facility, hour), *_across(fit, facility, hour)]
    kept: dict[str, Reading] = {}
    for reading in sorted(found, key=lambda one: -one.worth):
        kept.setdefault(reading.about, reading)
    return tuple(list(kept.values())[:SHOWN])


def _starts(
    fit: fitting.Fit, weighed: leaks.Weighed, facility: model.Facility, hour: float
) -> Iterator[Reading]:
    """Pairs around the start of a pump that is suspected, or of each where none stands out."""
    lay = fit.case.loop
    suspects = {p: w for p, w in weighed.weights.items() if p and w >= 0.02}
    for pump in suspects or {p: 0.0 for p in weighed.weights if p}:
        weight = weighed.weights.get(pump, 0.0)
        doubt = (
            4.0 * weight * (1.0 - weight) + 0.02
        )  # a pump that is sure, or out of the question, tells little
        size = weighed.best[pump].size if pump in weighed.best and weight >= 0.02 else TRIED
        for spot, words in _spots(lay, facility):
            for wait in SOON:
                signal = _after_start(fit, pump, spot, wait, max(size, 5.0), hour)
                error = 2.0 * (fit.spread.pressure**2 + 0.6**2)
                worth = 0.5 * float(signal[0] ** 2 / error + signal[1] ** 2 / (2.0 * fit.spread.oxygen**2))
                late = "ten minutes" if wait < 0.5 else "an hour" if wait < 2.0 else "four hours"
                yield Reading(
                    text=f"ΔP and oxygen {words}, just before {pump} starts and {late} after,"
                    f" no other pump turned: a leak of {size:.0f} mmHg would show as {signal.sum():.0f}",
                    worth=min(worth, ENOUGH) * doubt * (1.0 - 0.04 * wait),
                    about=f"pump {pump}" if len(suspects) > 1 else "pump",
                )


def _spots(lay: loop.Loop, facility: model.Facility) -> list[tuple[tuple[str, int], str]]:
    """Where one could read: every place, and a tap behind the pumps of each pumped run that has one."""
    found = [((place, -1), f"at {_named(facility, place)}") for place in lay.places]
    for leg in lay.legs:
        if leg.run in lay.taps:
            at = next(n for n, step in enumerate(leg.steps) if step.kind == "tap")
            found.append(((leg.run, at), f"at the tap on {_named(facility, leg.run)}"))
    return found


def _after_start(
    fit: fitting.Fit, pump: str, spot: tuple[str, int], wait: float, size: float, hour: float
) -> Floats:
    """What a start would show at a spot: oxygen's part and nitrogen's. [mmHg]."""
    lay = fit.case.loop
    one = cases.at_time(fit.case, hour + 1000.0 + wait, 12.0)
    tap = spot[0] if spot[1] >= 0 else ""
    number = lay.places.index(spot[0]) if not tap else -1
    one = _single(one, number, tap)
    one = dataclasses.replace(one, turns={pump: (np.array([hour + 1000.0]), np.array([1.0]))})
    unit = cases.Shown(one, fit.values).leak(pump, leaks.group_of(lay, pump), -math.inf)
    share = leaks.MIDDLE
    return size * np.array([share * float(unit["oxygen"][0]), (1.0 - share) * float(unit["inert"][0])])


@dataclass(frozen=True, slots=True)
class Pair:
    """Two spots of one visit, the parameter that their difference tells of, and where they are in words."""

    before: str
    after: str
    about: str
    words: str


def _pairs(fit: fitting.Fit, facility: model.Facility, hour: float) -> Iterator[Pair]:
    """Before and after each machine and each fall, by one meter at one visit."""
    lay = fit.case.loop
    idle = ft.idle_at(fit, hour)
    for leg in lay.legs:
        if leg.source in (loop.OUTSIDE, leg.target):
            continue
        steps = [step for step in leg.steps if step.kind != "tap"]
        for at, step in enumerate(steps):
            if step.kind == "strip" and step.id not in idle:
                words = f"by one meter before and after {_named(facility, step.id)}"
                yield Pair(f"{leg.run}@{at}", f"{leg.run}@{at + 1}", f"strip:{step.id}", words)
            elif step.kind == "end" and f"carried:{leg.run}" in fit.values:
                tank, run = lay.places[leg.target], _named(facility, leg.run)
                words = (
                    f"by one meter at the end of {run}, before the water falls, and in"
                    f" {_named(facility, tank)}"
                )
                yield Pair(f"{leg.run}@{at}", tank, f"carried:{leg.run}", words)


def _single(case: cases.Case, number: int, tap: str) -> cases.Case:
    """One imagined sample at a place or a tap."""
    return dataclasses.replace(
        case, hours=case.hours[:1], clock=case.clock[:1], spot=np.array([number]), tap=(tap,),
        meter=case.meter[:1], seen=np.zeros(2), oxygen_pressure=np.zeros(1), noise=np.zeros(1),
        slope=np.zeros(1), regime=case.regime[:1],
    )  # fmt: skip


def _across(fit: fitting.Fit, facility: model.Facility, hour: float) -> Iterator[Reading]:
    """How much each pair's difference would narrow its parameter."""
    names = [p.name for p in fit.parameters]
    pairs = list(_pairs(fit, facility, hour))
    if not pairs:
        return
    tapped = _tapped(fit.case.loop)
    spots = [*tapped.places, *tapped.taps]
    case = _at_spots(fit, hour, tapped)
    _, slope = ft.gradient(lambda v: fitting.predict(case, v, fit.leak), fit.values, fit.parameters)
    count = len(spots)
    error = np.diag(2.0 * np.array([fit.spread.pressure**2 + 0.36, fit.spread.oxygen**2]))
    for pair in pairs:
        one, two = spots.index(pair.before), spots.index(pair.after)
        moved = np.vstack([slope[two] - slope[one], slope[count + two] - slope[count + one]])
        at = names.index(pair.about)
        seen = moved @ fit.covariance
        taken = float(seen[:, at] @ np.linalg.solve(seen @ moved.T + error, seen[:, at]))
        variance = float(fit.covariance[at, at])
        left = max(1.0 - taken / variance, 1e-3)
        matters = math.sqrt(variance) * _moves_animals(fit, pair.about, hour)
        yield Reading(
            text=f"ΔP and oxygen {pair.words}: narrows what happens there to {math.sqrt(left):.0%} of its"
            " width",
            worth=-0.5 * math.log(left) * min(1.0, matters / 2.0),
            about=pair.about,
        )


def _tapped(lay: loop.Loop) -> loop.Loop:
    """The loop with an imagined tap before every step of every leg."""
    legs: list[loop.Leg] = []
    taps: list[str] = []
    for leg in lay.legs:
        steps: list[loop.Step] = []
        for at, step in enumerate(s for s in leg.steps if s.kind != "tap"):
            steps += [loop.Step("tap", f"{leg.run}@{at}"), step]
            if leg.source != loop.OUTSIDE:
                taps.append(f"{leg.run}@{at}")
        legs.append(dataclasses.replace(leg, steps=tuple(steps)))
    return dataclasses.replace(lay, legs=tuple(legs), taps=tuple(taps))


def _at_spots(fit: fitting.Fit, hour: float, tapped: loop.Loop) -> cases.Case:
    """Imagined samples at each place and each imagined tap, at one time, by a meter without error."""
    one = ft.moment(fit, hour, tapped)
    places, taps = len(tapped.places), len(tapped.taps)
    spot = np.concatenate([np.arange(places), np.full(taps, -1)])
    count = places + taps

    def full(values: Floats) -> Floats:
        return np.full(count, values[0])

    return dataclasses.replace(
        one, hours=full(one.hours), clock=full(one.clock), spot=spot, tap=("",) * places + tapped.taps,
        meter=np.full(count, -1), seen=np.zeros(2 * count), oxygen_pressure=np.zeros(count),
        noise=np.zeros(count), slope=full(one.slope), regime=np.full(count, one.regime[0]),
    )  # fmt: skip


def _moves_animals(fit: fitting.Fit, about: str, hour: float) -> float:
    """How far ΔP at any place where animals live moves with a parameter. [mmHg]."""
    step, scene = 0.1, ft.Scene(name="", loop=fit.case.loop, leak=fit.leak, settled=False)
    values = fit.values
    up = ft.shown(fit, scene, hour, {**values, about: values[about] + step})
    moved = np.abs(up - ft.shown(fit, scene, hour, values)) / step
    return float(max((m for m, p in zip(moved, fit.case.loop.places, strict=True)
                      if fit.case.loop.animals.get(p)), default=0.0))  # fmt: skip


def _named(facility: model.Facility, id: str) -> str:
    for shelf in (facility.vessels, facility.runs, facility.equipment):
        if id in shelf:
            return hidden.visible(shelf[id].name or id)
    return hidden.visible(id)
