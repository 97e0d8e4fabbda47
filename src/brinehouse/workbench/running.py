"""How long a machine ran and how often it started: from what was written down of it, and from its counter.

What nobody wrote down is not guessed: a stretch of which it is not known whether the machine ran counts from
nothing to all of itself, and an answer says so.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from brinehouse import records

HOUR = 3600.0
GAP = timedelta(days=1)  # so long before the first turn a start may go unwritten
NEVER = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter:
    """What a machine's own counter showed: hours, starts, or both."""

    at: datetime
    hours: float | None = None
    starts: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """All that is known of one machine's running: turns and counter readings, each in order of time."""

    turns: Sequence[records.Turn] = ()
    counters: Sequence[Counter] = ()


@dataclass(frozen=True, slots=True)
class Span:
    """Between two numbers; both the same where it is known."""

    low: float = 0.0
    high: float = 0.0

    def __add__(self, other: Span) -> Span:
        """Both together."""
        return Span(self.low + other.low, self.high + other.high)

    @property
    def sure(self) -> bool:
        """Whether it is known as well as anybody needs: to one part in fifty or an hour."""
        return math.isfinite(self.high) and self.high - self.low <= max(1.0, 0.02 * self.high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """Hours and starts in a stretch of time; `starts` is None where nothing tells of them."""

    hours: Span = field(default_factory=Span)
    starts: Span | None = None


def courses(facts: Iterable[records.Fact]) -> Mapping[str, Course]:
    """Every machine of which some facts tell whether it ran, or what its counter shows."""
    facts = list(facts)
    turns: dict[str, list[records.Turn]] = {}
    counters: dict[str, list[Counter]] = {}
    for turn in records.turns(facts):
        turns.setdefault(turn.pump, []).append(turn)
    for fact in facts:
        if fact.kind == "run-hours" and fact.details.get("of"):
            counters.setdefault(str(fact.details["of"]), []).append(_counter(fact))
    return {
        name: Course(
            turns=sorted(turns.get(name, ()), key=lambda one: one.at),
            counters=sorted(counters.get(name, ()), key=lambda one: one.at),
        )
        for name in {*turns, *counters}
    }


def _counter(fact: records.Fact) -> Counter:
    hours, starts = fact.details.get("hours"), fact.details.get("starts")
    return Counter(
        at=fact.measured,
        hours=float(hours) if isinstance(hours, int | float) else None,
        starts=int(starts) if isinstance(starts, int | float) else None,
    )


def between(course: Course, since: datetime, until: datetime) -> Ran:
    """How long it ran and how often it started between two times.

    Its counter decides where it was read; the turns fill the rest.

    Examples
    --------
    >>> noon = datetime(2026, 3, 14, 12, tzinfo=UTC)
    >>> turns = [records.Turn(at=noon, pump="P", running=True),
    ...     records.Turn(at=noon + timedelta(hours=3), pump="P", running=False)]
    >>> ran = between(Course(turns=turns), noon, noon + timedelta(hours=9))
    >>> ran.hours.low, ran.hours.high, ran.starts.high
    (3.0, 3.0, 1.0)
    """
    return Ran(hours=_hours(course, since, until), starts=_starts(course, since, until))


def _hours(course: Course, since: datetime, until: datetime) -> Span:
    read = [one for one in course.counters if one.hours is not None and since <= one.at <= until]
    if not read:
        return _logged(course.turns, since, until)
    total = _logged(course.turns, since, read[0].at) + _logged(course.turns, read[-1].at, until)
    for earlier, later in itertools.pairwise(read):
        gone = (later.hours or 0.0) - (earlier.hours or 0.0)
        # a counter that goes back was changed for another: then the turns tell
        total += Span(gone, gone) if gone >= 0 else _logged(course.turns, earlier.at, later.at)
    return total


def _logged(turns: Sequence[records.Turn], since: datetime, until: datetime) -> Span:
    """Hours by the turns alone; before the first one nothing is known."""
    if until <= since:
        return Span()
    states: list[tuple[datetime, bool | None]] = [(since, None)]
    for turn in turns:
        if turn.at <= since:
            states[0] = (since, turn.running)
        elif turn.at < until:
            states.append((turn.at, turn.running))
    ends = [*(at for at, _ in states[1:]), until]
    low = high = 0.0
    for (at, state), end in zip(states, ends, strict=True):
        hours = (end - at).total_seconds() / HOUR
        low += hours if state else 0.0
        high += hours if state is not False else 0.0
    return Span(low, high)


def _starts(course: Course, since: datetime, until: datetime) -> Span | None:
    read = [one for one in course.counters if one.starts is not None and since <= one.at <= until]
    if not read and not course.turns:
        return None
    if not read:
        unknown = course.turns[0].at > since + GAP
        return _begun(course.turns, since, until) + Span(0.0, math.inf if unknown else 0.0)
    total = _begun(course.turns, since, read[0].at) + _begun(course.turns, read[-1].at, until)
    for earlier, later in itertools.pairwise(read):
        gone = (later.starts or 0) - (earlier.starts or 0)
        total += Span(gone, gone) if gone >= 0 else _begun(course.turns, earlier.at, later.at)
    return total


def _begun(turns: Sequence[records.Turn], since: datetime, until: datetime) -> Span:
    """Starts by the turns alone: a turn to 'on' after one to 'off'."""
    count = 0
    running = False
    for turn in turns:
        if turn.running and not running and since <= turn.at <= until:
            count += 1
        running = turn.running
    return Span(count, count)


def total(course: Course, now: datetime) -> tuple[Ran, datetime | None]:
    """What it has run in all: by its counter and since, or since it was first written down, and from when."""
    read = [one for one in course.counters if one.hours is not None and one.at <= now]
    if read:
        last = read[-1]
        since = between(course, last.at, now)
        begun = None
        if last.starts is not None and since.starts is not None:
            begun = since.starts + Span(last.starts, last.starts)
        return Ran(hours=since.hours + Span(last.hours or 0.0, last.hours or 0.0), starts=begun), None
    if not course.turns:
        return Ran(), now
    return between(course, course.turns[0].at, now), course.turns[0].at


def running(course: Course) -> bool | None:
    """Whether it runs, as last written down."""
    return course.turns[-1].running if course.turns else None
