"""How often a group of like machines leaves its service: spares, repair crews, standby and shared causes."""

from __future__ import annotations

from math import comb
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import chains

Array = NDArray[np.float64]


class Group(NamedTuple):
    """Failures of a group machine by machine, by a cause they share, and both; told together always."""

    independent: chains.Service
    """Machines that fail each by itself."""
    common: chains.Service
    """All at once: power, sump level, controller, one batch of seals."""
    both: chains.Service
    """What the keeper lives with."""


class OnDemand(NamedTuple):
    """Mean probability that protection does not answer when it is called."""

    independent: float
    """Each channel by itself. [-]"""
    common: float
    """All channels by a shared cause. [-]"""
    both: float
    """Their sum. [-]"""


def _check(**values: float) -> None:
    """Refuse what is not a positive number, by name."""
    for name, value in values.items():
        if not (np.isfinite(value) and value > 0.0):
            raise ValueError(f"{name} is {value}; it must be a number above zero")


def _share(**values: float) -> None:
    """Refuse what is not a share, by name."""
    for name, value in values.items():
        if not 0.0 <= value <= 1.0:
            raise ValueError(f"{name} is {value}; it must lie from 0 to 1")


def _counts(needed: int, units: int, crews: int = 1) -> None:
    if not 1 <= needed <= units:
        raise ValueError(f"needed is {needed} of {units}; it must lie from 1 to the number there are")
    if crews < 1:
        raise ValueError(f"crews is {crews}; at least one must repair, or nothing is ever whole again")


def unavailability_of_one(rate: ArrayLike, repair_time: ArrayLike) -> Array:
    """Share of time that one machine is out, failing while it runs and repaired at once.

    Parameters
    ----------
    rate : array_like
        Failures in running time. [1/s]
    repair_time : array_like
        Mean time from failure to good as new. [s]

    Returns
    -------
    ndarray
        Unavailability. [-]

    Notes
    -----
    No range; constant rates.

    References
    ----------
    .. [1] IEC 61165 (application of Markov techniques), from memory.

    Examples
    --------
    >>> float(unavailability_of_one(3e-5 / 3600.0, 24 * 3600.0)) * 1e4
    7.19
    """
    load = np.asarray(rate, dtype=np.float64) * np.asarray(repair_time, dtype=np.float64)
    return np.asarray(load / (1.0 + load))


def short_of(needed: int, units: int, out: ArrayLike) -> Array:
    """Probability that fewer than the needed machines are good, each with its own repair crew.

    Parameters
    ----------
    needed : int
        Machines that the service takes. [-]
    units : int
        Machines there are. [-]
    out : array_like
        Probability that one of them is out. [-]

    Returns
    -------
    ndarray
        Probability that service is lost. [-]

    Notes
    -----
    No range beyond 0 to 1. Independent machines: a shared cause is not in it, so it misleads alone.

    References
    ----------
    .. [1] Binomial distribution.

    Examples
    --------
    >>> float(1.0 - short_of(3, 4, 0.1))
    0.9477
    """
    _counts(needed, units)
    dead = np.asarray(out, dtype=np.float64)
    terms = [
        comb(units, n) * dead**n * (1 - dead) ** (units - n) for n in range(units - needed + 1, units + 1)
    ]
    return np.asarray(np.sum(terms, axis=0))


def with_common_cause(independent: chains.Service, rate: float, repair_time: float, beta: float) -> Group:
    """Set a cause that takes all machines at once beside what each does alone.

    Parameters
    ----------
    independent : Service
        The group without shared causes. [-]
    rate : float
        Failures of one machine in running time. [1/s]
    repair_time : float
        Mean time until the shared cause is mended. [s]
    beta : float
        Share of a machine's failures that take all of them. [-]

    Returns
    -------
    Group
        Independent, common, and both: shares of time [-], failures in 8760 h [1/a], times [s].

    Notes
    -----
    Beta 0 to 1; 0.02 to 0.1 is common practice, no source. The independent part keeps the whole rate, which
    errs to the safe side by at most the share beta. The two are taken to come independently of one another.

    References
    ----------
    .. [1] IEC 61508-6, annex D (beta factor), from memory.

    Examples
    --------
    >>> alone = chains.Service(1.55e-6, 0.00113, 2.8e10)
    >>> found = with_common_cause(alone, 3e-5 / 3600.0, 24 * 3600.0, 0.1)
    >>> found.common.unavailability / alone.unavailability
    46.
    """
    _check(rate=rate, repair_time=repair_time)
    _share(beta=beta)
    shared = beta * float(unavailability_of_one(rate, repair_time))
    often_all = beta * rate
    common = chains.Service(
        shared, often_all * chains.YEAR, 1.0 / often_all if often_all > 0.0 else float("inf")
    )
    total = independent.unavailability + shared - independent.unavailability * shared
    hazard = 1.0 / independent.time_to_first + often_all
    often = independent.failures_per_year + common.failures_per_year
    both = chains.Service(total, often, 1.0 / hazard, independent.unnoticed)
    return Group(independent, common, both)


