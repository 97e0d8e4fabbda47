"""How long each pump has run: its counter where one was read, the log of its starts and stops between."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from brinehouse import records
from brinehouse.engines.turns import question
from brinehouse.facility import model

READ = 0.5 / math.sqrt(3.0)  # h: a counter shows whole hours
LATE = 0.1  # h: how far the time of one start or stop is off: common practice, no source
APART = (4.0, 0.03)  # h, and share of the hours between: counter and log then disagree
LONGEST_AGO = timedelta(days=120)  # readings of counters further back are not compared


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One pump of a group as it stands.

    Attributes
    ----------
    running : bool or None
        None where the log has no start and no stop of it.
    since : datetime or None
        When it was last started or stopped.
    wear, u : float
        Hours run since its overhaul, and their standard uncertainty. [h]
    counted : bool
        Whether a counter was read: else only the hours since the log began are known.
    logged : float
        Hours it ran as far as its starts and stops are logged. [h]
    starts : int
        Starts in the log, or as its counter had them.
    weeks : tuple of float
        Share of each whole week logged that it ran.
    disagree : tuple
        From when until when log and counter disagree, and the hours by each.
    """

    pump: str
    name: str
    life: float | None
    running: bool | None = None
    since: datetime | None = None
    started: datetime | None = None
    wear: float = 0.0
    u: float = 0.0
    counted: bool = False
    logged: float = 0.0
    counter: question.Counter | None = None
    overhauled: datetime | None = None
    starts: int = 0
    lock: question.Lock | None = None
    weeks: Sequence[float] = ()
    disagree: tuple[datetime, datetime, float, float] | None = None

    @property
    def locked(self) -> bool:
        """Whether a tag hangs on it."""
        return self.lock is not None

    def idle(self, at: datetime) -> timedelta | None:
        """How long it has rested; None where it runs or is not known to have stopped."""
        return at - self.since if self.running is False and self.since is not None else None


@dataclass(frozen=True, slots=True)
class _Log:
    """Starts and stops of one pump, and what follows from them."""

    turns: Sequence[records.Turn] = field(default_factory=tuple[records.Turn, ...])

    def ran(self, begin: datetime, end: datetime) -> float:
        """Hours it ran between two moments, as far as they are logged."""
        total = timedelta(0)
        spells = list(itertools.pairwise([*self.turns, None]))
        if self.turns and not self.turns[0].running:  # it ran before it was first stopped
            total += max(min(end, self.turns[0].at) - begin, timedelta(0))
        for one, following in spells:
            if one is not None and one.running:
                until = following.at if following is not None else end
                total += max(min(until, end) - max(one.at, begin), timedelta(0))
        return question.hours(total)

    def changes(self, begin: datetime, end: datetime) -> int:
        """How often it was started or stopped between two moments."""
        return sum(begin < one.at <= end for one in self.turns)

    @property
    def tidy(self) -> _Log:
        """Only what changed something: a start of what runs already is no start."""
        kept: list[records.Turn] = []
        for one in self.turns:
            if not kept or kept[-1].running != one.running:
                kept.append(one)
        return _Log(kept)


def units_of(facility: model.Facility, duty: model.Duty, known: question.History, at: datetime) -> list[Unit]:
    """Every pump of a group that is in use, as it stands at a moment."""
    day = at.date().isoformat()
    return [
        _unit(facility.pumps[name], known, at)
        for name in dict.fromkeys(duty.pumps)
        if name in facility.pumps and facility.in_use(name, day)
    ]


def _unit(pump: model.Pump, known: question.History, at: datetime) -> Unit:
    log = _Log([one for one in known.turns if one.pump == pump.id and one.at <= at]).tidy
    counters = [one for one in known.counters if one.pump == pump.id and one.at <= at]
    overhauled = max(
        (one.at for one in known.overhauls if one.pump == pump.id and one.at <= at), default=None
    )
    locks = [one for one in known.locks if one.pump == pump.id and one.at <= at]
    last = log.turns[-1] if log.turns else None
    wear, u = _wear(log, counters, overhauled, at)
    newest = counters[-1] if counters else None
    before = newest.starts if newest is not None and newest.starts is not None else 0
    counted_to = newest.at if newest is not None and newest.starts is not None else None
    return Unit(
        pump=pump.id,
        name=pump.name,
        life=None if pump.overhaul is None else pump.overhaul / 3600.0,
        running=last.running if last else None,
        since=last.at if last else None,
        started=max((one.at for one in log.turns if one.running), default=None),
        wear=wear,
        u=u,
        counted=bool(counters) or overhauled is not None,
        counter=newest,
        logged=log.ran(log.turns[0].at, at) if log.turns else 0.0,
        overhauled=overhauled,
        starts=before + sum(one.running for one in log.turns if counted_to is None or one.at > counted_to),
        lock=locks[-1] if locks and locks[-1].on else None,
        weeks=_weeks(log, at),
        disagree=_disagreement(log, counters, at),
    )


def _wear(
    log: _Log, counters: Sequence[question.Counter], overhauled: datetime | None, at: datetime
) -> tuple[float, float]:
    """Hours since the overhaul, or since the counter began, with their standard uncertainty."""
    now, u = _total(log, counters, at)
    if overhauled is None:
        return now, u
    then, u_then = _total(log, counters, overhauled)
    if not counters:  # both are counted from the same moment of the log
        return max(now - then, 0.0), LATE * math.sqrt(1.0 + log.changes(overhauled, at))
    return max(now - then, 0.0), math.hypot(u, u_then)


def _total(log: _Log, counters: Sequence[question.Counter], at: datetime) -> tuple[float, float]:
    """What a counter would show at a moment; without one, the hours since the log began."""
    before = [one for one in counters if one.at <= at]
    if before:
        near = before[-1]
        return near.hours + log.ran(near.at, at), math.hypot(READ, LATE * math.sqrt(log.changes(near.at, at)))
    if counters:
        near = counters[0]
        return near.hours - log.ran(at, near.at), math.hypot(READ, LATE * math.sqrt(log.changes(at, near.at)))
    begin = log.turns[0].at if log.turns else at
    return log.ran(begin, at), LATE * math.sqrt(1.0 + log.changes(begin, at))


def _weeks(log: _Log, at: datetime) -> tuple[float, ...]:
    """The share of each whole week before a moment that it ran, newest first; at most a year."""
    if not log.turns:
        return ()
    whole = min(int((at - log.turns[0].at) / (7 * question.DAY)), 52)
    ends = [at - 7 * week * question.DAY for week in range(whole)]
    return tuple(log.ran(end - 7 * question.DAY, end) / 168.0 for end in ends)


def _disagreement(
    log: _Log, counters: Sequence[question.Counter], at: datetime
) -> tuple[datetime, datetime, float, float] | None:
    """Where the newest two readings of the counter lie apart by other hours than the log has."""
    recent = [one for one in counters if at - one.at <= LONGEST_AGO]
    for one, two in reversed(list(itertools.pairwise(recent))):
        by_counter, by_log = two.hours - one.hours, log.ran(one.at, two.at)
        logged = bool(log.turns) and log.turns[0].at <= two.at
        if logged and abs(by_counter - by_log) > max(APART[0], APART[1] * abs(by_counter)):
            return one.at, two.at, by_counter, by_log
    return None
