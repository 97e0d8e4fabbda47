"""What the plan is worth: how rarely too few pumps run, because resting ones are started."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from brinehouse.engines.turns import planning, question
from brinehouse.facility import chances, model
from brinehouse.science import chains, reliability

NEVER = 1e13  # s: between trials of what is never tried


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """Years until too few pumps run, and the share of time with enough: by typical rates, shared causes in.

    ``years`` and ``available`` with the plan; ``unstarted`` the years where resting pumps are never started,
    ``sure`` where the change-over always works. ``every`` is the longest planned rest [s].
    """

    years: float
    available: float
    unstarted: float
    sure: float
    every: float
    change_over: float
    alone: float
    """Share of time with too few, without shared causes."""


def of_group(facility: model.Facility, duty: model.Duty, plan: planning.Plan, units: int) -> Worth | None:
    """By the facility's own typical rates; None where it tells too few of them."""
    running = _mean(facility, duty, chances.RUNNING)
    repair = _repair(facility, duty)
    if not running or not repair or not units > duty.keep:
        return None
    resting = _mean(facility, duty, chances.RESTING)
    change = _change_over(facility, duty)
    hand = duty.hand_start or (facility.detection or 0.0) + (facility.travel or 0.0) or repair
    if resting is None or change is None:
        return None
    every = max(plan.rest.total_seconds(), question.TRIAL.total_seconds())

    def years(sure: float, tested: float) -> reliability.Group:
        return reliability.standby_group(
            reliability.Standby(
                needed=duty.keep, units=units, rate=running, standby_rate=resting, repair_time=repair,
                change_over=sure, hand_start=hand, test_every=tested, crews=facility.crews,
                enough=duty.enough,
            ),
            duty.common_cause or 0.0,
        )  # fmt: skip

    planned = years(change, every)
    return Worth(
        years=planned.both.time_to_first / chains.YEAR,
        available=1.0 - planned.both.unavailability,
        unstarted=years(change, NEVER).both.time_to_first / chains.YEAR,
        sure=years(1.0, every).both.time_to_first / chains.YEAR,
        every=every,
        change_over=change,
        alone=planned.independent.unavailability,
    )


def _rates(facility: model.Facility, mode: str, names: Sequence[str]) -> model.FailureRate | None:
    """The rate of the first of some names that has one."""
    known = {rate.of: rate for rate in facility.rates if rate.mode == mode}
    return next((known[name] for name in names if name in known), None)


def _mean(facility: model.Facility, duty: model.Duty, mode: str) -> float | None:
    found = [_rates(facility, mode, (pump, duty.id, "pump")) for pump in duty.pumps]
    rates = [one.typical.value for one in found if one is not None and one.typical is not None]
    return sum(rates) / len(rates) if rates and len(rates) == len(found) else None


def _repair(facility: model.Facility, duty: model.Duty) -> float | None:
    found = [_rates(facility, chances.RUNNING, (pump, duty.id, "pump")) for pump in duty.pumps]
    times = [one.repair for one in found if one is not None and one.repair is not None]
    return sum(times) / len(times) if times else None


def _change_over(facility: model.Facility, duty: model.Duty) -> float | None:
    """Probability that a standby is started by itself when it is called; 0 where people start it."""
    if duty.standby != "automatic":
        return 0.0
    rate = _rates(facility, chances.CHANGING, (duty.id, "duty"))
    if rate is None or rate.typical is None:
        return None
    start = _mean(facility, duty, chances.STARTING)
    starts = 1.0 - (start or 0.0)
    if rate.typical.by == "start":
        return starts * (1.0 - min(rate.typical.value, 1.0))
    every = duty.test_change_over if duty.test_change_over is not None else NEVER
    return starts * max(1.0 - 0.5 * rate.typical.value * every, 0.0)
