"""How sure a number is: first-order approaches, least squares with honest errors, exact quantiles."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import statistics_profile

Array = NDArray[np.float64]
Pair = tuple[float, float]


def student(dof: float, coverage: float = 0.95) -> float:
    """Half-width of a two-sided Student interval in standard deviations.

    Parameters
    ----------
    dof : float
        Degrees of freedom; infinity gives the normal distribution, none at all gives infinity. [-]
    coverage : float
        Two-sided coverage, between 0 and 1. [-]

    Returns
    -------
    float
        The quantile. [-]

    References
    ----------
    .. [1] Student (1908), Biometrika 6(1), 1-25.

    Examples
    --------
    >>> round(student(4), 3), round(student(float("inf")), 3)
    (2.776, 1.960)
    """
    from scipy import special

    tail = 0.5 + coverage / 2
    if dof <= 0:
        return math.inf
    return float(special.ndtri(tail) if math.isinf(dof) else special.stdtrit(dof, tail))


def chi_square(dof: float, coverage: float = 0.95) -> float:
    """Upper quantile of chi-square.

    Parameters
    ----------
    dof : float
        Degrees of freedom, above 0. [-]
    coverage : float
        Probability below the quantile. [-]

    Returns
    -------
    float
        The quantile. [-]

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4 (table of critical values).

    Examples
    --------
    >>> round(chi_square(1), 3)
    3.841
    """
    from scipy import special

    return float(special.chdtri(dof, 1 - coverage))


def chi_square_tail(value: float, dof: float) -> float:
    """Probability of a chi-square at least this large.

    Parameters
    ----------
    value : float
        Sum of squared scores, 0 or more. [-]
    dof : float
        Degrees of freedom, above 0. [-]

    Returns
    -------
    float
        Probability. [-]

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4 (table of critical values).

    Examples
    --------
    >>> round(chi_square_tail(18.307, 10), 4)
    0.05
    """
    from scipy import special

    return float(special.chdtrc(dof, value))


def student_tail(score: ArrayLike, dof: float) -> Array:
    """Two-sided probability of a Student score at least this far from nothing.

    Parameters
    ----------
    score : array_like
        Estimate over its standard deviation. [-]
    dof : float
        Degrees of freedom; infinity gives the normal distribution. [-]

    Returns
    -------
    ndarray
        Probability. [-]

    References
    ----------
    .. [1] Student (1908), Biometrika 6(1), 1-25.
    """
    from scipy import special

    far = -np.abs(np.asarray(score, float))
    return np.asarray(2 * (special.ndtr(far) if math.isinf(dof) else special.stdtr(dof, far)), float)


def median_deviation(values: ArrayLike) -> float:
    """Spread that a few wild values do not move: 1.4826 times the median distance from the median.

    Parameters
    ----------
    values : array_like
        At least one value. [any]

    Returns
    -------
    float
        Estimates the standard deviation of normal scatter. [same]

    References
    ----------
    .. [1] Hampel (1974), J. Am. Stat. Assoc. 69, 383-393.

    Examples
    --------
    >>> round(median_deviation([1, 2, 3, 4, 500]), 4)
    1.4826
    """
    data = np.asarray(values, float)
    return float(1.482602218505602 * np.median(np.abs(data - np.median(data))))


def last_digit(values: ArrayLike) -> float:
    """The step that the decimals of readings show.

    Parameters
    ----------
    values : array_like
        Readings. [any]

    Returns
    -------
    float
        A power of ten; twelve digits are looked at. [same]

    References
    ----------
    .. [1] JCGM 100:2008, F.2.2.1 (what a digital indication resolves).

    Examples
    --------
    >>> last_digit([104.6, 105.0])
    0.1
    """
    decimals = 0
    for value in np.ravel(np.asarray(values, float)):
        mantissa, _, exponent = format(float(value), ".12g").partition("e")
        decimals = max(decimals, len(mantissa.partition(".")[2]) - int(exponent or 0))
    return float(10.0**-decimals)


def too_few_runs(residuals: ArrayLike) -> float:
    """Probability of so few runs of equal sign, were the signs in random order.

    Parameters
    ----------
    residuals : array_like
        In order of time; zeros are left out. [any]

    Returns
    -------
    float
        One-sided exact probability; 1 where one sign is missing. [-]

    References
    ----------
    .. [1] Wald and Wolfowitz (1940), Ann. Math. Stat. 11(2), 147-162.

    Examples
    --------
    >>> round(too_few_runs([1, 1, 1, 1, -1, -1, -1, -1]), 4)
    0.0286
    """
    signs = np.sign(np.asarray(residuals, float))
    signs = signs[signs != 0]
    up, down = int(np.sum(signs > 0)), int(np.sum(signs < 0))
    if not up or not down:
        return 1.0
    ways = 0
    for runs in range(2, 2 + int(np.sum(signs[1:] != signs[:-1]))):
        half = runs // 2
        if runs % 2 == 0:
            ways += 2 * math.comb(up - 1, half - 1) * math.comb(down - 1, half - 1)
        else:
            ways += math.comb(up - 1, half) * math.comb(down - 1, half - 1)
            ways += math.comb(up - 1, half - 1) * math.comb(down - 1, half)
    return ways / math.comb(up + down, up)


def aitken(first: float, second: float, third: float, step: float) -> tuple[float, float, float]:
    """Where three equally spaced readings of a first-order approach lead, without any fit.

    Parameters
    ----------
    first, second, third : float
        Readings in order of time. [any]
    step : float
        Time between them. [min]

    Returns
    -------
    tuple of float
        Plateau [same], time constant [min], and how many times the scatter of one reading the plateau's
        scatter is [-]; all not-a-number where the readings do not bend towards a plateau.

    References
    ----------
    .. [1] Aitken (1926), Proc. R. Soc. Edinb. 46, 289-305 (delta-squared).

    Examples
    --------
    >>> [round(x, 3) for x in aitken(0.0, 4.0, 6.0, 5.0)]
    [8.0, 7.213, 5.745]
    """
    early, late = second - first, third - second
    if early == 0 or not 0 < late / early < 1:
        return math.nan, math.nan, math.nan
    kept = late / early
    plateau = third + late * kept / (1 - kept)  # the same number as (y1 y3 - y2²)/(y1 + y3 - 2 y2)
    return plateau, -step / math.log(kept), aitken_noise_gain(kept)


def aitken_noise_gain(kept: float) -> float:
    """Scatter of the three-point plateau, in scatters of one reading.

    Parameters
    ----------
    kept : float
        Share of the distance to the plateau that is left after one step, exp(-step/time constant). [-]

    Returns
    -------
    float
        sqrt(r⁴ + 4 r² + 1)/(1 - r)². [-]

    References
    ----------
    .. [1] First-order propagation of independent errors (JCGM 100:2008, 5.1.2) through [2]_.
    .. [2] Aitken (1926), Proc. R. Soc. Edinb. 46, 289-305.

    Examples
    --------
    >>> round(aitken_noise_gain(0.9))
    221
    """
    return math.sqrt(kept**4 + 4 * kept**2 + 1) / (1 - kept) ** 2


# ---------------------------------------------------------------------------------------------------
# Linear least squares


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearFit:
    """A linear least-squares fit and how sure its coefficients are.

    Attributes
    ----------
    coefficients, covariance : ndarray
        In the order of the design's columns. Where the columns are not independent the shortest solution,
        and `rank` is below their number.
    residuals : ndarray
        Values less fit, in the order given.
    dof : int
        Readings less rank.
    residual_sd : float
        Of a reading of weight one.
    rank : int
        Independent columns.
    lag : int
        Neighbours allowed for in the covariance; 0 is independent errors.
    """

    coefficients: Array
    covariance: Array
    residuals: Array
    dof: int
    residual_sd: float
    rank: int
    lag: int = 0

    def half_widths(self, coverage: float = 0.95) -> Array:
        """Student half-widths of the coefficients' intervals."""
        return student(self.dof, coverage) * np.sqrt(np.clip(np.diag(self.covariance), 0, None))


