"""One sitting of a gas meter, judged: settled, settling, or too early to say."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from brinehouse.science import statistics

Array = NDArray[np.float64]
State = Literal["settled", "settling", "cannot-say"]

SETTLED_SHARE = 0.02
"""Where nothing is usual for a unit: this share of the whole change. common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One sitting of a gas meter.

    Attributes
    ----------
    minutes, values : ndarray
        In order of time. [min], [unit]
    unit : str
        Of the readings and of everything below.
    start : float or None
        The value at minute 0 where it is known.
    u : float or None
        Standard uncertainty of one reading where it is known.
    resolution : float
        The display's step.
    assumed : bool
        Whether the step was taken from the decimals of the readings.
    tolerance : float or None
        What may be left to change in a settled trial.
    usual : float or None
        What may be left where nobody said; without it 2 % of the whole change.
    usual_constant : float
        A usual meter's time constant. [min]
    """

    minutes: Array
    values: Array
    unit: str = "%"
    start: float | None = None
    u: float | None = None
    resolution: float = 0.0
    assumed: bool = False
    tolerance: float | None = None
    usual: float | None = None
    usual_constant: float = 7.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Creep:
    """A second, slower approach beside the first: what it is, and what could hide.

    Attributes
    ----------
    slope : float
        Change a minute beside the first approach.
    hidden : float
        Most that could go on a minute without showing (95 %).
    chance : float
        Probability of such a slope from scatter alone.
    """

    slope: float
    hidden: float
    chance: float


def creep(trial: Trial, verdict: Verdict) -> Creep | None:
    """What a slower approach could add, where there are readings enough to tell."""
    fit = verdict.fit
    if verdict.flat or verdict.state == "cannot-say" or fit.dof < 2:
        return None
    slope, unit_sd = fit.creep
    if math.isnan(slope):
        return None
    scatter = trial.u or max(fit.residual_sd, trial.resolution / math.sqrt(12))
    dof = math.inf if trial.u else fit.dof - 1
    sd = scatter * unit_sd
    hidden = abs(slope) + statistics.student(dof) * sd
    return Creep(slope=slope, hidden=hidden, chance=float(statistics.student_tail(slope / sd, dof)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a trial amounts to.

    Attributes
    ----------
    state : str
        ``settled``, ``settling`` or ``cannot-say``.
    fit : FirstOrderFit
        The curve, of the readings from `since` on.
    plateau, low, high : float
        Where it will settle, with the 95 % interval; either end may be infinite.
    tolerance, why : float, str
        What counts as settled, and why that much.
    flat : bool
        No change beyond the step and the scatter.
    since : float
        First minute of the readings used.
    p_runs : float
        Probability of so few runs of residuals of one sign.
    """

    state: State
    fit: statistics.FirstOrderFit
    plateau: float
    low: float
    high: float
    tolerance: float
    why: str
    flat: bool
    since: float
    p_runs: float


def judge(trial: Trial) -> Verdict:
    """Fit, interval and state of a trial: pure, quick, to be called again at each new reading."""
    verdict = _judge(trial, trial.start)
    if verdict.p_runs >= 0.05 or verdict.state == "cannot-say":
        return verdict
    for keep in (0.8, 0.65, 0.5, 0.4):
        first = trial.minutes.size - max(int(keep * trial.minutes.size), 6)
        if first <= 0 or trial.minutes[first] == trial.minutes[-1]:
            continue
        late = replace(trial, minutes=trial.minutes[first:], values=trial.values[first:])
        later = _judge(late, None)
        if later.p_runs >= 0.05:
            return later
    return replace(verdict, state="cannot-say")


def _judge(trial: Trial, start: float | None) -> Verdict:
    floor = trial.resolution / math.sqrt(12)
    fit = statistics.first_order_fit(trial.minutes, trial.values, start=start, u=trial.u, floor=floor)
    tolerance, why = _tolerance(trial, fit)
    low, high = fit.plateau_interval
    state, flat, plateau = _state(fit, tolerance), False, fit.plateau
    if state == "cannot-say" and start is None and _is_flat(trial, tolerance):
        state, flat = "settled", True
        plateau, low, high = _level(trial, floor)
    few = fit.residuals.size < 8 or fit.residual_sd < 1.5 * floor
    return Verdict(
        state=state, fit=fit, plateau=plateau, low=low, high=high, tolerance=tolerance, why=why, flat=flat,
        since=float(trial.minutes[0]), p_runs=1.0 if few or flat else statistics.too_few_runs(fit.residuals),
    )  # fmt: skip


def _tolerance(trial: Trial, fit: statistics.FirstOrderFit) -> tuple[float, str]:
    if trial.tolerance is not None:
        return trial.tolerance, "as asked for"
    usual = trial.usual
    wide = [
        (trial.resolution, "the display's step"),
        (fit.residual_sd if math.isfinite(fit.residual_sd) else 0.0, "the scatter of the readings"),
        (trial.u or 0.0, "the uncertainty of a reading"),
    ]
    if usual is not None:
        wide.insert(0, (usual, "what is usual for this unit (common practice, no source)"))
    else:
        share = SETTLED_SHARE * float(
            np.ptp(np.append(trial.values, [] if trial.start is None else trial.start))
        )
        wide.insert(0, (share, "2 % of the whole change (common practice, no source)"))
    return max(wide, key=lambda pair: pair[0])


def _state(fit: statistics.FirstOrderFit, tolerance: float) -> State:
    if not fit.time_constant_interval[1] < fit.span:
        return "cannot-say"
    return "settled" if max(abs(end) for end in fit.remaining_interval) <= tolerance else "settling"


def _is_flat(trial: Trial, tolerance: float) -> bool:
    """No slope beyond scatter and step; and were there one, a usual meter would have shown it by now."""
    span = float(np.ptp(trial.minutes))
    change = trial.resolution
    if trial.values.size < 3:
        return False
    if np.ptp(trial.values) > trial.resolution * 1.0000001:
        line = statistics.linear_fit(
            np.column_stack([np.ones_like(trial.minutes), trial.minutes]), trial.values
        )
        slope, half = abs(float(line.coefficients[1])), float(line.half_widths()[1])
        change = max(change, (slope + half) * span)
        if slope > half or change > max(tolerance, 2 * trial.resolution):
            return False
    return change / math.expm1(span / trial.usual_constant) <= tolerance


def _level(trial: Trial, floor: float) -> tuple[float, float, float]:
    """Mean of flat readings; what the display's step hides does not average out."""
    n = trial.values.size
    mean, sd = float(trial.values.mean()), float(trial.values.std(ddof=1))
    half = math.hypot(statistics.student(n - 1) * sd / math.sqrt(n), statistics.student(math.inf) * floor)
    return mean, mean - half, mean + half
