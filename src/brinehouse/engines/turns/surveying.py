"""Every duty group of a facility: how its pumps stand, who runs in the days to come, and what is due."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from brinehouse import answers
from brinehouse.engines.turns import (
    counting,
    planning,
    question,
    remarks,
    spans,
    tabling,
    telling,
    working,
    worth,
)
from brinehouse.engines.turns import study as studies
from brinehouse.facility import model

AHEAD = timedelta(days=3 * 365)  # overhauls further off are not told
YEARLY = 52


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """The answer, and what it was made from, for faces that draw it."""

    answer: answers.Answer
    groups: Sequence[studies.Study]


def survey(
    facility: model.Facility, known: question.History, at: datetime, *, days: int = question.DAYS
) -> Survey:
    """Who runs in the days to come, for every duty group.

    Parameters
    ----------
    facility : Facility
    known : History
        What the logbook has of the pumps.
    at : datetime
        Aware: the moment from which it is planned.
    days : int
        How many days ahead.

    Returns
    -------
    Survey
        Its answer has state ``planned``, ``partly`` (hours or overhauls are not told) or ``no-groups``, and
        tables ``pumps``, ``changes``, ``days``, ``groups`` and ``worth``.
    """
    studied = [_study(facility, duty, known, at, days) for duty in facility.duties.values()]
    studied = [one for one in studied if one.units]
    found = remarks.findings_of(studied, at)
    told = all(one.counted and one.life is not None for one in studied)
    moments = [*(one.at for one in known.turns), *(one.at for one in known.counters)]
    answer = answers.Answer(
        question=question.QUESTION,
        sentence=telling.sentence(studied, facility, at),
        state="no-groups" if not studied else "planned" if told else "partly",
        values=tabling.values(studied),
        tables=tabling.tables(studied),
        findings=found,
        next_readings=remarks.next_readings(studied),
        working=working.steps(studied),
        as_of=max((one for one in moments if one <= at), default=None),
        used=len(moments),
    )
    return Survey(answer=answer, groups=studied)


def _study(
    facility: model.Facility, duty: model.Duty, known: question.History, at: datetime, days: int
) -> studies.Study:
    units = counting.units_of(facility, duty, known, at)
    lives = [one.life for one in units if one.life is not None]
    life = min(lives) if units and len(lives) == len(units) else None
    counted = all(one.counted for one in units)
    share = duty.offset if duty.offset is not None else question.OFFSET
    spacing = min(share, 1.0 / len(units)) * life if life is not None and counted and units else 0.0
    end, far = at + days * question.DAY, at + AHEAD
    soon = planning.play(_group(facility, duty, units, known, (at, end), spacing), at, end)
    later = planning.play(_group(facility, duty, units, known, (at, far), spacing), at, far)
    tests = [one for one in known.change_overs if one.duty == duty.id and one.test and one.at <= at]
    return studies.Study(
        duty=duty,
        units=units,
        life=life,
        counted=counted,
        share=share,
        spacing=spacing,
        turn=turn_of(duty),
        idle=idle_of(duty),
        plan=soon,
        overhauls=_overhauls(units, later, at) if counted else {},
        tested=tests[-1] if tests else None,
        logged=min((one.at for one in (*known.turns, *known.change_overs) if one.at <= at), default=None),
        worth=worth.of_group(facility, duty, soon, len(units)),
    )


def turn_of(duty: model.Duty) -> timedelta:
    """How long from one turn to the next."""
    return timedelta(seconds=duty.turn) if duty.turn else question.TURN


def idle_of(duty: model.Duty) -> timedelta:
    """The longest rest without a trial start."""
    return timedelta(seconds=duty.test_starts) if duty.test_starts else question.IDLE


def _group(
    facility: model.Facility,
    duty: model.Duty,
    units: Sequence[counting.Unit],
    known: question.History,
    between: tuple[datetime, datetime],
    spacing: float,
) -> planning.Group:
    house = spans.House(facility, *between)
    names = [one.pump for one in units]
    free = {name: kept for name in names if (kept := house.kept_free(name)).all}
    return planning.Group(
        pumps=names,
        keep=min(duty.keep, len(names)),
        turn=turn_of(duty),
        idle=idle_of(duty),
        due=_due(duty, units, known),
        wear={one.pump: one.wear if all(unit.counted for unit in units) else one.logged for one in units},
        spacing=spacing,
        running=[one.pump for one in units if one.running] if any(one.since for one in units) else None,
        rested={one.pump: one.since for one in units if one.running is False and one.since is not None},
        locked=frozenset(one.pump for one in units if one.locked),
        free=free,
        turns=house.staffed().without(house.kept_free(duty.id)),
        life={one.pump: one.life for one in units if one.life is not None and one.counted},
    )


def _due(duty: model.Duty, units: Sequence[counting.Unit], known: question.History) -> datetime | None:
    """A turn after the last start of a pump of the group."""
    taken = [one.at for one in known.change_overs if one.duty == duty.id and not one.test]
    last = max([*(one.started for one in units if one.running and one.started), *taken[-1:]], default=None)
    return None if last is None else last + turn_of(duty)


def _overhauls(
    units: Sequence[counting.Unit], later: planning.Plan, at: datetime
) -> Mapping[str, studies.Overhaul]:
    found: dict[str, studies.Overhaul] = {}
    for unit in units:
        if unit.life is None:
            continue
        when = later.overhauls.get(unit.pump)
        if unit.wear >= unit.life:
            when = at
        if when is not None:
            found[unit.pump] = _with_interval(unit, when, at)
    return found


def _with_interval(unit: counting.Unit, when: datetime, at: datetime) -> studies.Overhaul:
    """The date with its 95 % interval: weeks of running scatter as they have, or as far as they can."""
    assert unit.life is not None
    left = max(unit.life - unit.wear, 0.0)
    ahead = max(question.hours(when - at), 1e-9)
    share = min(left / ahead, 1.0)
    scatter, weeks = scatter_of(unit.weeks, share), ahead / 168.0
    spread = math.hypot(168.0 * scatter * math.sqrt(weeks), unit.u)  # h of running at that date
    reach = answers.COVERAGE * spread / max(share, 0.05) * question.HOUR
    soonest = at + max(left - answers.COVERAGE * unit.u, 0.0) * question.HOUR  # it runs without a rest
    return studies.Overhaul(
        at=when, low=max(when - reach, min(soonest, when)), high=when + reach, share=share, scatter=scatter,
        weeks=weeks,
    )  # fmt: skip


def scatter_of(weeks: Sequence[float], share: float) -> float:
    """Standard deviation of a week's share of running; with under four weeks, the greatest there can be."""
    if len(weeks) < 4:
        return math.sqrt(share * (1.0 - share))
    mean = sum(weeks) / len(weeks)
    return math.sqrt(sum((one - mean) ** 2 for one in weeks) / (len(weeks) - 1))
