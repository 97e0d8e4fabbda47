"""Scatter, slips of the pen and the next sitting: what meters at the same places tell about readings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import statistics, statistics_meters

Array = NDArray[np.float64]


def repeatability(readings: statistics_meters.Readings) -> tuple[float, int]:
    """Scatter of a reading from the readings alone: every place free in every sitting.

    Parameters
    ----------
    readings : Readings
        Their `u` and `drift` do not matter.

    Returns
    -------
    tuple
        Standard uncertainty of one reading [same] and its degrees of freedom [-]; not a number without any.

    References
    ----------
    .. [1] Searle (1971), Linear Models, 7.2 (within-cell variance).
    """
    spots = list(zip(readings.place, readings.sitting, strict=True))
    cell = np.array([list(dict.fromkeys(spots)).index(spot) for spot in spots])
    meters = list(dict.fromkeys(readings.meter))
    columns = np.array([[float(meter == name) for name in meters] for meter in readings.meter])
    both = np.column_stack([readings.values, columns])
    count = np.bincount(cell)
    for k in range(both.shape[1]):  # what a level of its own for each cell leaves (Frisch and Waugh)
        both[:, k] -= (np.bincount(cell, weights=both[:, k]) / count)[cell]
    fit = statistics.linear_fit(both[:, 1:], both[:, 0])
    dof = len(spots) - count.size - fit.rank
    return (math.sqrt(float(fit.residuals @ fit.residuals) / dof) if dof > 0 else math.nan), dof


def wander(readings: statistics_meters.Readings) -> float:
    """How far a place's level moves in an hour, squared, from the same meters back at the same place.

    Parameters
    ----------
    readings : Readings
        Their `u` counts as scatter; their `drift` does not matter.

    Returns
    -------
    float
        Squared scale an hour of the steps [same²/h]; not a number where fewer than eight returns tell.

    Notes
    -----
    Offsets cancel where the same meters come back, so nothing else has to be known. A place that jumps now
    and then does not set the pace for all: steps are taken as Student with three degrees of freedom.

    References
    ----------
    .. [1] Lange, Little and Taylor (1989), J. Am. Stat. Assoc. 84, 881-896 (the t as a robust model).
    """
    cells: dict[statistics_meters.Level, list[int]] = {}
    for at, spot in enumerate(zip(readings.place, readings.sitting, strict=True)):
        cells.setdefault(spot, []).append(at)
    before: dict[tuple[str, tuple[str, ...]], tuple[float, float, int]] = {}
    steps: list[tuple[float, float, float]] = []
    ordered = sorted(cells.items(), key=lambda item: float(readings.hours[item[1]].mean()))
    for (place, _), rows in ordered:
        who = (place, tuple(sorted(readings.meter[at] for at in rows)))
        now = float(readings.values[rows].mean()), float(readings.hours[rows].mean()), len(rows)
        if who in before:
            level, hour, count = before[who]
            noise = readings.u**2 * (1 / count + 1 / now[2])
            steps.append((now[0] - level, max(now[1] - hour, 1e-3), noise))
        before[who] = now
    if len(steps) < 8:
        return math.nan
    step, hours, noise = np.array(steps).T
    trial = readings.u**2 * np.geomspace(1e-4, 1e4, 161)
    width = noise + trial[:, None] * hours
    score = -0.5 * np.log(width) - 2.0 * np.log1p(step**2 / (3 * width))
    return float(trial[int(np.argmax(score.sum(axis=1)))])


def odd_one(fit: statistics_meters.AdditiveFit, u: float, dof: float = math.inf) -> tuple[int, float] | None:
    """The reading that fits worst, and how likely chance alone makes any reading fit as badly.

    Parameters
    ----------
    fit : AdditiveFit
        Of all readings.
    u : float
        Standard uncertainty of one reading. [same]
    dof : float
        Its degrees of freedom. [-]

    Returns
    -------
    tuple or None
        Position and probability (Šidák over all readings that can be judged); None where none can.

    References
    ----------
    .. [1] Šidák (1967), J. Am. Stat. Assoc. 62, 626-633.
    """
    score = np.abs(fit.standardized(u))
    judged = np.isfinite(score)
    if not judged.any():
        return None
    at = int(np.nanargmax(np.where(judged, score, -1.0)))
    worst = float(score[at])
    if math.isfinite(dof):  # the scatter without it: it would else hide behind what it adds itself
        worst *= math.sqrt((dof - 1) / max(dof - worst**2, 1e-6)) if dof > 1 else 0.0
        dof -= 1
    alone = float(statistics.student_tail(worst, max(dof, 1.0)))
    return at, -math.expm1(int(judged.sum()) * math.log1p(-min(alone, 1 - 1e-16)))


@dataclass(frozen=True, slots=True, kw_only=True)
class NextPair:
    """Two readings that would help most, and the standard uncertainty of a difference before and after."""

    first: tuple[str, str]
    second: tuple[str, str]
    before: float
    after: float

    @property
    def side_by_side(self) -> bool:
        """Whether both meters would stand at one place."""
        return self.first[1] == self.second[1]


def next_pair(
    readings: statistics_meters.Readings, meters: Sequence[str], priors: Mapping[str, float], gap: float = 0.5
) -> NextPair | None:
    """The next sitting of two meters that would sharpen the differences between meters most.

    Parameters
    ----------
    readings : Readings
        So far.
    meters : sequence of str
        The meters at hand, two or more.
    priors : mapping
        Meter to the standard uncertainty of its offset before any reading. [same]
    gap : float
        Until the next sitting. [h]

    Returns
    -------
    NextPair or None
        The best pair of (meter, place), by the sum of the variances of all differences (A-optimal).

    References
    ----------
    .. [1] Fedorov (1972), Theory of Optimal Experiments, chapter 3 (exchange of design points).
    """
    frame = statistics_meters.Frame(readings)
    hands = [meter for meter in meters if meter in frame.meters]
    if len(hands) < 2:
        return None
    scale = 30.0 * max(float(np.ptp(readings.values)), 10 * readings.u)
    weak = np.full(len(frame.few), scale**-2.0)
    for meter, width in priors.items():
        if meter in frame.column:
            weak[frame.column[meter]] = width**-2.0
    system = statistics_meters.System(frame)
    if readings.jumps:
        system.allow_for_jumps()
    C = system.solve(weak)[1]
    latest = frame.latest()
    spots = [(meter, place) for meter in hands for place in latest]
    rows = np.zeros((len(spots), C.shape[0]))
    for at, (meter, place) in enumerate(spots):
        rows[at, frame.column[meter]] = rows[at, frame.column[latest[place]]] = 1.0
    wander = (
        scale**2 if math.isinf(readings.drift) else readings.drift * gap * (3.0 if readings.jumps else 1.0)
    )
    here = np.array([place for _, place in spots])
    seen = rows @ C @ rows.T + wander * (here[:, None] == here[None, :]) + readings.u**2 * np.eye(len(spots))
    own = [frame.column[meter] for meter in hands]
    centre = np.eye(len(own)) - 1 / len(own)
    reach = centre @ (C[own] @ rows.T)
    stood = {(meter, place) for meter, place in zip(readings.meter, readings.place, strict=True)}
    best, gain = _best_pair(spots, seen, reach, stood)
    total = float(np.trace(centre @ C[np.ix_(own, own)] @ centre))
    per = 2 / (len(own) - 1)  # the mean variance of a difference, in sums of squares about the mean
    left = max(total - gain, 0.0)
    return NextPair(
        first=spots[best[0]],
        second=spots[best[1]],
        before=math.sqrt(per * total),
        after=math.sqrt(per * left),
    )


def _best_pair(
    spots: list[tuple[str, str]], seen: Array, reach: Array, stood: set[tuple[str, str]]
) -> tuple[tuple[int, int], float]:
    """The pair that gains most; of those within 1 % the one a keeper sets up fastest."""
    i, j = np.triu_indices(len(spots), 1)
    apart = np.array([spots[a][0] != spots[b][0] for a, b in zip(i, j, strict=True)])
    i, j = i[apart], j[apart]
    a, b, c = seen[i, i], seen[j, j], seen[i, j]
    square = reach.T @ reach
    gain = (b * square[i, i] + a * square[j, j] - 2 * c * square[i, j]) / (a * b - c * c)
    beside = np.array([spots[x][1] == spots[y][1] for x, y in zip(i, j, strict=True)])
    known = np.array([(spots[x] in stood) + (spots[y] in stood) for x, y in zip(i, j, strict=True)])
    ease = np.where(gain >= 0.99 * gain.max(), 4 * beside + known + gain / gain.max(), -1.0)
    top = int(np.argmax(ease))
    return (int(i[top]), int(j[top])), float(gain[top])


def aliases(kept: ArrayLike, left_out: ArrayLike) -> Array:
    """How effects that a model leaves out leak into the ones it keeps.

    Parameters
    ----------
    kept, left_out : array_like
        Designs of the same readings, a column an effect. [-]

    Returns
    -------
    ndarray
        One row a kept effect, one column an effect left out: 1 is "cannot be told apart". [-]

    References
    ----------
    .. [1] Box and Draper (1987), Empirical Model-Building and Response Surfaces, 3.11 (alias matrix).
    .. [2] Grizzle (1965), Biometrics 21(2), 467-480 (the two-period change-over design). From memory.

    Examples
    --------
    The two-by-two swap: what looks like a change between the two periods may be a meter that suits a place.

    >>> meter, place = np.array([1, -1, 1, -1]), np.array([1, -1, -1, 1])
    >>> period = np.array([1, 1, -1, -1])
    >>> design = np.column_stack([np.ones(4), meter, place, period])
    >>> [abs(round(float(x))) for x in aliases(design, (meter * place)[:, None])[:, 0]]
    [0, 0, 0, 1]
    """
    return np.linalg.pinv(np.asarray(kept, float)) @ np.asarray(left_out, float)
