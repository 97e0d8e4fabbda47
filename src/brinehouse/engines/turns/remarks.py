"""What is to be said of a plan: what is not known, what is overdue, what cannot be kept."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from brinehouse import findings
from brinehouse.engines.turns import question, study

Level = findings.Level
SOON = question.DAYS * question.DAY


def _say(
    code: str,
    level: findings.Level,
    one: study.Study,
    text: str,
    hint: str,
    *,
    since: datetime | None = None,
    of: str = "",
) -> findings.Finding:
    """A remark on a group; since when it is so, and of which pump."""
    spot = findings.Spot(thing=f"duty {one.duty.id}", field=f"duty.{one.duty.id}")
    data = {"since": since.isoformat(), "of": of or one.duty.id} if since is not None else {}
    return findings.Finding(code=code, level=level, text=text, hint=hint, spot=spot, data=data)


def _days(span: timedelta) -> str:
    return f"{span / question.DAY:.0f}"


def findings_of(studied: Sequence[study.Study], at: datetime) -> tuple[findings.Finding, ...]:
    """Every remark, group by group."""
    made: list[findings.Finding] = []
    for one in studied:
        for remarks in (
            _hours(one),
            _offset(one),
            _log(one),
            _rests(one, at),
            _tests(one, at),
            _plan(one, at),
        ):
            made += remarks
    return tuple(made)


def next_readings(studied: Sequence[study.Study]) -> tuple[str, ...]:
    """Which counters to read."""
    return tuple(
        f"the running hours on the counter of {unit.pump}, and those of its last overhaul"
        for one in studied
        for unit in one.units
        if not unit.counted
    )


def _hours(one: study.Study) -> Iterable[findings.Finding]:
    unknown = [unit.pump for unit in one.units if not unit.counted]
    if unknown:
        yield _say(
            "turns/hours-unknown", Level.ASK, one,
            f"{one.duty.name}: how long {study.listed(unknown)} ran since the overhaul is not known; turns "
            "are planned by the hours that are logged, and no overhaul is foretold",
            f"read the hour counter of {study.listed(unknown)} and write it down here",
        )  # fmt: skip
    for unit in one.units:
        if unit.disagree is not None:
            begin, end, counter, log = unit.disagree
            yield _say(
                "turns/counter-disagrees", Level.ASK, one,
                f"{unit.pump}: from {begin:%Y-%m-%d} to {end:%Y-%m-%d} its counter went on {counter:.0f} h, "
                f"by the log it ran {log:.0f} h",
                "read the counter again; if it is right, a start or stop was not written down",
            )  # fmt: skip


def _offset(one: study.Study) -> Iterable[findings.Finding]:
    silent = [unit.pump for unit in one.units if unit.life is None]
    if silent and one.spares:
        yield _say(
            "turns/no-overhaul", Level.NOTE, one,
            f"{one.duty.name}: the hours between overhauls of {study.listed(silent)} are not told, so all "
            "pumps are kept even and will wear out together",
            'write overhaul = "16000 h" at each of them in the facility file',
        )  # fmt: skip
    if one.spacing and one.apart > max(2.0 * question.hours(one.turn), 0.1 * one.spacing):
        yield _say(
            "turns/not-yet-apart", Level.NOTE, one,
            f"{one.duty.name}: the pumps are not yet {one.spacing:.0f} h apart, and stand {one.apart:.0f} h "
            "off the offset that is wanted; until they do, the one that has run least for its place runs on",
            "leave it to the plan, or write a smaller offset in the facility file",
        )  # fmt: skip
    if one.duty.turn is None:
        yield _say(
            "turns/no-turn", Level.NOTE, one,
            f"{one.duty.name}: no turn is told, so 24 h is taken: common practice, no source",
            f'write turn = "24 h" in [duty.{one.duty.id}]',
        )  # fmt: skip


def _log(one: study.Study) -> Iterable[findings.Finding]:
    running = [unit.pump for unit in one.units if unit.running]
    if not any(unit.since for unit in one.units):
        yield _say(
            "turns/not-logged", Level.ASK, one,
            f"{one.duty.name}: which of its pumps run now was never written down",
            "write down who runs now, with the button below",
        )  # fmt: skip
    elif len(running) != min(one.duty.keep, len(one.units)):
        named = f"{study.listed(running)} run" if running else "none runs"
        yield _say(
            "turns/other-number", Level.ASK, one,
            f"{one.duty.name}: by the log {named}, where {one.duty.keep} are kept running",
            "look at the pumps, and write down what was started or stopped",
        )  # fmt: skip


def _rests(one: study.Study, at: datetime) -> Iterable[findings.Finding]:
    for unit in one.units:
        rest = unit.idle(at)
        if unit.locked:
            assert unit.lock is not None
            why = f": {unit.lock.why}" if unit.lock.why else ""
            yield _say(
                "turns/locked-out", Level.NOTE, one,
                f"{unit.pump} is locked out since {unit.lock.at:%Y-%m-%d}{why}; it is planned for nothing",
                "it is planned again when its tag is taken away",
            )  # fmt: skip
        elif rest is not None and rest > one.idle:
            yield _say(
                "turns/standby-idle", Level.WATCH, one,
                f"{unit.pump} has rested for {_days(rest)} days; nobody knows whether it still starts",
                f"start it for half an hour; one that rests is started every {_days(one.idle)} days",
                since=(unit.since or at) + one.idle, of=unit.pump,
            )  # fmt: skip


def _tests(one: study.Study, at: datetime) -> Iterable[findings.Finding]:
    if one.duty.standby != "automatic" or not one.spares:
        return
    due = one.test_due
    if due is None:
        yield _say(
            "turns/change-over-untold", Level.NOTE, one,
            f"{one.duty.name}: how often its automatic change-over is tried is not told",
            f'write test_change_over = "30 d" in [duty.{one.duty.id}]',
        )  # fmt: skip
    elif due <= at:
        since = f"since {one.tested.at:%Y-%m-%d}" if one.tested else "as far as the log goes"
        yield _say(
            "turns/change-over-due", Level.WATCH, one,
            f"{one.duty.name}: the automatic change-over was not tried {since}",
            "stop a running pump with somebody at the tanks, and see the standby start by itself",
            since=due,
        )  # fmt: skip
    if one.tested is not None and not one.tested.worked:
        yield _say(
            "turns/change-over-failed", Level.ACT, one,
            f"{one.duty.name}: the change-over did not work when it was tried on {one.tested.at:%Y-%m-%d}",
            "somebody has to start a standby by hand until it is mended and tried again",
            since=one.tested.at,
        )  # fmt: skip


def _plan(one: study.Study, at: datetime) -> Iterable[findings.Finding]:
    if one.plan.short:
        begin = one.plan.short[0][0]
        hours = sum(question.hours(end - start) for start, end in one.plan.short)
        yield _say(
            "turns/too-few", Level.ACT, one,
            f"{one.duty.name}: fewer than {one.duty.keep} pumps can run for {hours:.0f} h in the days ahead, "
            f"first from {begin:%Y-%m-%d %H:%M} UTC",
            "lay the work on another day, or have a spare pump ready",
        )  # fmt: skip
    due = {pump: when for pump, when in one.overhauls.items() if when.at <= at + SOON}
    for pump, when in due.items():
        over = one.unit(pump).wear - (one.unit(pump).life or 0.0)
        text = (
            f"is {over:.0f} h over its hours" if over >= 0.0 else f"comes to its hours on {when.at:%Y-%m-%d}"
        )
        yield _say(
            "turns/overhaul-due", Level.WATCH, one, f"{pump} {text}",
            "plan its overhaul, and write it down as renewed: its hours then count from nought",
            since=min(when.at, at), of=pump,
        )  # fmt: skip
    yield from _together(one)


def _together(one: study.Study) -> Iterable[findings.Finding]:
    """Pumps that come to their overhaul within a fortnight of one another."""
    order = sorted(one.overhauls.items(), key=lambda item: item[1].at)
    for (pump, when), (other, then) in itertools.pairwise(order):
        if then.at - when.at < SOON:
            yield _say(
                "turns/worn-together", Level.WATCH, one,
                f"{pump} and {other} come to their overhaul within {(then.at - when.at) / question.DAY:.0f} "
                f"days of one another, about {when.at:%Y-%m}",
                "overhaul one of them early, so that a standby is left",
            )  # fmt: skip
