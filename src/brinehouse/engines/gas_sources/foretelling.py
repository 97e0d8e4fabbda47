"""What follows from a fit: sources, removals, leaks and changed loops at each place, with their covariance.

Everything is told as a normal estimate: the parameters' covariance carried through (the delta method), and
the hours' own swing of bubbles and life foretold from the readings nearest in time (kriging, Matheron 1963).
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.engines.gas_sources import balance, fitting, loop
from brinehouse.engines.gas_sources import case as cases

Floats = NDArray[np.float64]
Values = Mapping[str, float]
MODEL = 0.025
"""Share of a leak by which the assumed mixing and flows may be wrong, as a standard uncertainty. Elicited."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A loop to foretell: as it is, or changed.

    ``leak`` None is a loop whose leak was stopped; ``values`` are parameters held at given numbers,
    ``assumed`` those of machines that are not there yet. ``running`` lets a leaking pump run that rests.
    """

    name: str
    loop: loop.Loop
    leak: fitting.Leak | None
    values: Mapping[str, float] = dataclasses.field(default_factory=dict[str, float])
    assumed: tuple[fitting.Parameter, ...] = ()
    settled: bool = True
    running: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """ΔP at places of one or more scenes, one after the other, and their joint covariance. [mmHg]."""

    scenes: tuple[str, ...]
    places: tuple[tuple[str, ...], ...]
    mean: Floats
    covariance: Floats

    def at(self, scene: str, place: str) -> tuple[float, float]:
        """Mean and standard uncertainty of one scene at one place."""
        row = self.row(scene, place)
        return float(self.mean[row]), math.sqrt(max(float(self.covariance[row, row]), 0.0))

    def row(self, scene: str, place: str) -> int:
        """The row of one scene at one place."""
        number = self.scenes.index(scene)
        before = sum(len(names) for names in self.places[:number])
        return before + self.places[number].index(place)

    def change(self, one: str, other: str, place: str) -> tuple[float, float]:
        """How much a second scene is above a first at one place, and its standard uncertainty."""
        a, b = self.row(one, place), self.row(other, place)
        spread = self.covariance[a, a] + self.covariance[b, b] - 2.0 * self.covariance[a, b]
        return float(self.mean[b] - self.mean[a]), math.sqrt(max(float(spread), 0.0))


def moment(fit: fitting.Fit, hour: float, lay: loop.Loop | None = None) -> cases.Case:
    """The places of a loop at one time, as imagined samples."""
    case = fit.case if lay is None else dataclasses.replace(fit.case, loop=lay)
    return cases.at_time(case, hour, _clock(fit.case, hour))


def _clock(case: cases.Case, hour: float) -> float:
    return (float(case.clock[0] - case.hours[0]) + hour) % 24.0


def shown(fit: fitting.Fit, scene: Scene, hour: float, values: Values) -> Floats:
    """ΔP at each place of a scene, meters' errors apart. [mmHg]."""
    case = moment(fit, hour, scene.loop)
    kept = {**values, **scene.values}
    if scene.leak is not None and scene.settled:
        case = dataclasses.replace(case, turns={**case.turns, scene.leak.pump: _always(case, scene)})
    told = fitting.predict(case, kept, scene.leak)
    return told[: len(scene.loop.places)]


def _always(case: cases.Case, scene: Scene) -> tuple[Floats, Floats]:
    """The turns of a leaking pump that has long been as it is now, or has long been running."""
    pump = scene.leak.pump if scene.leak is not None else ""
    hours, states = case.turns.get(pump, (np.zeros(0), np.zeros(0)))
    before = np.flatnonzero(hours <= case.hours[0])
    running = float(states[before[-1]]) if before.size else 0.0
    return np.array([-1e5]), np.array([1.0 if scene.running else running])


def gradient(
    function: Callable[[Values], Floats], values: Values, params: Sequence[fitting.Parameter]
) -> tuple[Floats, Floats]:
    """A function's value, and how it moves with each parameter."""
    base = function(values)
    columns = [np.zeros((base.size, 0))]
    for parameter in params:
        step = 0.02 * parameter.sd
        moved = function({**values, parameter.name: values[parameter.name] + step})
        columns.append(((moved - base) / step)[:, None])
    return base, np.hstack(columns)


def foretell(fit: fitting.Fit, scenes: Sequence[Scene], hour: float) -> Told:
    """ΔP at every place of several scenes at one time."""
    values = fit.values
    extra: dict[str, fitting.Parameter] = {}
    for scene in scenes:
        known = {**values, **scene.values, **{p.name: p.mean for p in scene.assumed}}
        for parameter in (*scene.assumed, *fitting.new_parameters(scene.loop, known)):
            extra[parameter.name] = parameter
    full = {**values, **{p.name: p.mean for p in extra.values()}}
    params = [*fit.parameters, *extra.values()]
    bases: list[Floats] = []
    grads: list[Floats] = []
    swings: list[tuple[Floats, Floats]] = []
    for scene in scenes:
        base, grad = gradient(lambda v, s=scene: shown(fit, s, hour, v), full, params)
        bases.append(base)
        grads.append(grad)
        count = len(scene.loop.places)
        case = moment(fit, hour, scene.loop)
        bubbles, life = fitting.weights_of(cases.Shown(case, {**full, **scene.values}))
        swings.append((_placed(bubbles[:count], scene, fit), _placed(life[:count], scene, fit)))
    slope = np.vstack(grads)
    bubbles, life = np.vstack([b for b, _ in swings]), np.vstack([one for _, one in swings])
    mean, covariance = _joined(fit, np.concatenate(bases), slope, bubbles, life, hour)
    own = np.array([p.sd for p in extra.values()])
    new = slope[:, len(fit.parameters) :] * own
    return Told(
        scenes=tuple(scene.name for scene in scenes),
        places=tuple(scene.loop.places for scene in scenes),
        mean=mean,
        covariance=covariance + new @ new.T,
    )


