"""When a limit asks somebody for something, and how that stands: no clock, no logbook.

A notice is raised by readings: a limit must be crossed (after its delay, where a sensor reads), and it counts
as kept again once a reading lies inside by the dead band. "Act" on one meter first asks for a second reading,
unless the time to respond is too short for that. What people did with it (seen, shelved, out of service)
comes as acts, each with its time and its person.
"""

from __future__ import annotations

import bisect
import itertools
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from brinehouse import answers
from brinehouse.facility import model

Level = Literal["watch", "act"]
State = Literal["new", "seen", "gone unseen", "shelved", "out of service", "normal"]
Priority = Literal["at once", "this shift", "this day"]
PRIORITIES: tuple[Priority, ...] = ("at once", "this shift", "this day")
"""Heaviest first: never more than three (EEMUA 191 and ISA-18.2 as told by secondary sources)."""

SHELVED_AT_MOST = timedelta(hours=12)  # common practice, no source: one shift
NEAR = timedelta(hours=1)  # common practice, no source: less than this, and nobody waits for a second reading
STALE = timedelta(hours=24)  # standing longer than this counts as stale: EEMUA 191, secondary source
CHATTER = 3  # raised so often within a minute: from memory, after EEMUA 191
MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One reading in the unit of its quantity, with its standard uncertainty; ``hand``: a person read it."""

    at: datetime
    value: float
    u: float = 0.0
    meter: str = ""
    hand: bool = True
    id: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """What a limit asks for."""

    watch: model.Band | None = None
    act: model.Band | None = None
    dead_band: float = 0.0
    delay: timedelta = timedelta()
    second: bool = True
    near: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Episode:
    """One time that a limit was crossed, from the first reading outside until it was kept again.

    Attributes
    ----------
    since : datetime
        The first reading of the run that lay outside.
    raised : datetime
        When somebody was first asked; each later step to a heavier level asks anew.
    level : str
        The heaviest it came to.
    steps : tuple
        When it came to each level.
    left : datetime or None
        When it was kept again; None while it stands.
    sure : bool
        False where only the interval of the readings reaches over the limit.
    second : bool
        Whether a second reading is asked for before "act".
    sample : Sample
        The newest outside.
    """

    since: datetime
    raised: datetime
    level: Level
    steps: tuple[tuple[datetime, Level], ...]
    sample: Sample
    left: datetime | None = None
    sure: bool = True
    second: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """What somebody did with a notice: saw it, shelved it, took it out of service, or ended either."""

    what: str
    at: datetime
    until: datetime | None = None
    person: int | None = None
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How a notice stands, and the act that made it so."""

    state: State
    act: Act | None = None


# -- readings ---------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Run:
    """What is known while a limit is crossed."""

    since: datetime
    sample: Sample
    level: Level | None = None
    steps: tuple[tuple[datetime, Level], ...] = ()
    sure: bool = False
    crossed: datetime | None = None
    acting: tuple[Sample, ...] = ()
    second: bool = False


def episodes(samples: Iterable[Sample], rule: Rule) -> list[Episode]:
    """Every time a limit was crossed, oldest first; the last may still stand.

    Parameters
    ----------
    samples : iterable of Sample
        One quantity at one place, in order of time.
    rule : Rule
    """
    found: list[Episode] = []
    run: _Run | None = None
    for sample in samples:
        touched = touches(sample, rule)
        if touched == "" and (run is None or kept_again(sample, rule)):
            if run is not None and run.level is not None:
                found.append(_ended(run, sample.at))
            run = None
            continue
        run = run or _Run(since=sample.at, sample=sample)
        if touched != "":
            run.sample = sample
            _step(run, sample, touched, rule)
    if run is not None and run.level is not None:
        found.append(_ended(run, None))
    return found


def touches(sample: Sample, rule: Rule) -> Literal["", "may", "watch", "act"]:
    """The heaviest band a reading lies outside of; ``may`` where only its interval reaches over."""
    if rule.act is not None and not rule.act.holds(sample.value):
        return "act"
    if rule.watch is not None and not rule.watch.holds(sample.value):
        return "watch"
    half = answers.COVERAGE * sample.u
    for band in (rule.watch, rule.act):
        if band is not None and not (band.holds(sample.value - half) and band.holds(sample.value + half)):
            return "may"
    return ""


def kept_again(sample: Sample, rule: Rule) -> bool:
    """Whether a reading lies inside by the dead band."""
    bands = [band for band in (rule.watch, rule.act) if band is not None]
    return all(
        band.holds(sample.value - rule.dead_band) and band.holds(sample.value + rule.dead_band)
        for band in bands
    )