def running_group(
    needed: int,
    units: int,
    rate: float,
    repair_time: float,
    beta: float,
    crews: int | None = None,
    rest_when_down: bool = False,
) -> Group:
    """A group whose machines all run, where fewer would do.

    Parameters
    ----------
    needed : int
        Machines that the service takes. [-]
    units : int
        Machines there are. [-]
    rate : float
        Failures of one machine in running time. [1/s]
    repair_time : float
        Mean time of one repair. [s]
    beta : float
        Share of a machine's failures that take all of them. [-]
    crews : int, optional
        Repairs that can go on at once; as many as machines where not given. [-]
    rest_when_down : bool
        Whether the remaining machines are stopped, and do not fail, while service is lost. [-]

    Returns
    -------
    Group
        Independent, common, and both: shares of time [-], failures in 8760 h [1/a], times [s].

    Notes
    -----
    No range; constant rates. A birth-death chain by number out.

    References
    ----------
    .. [1] IEC 61165 (application of Markov techniques), from memory.

    Examples
    --------
    >>> found = running_group(2, 3, 3e-5 / 3600.0, 24 * 3600.0, beta=0.1, crews=1)
    >>> found.independent.unavailability * 1e6
    3.106
    >>> found.both.unavailability * 1e6
    75.0
    """
    hands = units if crews is None else crews
    _counts(needed, units, hands)
    _check(rate=rate, repair_time=repair_time)

    def leaving(out: int) -> dict[int, float]:
        flows = {out - 1: min(out, hands) / repair_time} if out else {}
        if out < units and not (rest_when_down and units - out < needed):
            flows[out + 1] = (units - out) * rate
        return flows

    alone = chains.long_run(0, leaving, down=lambda out: units - out < needed)
    return with_common_cause(alone, rate, repair_time, beta)


class Standby(NamedTuple):
    """A group of which some run and the rest wait; each figure is the facility's own."""

    needed: int
    """Machines that run. [-]"""
    units: int
    """Machines there are. [-]"""
    rate: float
    """Failures of one that runs. [1/s]"""
    standby_rate: float
    """Failures of one that waits. [1/s]"""
    repair_time: float
    """Mean time of one repair. [s]"""
    change_over: float
    """Probability that the change-over starts a good one by itself; 0 where people start it. [-]"""
    hand_start: float
    """Mean time until people have started one. [s]"""
    test_every: float | None = None
    """Time between trial starts or turns, which find a dead standby; none where it is seen at once. [s]"""
    crews: int = 1
    """Repairs that can go on at once. [-]"""
    enough: int | None = None
    """Machines that run with which service still holds; as many as are needed where not given. [-]"""


class _Waiting(NamedTuple):
    """Machines that run, wait good, and wait dead unnoticed; the rest are in repair."""

    running: int
    good: int
    dead: int


def _after_a_failure(plan: Standby, now: _Waiting) -> list[tuple[_Waiting, float]]:
    """One that ran has failed: what is picked to follow it, and whether it starts."""
    stopped = now._replace(running=now.running - 1)
    rate, waiting = now.running * plan.rate, now.good + now.dead
    if plan.change_over == 0.0 or not waiting:
        return [(stopped, rate)]
    good = rate * now.good / waiting
    dead = [(stopped._replace(dead=now.dead - 1), rate - good)] if now.dead else []
    return [
        (now._replace(good=now.good - 1), good * plan.change_over),
        (stopped, good * (1.0 - plan.change_over)),
        *dead,
    ]