def linear_fit(
    design: ArrayLike,
    values: ArrayLike,
    weights: ArrayLike | None = None,
    times: ArrayLike | None = None,
    lag: int | None = None,
    groups: ArrayLike | None = None,
) -> LinearFit:
    """Weighted linear least squares, with errors that may hang together in time.

    Parameters
    ----------
    design : array_like
        One row a reading, one column a coefficient. [any]
    values : array_like
        Readings. [any]
    weights : array_like, optional
        One over the variance, up to a common factor. [any]
    times : array_like, optional
        When each was read; only the order counts. Given, the covariance allows for errors that
        are alike in neighbouring readings. [any]
    lag : int, optional
        How many neighbours are allowed for; without it 4 (n/100)^(2/9), rounded down. [-]
    groups : array_like, optional
        Readings of different groups are never neighbours. [-]

    Returns
    -------
    LinearFit
        Coefficients and covariance.

    References
    ----------
    .. [1] Newey and West (1987), Econometrica 55(3), 703-708 (Bartlett weights), scaled by n/(n - p).
    .. [2] Newey and West (1994), Rev. Econ. Stud. 61(4), 631-653 (the automatic lag).
    """
    X, y = np.atleast_2d(np.asarray(design, float)), np.asarray(values, float)
    root = np.ones(y.size) if weights is None else np.sqrt(np.asarray(weights, float))
    U, singular, Vt = np.linalg.svd(X * root[:, None], full_matrices=False)
    keep = singular > max(singular.max(initial=0.0), np.abs(root).max()) * max(X.shape) * np.finfo(float).eps
    rank = int(keep.sum())
    bread = (Vt[keep].T / singular[keep] ** 2) @ Vt[keep]
    coefficients = (Vt[keep].T / singular[keep]) @ (U[:, keep].T @ (y * root))
    residuals = y - X @ coefficients
    scaled = residuals * root
    dof = y.size - rank
    variance = float(scaled @ scaled) / dof if dof > 0 else math.nan
    if times is None:
        return LinearFit(
            coefficients=coefficients, covariance=variance * bread, residuals=residuals, dof=dof,
            residual_sd=math.sqrt(variance), rank=rank,
        )  # fmt: skip
    used = int(4 * (y.size / 100) ** (2 / 9)) if lag is None else lag
    meat = _neighbours(X * root[:, None] * scaled[:, None], np.asarray(times), groups, used)
    covariance = bread @ meat @ bread * (y.size / dof if dof > 0 else math.nan)
    return LinearFit(
        coefficients=coefficients, covariance=covariance, residuals=residuals, dof=dof,
        residual_sd=math.sqrt(variance), rank=rank, lag=used,
    )  # fmt: skip