def _step(run: _Run, sample: Sample, touched: str, rule: Rule) -> None:
    """What one more reading outside makes of a run."""
    if touched == "may":
        if run.level is None and _due(run.since, sample, rule):
            _rise(run, sample.at, "watch")
        run.second = run.second or not run.sure
        return
    run.crossed = run.crossed or sample.at
    if not _due(run.crossed, sample, rule):
        return
    run.sure = True
    if touched == "act":
        run.acting = (*run.acting, sample)
        wait = rule.second and not rule.near and len(run.acting) < 2
        run.second = wait
        _rise(run, sample.at, "watch" if wait else "act")
        return
    run.second = False
    _rise(run, sample.at, "watch")


def _due(since: datetime, sample: Sample, rule: Rule) -> bool:
    """Whether the delay is over; who reads by hand stands before it, and does not wait."""
    return sample.hand or sample.at - since >= rule.delay


def _rise(run: _Run, at: datetime, level: Level) -> None:
    if run.level is None or (run.level == "watch" and level == "act"):
        run.level = level
        run.steps = (*run.steps, (at, level))


def _ended(run: _Run, left: datetime | None) -> Episode:
    return Episode(
        since=run.since, raised=run.steps[0][0], level=run.level or "watch", steps=run.steps,
        sample=run.sample, left=left, sure=run.sure, second=run.second and left is None,
    )  # fmt: skip


# -- people -----------------------------------------------------------------------------------------------


def standing(asked: datetime | None, left: datetime | None, acts: Sequence[Act], now: datetime) -> Standing:
    """How a notice stands.

    Parameters
    ----------
    asked : datetime or None
        When somebody was last asked anew; None where nobody was.
    left : datetime or None
        When it was kept again; None while it stands.
    acts : sequence of Act
        In order of time.
    now : datetime
    """
    service = next((act for act in reversed(acts) if act.what in ("out of service", "in service")), None)
    if service is not None and service.what == "out of service":
        return Standing(state="out of service", act=service)
    shelf = next((act for act in reversed(acts) if act.what in ("shelved", "unshelved")), None)
    if shelf is not None and shelf.what == "shelved" and shelf.until is not None and shelf.until > now:
        return Standing(state="shelved", act=shelf)
    if asked is None:
        return Standing(state="normal")
    seen = next((act for act in reversed(acts) if act.what == "seen" and act.at >= asked), None)
    if left is None:
        return Standing(state="seen" if seen else "new", act=seen)
    return Standing(state="normal" if seen else "gone unseen", act=seen)


def shelf(until: datetime, now: datetime) -> datetime | None:
    """The end of a shelf, or None where it would be no end: past, or further off than one shift."""
    return until if now < until <= now + SHELVED_AT_MOST + MINUTE else None


_HARM = {"animals die": 0, "animals suffer": 1, "more work": 2}


def priority(harm: str, hours: float | None, level: Level) -> Priority:
    """What matters most, from consequence and time.

    The steps (half an hour, four hours) and the sums are common practice, no source; that both go in,
    and that there are three at most, is ISA-18.2 (secondary sources).

    >>> priority("animals die", 0.5, "act"), priority("more work", 12.0, "watch")
    ('at once', 'this day')
    """
    time = 1 if hours is None else 0 if hours <= 0.5 else 1 if hours <= 4.0 else 2
    weight = _HARM.get(harm, 1) + time + (level == "watch")
    return PRIORITIES[0 if weight <= 1 else 1 if weight <= 3 else 2]


# -- readings that come and go ---------------------------------------------------------------------------


def chatters(raised: Sequence[datetime], step: timedelta) -> bool:
    """Whether something was raised three times within a minute, or within as many readings' time.

    A place that is read every ten minutes cannot chatter within one: there the minute is three readings.
    """
    width = max(MINUTE, CHATTER * step)
    times = sorted(raised)
    return any(times[at + CHATTER - 1] - times[at] <= width for at in range(len(times) - CHATTER + 1))


def usual_step(times: Sequence[datetime]) -> timedelta:
    """The usual time between two readings."""
    gaps = [(after - before).total_seconds() for before, after in itertools.pairwise(times)]
    return timedelta(seconds=statistics.median(gaps)) if gaps else timedelta()


def within(times: Sequence[datetime], begin: datetime, end: datetime) -> int:
    """How many of some sorted times lie from `begin` up to, not at, `end`."""
    return bisect.bisect_left(times, end) - bisect.bisect_left(times, begin)


def in_quiet(minute: int, hours: tuple[int, int] | None) -> bool:
    """Whether a minute of the day lies in quiet hours, which may lie across midnight.

    >>> in_quiet(60, (1320, 390)), in_quiet(720, (1320, 390))
    (True, False)
    """
    if hours is None:
        return False
    begin, end = hours
    return begin <= minute < end if begin < end else minute >= begin or minute < end
