"""Least squares over a system's samples: places, the day, changes of plant, and one pump's running."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from brinehouse.engines.gas_changes import question
from brinehouse.science import statistics

Floats = NDArray[np.float64]
Rises = Mapping[str, tuple[float, float, Floats]]
"""By quantity: the rise with the pump at full run, its standard uncertainty, residuals."""

MODEL = 0.03
"""Share of a rise by which the water's assumed memory may be wrong, as a standard uncertainty. Elicited."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A system's samples as arrays, and the columns that stand whatever the pumps do."""

    hours: Floats
    place: NDArray[np.intp]
    places: tuple[str, ...]
    delta_p: Floats
    oxygen: Floats
    nitrogen: Floats
    base: Floats
    start: datetime


def exposure(turns: Sequence[question.Turn], pump: str, times: Sequence[datetime], memory: float) -> Floats:
    """How much a pump has run lately, as the water at a place remembers it.

    Parameters
    ----------
    turns : sequence of question.Turn
        Any pumps, any order.
    pump : str
    times : sequence of datetime
        When the water was sampled.
    memory : float
        Time constant of the water between pump and place: volume over flow. [h]

    Returns
    -------
    ndarray
        Between 0 (rested) and 1 (ran throughout); shape of `times`. [-]
    """
    mine = sorted((turn for turn in turns if turn.pump == pump), key=lambda turn: turn.at)
    edges = np.array([turn.at.timestamp() for turn in mine]) / 3600.0
    steps = np.diff(np.array([0.0, *[float(turn.running) for turn in mine]]))
    now = np.array([at.timestamp() for at in times]) / 3600.0
    if not edges.size:
        return np.zeros(now.shape)
    since = now[:, None] - edges[None, :]
    answered = np.where(since > 0.0, -np.expm1(-np.maximum(since, 0.0) / max(memory, 1e-3)), 0.0)
    return answered @ steps


def case(samples: Sequence[question.Sample], changes: Sequence[question.Change]) -> Case:
    """Samples as arrays, with the columns that stand whatever the pumps do."""
    places = tuple(sorted({sample.place for sample in samples}))
    start = min(sample.at for sample in samples)
    hours = np.array([(sample.at - start).total_seconds() / 3600.0 for sample in samples])
    index = np.array([places.index(sample.place) for sample in samples])
    blocks = [np.eye(len(places))[index]]
    for change in changes:
        after = hours >= (change.at - start).total_seconds() / 3600.0
        for place in range(len(places)):
            here = index == place
            if 3 <= int((after & here).sum()) <= int(here.sum()) - 3:
                blocks.append((after & here).astype(float)[:, None])
    blocks += _meters(samples)
    if hours.size >= 3 * (len(places) + 4):
        turn = (
            2.0 * math.pi * np.array([sample.at.hour + sample.at.minute / 60.0 for sample in samples]) / 24.0
        )
        blocks.append(np.column_stack([np.cos(turn), np.sin(turn)]))
    return Case(
        hours=hours,
        place=index,
        places=places,
        delta_p=np.array([sample.delta_p for sample in samples]),
        oxygen=np.array([sample.oxygen for sample in samples]),
        nitrogen=np.array([sample.nitrogen for sample in samples]),
        base=np.column_stack(blocks),
        start=start,
    )


def _meters(samples: Sequence[question.Sample]) -> list[Floats]:
    """A column for each meter but the first: what is left of its own error must not pass for water."""
    names = sorted({sample.meter for sample in samples})
    columns = [np.array([[float(sample.meter == name)] for sample in samples]) for name in names[1:]]
    return [column for column in columns if 3.0 <= float(column.sum()) <= len(samples) - 3.0]


def candidates(
    case: Case,
    samples: Sequence[question.Sample],
    turns: Sequence[question.Turn],
    pumps: Sequence[str],
    memory: Mapping[str, float],
) -> tuple[list[str], Floats, list[float]]:
    """One column for each pump and each date from which its running may have counted."""
    times = [sample.at for sample in samples]
    kept = np.zeros(len(times))
    names: list[str] = []
    columns: list[Floats] = []
    begins: list[float] = []
    dates = np.concatenate([[0.0], np.quantile(case.hours, np.linspace(0.1, 0.75, 14))])
    for pump in pumps:
        for place, name in enumerate(case.places):
            here = case.place == place
            kept[here] = exposure(turns, pump, times, memory.get(name, 1.0))[here]
        for date in dates:
            column = np.where(case.hours >= date, kept, 0.0)
            after = column[case.hours >= date]
            if after.size >= 5 and np.ptp(after) > 0.3:
                names.append(pump)
                columns.append(column)
                begins.append(float(date))
    return names, np.column_stack(columns) if columns else np.zeros((len(times), 0)), begins


def _free(base: Floats, what: Floats) -> Floats:
    """What is left of columns once the standing ones are taken out."""
    q, _ = np.linalg.qr(base)
    return what - q @ (q.T @ what)


def dated(case: Case, running: Floats, near: float) -> tuple[Floats, float]:
    """The date from which a pump's running counted, looked for once more near the first find."""
    reach = 0.12 * float(np.ptp(case.hours))
    near_by = case.hours[np.abs(case.hours - near) <= reach]
    dates = np.unique(np.concatenate([[near], near_by])) if near > 0.0 else np.array([0.0])
    columns = np.where(case.hours[:, None] >= dates[None, :], running[:, None], 0.0)
    best = int(np.argmax(gains(case, columns)))
    return columns[:, best], float(dates[best])


