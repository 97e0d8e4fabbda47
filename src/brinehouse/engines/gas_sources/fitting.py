"""Parameters of a loop with what is assumed of each, fitted to its samples; errors that hang together.

The fit is Bayes' rule with normal errors: generalised least squares (Aitken 1936) with a prior for each
parameter, solved by Gauss and Newton's steps. Errors hang together in three ways: a meter's zero wanders over
days, and bubbles and life at each place vary over hours. How much is learnt from the readings themselves.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.engines.gas_sources import balance, loop, question
from brinehouse.engines.gas_sources import case as cases

Floats = NDArray[np.float64]
HOURS_OF_WATER = 10.0  # memory of bubbles and life at a place; elicited
HOURS_OF_METER = 168.0  # memory of a meter's zero; elicited
CARRIED = math.log(
    1.5
)  # of the mmHg that bubbles carried under add at an inlet, before any reading; elicited
RESPIRES = 150.0  # mg of oxygen for each kg of animals and hour; common practice, no source
SLIP = 4.5  # deviations from what the others foretell, beyond which a reading is taken for a slip
WIDENED = 60.0  # by which a slip's own error is widened: it then says next to nothing


@dataclass(frozen=True, slots=True)
class Parameter:
    """A parameter before any reading: mean and standard deviation (of the logarithm, the logit or itself)."""

    name: str
    mean: float
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Standard deviations: readings [mmHg], meters' zeros [mmHg], bubbles and life for each flow [mmHg]."""

    pressure: float = 0.5
    oxygen: float = 0.6
    zero: float = 1.0
    bubbles: float = 1.0
    life: float = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """Air drawn in at a pump from an hour on."""

    pump: str
    group: str
    since: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Best values, their covariance, and what is needed to say what follows from them."""

    case: cases.Case
    parameters: tuple[Parameter, ...]
    leak: Leak | None
    theta: Floats
    covariance: Floats
    design: Floats
    error: Floats
    left: Floats
    spread: Spread
    slips: Floats

    @property
    def values(self) -> dict[str, float]:
        """Parameters by name."""
        return {p.name: float(v) for p, v in zip(self.parameters, self.theta, strict=True)}


def parameters(given: question.Given, case: cases.Case, lay: loop.Loop) -> tuple[Parameter, ...]:
    """Everything unknown about a loop, with what is assumed of it before any reading."""
    found = [Parameter("alike", 0.0, 0.08), Parameter("warming", 0.0, 0.7)]
    inflow = _inflow(lay)
    for number, place in enumerate(lay.places):
        found.append(Parameter(f"surface:{place}", math.log(0.25), 1.0))
        found += _life(place, lay, inflow[number], case.air)
    found.extend(_stripper(machine, lay) for machine in lay.strippers)
    for leg in lay.legs:
        pumped = any(step.kind == "pumps" for step in leg.steps)
        if leg.source == loop.OUTSIDE:
            found.append(Parameter(f"incoming:{leg.run}", 0.0, 15.0))
        if leg.source != leg.target:
            found.append(Parameter(f"fall:{leg.run}", -2.2 if pumped else -1.4, 1.2))
            found.append(Parameter(f"carried:{leg.run}", CARRIED, 1.3))
    for meter in case.meters:
        found.append(Parameter(f"zero:{meter}", 0.0, max(given.offsets.get(meter, 2.0), 0.1)))
        found.append(Parameter(f"gain:{meter}", 0.0, given.gains.get(meter, 0.02)))
    return tuple(found)


def _stripper(machine: str, lay: loop.Loop) -> Parameter:
    number, sd = loop.STRIPPERS.get(lay.kinds.get(machine, ""), (1.0, 0.8))
    return Parameter(f"strip:{machine}", math.log(number), sd)


def new_parameters(lay: loop.Loop, known: Mapping[str, float]) -> tuple[Parameter, ...]:
    """What a changed loop needs that the fitted one did not have."""
    found = [_stripper(m, lay) for m in lay.strippers if f"strip:{m}" not in known]
    for leg in lay.legs:
        if leg.source != leg.target and f"fall:{leg.run}" not in known:
            found.append(Parameter(f"fall:{leg.run}", -2.0, 1.2))
            found.append(Parameter(f"carried:{leg.run}", CARRIED, 1.3))
    new = [place for place in lay.places if f"surface:{place}" not in known]
    return (*found, *(Parameter(f"surface:{place}", math.log(0.25), 1.0) for place in new))


def _inflow(lay: loop.Loop) -> Floats:
    flows = np.zeros(len(lay.places))
    for leg in lay.legs:
        flows[leg.target] += leg.flow
    return flows


def _life(place: str, lay: loop.Loop, inflow: float, air: balance.Air) -> list[Parameter]:
    """Oxygen taken and made at a place, as mmHg in the water that flows through it; a day's swing."""
    if inflow <= 0.0:
        return []
    per_milligram = 0.149 * loop.SHARES["oxygen"] * air.dry  # 1 mg/L is 14.9 % at S 35, 25.5 °C
    taken = lay.animals.get(place, 0.0) * RESPIRES / (inflow * 1000.0) * per_milligram
    found = [Parameter(f"life:{place}", -taken, taken + 1.5)]
    if lay.animals.get(place):
        found += [Parameter(f"day {part}:{place}", 0.0, 0.5 * taken + 0.7) for part in ("cos", "sin")]
    return found


