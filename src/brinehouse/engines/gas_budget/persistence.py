"""Explanations that persist: likelihoods of many visits multiplied, and when a setting changed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinehouse.engines.gas_budget import closure

Array = NDArray[np.float64]

STRAY = 1e-4
"""A visit that no explanation fits better than this is a slip of the pen, and left aside."""
FEWEST = 4  # visits on both sides together before a change is looked for
CHANGE = math.log(0.05)
"""Log of the prior odds that a setting was changed within the record. Elicited, no source."""
UNEXPLAINED = "gas/unexplained"


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """Visits between two changes, under one explanation.

    ``first`` and ``last`` index the visits (both belong to it); ``weights`` are the explanations' shares;
    ``fits`` counts, for each explanation, the visits whose closure it does not refuse.
    """

    first: int
    last: int
    best: str
    weights: Mapping[str, float]
    fits: Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """What one meter went through: one segment, or two with the change between.

    ``earliest`` and ``latest`` are the indices between which the first visit after the change lies; ``gain``
    is the log of the odds against no change.
    """

    segments: tuple[Segment, ...]
    earliest: int = 0
    latest: int = 0
    gain: float = 0.0


class _Record:
    """One meter's closures over its visits, with running sums that give any stretch's density at once.

    Within a stretch the visits share one offset: the meter's own equations, the difference of settings and an
    explanation's own size do not come anew each time. Rounding does.
    """

    def __init__(self, rows: closure.Case) -> None:
        logs, self.fits, parts = closure.test(rows)
        self.size = logs.shape[1]
        with np.errstate(invalid="ignore", divide="ignore"):
            found = closure.misses(rows, parts, second=False)
        known = np.asarray(np.isfinite(logs).any(axis=1))
        best = np.nanmax(np.where(np.isfinite(self.fits), self.fits, 0.0), axis=0)
        self.keep: NDArray[np.bool_] = np.asarray(best >= STRAY)
        rounding = parts.variance - parts.systematic
        shape = (len(closure.CODES), self.size)
        residual, slope = np.zeros(shape), np.zeros(shape)
        for place, code in enumerate(closure.CODES):
            if known[place]:
                residual[place] = found[code].residual
                slope[place] = np.sqrt(parts.systematic + np.square(found[code].slope))
        counted = self.keep / rounding
        stretch = (residual**2 * counted, residual * slope * counted, slope**2 * counted)
        self.sums = [np.concatenate([np.zeros((shape[0], 1)), np.cumsum(s, axis=1)], axis=1) for s in stretch]
        self.prior = np.log([closure.CAUSES[code].prior for code in closure.CODES])
        self.prior = np.where(known, self.prior, -np.inf)

    def stretch(self, start: Any, stop: Any) -> Array:
        """Log of prior and density of every explanation over the visits from `start` to before `stop`.

        What all explanations share (the rounding's own logarithms) is left out.
        """
        square, mixed, own = (total[:, stop] - total[:, start] for total in self.sums)
        grown = 1.0 + own
        prior = self.prior if np.ndim(square) == 1 else self.prior[:, None]
        return prior - 0.5 * (square - mixed**2 / grown + np.log(grown))

    def segment(self, start: int, stop: int) -> Segment:
        """What holds over some visits."""
        fits = np.where(np.isfinite(self.fits[:, start:stop]), self.fits[:, start:stop], 0.0)
        count = {code: int(np.count_nonzero(fits[k] >= 0.01)) for k, code in enumerate(closure.CODES)}
        if np.count_nonzero(self.keep[start:stop]) * 2 < stop - start:
            return Segment(first=start, last=stop - 1, best=UNEXPLAINED, weights={}, fits=count)
        totals = self.stretch(start, stop)
        weights = np.exp(totals - _sum_of(totals))
        return Segment(
            first=start,
            last=stop - 1,
            best=closure.CODES[int(np.argmax(weights))],
            weights={code: float(w) for code, w in zip(closure.CODES, weights, strict=True) if w > 1e-6},
            fits=count,
        )


def course(rows: closure.Case) -> Course:
    """The likeliest course of one meter's settings over its visits, in order of time.

    Rows must have the nitrogen figure and no oxygen percentage.
    """
    record = _Record(rows)
    size = record.size
    if size < FEWEST:
        return Course(segments=(record.segment(0, size),))
    splits = np.arange(1, size)
    before = record.stretch(np.zeros_like(splits), splits)
    after = record.stretch(splits, np.full_like(splits, size))
    pairs = before[:, None, :] + after[None, :, :]
    same = list(range(len(closure.CODES)))
    pairs[same, same] = -np.inf
    joined = np.array([_sum_of(pairs[:, :, k].ravel()) for k in range(size - 1)])
    joined += CHANGE - math.log(size - 1)
    gain = _sum_of(joined) - _sum_of(record.stretch(0, size))
    if not gain > math.log(20.0):
        return Course(segments=(record.segment(0, size),), gain=gain)
    likely = splits[joined > joined.max() - 3.0]
    top = int(splits[int(np.argmax(joined))])
    return Course(
        segments=(record.segment(0, top), record.segment(top, size)),
        earliest=int(likely.min()),
        latest=int(likely.max()),
        gain=gain,
    )


def _sum_of(logs: Array) -> float:
    top = float(np.max(logs))
    return top if not math.isfinite(top) else top + math.log(float(np.exp(logs - top).sum()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One meter held against another: the factor it shows, and where that changed.

    ``before`` and ``after`` say whether the salinity-zero factor holds on each side of index ``at``;
    ``factor`` is the mean of what it shows over the other, where it stands wrong.
    """

    before: bool
    after: bool
    at: int
    earliest: int
    latest: int
    factor: float
    u_factor: float
    odds: float


def step(logs: Array, expected: Array, gain: float = 0.03) -> Step:
    """Whether one meter stood at salinity 0 for all, none or a first or last part of its visits.

    Parameters
    ----------
    logs : ndarray
        ln(shown / what another meter makes of the same water), in order of time.
    expected : ndarray
        What a setting of 0 adds to it.
    gain : float
        Standard uncertainty of the ratio of the two channels' gains, the same for all visits.

    Returns
    -------
    Step
        ``at`` is 0 or the number of visits where nothing changed.
    """
    size = logs.size
    scores = np.full((2, size + 1), -np.inf)
    for wrong_first in (0, 1):
        for k in range(size + 1):
            wrong = np.arange(size) < k if wrong_first else np.arange(size) >= k
            scores[wrong_first, k] = _score(logs - np.where(wrong, expected, 0.0), gain)
    # three states of prior 1/3: never wrong, always wrong, changed once
    never, always = scores[1, 0], scores[1, size]
    inner = scores[:, 1:size] - math.log(max(2 * (size - 1), 1)) if size > 1 else np.full((2, 1), -np.inf)
    changed = _sum_of(inner.ravel())
    best = max(never, always, changed)
    odds = best - sorted((never, always, changed))[1]
    if best in (never, always):
        wrong_all = bool(best == always)
        held = logs if wrong_all else np.zeros(0)
        return _told(wrong_all, wrong_all, size if wrong_all else 0, (0, size), held, odds)
    first, place = (int(v) for v in np.unravel_index(int(np.argmax(inner)), inner.shape))
    share = np.exp(inner[first] - inner[first].max())
    share /= share.sum()
    likely = np.flatnonzero(share > 0.01) + 1
    at = place + 1
    held = logs[:at] if first else logs[at:]
    return _told(bool(first), not first, at, (int(likely.min()), int(likely.max())), held, odds)


def _told(before: bool, after: bool, at: int, span: tuple[int, int], held: Array, odds: float) -> Step:
    middle = float(np.median(held)) if held.size else 0.0
    spread = 1.4826 * float(np.median(np.abs(held - middle))) / math.sqrt(held.size) if held.size else 0.0
    return Step(
        before=before, after=after, at=at, earliest=span[0], latest=span[1],
        factor=math.exp(middle), u_factor=math.exp(middle) * spread, odds=float(odds),
    )  # fmt: skip


def _score(left: Array, gain: float) -> float:
    """Log density of what is left over: heavy-tailed about one shared gain."""
    middle = float(np.median(left))
    spread = max(1.4826 * float(np.median(np.abs(left - middle))), 0.01)
    z = (left - middle) / spread
    return (
        float(-2.5 * np.log1p(z * z / 4.0).sum()) - left.size * math.log(spread) - 0.5 * (middle / gain) ** 2
    )