def _neighbours(scores: Array, times: NDArray[Any], groups: ArrayLike | None, lag: int) -> Array:
    group = np.zeros(times.size) if groups is None else np.asarray(groups)
    order = np.lexsort((times, np.unique(group, return_inverse=True)[1]))
    scores, group = scores[order], group[order]
    meat = scores.T @ scores
    for step in range(1, min(lag, times.size - 1) + 1):
        alike = (group[step:] == group[:-step]).astype(float)
        cross = (scores[step:] * alike[:, None]).T @ scores[:-step]
        meat = meat + (1 - step / (lag + 1)) * (cross + cross.T)
    return meat


# ---------------------------------------------------------------------------------------------------
# A first-order approach


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstOrderFit:
    """``y = plateau + (start - plateau) exp(-(t - origin)/time_constant)`` fitted to readings.

    Attributes
    ----------
    plateau, start, time_constant, rate : float
        The best fit; `rate` is one over `time_constant`. An approach that does not bend has an infinite
        plateau and time constant; readings that are all alike have no time constant (not a number).
    plateau_sd, start_sd, rate_sd, time_constant_sd : float
        Standard deviations from the linearised covariance; 0 for a fixed start.
    plateau_interval, time_constant_interval : tuple of float
        Profile likelihood, at the coverage asked for; either end may be infinite.
    residual_sd, rss, dof, residuals
        Of the fit; residuals in the order given.
    origin, span : float
        The minute `start` belongs to, and the minutes from there to the last reading. [min]
    threshold : float
        The residual sum of squares up to which a curve is not refuted.
    """

    plateau: float
    start: float
    time_constant: float
    rate: float
    plateau_sd: float
    start_sd: float
    rate_sd: float
    time_constant_sd: float
    plateau_interval: Pair
    time_constant_interval: Pair
    residual_sd: float
    rss: float
    dof: int
    residuals: Array
    origin: float
    span: float
    threshold: float
    profile: statistics_profile.Profile

    def curve(self, minutes: ArrayLike) -> Array:
        """The fitted curve at these minutes."""
        t = np.asarray(minutes, float) - self.origin
        first, change, _, _ = self.profile.project(np.array([self.profile.best]))
        done = self.profile.shape(np.array([self.profile.best]), t.ravel())[0]
        return np.asarray(first[0] + change[0] * done).reshape(t.shape)

    def band(self, minutes: ArrayLike) -> tuple[Array, Array]:
        """Lowest and highest of the curves that are not refuted, at each of these minutes."""
        return self.profile.band(np.asarray(minutes, float) - self.origin)

    @property
    def remaining(self) -> float:
        """Plateau less the curve at the last reading: what is still to come, with its sign."""
        return self.profile.value_at_best(statistics_profile.remaining_weights)

    @property
    def remaining_interval(self) -> Pair:
        """Profile-likelihood interval of `remaining`."""
        return self.profile.interval(statistics_profile.remaining_weights)

    @property
    def change_interval(self) -> Pair:
        """Interval of the change between `origin` and the last reading."""
        return self.profile.interval(statistics_profile.change_weights)

    @property
    def creep(self) -> tuple[float, float]:
        """Slope of a creep beside the approach [a minute], and its standard deviation for scatter of one."""
        return self.profile.creep()

    def minutes_until(self, tolerance: float) -> tuple[float, float, float]:
        """Minutes after the last reading until no more than `tolerance` is left: best, low, high."""
        return self.profile.minutes_until(tolerance)


