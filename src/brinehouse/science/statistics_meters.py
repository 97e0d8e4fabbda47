"""Meters × places × sittings: what readings of any connected set say about meters and places."""

from __future__ import annotations

import itertools
import math
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Level = tuple[str, str]  # place and sitting; the sitting is empty where a place's level is one for all
TINY = 1e-8


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchor:
    """A check against something known: this meter read `value` too high.

    Attributes
    ----------
    meter : str
        Which meter.
    value, u : float
        Reads less should read, and its standard uncertainty.
    gain, distance : str, float
        The gain the check also tells about, and how far from that gain's fixed point it read.
    """

    meter: str
    value: float
    u: float
    gain: str = ""
    distance: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """What was read.

    Attributes
    ----------
    meter, place, sitting : tuple of str
        One entry a reading.
    values : ndarray
        The readings.
    hours : ndarray
        When; a sitting's time is the mean of its readings'. [h]
    u : float
        Standard uncertainty of one reading (repeatability).
    drift : float
        Variance by which a place's level wanders in an hour; 0 holds it steady, infinity cuts sittings apart.
    jumps : bool
        Whether a place may also jump now and then: its steps are Student with three degrees of freedom, and
        `drift` is their squared scale an hour.
    common : bool
        Whether a steady place's level may move from sitting to sitting together with all others.
    anchors : tuple of Anchor
        Absolute checks.
    gains : mapping
        Meter to (gain, fixed point): a gain error that is to be estimated.
    """

    meter: tuple[str, ...]
    place: tuple[str, ...]
    sitting: tuple[str, ...]
    values: Array
    hours: Array
    u: float
    drift: float = 0.0
    jumps: bool = False
    common: bool = False
    anchors: tuple[Anchor, ...] = ()
    gains: Mapping[str, tuple[str, float]] = field(default_factory=dict[str, tuple[str, float]])

    def without(self, at: int) -> Readings:
        """The same without one reading."""
        keep = [k for k in range(len(self.meter)) if k != at]
        return replace(
            self,
            meter=tuple(self.meter[k] for k in keep),
            place=tuple(self.place[k] for k in keep),
            sitting=tuple(self.sitting[k] for k in keep),
            values=self.values[keep],
            hours=self.hours[keep],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Meters and places that readings connect, and whether a check fixes their common level."""

    meters: tuple[str, ...]
    places: tuple[str, ...]
    absolute: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class AdditiveFit:
    """``value = level of the place at the sitting + offset of the meter + error``.

    Attributes
    ----------
    meters : tuple of str
        Columns of the offsets, first.
    levels : tuple of Level
        Columns of the levels, last; by place and time.
    names : tuple
        All columns.
    theta, covariance : ndarray
        Estimates, and their covariance; where nothing identifies a combination, it is held at 0 and `lost`
        tells which.
    loose : ndarray
        Basis of the combinations that the readings and checks leave open.
    lost : ndarray
        Basis of what stays open with the prior offsets too.
    residuals, leverage : ndarray
        Of the readings.
    dof : int
        Readings, checks and steadiness less rank.
    groups : tuple of Group
        What is connected.
    latest : mapping
        Place to its newest level.
    """

    meters: tuple[str, ...]
    levels: tuple[Level, ...]
    names: tuple[Hashable, ...]
    theta: Array
    covariance: Array
    loose: Array
    lost: Array
    residuals: Array
    leverage: Array
    chi_square: float
    dof: int
    groups: tuple[Group, ...]
    latest: Mapping[str, Level]

    def combination(self, weights: Mapping[Hashable, float]) -> tuple[float, float, str]:
        """A weighted sum of columns: estimate, standard uncertainty, and what it rests on.

        The last is ``readings``, ``accuracies`` (the prior offsets fix it) or empty (nothing does;
        the estimate is not a number).
        """
        c = np.zeros(self.theta.size)
        for name, weight in weights.items():
            c[self.names.index(name)] = weight
        size = float(np.abs(c).max(initial=1.0))
        basis = "readings"
        if np.abs(c @ self.loose).max(initial=0.0) > TINY * size:
            basis = "accuracies"
        if np.abs(c @ self.lost).max(initial=0.0) > TINY * size:
            return math.nan, math.inf, ""
        return float(c @ self.theta), math.sqrt(max(float(c @ self.covariance @ c), 0.0)), basis

    def difference(self, meter: str, other: str) -> tuple[float, float, str]:
        """How much higher `meter` reads than `other`."""
        return self.combination({meter: 1.0, other: -1.0})

    def standardized(self, u: float) -> Array:
        """Residuals over their standard deviations; not a number where a reading fits itself alone."""
        with np.errstate(divide="ignore", invalid="ignore"):
            score = self.residuals / (u * np.sqrt(1 - self.leverage))
        return np.where(self.leverage > 1 - TINY, math.nan, score)


def additive_fit(readings: Readings, priors: Mapping[str, float] | None = None) -> AdditiveFit:
    """Offsets of meters and levels of places by weighted least squares, whatever is connected.

    Parameters
    ----------
    readings : Readings
        At least one.
    priors : mapping, optional
        Meter to the standard uncertainty of its offset before any reading (from its stated accuracy).
        They never bend what the readings say: they only fix what the readings leave open.

    Returns
    -------
    AdditiveFit
        Estimates, covariance and what they rest on.

    Notes
    -----
    A place's level in neighbouring sittings is tied by a random walk: their difference is an observation of 0
    with variance drift × hours. The common level of connected meters is a direction that no comparison sees.

    References
    ----------
    .. [1] Searle (1971), Linear Models, chapters 5 and 7 (estimable functions, connectedness).
    .. [2] Harvey (1989), Forecasting, Structural Time Series Models and the Kalman Filter, 2.3 (local level).
    """
    frame = Frame(readings)
    system = System(frame)
    if readings.jumps:
        system.allow_for_jumps()
    theta, covariance, loose = system.solve()
    n = len(readings.meter)
    rest, leverage = system.rest(theta), system.leverage(covariance, n)
    chi = float(np.sum(rest**2)) + float(np.sum(system.slack(theta) ** 2))
    rank = theta.size - loose.shape[1]
    theta, covariance, lost = _fix(theta, covariance, loose, frame, priors or {})
    return AdditiveFit(
        meters=frame.meters, levels=frame.levels, names=frame.names, theta=theta, covariance=covariance,
        loose=loose, lost=lost, residuals=rest[:n] * readings.u, leverage=leverage, chi_square=chi,
        dof=rest.size + system.ties.size - rank, groups=frame.groups(), latest=frame.latest(),
    )  # fmt: skip


def _chain(band: Array, right: Array) -> Array:
    """Solve for the levels: each is tied to its neighbours only."""
    from scipy import linalg

    if band.shape[1] == 1:
        return right / band[1, 0]
    return linalg.solveh_banded(band, right)


class System:
    """Least squares with the levels taken out first: they form chains, so it costs no more than reading them.

    What is left (offsets, moves, gains) is a handful, and its empty directions are those of the whole.
    """

    def __init__(self, frame: Frame) -> None:
        self.level, self.few, self.y, self.sd = frame.rows()
        self.ties, self.tie_sd = frame.ties()
        self.width = self.tie_sd.copy()
        self.count = len(frame.levels)

    def _reduced(self) -> tuple[Array, Array, Array, Array, Array]:
        """Banded matrix of the levels, its solution for the few and for the readings, and what is left."""
        weight, on = self.sd**-2.0, self.level >= 0
        pull = self.width**-2.0
        band = np.zeros((2, self.count))
        np.add.at(band[1], self.level[on], weight[on])
        np.add.at(band[1], self.ties, pull)
        np.add.at(band[1], self.ties + 1, pull)
        band[0, self.ties + 1] = -pull
        cross = np.zeros((self.count, self.few.shape[1]))
        np.add.at(cross, self.level[on], weight[on, None] * self.few[on])
        seen = np.zeros(self.count)
        np.add.at(seen, self.level[on], (weight * self.y)[on])
        done = _chain(band, np.column_stack([cross, seen]))
        left = (self.few * weight[:, None]).T @ self.few - cross.T @ done[:, :-1]
        right = self.few.T @ (weight * self.y) - cross.T @ done[:, -1]
        return band, done[:, :-1], done[:, -1], (left + left.T) / 2, right

    def _few(self) -> tuple[Array, Array, Array, Array, Array]:
        band, of_few, of_seen, left, right = self._reduced()
        size, vectors = np.linalg.eigh(left)
        known = size > 1e-10 * max(float(size.max(initial=0.0)), 1e-300)
        inverse = (vectors[:, known] / size[known]) @ vectors[:, known].T
        return band, of_few, of_seen - of_few @ (inverse @ right), inverse, inverse @ right

    def allow_for_jumps(self) -> None:
        """Widen the ties between sittings that a jump broke (reweighted least squares, Student-3)."""
        if not self.ties.size:
            return
        self.width = 3.0 * self.tie_sd
        for _ in range(12):
            _, _, levels, _, _ = self._few()
            score = (levels[self.ties + 1] - levels[self.ties]) / self.tie_sd
            self.width = self.tie_sd * np.sqrt((3 + score**2) / 4)
        self.width *= math.sqrt(1.5)  # a Student-3 step tells two thirds of what its mean weight says

    def solve(self, weak: Array | None = None) -> tuple[Array, Array, Array]:
        """Estimates, covariance, and the directions that stay open (the few first, then levels)."""
        band, of_few, of_seen, left, right = self._reduced()
        size, vectors = np.linalg.eigh(left if weak is None else left + np.diag(weak))
        known = size > 1e-10 * max(float(size.max(initial=0.0)), 1e-300)
        inverse = (vectors[:, known] / size[known]) @ vectors[:, known].T
        few, empty = inverse @ right, vectors[:, ~known]
        own = _chain(band, np.eye(self.count))
        side = -of_few @ inverse
        covariance = np.block([[inverse, side.T], [side, own - side @ of_few.T]])
        loose = np.vstack([empty, -of_few @ empty])
        return np.concatenate([few, of_seen - of_few @ few]), covariance, loose

    def rest(self, theta: Array) -> Array:
        """Standardized residuals of readings and checks."""
        q = self.few.shape[1]
        levels = np.append(theta[q:], 0.0)  # a check has no level: its index -1 finds the 0
        return (self.y - self.few @ theta[:q] - levels[self.level]) / self.sd

    def slack(self, theta: Array) -> Array:
        """Standardized steps between sittings."""
        levels = theta[self.few.shape[1] :]
        return (levels[self.ties + 1] - levels[self.ties]) / self.width

    def leverage(self, covariance: Array, n: int) -> Array:
        """How far each reading sets its own fit."""
        q = self.few.shape[1]
        few, at = self.few[:n], q + self.level[:n]
        spread = covariance[at, at] + 2 * np.sum(few * covariance[at, :q], axis=1)
        spread = spread + np.sum((few @ covariance[:q, :q]) * few, axis=1)
        return spread / self.sd[:n] ** 2


def _fix(
    theta: Array, covariance: Array, loose: Array, frame: Frame, priors: Mapping[str, float]
) -> tuple[Array, Array, Array]:
    """Settle the open directions by the prior offsets, and say which stay open."""
    known = [(at, priors[meter]) for at, meter in enumerate(frame.meters) if meter in priors]
    if not loose.shape[1] or not known:
        return theta, covariance, loose
    pick = np.zeros((len(known), theta.size))
    pick[range(len(known)), [at for at, _ in known]] = 1.0
    sd = np.array([width for _, width in known])
    pull = np.linalg.pinv(pick @ loose / sd[:, None], rcond=1e-9) / sd
    move = loose @ pull
    keep = np.eye(theta.size) - move @ pick
    _, singular, Vt = np.linalg.svd(pick @ loose / sd[:, None], full_matrices=True)
    open_still = Vt[int(np.sum(singular > 1e-9 * singular.max(initial=1e-300))) :].T
    return keep @ theta, keep @ covariance @ keep.T + (move * sd**2) @ move.T, loose @ open_still


class Frame:
    """Columns and rows of the least-squares problem."""

    def __init__(self, readings: Readings) -> None:
        self.readings = readings
        known = dict.fromkeys(readings.meter) | dict.fromkeys(anchor.meter for anchor in readings.anchors)
        self.meters = tuple(known)
        self.steady = readings.drift == 0
        self.at = [
            (place, "" if self.steady else sitting)
            for place, sitting in zip(readings.place, readings.sitting, strict=True)
        ]
        sittings = dict.fromkeys(readings.sitting)
        number = {name: at for at, name in enumerate(sittings)}
        group = np.array([number[name] for name in readings.sitting])
        hours = np.bincount(group, weights=readings.hours) / np.bincount(group)
        self.time = dict(zip(sittings, hours.tolist(), strict=True))
        order = sorted(set(self.at), key=lambda level: (level[0], self.time.get(level[1], 0.0), level[1]))
        self.levels: tuple[Level, ...] = tuple(order)
        self.moves = tuple(sittings)[1:] if readings.common and self.steady else ()
        gains = dict.fromkeys(gain for gain, _ in readings.gains.values())
        self.few: tuple[Hashable, ...] = (
            *self.meters,
            *(("sitting", name) for name in self.moves),
            *(("gain", name) for name in gains),
        )
        self.names: tuple[Hashable, ...] = (*self.few, *self.levels)
        self.column = {name: at for at, name in enumerate(self.names)}

    def rows(self) -> tuple[NDArray[np.intp], Array, Array, Array]:
        """Readings, then checks: level (-1 for none), columns of the few, observation, standard deviation."""
        given, q = self.readings, len(self.few)
        number = {level: at for at, level in enumerate(self.levels)}
        level = [number[spot] for spot in self.at] + [-1] * len(given.anchors)
        few = np.zeros((len(level), q))
        for at, meter in enumerate(given.meter):
            few[at, self.column[meter]] = 1.0
            if given.sitting[at] in self.moves:
                few[at, self.column["sitting", given.sitting[at]]] = 1.0
            if meter in given.gains:
                gain, fixed = given.gains[meter]
                few[at, self.column["gain", gain]] = float(given.values[at]) - fixed
        for at, anchor in enumerate(given.anchors, start=len(given.meter)):
            few[at, self.column[anchor.meter]] = 1.0
            if ("gain", anchor.gain) in self.column:
                few[at, self.column["gain", anchor.gain]] = anchor.distance
        y = np.array([*given.values, *(anchor.value for anchor in given.anchors)], float)
        sd = np.array([given.u] * len(given.meter) + [anchor.u for anchor in given.anchors], float)
        return np.array(level, np.intp), few, y, sd

    def ties(self) -> tuple[NDArray[np.intp], Array]:
        """Which levels are tied to the next one, and how loosely."""
        if self.steady or math.isinf(self.readings.drift):
            return np.zeros(0, np.intp), np.zeros(0)
        same = [at for at, (a, b) in enumerate(itertools.pairwise(self.levels)) if a[0] == b[0]]
        gap = [self.time[self.levels[at + 1][1]] - self.time[self.levels[at][1]] for at in same]
        return np.array(same, np.intp), np.sqrt(self.readings.drift * np.maximum(gap, 1e-6))

    def latest(self) -> dict[str, Level]:
        """Place to its newest level."""
        order = sorted(self.levels, key=lambda level: self.time.get(level[1], 0.0))
        return {level[0]: level for level in order}

    def groups(self) -> tuple[Group, ...]:
        """Connected parts of the graph of meters and levels."""
        root: dict[Hashable, Hashable] = {name: name for name in (*self.meters, *self.levels)}

        def find(name: Hashable) -> Hashable:
            while root[name] != name:
                root[name] = root[root[name]]
                name = root[name]
            return name

        edges: list[tuple[Hashable, Hashable]] = list(zip(self.readings.meter, self.at, strict=True))
        tied: list[tuple[Hashable, Hashable]] = [
            (self.levels[at], self.levels[at + 1]) for at in self.ties()[0]
        ]
        for one, other in (*edges, *tied):
            root[find(one)] = find(other)
        checked = {find(anchor.meter) for anchor in self.readings.anchors}
        parts: dict[Hashable, tuple[list[str], list[str]]] = {}
        for meter in self.meters:
            parts.setdefault(find(meter), ([], []))[0].append(meter)
        for level in self.levels:
            parts.setdefault(find(level), ([], []))[1].append(level[0])
        return tuple(
            Group(meters=tuple(meters), places=tuple(dict.fromkeys(places)), absolute=part in checked)
            for part, (meters, places) in parts.items()
        )