def _after_hands(plan: Standby, now: _Waiting) -> list[tuple[_Waiting, float]]:
    """People at the plant start what is good and find what is dead; where nothing waits they repair."""
    short = plan.needed - now.running
    if short > 0 and now.good + now.dead:
        started = min(short, now.good)
        return [(_Waiting(now.running + started, now.good - started, 0), 1.0 / plan.hand_start)]
    broken = plan.units - sum(now)
    rate = min(broken, plan.crews) / plan.repair_time
    if not broken:
        return []
    if short > 0:
        return [(now._replace(running=now.running + 1), rate)]
    return [(now._replace(good=now.good + 1), rate)]


def _leaving(plan: Standby, now: _Waiting) -> dict[_Waiting, float]:
    flows = _after_hands(plan, now)
    if now.running:
        flows += _after_a_failure(plan, now)
    if now.good:
        hidden = now.dead + (plan.test_every is not None)
        flows.append((_Waiting(now.running, now.good - 1, hidden), now.good * plan.standby_rate))
    if now.dead and plan.test_every is not None:
        flows.append((now._replace(dead=0), 2.0 / plan.test_every))
    merged: dict[_Waiting, float] = {}
    for state, rate in flows:
        merged[state] = merged.get(state, 0.0) + rate
    return merged


def standby_group(plan: Standby, beta: float) -> Group:
    """A group with machines in waiting, that take over by themselves or by hand.

    Parameters
    ----------
    plan : Standby
        Machines, rates [1/s], times [s] and the change-over's success [-].
    beta : float
        Share of a running machine's failures that take all of them. [-]

    Returns
    -------
    Group
        Independent, common, and both: shares of time [-], failures in 8760 h [1/a], times [s].

    Notes
    -----
    No range; constant rates. While one is to be started by hand nobody repairs; a start by hand finds every
    dead one; a mended machine runs at once where it is missed. Trial starts find dead ones after half their
    interval on average, taken as a rate of two in each interval: an approximation, good while failures are
    rare within one interval.

    References
    ----------
    .. [1] IEC 61165 (application of Markov techniques), from memory.

    Examples
    --------
    >>> hour = 3600.0
    >>> plan = Standby(1, 2, 3e-5 / hour, 3e-6 / hour, 24 * hour, change_over=0.95, hand_start=2 * hour)
    >>> standby_group(plan, beta=0.0).both.time_to_first / chains.YEAR
    75.03
    """
    _counts(plan.needed, plan.units, plan.crews)
    _check(rate=plan.rate, repair_time=plan.repair_time, hand_start=plan.hand_start)
    _share(change_over=plan.change_over)
    if not plan.standby_rate >= 0.0:
        raise ValueError(f"standby_rate is {plan.standby_rate}; it must be a number from zero up")
    if plan.test_every is not None:
        _check(test_every=plan.test_every)
    enough = plan.needed if plan.enough is None else plan.enough
    _counts(enough, plan.needed)
    start = _Waiting(plan.needed, plan.units - plan.needed, 0)
    alone = chains.long_run(
        start,
        lambda now: _leaving(plan, now),
        down=lambda now: now.running < enough,
        unnoticed=lambda now: now.dead > 0,
    )
    return with_common_cause(alone, plan.rate, plan.repair_time, beta)


def fails_on_demand(rate: float, test_every: float, beta: float, channels: int = 1) -> OnDemand:
    """Mean probability that protection, tested now and then, does not answer; any one channel suffices.

    Parameters
    ----------
    rate : float
        Failures of one channel that nobody notices. [1/s]
    test_every : float
        Time between tests that find them. [s]
    beta : float
        Share of failures that take all channels; not read for a single one. [-]
    channels : int
        Channels, any of which suffices. [-]

    Returns
    -------
    OnDemand
        Independent, common, and both. [-]

    Notes
    -----
    Rate times interval up to about 0.1: linear in it. Repair after a test is taken to be short, tests to be
    perfect and of all channels at once.

    References
    ----------
    .. [1] Norwegian Oil and Gas guideline 070, appendix D (one and two channels).

    Examples
    --------
    >>> hour = 3600.0
    >>> fails_on_demand(3e-6 / hour, 8760 * hour, 0.05, channels=2).both
    0.000887
    """
    _check(rate=rate, test_every=test_every)
    _counts(1, channels)
    _share(beta=beta)
    independent = (rate * test_every) ** channels / (channels + 1)
    common = 0.5 * beta * rate * test_every if channels > 1 else 0.0
    return OnDemand(independent, common, independent + common)
