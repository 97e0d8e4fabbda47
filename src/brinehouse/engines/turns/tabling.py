"""The tables of the plan: pumps, change-overs, hours of each day, groups."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from brinehouse import answers
from brinehouse.engines.turns import counting, planning, question, study, telling

WEEK = 7 * question.DAY


def values(studied: Sequence[study.Study]) -> dict[str, answers.Value]:
    """Of the first group, and by group where there are several."""
    if not studied:
        return {}
    return _values(studied[0]) | {
        f"{one.duty.id}: {name}": value for one in studied[1:] for name, value in _values(one).items()
    }


def _values(one: study.Study) -> dict[str, answers.Value]:
    plan = one.plan
    span = (plan.end - plan.begin) / WEEK
    changes = sum(change.why != "trial" for change in plan.changes)
    return {
        "changes": answers.Value(value=changes / span, unit="1/week"),
        "rest": answers.Value(value=plan.rest / question.DAY, unit="d"),
        "spread": answers.Value(value=plan.spread, unit="h"),
    }


def tables(studied: Sequence[study.Study]) -> tuple[answers.Table, ...]:
    """All tables of the answer."""
    return _changes(studied), _pumps(studied), _days(studied), _groups(studied), _worth(studied)


def _col(name: str, label: str, unit: str = "", decimals: int = 0) -> answers.Output:
    return answers.Output(name=name, label=label, unit=unit, decimals=decimals)


def stamp(at: datetime | None) -> str:
    """A moment in a table: ISO 8601, UTC."""
    return "" if at is None else at.isoformat(timespec="minutes")


def _pumps(studied: Sequence[study.Study]) -> answers.Table:
    rows = [_pump(one, unit) for one in studied for unit in one.units]
    return answers.Table(
        name="pumps",
        title="How each pump stands, and when it is due",
        columns=(
            _col("duty", "group"), _col("pump", "pump"), _col("state", "now"),
            _col("wear", "run since its overhaul", "h"), _col("offset", "wanted offset", "h"),
            _col("above", "above it", "h"), _col("share", "of its hours", "%"),
            _col("due", "overhaul due"), _col("due_low", "not before"), _col("due_high", "not after"),
            _col("started", "last started"), _col("starts", "starts"),
            _col("planned", "planned hours", "h"), _col("planned_starts", "planned starts"),
        ),
        rows=tuple(rows),
    )  # fmt: skip


def state_of(unit: counting.Unit) -> str:
    """What a pump does now."""
    if unit.locked:
        return "locked out"
    return {True: "runs", False: "rests", None: "not known"}[unit.running]


def planned(plan: planning.Plan, pump: str) -> float:
    """Hours for which a pump is to run."""
    return sum(question.hours(one.end - one.begin) for one in plan.spells if one.pump == pump)


def _pump(one: study.Study, unit: counting.Unit) -> Mapping[str, Any]:
    due = one.overhauls.get(unit.pump)
    target = study.offset_of(one, unit.pump)
    return {
        "duty": one.duty.id,
        "pump": unit.pump,
        "name": unit.name,
        "state": state_of(unit),
        "wear": answers.Value(value=unit.wear, unit="h", u=unit.u, text="" if unit.counted else "as logged"),
        "counted": unit.counted,
        "life": unit.life,
        "offset": target,
        "above": unit.wear - target - one.level,
        "share": None if unit.life is None or not unit.counted else 100.0 * unit.wear / unit.life,
        "due": stamp(due.at) if due else "",
        "due_low": stamp(due.low) if due else "",
        "due_high": stamp(due.high) if due else "",
        "started": stamp(unit.started),
        "since": stamp(unit.since),
        "starts": unit.starts,
        "planned": planned(one.plan, unit.pump),
        "planned_starts": one.plan.starts[unit.pump],
    }


def _changes(studied: Sequence[study.Study]) -> answers.Table:
    rows = [
        {
            "duty": one.duty.id,
            "name": one.duty.name,
            "at": stamp(change.at),
            "after": question.hours(change.at - one.plan.begin),
            "start": ", ".join(change.start),
            "stop": ", ".join(change.stop),
            "why": telling.why(change),
        }
        for one in studied
        for change in one.plan.changes
    ]
    return answers.Table(
        name="changes",
        title="What changes over, and when",
        columns=(
            _col("duty", "group"), _col("at", "at"), _col("after", "from now", "h", 1),
            _col("start", "starts"), _col("stop", "then stops"), _col("why", "why"),
        ),
        rows=tuple(sorted(rows, key=lambda row: str(row["at"]))),
    )  # fmt: skip


def _days(studied: Sequence[study.Study]) -> answers.Table:
    rows = [
        {
            "duty": one.duty.id,
            "day": number + 1,
            "at": stamp(one.plan.begin + number * question.DAY),
            "runs": ", ".join(
                f"{unit.pump} {ran:.0f} h"
                for unit in one.units
                if (ran := _ran(one.plan, unit.pump, one.plan.begin + number * question.DAY)) >= 0.5
            ),
        }
        for one in studied
        for number in range(int((one.plan.end - one.plan.begin) / question.DAY))
    ]
    return answers.Table(
        name="days",
        title="Who runs on each day from now",
        columns=(_col("duty", "group"), _col("day", "day"), _col("runs", "runs for")),
        rows=tuple(rows),
    )


def _ran(plan: planning.Plan, pump: str, begin: datetime) -> float:
    end = begin + question.DAY
    spans = (min(one.end, end) - max(one.begin, begin) for one in plan.spells if one.pump == pump)
    return question.hours(sum((max(span, timedelta(0)) for span in spans), timedelta(0)))


def _groups(studied: Sequence[study.Study]) -> answers.Table:
    rows = [
        {
            "duty": one.duty.id,
            "name": one.duty.name,
            "keep": one.duty.keep,
            "pumps": len(one.units),
            "turn": question.hours(one.turn),
            "idle": one.idle / question.DAY,
            "spacing": one.spacing,
            "rest": one.plan.rest / question.DAY,
            "tested": stamp(one.tested.at) if one.tested else "",
            "test_due": stamp(one.test_due),
        }
        for one in studied
    ]
    return answers.Table(
        name="groups",
        title="How each group takes turns",
        columns=(
            _col("name", "group"), _col("keep", "kept running"), _col("pumps", "pumps"),
            _col("turn", "turn", "h"), _col("spacing", "kept apart by", "h"),
            _col("rest", "longest rest planned", "d", 1), _col("tested", "change-over last tested"),
            _col("test_due", "next test due"),
        ),
        rows=tuple(rows),
    )  # fmt: skip


def _worth(studied: Sequence[study.Study]) -> answers.Table:
    rows = [
        {
            "duty": one.duty.id,
            "name": one.duty.name,
            "years": answers.Value(value=one.worth.years, unit="years"),
            "available": answers.Value(value=100.0 * one.worth.available, unit="%"),
            "unstarted": answers.Value(value=one.worth.unstarted, unit="years"),
            "sure": answers.Value(value=one.worth.sure, unit="years"),
        }
        for one in studied
        if one.worth is not None
    ]
    return answers.Table(
        name="worth",
        title="How rarely too few run, by the hall's own typical rates",
        columns=(
            _col("name", "group"), _col("years", "with this plan, first after", "years", 1),
            _col("available", "time with enough running", "%", 4),
            _col("unstarted", "if resting pumps were never started", "years", 1),
            _col("sure", "if the change-over never failed", "years", 1),
        ),
        rows=tuple(rows),
    )  # fmt: skip