def first_order_fit(
    minutes: ArrayLike,
    values: ArrayLike,
    start: float | None = None,
    u: float | None = None,
    floor: float = 0.0,
    coverage: float = 0.95,
) -> FirstOrderFit:
    """Where readings that approach a plateau will end, and how sure that is.

    Parameters
    ----------
    minutes : array_like
        When each was read, in any order; repeats are welcome. [min]
    values : array_like
        Readings, rising or falling. [any]
    start : float, optional
        The value at minute 0 where it is known (air before the trial). [same]
    u : float, optional
        Standard uncertainty of one reading where it is known; otherwise it comes from the residuals. [same]
    floor : float
        The scatter is taken as no smaller than this: what the display's step hides. [same]
    coverage : float
        Of the intervals. [-]

    Returns
    -------
    FirstOrderFit
        Fit, standard deviations and profile-likelihood intervals.

    Raises
    ------
    ValueError
        Fewer than two readings, or all at one minute.

    Notes
    -----
    Variable projection: for each time constant the plateau and the start are a linear fit, so that one
    number is left to search for, and it is searched for from a straight line to a step; there is no
    starting value to get wrong. Any span, rising or falling. The interval of the plateau is the hull of
    the plateaus of all curves whose sum of squares stays below the F (or, with `u`, chi-square) bound.

    References
    ----------
    .. [1] Golub and Pereyra (1973), SIAM J. Numer. Anal. 10(2), 413-432 (variable projection).
    .. [2] Bates and Watts (1988), Nonlinear Regression Analysis, chapter 6 (profiles).
    .. [3] NIST StRD, BoxBOD and Misra1a (certified values).

    Examples
    --------
    >>> fit = first_order_fit([0, 5, 10, 15], [100.0, 104.0, 106.0, 107.0])
    >>> round(fit.plateau, 3), round(fit.time_constant, 3)
    (108.0, 7.213)
    """
    t, y = np.asarray(minutes, float), np.asarray(values, float)
    if t.size < 2 or t.shape != y.shape or not np.isfinite(t).all() or not np.isfinite(y).all():
        msg = "a first-order fit needs two or more finite readings, each with its minute"
        raise ValueError(msg)
    origin = float(t.min()) if start is None else 0.0
    t = t - origin
    if t.max() <= 0 or t.min() < 0:
        msg = "a first-order fit needs readings at different minutes, none before the start"
        raise ValueError(msg)
    profile = statistics_profile.Profile(t, y, float(t.max()), start)
    dof = y.size - (3 if start is None else 2)
    rss = profile.rss
    free = rss / dof if dof > 0 else math.inf
    if u is not None:
        bound, variance = rss + chi_square(1, coverage) * u**2, u**2
    elif dof > 0:
        bound = rss + max(student(dof, coverage) ** 2 * free, chi_square(1, coverage) * floor**2)
        variance = max(free, floor**2)
    else:
        bound, variance = math.inf, math.nan
    profile.cut(bound)
    return _told(profile, origin, dof, variance, math.sqrt(free) if dof > 0 else math.nan)


