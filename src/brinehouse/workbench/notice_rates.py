"""How many notices a hall asks of whoever is on duty, against published figures: no clock, no logbook.

The figures are those of EEMUA 191, ISA-18.2 and IEC 62682 as secondary sources tell them (the standards are
paid and were not read); those marked so are from memory. One position is one person on duty: at night that is
whoever is on call.
"""

from __future__ import annotations

import bisect
import collections
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Literal

from brinehouse.workbench import notice_states as states

TEN = timedelta(minutes=10)
HOUR = timedelta(hours=1)
ENOUGH = timedelta(days=30)  # of data, before a rate says anything: secondary source
FLOOD, OVER = 10, 5  # a flood begins above ten in ten minutes and ends below five: from memory
MANY = 200  # notices, before the ten most frequent say anything: common practice, no source
Verdict = Literal["well", "much", "too much", "cannot tell"]
SECONDARY = "EEMUA 191, ISA-18.2, by secondary sources"
MEMORY = "from memory, after EEMUA 191"


@dataclass(frozen=True, slots=True, kw_only=True)
class Raised:
    """One time somebody was asked."""

    at: datetime
    notice: str
    what: str
    priority: states.Priority


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure of ours beside the published one."""

    name: str
    value: float
    unit: str
    well: float
    most: float
    source: str
    verdict: Verdict

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {"name": self.name, "value": self.value, "unit": self.unit, "well": self.well,
                "most": self.most, "source": self.source, "verdict": self.verdict}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Often:
    """One of those raised most often."""

    notice: str
    what: str
    count: int
    share: float
    chatters: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Flood:
    """A time in which more came than anybody can answer."""

    begin: datetime
    end: datetime
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """What a hall asks of whoever is on duty."""

    begin: datetime
    end: datetime
    count: int
    enough: bool
    figures: Sequence[Figure]
    often: Sequence[Often]
    floods: Sequence[Flood]
    split: Sequence[tuple[str, int, float]]

    @property
    def days(self) -> float:
        """How long the data are."""
        return (self.end - self.begin) / timedelta(days=1)


def reckon(
    raised: Iterable[Raised],
    begin: datetime,
    end: datetime,
    *,
    standing: int = 0,
    chattering: Iterable[str] = (),
) -> Rates:
    """The rates of some time.

    Parameters
    ----------
    raised : iterable of Raised
        Any order; those outside `begin` to `end` are left out.
    begin, end : datetime
        From when there are data, until when.
    standing : int
        Notices that stand for longer than a day.
    chattering : iterable of str
        Ids of notices that chatter.
    """
    within = sorted((one for one in raised if begin <= one.at <= end), key=lambda one: one.at)
    times = [one.at for one in within]
    span = max(end - begin, TEN)
    floods = flooded(times)
    lost = sum(((one.end - one.begin) for one in floods), timedelta())
    noisy = set(chattering)
    often = _often(within, noisy)
    enough = end - begin >= ENOUGH
    told = (
        ("mean_ten", len(times) / (span / TEN), "", 1.0, 2.0, SECONDARY),
        ("mean_hour", len(times) / (span / HOUR), "", 6.0, 12.0, SECONDARY),
        ("mean_day", len(times) / (span / timedelta(days=1)), "", 150.0, 300.0, SECONDARY),
        ("most_ten", float(busiest(times, TEN)), "", 10.0, 10.0, MEMORY),
        ("hours_over", 100.0 * _over(times, begin, span, HOUR, 30), "%", 1.0, 1.0, MEMORY),
        ("tens_over", 100.0 * _over(times, begin, span, TEN, FLOOD), "%", 1.0, 1.0, SECONDARY),
        ("flooded", 100.0 * (lost / span), "%", 1.0, 1.0, MEMORY),
        ("standing", float(standing), "", 5.0, 5.0, SECONDARY),
        ("top_ten", 100.0 * sum(one.share for one in often), "%", 5.0, 100.0, MEMORY),
        ("chattering", float(len(noisy)), "", 0.0, 0.0, SECONDARY),
    )
    figures = [
        Figure(
            name=name, value=value, unit=unit, well=well, most=most, source=source,
            verdict=_verdict(
                name, value, well, most, enough=enough and (name != "top_ten" or len(times) >= MANY)
            ),
        )
        for name, value, unit, well, most, source in told
    ]  # fmt: skip
    return Rates(
        begin=begin, end=end, count=len(times), enough=enough, figures=figures, often=often, floods=floods,
        split=_split(within),
    )  # fmt: skip


_ONCE = ("standing", "chattering")  # what can be told from one look


def _verdict(name: str, value: float, well: float, most: float, *, enough: bool) -> Verdict:
    if not enough and name not in _ONCE:
        return "cannot tell"
    return "well" if value <= well else "much" if value <= most else "too much"


def _often(within: Sequence[Raised], noisy: set[str]) -> list[Often]:
    counts = collections.Counter(one.notice for one in within)
    names = {one.notice: one.what for one in within}
    return [
        Often(notice=id, what=names[id], count=n, share=n / len(within), chatters=id in noisy)
        for id, n in counts.most_common(10)
    ]


def _split(within: Sequence[Raised]) -> list[tuple[str, int, float]]:
    counts = collections.Counter(one.priority for one in within)
    return [(name, counts[name], counts[name] / len(within) if within else 0.0) for name in states.PRIORITIES]


def busiest(times: Sequence[datetime], width: timedelta) -> int:
    """The most that came within any stretch of a width; `times` in order."""
    return max((bisect.bisect_left(times, begin + width) - at for at, begin in enumerate(times)), default=0)


def _over(times: Sequence[datetime], begin: datetime, span: timedelta, width: timedelta, many: int) -> float:
    """The share of all stretches, laid end to end, in which more than so many came."""
    counts = collections.Counter(int((at - begin) / width) for at in times)
    return sum(1 for n in counts.values() if n > many) / max(1, math.ceil(span / width))


def flooded(times: Sequence[datetime]) -> list[Flood]:
    """Every flood: from more than ten in ten minutes until fewer than five came in ten.

    >>> from datetime import UTC
    >>> begin = datetime(2026, 3, 14, tzinfo=UTC)
    >>> [one.count for one in flooded([begin + timedelta(seconds=20 * at) for at in range(12)])]
    [12]
    """
    found: list[Flood] = []
    at = 0
    while at < len(times):
        inside = bisect.bisect_left(times, times[at] + TEN) - at
        if inside <= FLOOD:
            at += 1
            continue
        begin, last = at, at + inside - 1
        while True:  # it lasts while, from some moment of it on, five or more come within ten minutes
            window = bisect.bisect_left(times, times[last] + TEN)
            if window - last < OVER or window - 1 == last:
                break
            last = window - 1
        found.append(Flood(begin=times[begin], end=times[last] + TEN, count=last - begin + 1))
        at = last + 1
    return found
