"""Which pump draws air in: every pump and every date tried, weighed by how likely it makes the readings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brinehouse.engines.gas_sources import case as cases
from brinehouse.engines.gas_sources import fitting, loop

Floats = NDArray[np.float64]
BEFORE = 0.5  # weight that some pump leaks, before any reading; elicited
USUAL = 20.0  # mmHg: spread of a leak's size before any reading; elicited
PAUSE = 3.0  # hours without a sample that part one visit from the next
SPLITS = (0.12, 0.145, 0.18)  # oxygen's part of the leak that is tried
MIDDLE = fitting.LEAKED[1].mean


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One pump from one hour on, with how it would show and how well that fits."""

    leak: fitting.Leak
    worth: float
    size: float
    u: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """Weights of each pump and of no leak at all (``""``); the best date of each pump.

    ``bounds`` holds for each pump the most its leak could be and not be seen, in mmHg put into the flow.
    """

    weights: Mapping[str, float]
    best: Mapping[str, Candidate] = field(default_factory=dict[str, Candidate])
    bounds: Mapping[str, float] = field(default_factory=dict[str, float])

    @property
    def first(self) -> str:
        """The heaviest, a pump or none."""
        return max(self.weights, key=lambda name: self.weights[name])


def group_of(lay: loop.Loop, pump: str) -> str:
    """The duty group, or the pump itself, by which legs name it."""
    return next(group for group, members in lay.groups.items() if pump in members)


def gaps(case: cases.Case) -> Floats:
    """Hours amid the pauses between visits: a leak begins in one of them."""
    hours = np.unique(case.hours)
    wide = np.flatnonzero(np.diff(hours) > PAUSE)
    return 0.5 * (hours[wide] + hours[wide + 1])


def dates(case: cases.Case) -> Floats:
    """Hours from which a leak may have counted: before the beginning, and some of the pauses."""
    early = np.array([float(case.hours.min()) - 240.0])
    between = gaps(case)
    if not between.size:
        return early
    wanted = np.quantile(case.hours, np.linspace(0.08, 0.8, 17))
    near = np.argmin(np.abs(between[:, None] - wanted[None, :]), axis=0)
    return np.concatenate([early, np.unique(between[near])])


def candidates(
    fit: fitting.Fit, pumps: Sequence[str], when: Sequence[float] | None = None
) -> list[tuple[fitting.Leak, Floats]]:
    """Columns of ΔP and oxygen for one mmHg of a leak: by pump, date and split, where the record can tell."""
    case, lay = fit.case, fit.case.loop
    shown = cases.Shown(case, fit.values)
    found: list[tuple[fitting.Leak, Floats]] = []
    for pump in pumps:
        group = group_of(lay, pump)
        whole = shown.leak(pump, group, -math.inf)
        for since in dates(case) if when is None else when:
            after = case.hours >= since
            unit = {gas: np.where(after, answer, 0.0) for gas, answer in whole.items()}
            felt = unit["inert"][after]
            if after.sum() < 4 or felt.size == 0 or float(np.ptp(felt)) < 0.15:
                continue
            for share in SPLITS:
                oxygen = share * unit["oxygen"]
                column = np.concatenate([oxygen + (1.0 - share) * unit["inert"], oxygen])
                found.append((fitting.Leak(pump=pump, group=group, since=float(since)), column))
    return found


def weigh(fit: fitting.Fit, pumps: Sequence[str], when: Sequence[float] | None = None) -> Weighed:
    """Weights of the pumps, every other parameter averaged over (all errors normal, the loop made linear)."""
    keep = [n for n, p in enumerate(fit.parameters) if not p.name.startswith("leak")]
    tried = candidates(fit, pumps, when)
    if not tried:
        return Weighed(weights={"": 1.0})
    sd = np.array([fit.parameters[n].sd for n in keep])
    mean = np.array([fit.parameters[n].mean for n in keep])
    design = fit.design[:, keep]
    bare = fit.case.seen - fitting.predict(fit.case, fit.values, None)
    left = bare + design @ (fit.theta[keep] - mean)
    root = np.linalg.cholesky(fit.error + (design * sd) @ (design * sd).T)
    columns = np.column_stack([column for _, column in tried])
    white = np.linalg.solve(root, np.column_stack([columns, left]))
    power = np.maximum((white[:, :-1] ** 2).sum(axis=0), 1e-12)
    size = (white[:, :-1].T @ white[:, -1]) / power
    return _weighed([leak for leak, _ in tried], size, power)


def _weighed(tried: Sequence[fitting.Leak], size: Floats, power: Floats) -> Weighed:
    ratio = USUAL**2 * power
    spread = 1.0 / np.sqrt(power + 1.0 / USUAL**2)
    middle = size * ratio / (1.0 + ratio)
    logs = -0.5 * np.log1p(ratio) + 0.5 * size**2 * power * ratio / (1.0 + ratio) + math.log(2.0)
    logs = logs + np.array([_log_share(float(z)) for z in middle / spread])
    by_pump: dict[str, list[int]] = {}
    for number, leak in enumerate(tried):
        by_pump.setdefault(leak.pump, []).append(number)
    top = max(0.0, float(logs.max()))
    scores = {"": (1.0 - BEFORE) * math.exp(-top)}
    best: dict[str, Candidate] = {}
    bounds: dict[str, float] = {}
    for pump, rows in by_pump.items():
        scores[pump] = BEFORE / len(by_pump) * float(np.exp(logs[rows] - top).mean())
        row = max(rows, key=lambda n: logs[n])
        best[pump] = Candidate(
            leak=tried[row], worth=float(logs[row]), size=float(middle[row]), u=float(spread[row])
        )
        whole = rows[0]  # as if it had leaked all the time
        bounds[pump] = max(0.0, float(middle[whole])) + 1.645 * float(spread[whole])
    total = sum(scores.values())
    return Weighed(weights={name: s / total for name, s in scores.items()}, best=best, bounds=bounds)


def _log_share(z: float) -> float:
    """Logarithm of the normal distribution's share below z."""
    if z > -8.0:
        return math.log(max(0.5 * math.erfc(-z / math.sqrt(2.0)), 1e-300))
    return -0.5 * z * z - math.log(-z) - 0.919


def dated(fit: fitting.Fit, leak: fitting.Leak) -> fitting.Leak:
    """The date looked for once more near the first find, between the samples there."""
    between = gaps(fit.case)
    near = between[np.abs(between - leak.since) < 0.1 * float(np.ptp(fit.case.hours))]
    if leak.since < float(fit.case.hours.min()) or near.size == 0:
        return leak
    found = weigh(fit, [leak.pump], [leak.since, *near.tolist()])
    return found.best[leak.pump].leak if leak.pump in found.best else leak
