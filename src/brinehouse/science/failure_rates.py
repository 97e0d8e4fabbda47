"""A failure rate from a facility's own running hours, begun from what was believed before."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
ENDS = (0.025, 0.5, 0.975)


class Gamma(NamedTuple):
    """What is believed of a rate."""

    shape: float
    """Failures it is worth; below one it is a wide guess. [-]"""
    time: float
    """Running time it is worth. [s]"""


class Prior(NamedTuple):
    """What a facility believes of a rate before its own hours count, and by whose word."""

    low: float
    """Below it only one time in forty. [1/s]"""
    typical: float
    """As likely below as above. [1/s]"""
    high: float
    """Above it only one time in forty. [1/s]"""
    source: str
    """Who says so; shown as an assumption wherever the rate is used."""


class Rate(NamedTuple):
    """A rate with its 95 % interval, and what it rests on."""

    mean: float
    """[1/s]"""
    low: float
    """[1/s]"""
    high: float
    """[1/s]"""
    belief: Gamma
    """The whole of it."""
    source: str
    """Of the prior."""


def quantiles(belief: Gamma, shares: ArrayLike = ENDS) -> Array:
    """Rates below which a given share of the belief lies.

    Parameters
    ----------
    belief : Gamma
        Shape [-] and time [s].
    shares : array_like
        Shares, 0 to 1. [-]

    Returns
    -------
    ndarray
        Rates. [1/s]

    Notes
    -----
    No range.

    References
    ----------
    .. [1] Gamma distribution.

    Examples
    --------
    >>> quantiles(Gamma(1.0, 1.0)).round(4).tolist()
    [0.0253, 0.6931, 3.6889]
    """
    from scipy import special

    return np.asarray(special.gammaincinv(belief.shape, np.asarray(shares, dtype=np.float64)) / belief.time)


def fitted(prior: Prior) -> Gamma:
    """Gamma belief that comes closest to a low, a typical and a high rate.

    Parameters
    ----------
    prior : Prior
        Ends of a 95 % interval, the median [1/s], and their source.

    Returns
    -------
    Gamma
        Shape [-] and time [s].

    Notes
    -----
    High over low from about 1.1 to 1e12. Three figures and two parameters: the squares of the three
    logarithms' misses are least. Compare `quantiles` with what was asked: where the typical rate lies far
    from the middle on the logarithmic scale the fit cannot follow.

    References
    ----------
    .. [1] Least squares on logarithms; no other source.

    Examples
    --------
    >>> fitted(Prior(0.0253, 0.6931, 3.6889, "an exponential belief")).shape
    1.00
    """
    from scipy import optimize

    asked = np.array([prior.low, prior.typical, prior.high])
    if not (asked[0] > 0.0 and np.all(np.diff(asked) > 0.0) and np.isfinite(asked[-1])):
        raise ValueError(f"{asked.tolist()}: low, typical and high must rise, and low lie above zero")

    def misses(shape: float) -> Array:
        with np.errstate(divide="ignore"):
            return np.log(np.maximum(quantiles(Gamma(shape, 1.0)), 1e-300)) - np.log(asked)

    def squares(logarithm: float) -> float:
        return float(np.var(misses(float(np.exp(logarithm)))))

    found = optimize.minimize_scalar(
        squares, bounds=(np.log(0.05), np.log(5e3)), method="bounded", options={"xatol": 1e-10}
    )
    shape = float(np.exp(found.x))
    return Gamma(shape, float(np.exp(np.mean(misses(shape)))))


def updated(prior: Prior, failures: int, running_time: float) -> Rate:
    """A rate after a facility's own failures in its own running time.

    Parameters
    ----------
    prior : Prior
        What was believed before [1/s], and by whose word.
    failures : int
        Failures seen since, of the same kind. [-]
    running_time : float
        Running time of all like machines together since. [s]

    Returns
    -------
    Rate
        Mean and ends of the 95 % interval, with what they rest on. [1/s]

    Notes
    -----
    Range of `fitted`. A constant rate: running-in and wear are not in it. No failure in the time seen does
    not make a rate of none.

    References
    ----------
    .. [1] Gamma-Poisson conjugate pair: shape plus failures, time plus running time.

    Examples
    --------
    >>> hour = 3600.0
    >>> prior = Prior(3e-6 / hour, 3e-5 / hour, 1e-4 / hour, "a guess made for this page")
    >>> updated(prior, 2, 40000 * hour).mean * hour * 1e5
    4.1
    """
    if failures < 0 or failures != int(failures):
        raise ValueError(f"failures is {failures}; it must be a whole number from zero up")
    if not (running_time >= 0.0 and np.isfinite(running_time)):
        raise ValueError(f"running_time is {running_time}; it must be a number from zero up")
    before = fitted(prior)
    belief = Gamma(before.shape + failures, before.time + running_time)
    low, _, high = quantiles(belief)
    return Rate(belief.shape / belief.time, float(low), float(high), belief, prior.source)