def gains(case: Case, columns: Floats) -> Floats:
    """How much of the sum of squares each candidate takes away, as a share."""
    left = _free(case.base, tamed(case.base, case.delta_p))
    free = _free(case.base, columns)
    power = np.maximum((free**2).sum(axis=0), 1e-12)
    return (free.T @ left) ** 2 / power / float(left @ left)


def tamed(base: Floats, values: Floats) -> Floats:
    """Values with slips of the pen pulled in to five deviations, so that none of them steers the fit.

    One slip can bend the first fit so far that others hide behind it: the pulling in is repeated.
    """
    kept = values
    for _ in range(25):
        fitted = kept - _free(base, kept)
        left = values - fitted
        middle = float(np.median(left))
        spread = 1.4826 * float(np.median(np.abs(left - middle)))
        pulled = fitted + np.clip(left, middle - 5.0 * spread, middle + 5.0 * spread)
        if spread == 0.0 or float(np.abs(pulled - kept).max()) < 1e-3 * spread:
            break
        kept = pulled
    return kept


def weights(case: Case, gains: Floats, names: Sequence[str]) -> dict[str, float]:
    """Share of each pump, its dates averaged over: likelihoods of a normal error of unknown size."""
    n = case.hours.size - case.base.shape[1]
    logs = -0.5 * n * np.log(np.maximum(1.0 - gains, 1e-12))
    top = float(logs.max())
    by_pump: dict[str, float] = {}
    for pump in dict.fromkeys(names):
        mine = np.array([math.exp(log - top) for log, name in zip(logs, names, strict=True) if name == pump])
        by_pump[pump] = float(mine.mean())
    total = sum(by_pump.values())
    return {pump: share / total for pump, share in by_pump.items()}


def beyond_chance(case: Case, gain: float, tries: int) -> bool:
    """The gain is more than the best of so many tries would give by chance (F test, Šidák, 1 %)."""
    from scipy import special

    dof = case.hours.size - case.base.shape[1] - 2
    if dof < 3:
        return False
    ratio = gain / max(1.0 - gain, 1e-12) * dof
    chance = float(special.fdtrc(1.0, dof, ratio))
    return 1.0 - (1.0 - chance) ** tries < 0.01


def rise(case: Case, column: Floats, values: Floats) -> tuple[float, float, Floats]:
    """Rise with the pump at full run, its standard uncertainty (errors may hang together), residuals."""
    design = np.column_stack([case.base, column])
    fit = careful(design, tamed(design, values), case.hours)
    size = float(fit[0][-1])
    return size, math.hypot(float(fit[1][-1]), MODEL * size), fit[2]


def careful(design: Floats, values: Floats, hours: Floats) -> tuple[Floats, Floats, Floats]:
    """Coefficients, standard uncertainties, residuals.

    The uncertainty is the larger of two: errors that hang together (Newey and West), and errors that do not;
    the first is too small where samples are few.
    """
    together = statistics.linear_fit(design, values, times=hours)
    apart = statistics.linear_fit(design, values)
    variance = np.maximum(np.diag(together.covariance), np.diag(apart.covariance))
    return np.asarray(together.coefficients), np.sqrt(variance), np.asarray(together.residuals)
