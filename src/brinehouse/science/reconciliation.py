"""Measured flows brought into agreement with what must balance, and the meters or leaks that will not fit.

Weighted least squares under linear balances, with the tests that go with it. Every test is a length along a
direction: what a wrong meter or a leak would do to the balances, once these are scaled to unit noise. Two
causes with the same direction cannot be told apart by any reading of these flows, however exact.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import statistics

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

_RANK = 1e-9  # of the largest singular value: below it a direction is none
_ALIKE = 1e-6  # two unit directions closer than this are one
_STILL = 1e-12  # of its own variance: a flow that no balance can adjust


class Suspect(NamedTuple):
    """A cause that would explain the balances' misfit, with every other one that no balance tells from it.

    Attributes
    ----------
    streams : tuple of int
        Measured flows whose meter may be off.
    places : tuple of int
        Balances at which water may leave or come in unseen.
    score : float
        Generalised likelihood ratio: what the misfit shrinks by; chi-square with one degree of freedom
        where nothing is wrong.
    sizes, doubts : ndarray
        For each stream, then each place: how far it is off, or how much water leaves, and the standard
        uncertainty. [unit of the flows]
    rest : float
        Probability of the misfit that is left, were this so; 1 where no degree of freedom is left. [-]
    """

    streams: tuple[int, ...]
    places: tuple[int, ...]
    score: float
    sizes: Array
    doubts: Array
    rest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reconciled:
    """Flows that balance, and how well the measured ones agreed to that.

    Attributes
    ----------
    values : ndarray
        Reconciled flows; NaN where a flow is neither measured nor determined by the balances. [as given]
    covariance : ndarray
        Of the values; NaN likewise. [squared]
    corrections : ndarray
        Measured less reconciled; NaN where unmeasured. [as given]
    measured, redundant, observable : ndarray of bool
        Which flows were measured; which of those some balance checks; which flows have a value at all.
    statistic : float
        Global test: weighted sum of squared corrections. [-]
    freedom : int
        Its degrees of freedom: balances left once the unmeasured flows are eliminated.
    scores : ndarray
        Measurement test, correction over its standard deviation; NaN where no balance checks a flow:
        that flow is untested, not good. [-]
    streams, places : ndarray
        What one unit of bias of each flow, and of each leak, does to the scaled misfit; one row each.
    misfit : ndarray
        The balances' misfit scaled to unit noise.
    """

    values: Array
    covariance: Array
    corrections: Array
    measured: Flags
    redundant: Flags
    observable: Flags
    statistic: float
    freedom: int
    scores: Array
    streams: Array
    places: Array
    misfit: Array

    @property
    def probability(self) -> float:
        """Of a misfit at least this large, were every uncertainty right; 1 where nothing is checked."""
        return statistics.chi_square_tail(self.statistic, self.freedom) if self.freedom else 1.0

    @property
    def critical(self) -> float:
        """What the global test's statistic stays below in 95 of 100 cases."""
        return statistics.chi_square(self.freedom) if self.freedom else math.inf

    @property
    def score_critical(self) -> float:
        """What every score of the measurement test stays below in 95 of 100 cases, after Sidak."""
        tested = int(np.isfinite(self.scores).sum())
        return sidak(tested) if tested else math.inf

    def bias(self, stream: int) -> tuple[float, float, float]:
        """Likelihood ratio, estimate and standard uncertainty of one flow's bias; NaN where unchecked."""
        return _along(self.streams[stream], self.misfit)

    def leak(self, place: int) -> tuple[float, float, float]:
        """Likelihood ratio, size and standard uncertainty of water lost at one balance; NaN if unchecked."""
        return _along(self.places[place], self.misfit)

    def alike(
        self, streams: Sequence[int] | None = None, places: Sequence[int] | None = None
    ) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
        """Streams and places grouped by direction: members of one group cannot be told apart.

        Parameters
        ----------
        streams : sequence of int, optional
            Flows whose meters can be wrong at all; every tested one otherwise.
        places : sequence of int, optional
            Balances at which water can be lost at all; every one otherwise.

        Returns
        -------
        list
            Groups as (streams, places), in order of their first member.
        """
        some = range(len(self.streams)) if streams is None else streams
        here = range(len(self.places)) if places is None else places
        named = [("stream", at, self.streams[at]) for at in some if self.redundant[at]]
        named += [("place", at, self.places[at]) for at in here]
        least = _RANK * self._largest()
        units: list[Array] = []
        groups: list[tuple[list[int], list[int]]] = []
        for kind, at, row in named:
            size = float(np.linalg.norm(row))
            if size <= least:
                continue
            unit = row / size
            home = next((n for n, g in enumerate(units) if min(_far(g, unit), _far(g, -unit)) < _ALIKE), None)
            if home is None:
                home = len(units)
                units.append(unit)
                groups.append(([], []))
            groups[home][0 if kind == "stream" else 1].append(at)
        return [(tuple(meters), tuple(leaks)) for meters, leaks in groups]

    def _largest(self) -> float:
        rows = np.vstack([self.streams, self.places])
        return float(np.nanmax(np.linalg.norm(np.nan_to_num(rows), axis=1), initial=0.0)) or 1.0

    def suspects(
        self, streams: Sequence[int] | None = None, places: Sequence[int] | None = None
    ) -> list[Suspect]:
        """Every group of causes, the one that would explain most first.

        Parameters
        ----------
        streams : sequence of int, optional
            Flows whose meters can be wrong at all; every tested one otherwise.
        places : sequence of int, optional
            Balances at which water can be lost at all; every one otherwise.

        Returns
        -------
        list of Suspect
            By falling score.
        """
        out: list[Suspect] = []
        for meters, leaks in self.alike(streams, places):
            told = [self.bias(at) for at in meters] + [self.leak(at) for at in leaks]
            score = max(each[0] for each in told)
            left, free = max(self.statistic - score, 0.0), self.freedom - 1
            out.append(
                Suspect(
                    streams=meters,
                    places=leaks,
                    score=score,
                    sizes=np.array([each[1] for each in told]),
                    doubts=np.array([each[2] for each in told]),
                    rest=statistics.chi_square_tail(left, free) if free else 1.0,
                )
            )
        return sorted(out, key=lambda suspect: -suspect.score)