def _placed(weights: Floats, scene: Scene, fit: fitting.Fit) -> Floats:
    """Columns by the fitted loop's places; a place that is new swings by itself and is left out."""
    out = np.zeros((weights.shape[0], len(fit.case.loop.places)))
    for number, place in enumerate(scene.loop.places):
        if place in fit.case.loop.places:
            out[:, fit.case.loop.places.index(place)] = weights[:, number]
    return out


def _joined(
    fit: fitting.Fit, base: Floats, slope: Floats, bubbles: Floats, life: Floats, hour: float
) -> tuple[Floats, Floats]:
    """The normal estimate given the readings, the hours' swing counted in."""
    case, spread = fit.case, fit.spread
    seen_bubbles, seen_life = fitting.weights_of(cases.Shown(case, fit.values))
    fade = np.tile(np.exp(-np.abs(case.hours - hour) / fitting.HOURS_OF_WATER), 2)
    shared = (spread.bubbles**2 * bubbles @ seen_bubbles.T + spread.life**2 * life @ seen_life.T) * fade[
        None, :
    ]
    held = np.linalg.solve(fit.error, shared.T).T
    own = spread.bubbles**2 * bubbles @ bubbles.T + spread.life**2 * life @ life.T
    moved = slope[:, : len(fit.parameters)] - held @ fit.design
    return base + held @ fit.left, moved @ fit.covariance @ moved.T + own - held @ shared.T


def carried(fit: fitting.Fit, function: Callable[[Values], Floats]) -> tuple[Floats, Floats]:
    """A function of the parameters and its standard uncertainties."""
    base, slope = gradient(function, fit.values, fit.parameters)
    return base, np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", slope, fit.covariance, slope), 0.0))


def idle_at(fit: fitting.Fit, hour: float) -> frozenset[str]:
    """Machines not in service at a time."""
    return next(r.idle for r in reversed(fit.case.regimes) if hour >= r.begin)


def leak_long(fit: fitting.Fit, values: Values, hour: float) -> dict[str, Floats]:
    """By gas: what the leak adds at each place once its pump has run long. [mmHg]."""
    leak = fit.leak
    if leak is None:
        zero = np.zeros(len(fit.case.loop.places))
        return dict.fromkeys(loop.GASES, zero)
    found: dict[str, Floats] = {}
    full = {**values, f"leak:{leak.group}": values["leak"]}
    for gas in loop.GASES:
        system = balance.assemble(fit.case.loop, full, gas, fit.case.air, idle_at(fit, hour))
        found[gas] = system.steady(system.sources[f"leak:{leak.group}"])
    return found


def leak_sizes(fit: fitting.Fit, hour: float) -> dict[str, tuple[float, float]]:
    """By place: ΔP of the leak when its pump has run long, and its standard uncertainty."""

    def sizes(values: Values) -> Floats:
        by_gas = leak_long(fit, values, hour)
        return by_gas["oxygen"] + by_gas["inert"]

    base, doubt = carried(fit, sizes)
    return {
        place: (float(base[n]), math.hypot(float(doubt[n]), MODEL * float(base[n])))
        for n, place in enumerate(fit.case.loop.places)
    }


def by_source(fit: fitting.Fit, hour: float, values: Values) -> dict[str, Floats]:
    """What each source adds at each place at one time; they sum to what is shown. [mmHg]."""
    case = moment(fit, hour)
    seen = cases.Shown(case, values)
    found: dict[str, Floats] = {}
    for system in seen.systems.values():
        for name, level in system.by_source().items():
            found[name] = found.get(name, np.zeros(level.size)) + level
    count = len(case.loop.places)
    bare = fitting.predict(case, values, None)[:count]
    still = cases.at_time(dataclasses.replace(fit.case, slope=np.zeros(fit.case.hours.size)), hour, 0.0)
    calm = fitting.predict(dataclasses.replace(still, clock=case.clock), values, None)[:count]
    found["barometer"] = bare - calm
    found["day"] = calm - np.sum([v for k, v in found.items() if k != "barometer"], axis=0)
    if fit.leak is not None:
        found[f"leak:{fit.leak.group}"] = fitting.predict(case, values, fit.leak)[:count] - bare
    return found


def removed(fit: fitting.Fit, hour: float, what: Sequence[str], values: Values) -> Floats:
    """How much higher each place would stand without each machine, the surfaces, or the falls. [mmHg]."""
    scene = Scene(name="", loop=fit.case.loop, leak=fit.leak, settled=False)
    today = shown(fit, scene, hour, values)
    rows: list[Floats] = []
    for thing in what:
        kept, lay = values, fit.case.loop
        if thing == "surfaces":
            kept = {k: v for k, v in values.items() if not k.startswith("surface:")}
        elif thing == "falls":
            kept = {k: -40.0 if k.startswith("fall:") else v for k, v in values.items()}
        else:
            lay = loop.without(lay, thing)
        rows.append(shown(fit, dataclasses.replace(scene, loop=lay), hour, kept) - today)
    return np.concatenate(rows)