LEAKED = (Parameter("leak", 15.0, 25.0), Parameter("leak share", 0.145, 0.025))
"""ΔP put into what the pumps send out [mmHg], and oxygen's part of it: 0.119 where air dissolves whole, 0.209
where it comes to balance with its bubbles."""


def predict(
    case: cases.Case, values: Mapping[str, float], leak: Leak | None, unit: Mapping[str, Floats] | None = None
) -> Floats:
    """ΔP and oxygen's excess at each sample as its meter would show them.

    `unit` is the leak's answer where it is known already.
    """
    shown = cases.Shown(case, values)
    gas = shown.standing()
    oxygen, inert = gas["oxygen"], gas["inert"]
    if leak is not None:
        unit = unit or shown.leak(leak.pump, leak.group, leak.since)
        size, share = values["leak"], values["leak share"]
        oxygen = oxygen + size * share * unit["oxygen"]
        inert = inert + size * (1.0 - share) * unit["inert"]
    zero = np.array([values.get(f"zero:{m}", 0.0) for m in case.meters] + [0.0])
    gain = np.array([values.get(f"gain:{m}", 0.0) for m in case.meters] + [0.0])
    return np.concatenate(
        [oxygen + inert + zero[case.meter], oxygen + gain[case.meter] * case.oxygen_pressure]
    )


def named(params: tuple[Parameter, ...], theta: Floats) -> dict[str, float]:
    """Values by name."""
    return {p.name: float(v) for p, v in zip(params, theta, strict=True)}


def slopes(case: cases.Case, params: tuple[Parameter, ...], theta: Floats, leak: Leak | None) -> Floats:
    """How what is shown moves with each parameter."""
    columns: list[Floats] = []
    values = named(params, theta)
    unit = cases.Shown(case, values).leak(leak.pump, leak.group, leak.since) if leak is not None else None
    base = predict(case, values, leak, unit)
    for parameter in params:
        step = 0.02 * parameter.sd
        moved = {**values, parameter.name: values[parameter.name] + step}
        known = None if cases.moves(parameter.name) else unit
        columns.append((predict(case, moved, leak, known) - base) / step)
    return np.column_stack(columns)


@dataclass(frozen=True, slots=True)
class Kernels:
    """Parts of the error's covariance at size one: a meter's zero, bubbles, life."""

    zero: Floats
    bubbles: Floats
    life: Floats


def weights_of(shown: cases.Shown) -> tuple[Floats, Floats]:
    """How each observation answers one mmHg of bubbles, and of life, in what flows into each place."""
    case = shown.case
    count = case.hours.size
    parts = {gas: np.zeros((count, len(case.loop.places))) for gas in loop.GASES}
    for gas, number in shown.systems:
        answers = shown.answers(gas, number)
        for source in range(answers.shape[1]):
            rows = case.regime == number
            parts[gas][rows, source] = shown.at_samples(gas, {number: answers[:, source]})[rows]
    oxygen = loop.SHARES["oxygen"] * parts["oxygen"]
    bubbles = np.vstack([oxygen + loop.SHARES["inert"] * parts["inert"], oxygen])
    return bubbles, np.vstack([parts["oxygen"], parts["oxygen"]])


def kernels(case: cases.Case, values: Mapping[str, float]) -> Kernels:
    """The parts of the covariance at given parameters."""
    apart = np.abs(case.hours[:, None] - case.hours[None, :])
    short = np.tile(np.exp(-apart / HOURS_OF_WATER), (2, 2))
    bubbles, life = weights_of(cases.Shown(case, values))
    same = (case.meter[:, None] == case.meter[None, :]) * np.exp(-apart / HOURS_OF_METER)
    zero = np.zeros((2 * case.hours.size, 2 * case.hours.size))
    zero[: case.hours.size, : case.hours.size] = same
    return Kernels(zero=zero, bubbles=(bubbles @ bubbles.T) * short, life=(life @ life.T) * short)