def _far(one: Array, other: Array) -> float:
    return float(np.linalg.norm(one - other))


def _along(row: Array, misfit: Array) -> tuple[float, float, float]:
    size = float(row @ row) if row.size else 0.0
    if not size > 0.0:
        return math.nan, math.nan, math.nan
    shadow = float(row @ misfit)
    return shadow**2 / size, shadow / size, 1.0 / math.sqrt(size)


def sidak(count: int, coverage: float = 0.95) -> float:
    """Two-sided normal quantile that all of several independent scores stay below together.

    Parameters
    ----------
    count : int
        How many scores are looked at, above 0. [-]
    coverage : float
        Probability that none exceeds it, between 0 and 1. [-]

    Returns
    -------
    float
        The quantile. [-]

    References
    ----------
    .. [1] Šidák (1967), Journal of the American Statistical Association 62, 626-633.

    Examples
    --------
    >>> round(sidak(6), 3)
    2.631
    """
    from scipy import special

    each = 1.0 - coverage ** (1.0 / count)
    return float(special.ndtri(1.0 - each / 2.0))


def reconcile(
    measured: ArrayLike, covariance: ArrayLike, balances: ArrayLike, offsets: ArrayLike | None = None
) -> Reconciled:
    """Bring measured flows into agreement with linear balances by weighted least squares.

    Parameters
    ----------
    measured : array_like
        One value for each of n flows; NaN where a flow was not measured. [any unit of flow]
    covariance : array_like
        n by n, of the measured values; rows of unmeasured flows are not looked at. [that unit squared]
    balances : array_like
        m by n: what each flow adds to each balance, +1 in and -1 out. [-]
    offsets : array_like, optional
        What each balance sums to: storage change and evaporation; nought if absent. [as measured]

    Returns
    -------
    Reconciled
        Values, covariance, tests and directions. [as measured]

    Notes
    -----
    Unmeasured flows are eliminated by an orthogonal projection [1]_, then determined from the balances as
    far as these reach. Range: any linear balances; dependent balances are no harm. Nothing keeps a value
    from becoming negative.

    References
    ----------
    .. [1] Crowe, Garcia Campos and Hrymak (1983), AIChE Journal 29(6), 881-888.
    .. [2] Narasimhan and Jordache (2000), Data Reconciliation and Gross Error Detection, ch. 3 and 7.
    .. [3] VDI 2048 Part 1 (2000), Uncertainties of measurement during acceptance tests.

    Examples
    --------
    Two meters in one pipe, the second twice as exact:

    >>> found = reconcile([10.0, 11.0], np.diag([0.4, 0.1]) , [[1.0, -1.0]])
    >>> found.values
    array([10.8, 10.8])
    """
    y = np.asarray(measured, dtype=np.float64)
    every = np.asarray(balances, dtype=np.float64).reshape(-1, len(y))
    b = np.zeros(len(every)) if offsets is None else np.asarray(offsets, dtype=np.float64)
    seen = np.isfinite(y)
    a_seen, a_open = every[:, seen], every[:, ~seen]
    spread = np.asarray(covariance, dtype=np.float64)[np.ix_(seen, seen)]
    project = _projection(a_open)
    root = _root(spread)
    reduced = project.T @ a_seen
    u, s, turn = _decomposed(reduced @ root)
    scale = (u / s).T if s.size else np.zeros((0, len(reduced)))
    misfit = scale @ (project.T @ (a_seen @ y[seen] - b))
    moves = root @ turn.T  # of the measured flows, for one unit of scaled misfit
    values, cov, observable = _filled(
        y, spread - moves @ moves.T, y[seen] - moves @ misfit, a_seen, a_open, b, seen
    )
    variance = np.einsum("ij,ij->i", moves, moves)
    checked = variance > _STILL * np.maximum(np.diag(spread), np.finfo(float).tiny)
    scores, redundant = np.full(len(y), np.nan), np.zeros(len(y), dtype=bool)
    redundant[seen] = checked
    scores[redundant] = (moves @ misfit)[checked] / np.sqrt(variance[checked])
    streams = np.full((len(y), len(misfit)), np.nan)
    streams[redundant] = (scale @ reduced).T[checked]
    return Reconciled(
        values=values,
        covariance=cov,
        corrections=np.where(seen, y - values, np.nan),
        measured=seen,
        redundant=redundant,
        observable=observable,
        statistic=float(misfit @ misfit),
        freedom=len(misfit),
        scores=scores,
        streams=streams,
        places=(scale @ project.T).T,
        misfit=misfit,
    )


