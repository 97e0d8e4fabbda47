"""Failure rates as they are used: what the facility believed, and what it has seen since."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from brinehouse.engines.redundancy import question
from brinehouse.facility import chances, model
from brinehouse.science import failure_rates


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """One rate of the file after what was seen: in 1/s, or a share of starts.

    ``after`` is None where the file tells a single figure, taken as exact; ``span`` is the time [s] or the
    number of starts in which failures were counted, ``logged`` whether the logbook told it.
    """

    rate: model.FailureRate
    mean: float
    low: float | None = None
    high: float | None = None
    after: failure_rates.Gamma | None = None
    span: float = 0.0
    logged: bool = False

    @property
    def by(self) -> str:
        """Counted by ``time`` or by ``start``."""
        return self.rate.typical.by if self.rate.typical is not None else "time"

    @property
    def far(self) -> bool:
        """Whether what was seen has moved it out of what was believed."""
        low, high = self.rate.low, self.rate.high
        return low is not None and high is not None and not low.value <= self.mean <= high.value

    def at(self, share: float) -> float:
        """The rate below which a share of the belief lies."""
        if self.after is None:
            return self.mean
        return float(failure_rates.quantiles(self.after, np.array([share]))[0])


Mix = Sequence[Belief]
"""The belief of each pump of a group; several may be one."""


def value(mix: Mix, of: Callable[[Belief], float]) -> float:
    """Mean rate of a group."""
    return sum(of(one) for one in mix) / len(mix) if mix else 0.0


def of_parts(beliefs: Iterable[Belief], mode: str, names: Sequence[Sequence[str]]) -> Mix:
    """For each part the belief of the first name that has one; empty where any part has none."""
    known = {one.rate.of: one for one in beliefs if one.rate.mode == mode}
    found = [next((known[name] for name in ladder if name in known), None) for ladder in names]
    return [one for one in found if one is not None] if all(found) else []


def all_of(facility: model.Facility, logged: question.Logged) -> tuple[Belief, ...]:
    """Every rate of the file, with what was seen weighed in."""
    return tuple(_weighed(facility, rate, logged) for rate in facility.rates)


def _weighed(facility: model.Facility, rate: model.FailureRate, logged: question.Logged) -> Belief:
    typical = rate.typical.value if rate.typical is not None else 0.0
    if rate.low is None or rate.high is None:
        return Belief(rate=rate, mean=typical)
    span, from_log = _span(facility, rate, logged)
    prior = failure_rates.Prior(rate.low.value, typical, rate.high.value, rate.source)
    seen = rate.seen if rate.seen is not None and span > 0.0 else 0
    found = failure_rates.updated(prior, seen, span if rate.seen is not None else 0.0)
    return Belief(rate=rate, mean=found.mean, low=found.low, high=found.high, after=found.belief,
                  span=span, logged=from_log)  # fmt: skip


def _span(facility: model.Facility, rate: model.FailureRate, logged: question.Logged) -> tuple[float, bool]:
    """Time or starts in which failures were counted: as the file has it, else from the logbook."""
    by = rate.typical.by if rate.typical is not None else "time"
    told = rate.starts if by == "start" else rate.over
    if told is not None:
        return float(told), False
    if not rate.since or logged.until is None:
        return 0.0, False
    since = dt.datetime.fromisoformat(rate.since).replace(tzinfo=dt.UTC)
    pumps = _pumps(facility, rate.of)
    if by == "start":
        starts = [one for one in logged.turns if one.running and one.pump in pumps and one.at >= since]
        return float(len(starts)), True
    return sum(_hours(logged, pump, since, rate.mode != chances.RESTING) for pump in pumps), True


def _pumps(facility: model.Facility, of: str) -> tuple[str, ...]:
    """The pumps a rate is for."""
    if of in facility.duties:
        return facility.duties[of].pumps
    grouped = tuple(pump for duty in facility.duties.values() for pump in duty.pumps)
    return (of,) if of in facility.pumps else grouped if of in ("pump", "duty") else ()


def _hours(logged: question.Logged, pump: str, since: dt.datetime, running: bool) -> float:
    """Seconds for which the logbook has a pump running, or at rest, since a day."""
    assert logged.until is not None
    own = [one for one in logged.turns if one.pump == pump]
    ends = [*(one.at for one in own[1:]), logged.until]
    return sum(
        max(0.0, (end - max(one.at, since)).total_seconds())
        for one, end in zip(own, ends, strict=False)
        if one.running == running
    )