def _told(
    profile: statistics_profile.Profile, origin: float, dof: int, variance: float, residual_sd: float
) -> FirstOrderFit:
    span, steep = profile.span, profile.best
    flat = bool(np.ptp(profile.y) == 0) and profile.start in (None, profile.y[0])
    spread = _spread(profile, variance) if 0 < steep < math.inf and not flat else [math.nan] * 3
    rate = math.nan if flat else steep / span
    first, change, _, _ = profile.project(np.array([steep]))
    low = 0.0 if profile.step or math.isinf(profile.threshold) else span / float(profile.inside[-1])
    high = math.inf if profile.straight or math.isinf(profile.threshold) else span / float(profile.inside[0])
    tau = math.nan if flat else (math.inf if rate == 0 else 1 / rate)
    return FirstOrderFit(
        plateau=profile.value_at_best(statistics_profile.plateau_weights),
        start=float(first[0]),
        time_constant=tau,
        rate=rate,
        plateau_sd=spread[0],
        start_sd=0.0 if profile.start is not None else spread[1],
        rate_sd=spread[2] / span,
        time_constant_sd=spread[2] / span * tau**2 if math.isfinite(tau) else math.nan,
        plateau_interval=profile.interval(statistics_profile.plateau_weights),
        time_constant_interval=(low, high),
        residual_sd=residual_sd,
        rss=profile.rss,
        dof=dof,
        residuals=profile.y - first[0] - change[0] * profile.shape(np.array([steep]), profile.t)[0],
        origin=origin,
        span=span,
        threshold=profile.threshold,
        profile=profile,
    )


def _spread(profile: statistics_profile.Profile, variance: float) -> list[float]:
    """Standard deviations of plateau, start and steepness."""
    J = profile.jacobian(profile.best)
    size = np.linalg.norm(J, axis=0)
    if J.shape[0] < J.shape[1] or not np.all(size > 0):
        return [math.nan] * 3
    R = np.linalg.qr(J / size, mode="r")
    if np.min(np.abs(np.diag(R))) < 1e-13:
        return [math.nan] * 3
    inverse = np.linalg.inv(R) / size[:, None]
    sd = np.sqrt(variance * np.sum(inverse**2, axis=1))
    return [float(sd[0]), float(sd[1]) if sd.size == 3 else 0.0, float(sd[-1])]
