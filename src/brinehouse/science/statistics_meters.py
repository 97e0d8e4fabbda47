"""Meters × places × sittings: what readings of any connected set say about meters and places."""

from __future__ import annotations

import itertools
import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import statistics

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
        Columns of the levels, next.
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
    frame = _Frame(readings)
    X, y, sd = frame.rows()
    if readings.jumps:
        sd = _allowing_for_jumps(X, y, sd, len(frame.ties()))
    U, singular, Vt = np.linalg.svd(X / sd[:, None], full_matrices=True)
    rank = int(np.sum(singular > singular.max(initial=0.0) * max(X.shape) * np.finfo(float).eps * 8))
    V = Vt[:rank].T
    theta = (V / singular[:rank]) @ (U[:, :rank].T @ (y / sd))
    covariance = (V / singular[:rank] ** 2) @ V.T
    loose = np.asarray(Vt[rank:].T, float)
    n = len(readings.meter)
    rest = (y - X @ theta) / sd
    leverage = np.sum(U[:n, :rank] ** 2, axis=1)
    theta, covariance, lost = _fix(theta, covariance, loose, frame, priors or {})
    return AdditiveFit(
        meters=frame.meters, levels=frame.levels, names=frame.names, theta=theta, covariance=covariance,
        loose=loose, lost=lost, residuals=rest[:n] * sd[:n], leverage=leverage, chi_square=float(rest @ rest),
        dof=y.size - rank, groups=frame.groups(), latest=frame.latest(),
    )  # fmt: skip


def _allowing_for_jumps(X: Array, y: Array, sd: Array, ties: int) -> Array:
    """Widen the ties between sittings that a jump broke (reweighted least squares, Student-3)."""
    if not ties:
        return sd
    wide = sd.copy()
    wide[-ties:] *= 3.0
    for _ in range(8):
        theta = np.linalg.lstsq(X / wide[:, None], y / wide, rcond=None)[0]
        score = (y - X @ theta)[-ties:] / sd[-ties:]
        wide[-ties:] = sd[-ties:] * np.sqrt((3 + score**2) / 4)
    wide[-ties:] *= math.sqrt(1.5)  # a Student-3 step tells two thirds of what its mean weight says
    return wide


def _fix(
    theta: Array, covariance: Array, loose: Array, frame: _Frame, priors: Mapping[str, float]
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


class _Frame:
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
        self.levels: tuple[Level, ...] = tuple(dict.fromkeys(self.at))
        sittings = dict.fromkeys(readings.sitting)
        self.time = {
            name: float(np.mean(readings.hours[[s == name for s in readings.sitting]])) for name in sittings
        }
        self.moves = tuple(sittings)[1:] if readings.common and self.steady else ()
        gains = dict.fromkeys(gain for gain, _ in readings.gains.values())
        self.names: tuple[Hashable, ...] = (
            *self.meters, *self.levels,
            *(("sitting", name) for name in self.moves), *(("gain", name) for name in gains),
        )  # fmt: skip
        self.column = {name: at for at, name in enumerate(self.names)}

    def rows(self) -> tuple[Array, Array, Array]:
        """Design, observations, standard deviations: readings, checks, then ties between sittings."""
        given, p = self.readings, len(self.names)
        rows: list[Array] = []
        for at, meter in enumerate(given.meter):
            row = np.zeros(p)
            row[self.column[meter]] = row[self.column[self.at[at]]] = 1.0
            if given.sitting[at] in self.moves:
                row[self.column["sitting", given.sitting[at]]] = 1.0
            if meter in given.gains:
                gain, fixed = given.gains[meter]
                row[self.column["gain", gain]] = float(given.values[at]) - fixed
            rows.append(row)
        sd = [given.u] * len(rows)
        y = list(given.values)
        for anchor in given.anchors:
            row = np.zeros(p)
            row[self.column[anchor.meter]] = 1.0
            if ("gain", anchor.gain) in self.column:
                row[self.column["gain", anchor.gain]] = anchor.distance
            rows.append(row)
            y.append(anchor.value)
            sd.append(anchor.u)
        for earlier, later in self.ties():
            row = np.zeros(p)
            row[self.column[later]], row[self.column[earlier]] = 1.0, -1.0
            rows.append(row)
            y.append(0.0)
            sd.append(math.sqrt(given.drift * max(self.time[later[1]] - self.time[earlier[1]], 1e-6)))
        return np.stack(rows), np.asarray(y, float), np.asarray(sd, float)

    def ties(self) -> list[tuple[Level, Level]]:
        """Neighbouring sittings of one place."""
        if self.steady or math.isinf(self.readings.drift):
            return []
        order = sorted(self.levels, key=lambda level: (level[0], self.time[level[1]]))
        return [(a, b) for a, b in itertools.pairwise(order) if a[0] == b[0]]

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
        for one, other in (*edges, *self.ties()):
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


def repeatability(readings: Readings) -> tuple[float, int]:
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


def wander(readings: Readings) -> float:
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
    cells: dict[Level, list[int]] = {}
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


def odd_one(fit: AdditiveFit, u: float, dof: float = math.inf) -> tuple[int, float] | None:
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
    readings: Readings, meters: Sequence[str], priors: Mapping[str, float], gap: float = 0.5
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
    frame = _Frame(readings)
    hands = [meter for meter in meters if meter in frame.meters]
    if len(hands) < 2:
        return None
    X, _, sd = frame.rows()
    scale = 30.0 * max(float(np.ptp(readings.values)), 10 * readings.u)
    weak = np.full(X.shape[1], scale**-2.0)
    for meter, width in priors.items():
        if meter in frame.column:
            weak[frame.column[meter]] = width**-2.0
    C = np.linalg.inv((X / sd[:, None]).T @ (X / sd[:, None]) + np.diag(weak))
    latest = frame.latest()
    spots = [(meter, place) for meter in hands for place in latest]
    rows = np.zeros((len(spots), X.shape[1]))
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