def _projection(open_part: Array) -> Array:
    """Columns that span everything the unmeasured flows cannot touch; the identity where there are none."""
    if not open_part.size:
        return np.eye(len(open_part))
    from scipy import linalg

    made = cast("Any", linalg.qr(open_part, pivoting=True))
    q, r = np.asarray(made[0], dtype=np.float64), np.asarray(made[1], dtype=np.float64)
    diagonal = np.abs(np.diag(r))
    rank = int((diagonal > _RANK * max(float(diagonal.max(initial=0.0)), 1e-300)).sum())
    return q[:, rank:]


def _root(spread: Array) -> Array:
    """A square root of a covariance, exact flows (no variance) allowed."""
    if not spread.size:
        return spread
    off = spread - np.diag(np.diag(spread))
    if not off.any():
        return np.diag(np.sqrt(np.diag(spread)))
    try:
        return np.asarray(np.linalg.cholesky(spread), dtype=np.float64)
    except np.linalg.LinAlgError:
        size, turn = np.linalg.eigh(spread)
        return np.asarray(turn * np.sqrt(np.maximum(size, 0.0)), dtype=np.float64)


def _decomposed(part: Array) -> tuple[Array, Array, Array]:
    """Singular value decomposition without the directions that are none."""
    if not part.size:
        return np.zeros((len(part), 0)), np.zeros(0), np.zeros((0, part.shape[1]))
    u, s, turn = np.linalg.svd(part, full_matrices=False)
    keep = s > _RANK * max(float(s[0]), 1e-300)
    return u[:, keep], s[keep], turn[keep]


def _filled(
    y: Array, spread: Array, settled: Array, a_seen: Array, a_open: Array, b: Array, seen: Flags
) -> tuple[Array, Array, Flags]:
    """Values and covariance of all flows; those the balances leave open are NaN."""
    back = np.linalg.pinv(a_open, rcond=_RANK) if a_open.size else np.zeros((a_open.shape[1], len(a_open)))
    loose = np.abs(np.eye(a_open.shape[1]) - back @ a_open).max(axis=1, initial=0.0) > 1e-8
    observable = np.ones(len(y), dtype=bool)
    observable[~seen] = ~loose
    values = y.copy()
    values[seen] = settled
    values[~seen] = back @ (b - a_seen @ settled)
    carry = np.zeros((len(y), int(seen.sum())))
    carry[seen] = np.eye(int(seen.sum()))
    carry[~seen] = -back @ a_seen
    cov = carry @ spread @ carry.T
    values[~observable] = np.nan
    cov[~observable, :] = np.nan
    cov[:, ~observable] = np.nan
    return values, cov, observable
