"""Machines that move among states at constant rates: time in each, and time to the first loss of service."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
State = TypeVar("State", bound=Hashable)

YEAR = 8760.0 * 3600.0  # s; the year of reliability tables, without leap days


class Service(NamedTuple):
    """How a group fails its service in the long run."""

    unavailability: float
    """Share of time out of service. [-]"""
    failures_per_year: float
    """How often service is lost in 8760 h. [1/a]"""
    time_to_first: float
    """Mean time from all good to the first loss of service. [s]"""
    unnoticed: float = 0.0
    """Share of time in which a standby is dead and nobody knows. [-]"""


def steady_state(rates: ArrayLike) -> Array:
    """Share of time that a Markov chain spends in each of its states.

    Parameters
    ----------
    rates : array_like
        Rate from each state (row) to each (column); the diagonal is not read. [1/s]

    Returns
    -------
    ndarray
        Share of time in each state. [-]

    Notes
    -----
    No range; each state must be reached from each. The balance is solved by elimination that never subtracts,
    so that a share of 1e-15 is as exact as one of a half.

    References
    ----------
    .. [1] Grassmann, Taksar and Heyman (1985), Oper. Res. 33:1107-1116 (from memory).

    Examples
    --------
    >>> steady_state([[0.0, 1.0], [3.0, 0.0]]).tolist()
    [0.75, 0.25]
    """
    work = np.array(rates, dtype=np.float64)
    size = len(work)
    out = np.zeros(size)
    for last in range(size - 1, 0, -1):
        out[last] = work[last, :last].sum()
        if out[last] <= 0.0:
            raise ValueError(f"state {last} is never left: there is no steady state to tell")
        work[:last, :last] += np.outer(work[:last, last], work[last, :last] / out[last])
    shares = np.ones(size)
    for state in range(1, size):
        shares[state] = shares[:state] @ work[:state, state] / out[state]
    return np.asarray(shares / shares.sum())


def _chain(start: State, leaving: Callable[[State], Mapping[State, float]]) -> tuple[list[State], Array]:
    """Every state reached from the start, and the rates among them."""
    states, flows = [start], list[tuple[State, State, float]]()
    seen = {start}
    for state in states:  # grows while it is walked
        for other, rate in leaving(state).items():
            if rate <= 0.0 or other == state:
                continue
            flows.append((state, other, rate))
            if other not in seen:
                seen.add(other)
                states.append(other)
    place = {state: row for row, state in enumerate(states)}
    rates = np.zeros((len(states), len(states)))
    for state, other, rate in flows:
        rates[place[state], place[other]] += rate
    return states, rates


def _time_to_first(rates: Array, down: NDArray[np.bool_]) -> float:
    """Mean time from the first state into any that is down: all of those sent back at once to the start."""
    up = np.flatnonzero(~down)
    closed = np.zeros((len(up) + 1, len(up) + 1))
    closed[:-1, :-1] = rates[np.ix_(up, up)]
    closed[:-1, -1] = rates[np.ix_(up, np.flatnonzero(down))].sum(axis=1)
    back = closed.max()
    closed[-1, 0] = back
    shares = steady_state(closed)
    return float(shares[:-1].sum() / (shares[-1] * back))


def long_run(
    start: State,
    leaving: Callable[[State], Mapping[State, float]],
    down: Callable[[State], bool],
    unnoticed: Callable[[State], bool] | None = None,
) -> Service:
    """How a group fails that moves among states at constant rates.

    Parameters
    ----------
    start : state
        All good; anything that can be a key. [-]
    leaving : callable
        States reached next from a state, with their rates. [1/s]
    down : callable
        Whether service is lost in a state. [-]
    unnoticed : callable
        Whether something is dead in a state that nobody knows of. [-]

    Returns
    -------
    Service
        Shares of time [-], failures in 8760 h [1/a], time to the first loss [s].

    Notes
    -----
    No range; constant rates.

    References
    ----------
    .. [1] IEC 61165 (application of Markov techniques), from memory.

    Examples
    --------
    >>> found = long_run(True, lambda good: {not good: 1.0 if good else 3.0}, lambda good: not good)
    >>> found.unavailability, found.time_to_first
    (0.25, 1.0)
    """
    states, rates = _chain(start, leaving)
    lost = np.array([down(state) for state in states])
    if not lost.any():
        return Service(0.0, 0.0, float("inf"))
    shares = steady_state(rates)
    crossing = float(shares[~lost] @ rates[np.ix_(~lost, lost)].sum(axis=1))
    hidden = float(shares[[unnoticed(state) for state in states]].sum()) if unnoticed is not None else 0.0
    return Service(float(shares[lost].sum()), crossing * YEAR, _time_to_first(rates, lost), hidden)