def error(case: cases.Case, parts: Kernels, spread: Spread, slips: Floats) -> Floats:
    """Covariance of all errors; a slip's own is widened."""
    return (
        np.diag((alone(case, spread) * slips) ** 2)
        + spread.zero**2 * parts.zero
        + spread.bubbles**2 * parts.bubbles
        + spread.life**2 * parts.life
    )


def alone(case: cases.Case, spread: Spread) -> Floats:
    """Standard deviations of what each reading has of its own."""
    return np.concatenate([np.hypot(case.noise, spread.pressure), np.full(case.hours.size, spread.oxygen)])


def solve(
    given: question.Given, lay: loop.Loop, case: cases.Case, leak: Leak | None,
    start: Fit | None = None, *, rounds: int = 5, learn: bool = True,
) -> Fit:  # fmt: skip
    """The best parameters with a leak given or without one."""
    params = parameters(given, case, lay) + (LEAKED if leak is not None else ())
    mean, sd = np.array([p.mean for p in params]), np.array([p.sd for p in params])
    theta = mean.copy()
    spread, slips = Spread(), np.ones(case.seen.size)
    if start is not None:
        theta = np.array([start.values.get(p.name, p.mean) for p in params])
        spread, slips = start.spread, start.slips
    step = math.inf
    for turn in range(rounds):
        values = named(params, theta)
        design = slopes(case, params, theta, leak)
        left = case.seen - predict(case, values, leak)
        parts = kernels(case, values)
        if learn and turn in (1, 3):
            spread = _learnt(case, parts, design * sd, left + design @ (theta - mean), spread, slips)
        covered = error(case, parts, spread, slips)
        covariance, moved = _newton(design, covered, left, theta - mean, sd)
        theta = theta + np.clip(moved, -2.0 * sd, 2.0 * sd)
        now = case.seen - predict(case, named(params, theta), leak)
        slips = _slips(now, covered, alone(case, spread), slips)
        step = float(np.max(np.abs(moved) / sd))
        if step < 0.02 and (turn > 2 or not learn):
            break
    values = named(params, theta)
    design = slopes(case, params, theta, leak)
    left = case.seen - predict(case, values, leak)
    covered = error(case, kernels(case, values), spread, slips)
    covariance, _ = _newton(design, covered, left, theta - mean, sd)
    return Fit(
        case=case, parameters=params, leak=leak, theta=theta, covariance=covariance, design=design,
        error=covered, left=left, spread=spread, slips=slips,
    )  # fmt: skip


def _newton(design: Floats, covered: Floats, left: Floats, away: Floats, sd: Floats) -> tuple[Floats, Floats]:
    """Covariance of the parameters, and the step that lowers misfit and distance from what was assumed."""
    root = np.linalg.cholesky(covered)
    white = np.linalg.solve(root, np.column_stack([design, left]))
    info = white[:, :-1].T @ white[:, :-1] + np.diag(1.0 / sd**2)
    covariance = np.asarray(np.linalg.inv(info), dtype=np.float64)
    return covariance, covariance @ (white[:, :-1].T @ white[:, -1] - away / sd**2)


def _slips(left: Floats, covered: Floats, alone: Floats, slips: Floats) -> Floats:
    """Widening of readings that stand too far from what all the others foretell."""
    inverse = np.linalg.inv(covered)
    told = 1.0 / np.diag(inverse)
    off = (inverse @ left) * told
    plain = np.maximum(told - (slips**2 - 1.0) * alone**2, 0.25 * alone**2)
    return np.where(np.abs(off) > SLIP * np.sqrt(plain), WIDENED, 1.0)


def _learnt(
    case: cases.Case, parts: Kernels, scaled: Floats, left: Floats, spread: Spread, slips: Floats
) -> Spread:
    """The spreads under which the readings are most likely, the parameters averaged over (Laplace)."""
    loose = scaled @ scaled.T

    def worth(one: Spread) -> float:
        away = sum(
            (math.log(getattr(one, f.name) / getattr(Spread(), f.name)) / 0.7) ** 2
            for f in dataclasses.fields(Spread)
        )
        root = np.linalg.cholesky(error(case, parts, one, slips) + loose)
        white = np.linalg.solve(root, left)
        return -0.5 * (float(white @ white) + away) - float(np.log(np.diag(root)).sum())

    best = worth(spread)
    for factor in (1.6, 1.25):
        for name in [f.name for f in dataclasses.fields(Spread)]:
            for way in (factor, 1.0 / factor):
                other = dataclasses.replace(spread, **{name: getattr(spread, name) * way})
                value = worth(other)
                while value > best:
                    spread, best = other, value
                    other = dataclasses.replace(spread, **{name: getattr(spread, name) * way})
                    value = worth(other)
    return spread
