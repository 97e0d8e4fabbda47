"""Stretches of time: when people are there, when a pump is kept free, when a turn may be taken."""

from __future__ import annotations

import bisect
import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from brinehouse.engines.turns import question
from brinehouse.facility import details, model

Span = tuple[datetime, datetime]


@dataclass(frozen=True, slots=True)
class Spans:
    """Stretches of time in order, none touching the next; the end of one is no longer within."""

    all: tuple[Span, ...] = ()

    def holds(self, at: datetime) -> bool:
        """Whether a moment lies within."""
        return self._after(at) is not None and self._first(at)[0] <= at

    def _after(self, at: datetime) -> int | None:
        """The first stretch that ends after a moment."""
        place = bisect.bisect_right(self.all, at, key=lambda span: span[1])
        return place if place < len(self.all) else None

    def _first(self, at: datetime) -> Span:
        place = self._after(at)
        assert place is not None
        return self.all[place]

    def next(self, at: datetime) -> datetime | None:
        """The first moment within, from one on."""
        return None if self._after(at) is None else max(at, self._first(at)[0])

    def last(self, at: datetime) -> datetime | None:
        """The last moment within, up to one; to the minute where a stretch has ended before."""
        place = bisect.bisect_right(self.all, at, key=lambda span: span[0]) - 1
        if place < 0:
            return None
        begin, end = self.all[place]
        return max(begin, min(at, end - timedelta(minutes=1)))

    def meet(self, begin: datetime, end: datetime) -> bool:
        """Whether any of it lies between two moments."""
        place = self._after(begin)
        return place is not None and self.all[place][0] < end

    def edge(self, at: datetime) -> datetime | None:
        """The next begin or end after a moment."""
        place = self._after(at)
        if place is None:
            return None
        begin, end = self.all[place]
        return begin if begin > at else end

    def without(self, other: Spans) -> Spans:
        """What is in this and not in another."""
        left: list[Span] = []
        for begin, end in self.all:
            at = begin
            first = bisect.bisect_right(other.all, begin, key=lambda span: span[1])
            for out, back in itertools.islice(other.all, first, None):
                if out >= end:
                    break
                if out > at:
                    left.append((at, out))
                at = max(at, back)
            if at < end:
                left.append((at, end))
        return Spans(tuple(left))


def joined(spans: Iterable[Span]) -> Spans:
    """Stretches in order, those that touch made one.

    >>> from datetime import UTC
    >>> noon = datetime(2026, 3, 14, 12, tzinfo=UTC)
    >>> one, two, three = (noon + hour * question.HOUR for hour in (1, 2, 3))
    >>> len(joined([(two, three), (noon, two)]).all), joined([(noon, one)]).holds(one)
    (1, False)
    """
    made: list[Span] = []
    for begin, end in sorted(spans):
        if made and begin <= made[-1][1]:
            made[-1] = (made[-1][0], max(made[-1][1], end))
        elif begin < end:
            made.append((begin, end))
    return Spans(tuple(made))


@dataclass(frozen=True, slots=True)
class House:
    """A hall's hours between two moments: its people, its windows, in its own zone."""

    facility: model.Facility
    begin: datetime
    end: datetime

    def staffed(self) -> Spans:
        """When people are there; always, where the file names no shifts."""
        shifts = self.facility.shifts.values()
        if not shifts:
            return Spans(((self.begin, self.end),))
        return joined(
            span
            for shift in shifts
            for day in self._days()
            if not shift.days or day.weekday() in shift.days
            for span in [self._span(day, (shift.begins, shift.ends))]
        )

    def kept_free(self, name: str) -> Spans:
        """When a pump, or the turns of a group, is kept free."""
        return joined(
            span
            for window in self.facility.windows
            if name in window.of
            for day in self._days()
            if _falls(window, day)
            for span in [self._span(day, window.hours or (0, 0))]
        )

    def _days(self) -> Iterator[date]:
        zone = ZoneInfo(self.facility.timezone)
        day = self.begin.astimezone(zone).date() - question.DAY
        last = self.end.astimezone(zone).date()
        while day <= last:
            yield day
            day += question.DAY

    def _span(self, day: date, minutes: tuple[int, int]) -> Span:
        """From one time of the day to the next such of another, which may be tomorrow's."""
        begin, end = minutes
        return self._at(day, begin), self._at(day + question.DAY if end <= begin else day, end)

    def _at(self, day: date, minutes: int) -> datetime:
        zone = ZoneInfo(self.facility.timezone)
        clock = time(minutes // 60, minutes % 60)
        return datetime.combine(day, clock, zone).astimezone(self.begin.tzinfo)


def _falls(window: details.Window, day: date) -> bool:
    told = day.isoformat()
    return (
        (not window.days or day.weekday() in window.days)
        and (not window.since or window.since <= told)
        and (not window.until or told <= window.until)
    )


def earliest(moments: Sequence[datetime | None]) -> datetime | None:
    """The first of some moments, where there is one."""
    return min((one for one in moments if one is not None), default=None)
