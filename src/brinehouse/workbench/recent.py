"""The readings of the last fortnight, by place and quantity, held in memory and followed entry by entry.

A page asks after every save; reading a fortnight anew each time takes seconds in a log of a million readings.
What was written down since the last look is put in its place; a correction or a withdrawal takes out what it
names, and where that is not plain (an import taken back) all of it is read anew.
"""

from __future__ import annotations

import bisect
import operator
import threading
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from brinehouse import records
from brinehouse.workbench import clock, hall

LOOK_BACK = timedelta(days=14)
KINDS = ("notice", "on-call", "hand-over")
"""Facts of which every one is held: few, and asked for by each page."""
SLACK = timedelta(days=1)  # how much older than that the oldest may get before all is read anew
Key = tuple[str, str]
_measured = operator.attrgetter("measured")


class Recent:
    """One hall's readings of the last fortnight."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._series: dict[Key, list[records.Reading]] = {}
        self._facts: dict[str, list[records.Fact]] = {}
        self._where: dict[str, Key] = {}
        self._head: tuple[int, str] | None = None
        self._begin: datetime | None = None

    def look(self, place: hall.Hall) -> Mapping[Key, Sequence[records.Reading]]:
        """Readings with a value by place and quantity, in order of time, as the logbook stands."""
        with self._lock:
            self._follow_on(place)
            return dict(self._series)

    def facts(self, place: hall.Hall, kind: str) -> Sequence[records.Fact]:
        """Every fact of a kind (one of `KINDS`) that stands, in the order in which they were written."""
        with self._lock:
            self._follow_on(place)
            return tuple(self._facts.get(kind, ()))

    def _follow_on(self, place: hall.Hall) -> None:
        now = clock.now()
        seq, digest = place.book.head()
        if self._head is None or self._begin is None or not self._fits(now):
            self._anew(place, now)
        elif (seq, digest) != self._head:
            added = place.book.after(self._head)
            if added is None or not self._follow(added):
                self._anew(place, now)
        self._head = (seq, digest)

    def _fits(self, now: datetime) -> bool:
        """Whether what is held begins where it should; a clock that was put back reads anew."""
        wanted = now - LOOK_BACK
        return self._begin is not None and self._begin <= wanted <= self._begin + SLACK

    def _anew(self, place: hall.Hall, now: datetime) -> None:
        self._begin = now - LOOK_BACK
        self._series, self._facts, self._where = {}, {}, {}
        for reading in place.history(since=self._begin):
            self._add(reading)
        for fact in sorted(place.facts(kinds=KINDS), key=lambda one: one.entered):
            self._keep(fact)

    def _keep(self, fact: records.Fact) -> None:
        if fact.id not in self._where:
            self._where[fact.id] = ("", fact.kind)
            self._facts.setdefault(fact.kind, []).append(fact)

    def _add(self, reading: records.Reading) -> None:
        if reading.value is None or self._begin is None or reading.measured < self._begin:
            return
        if reading.id in self._where:  # it came in between two looks
            return
        key = (reading.place, reading.quantity)
        self._where[reading.id] = key
        series = self._series.setdefault(key, [])
        if not series or series[-1].measured <= reading.measured:
            series.append(reading)
        else:
            bisect.insort(series, reading, key=_measured)

    def _follow(self, added: Sequence[records.Reading | records.Fact]) -> bool:
        """Take in what was written down since; False where all has to be read anew."""
        touched = {(one.place, one.quantity) for one in added if isinstance(one, records.Reading)}
        for key in touched & self._series.keys():
            self._series[key] = list(self._series[key])  # whoever looked before keeps what was seen
        for one in added:
            if one.supersedes:
                self._drop(one.supersedes)
            if isinstance(one, records.Reading):
                self._add(one)
            elif one.kind in KINDS:
                self._keep(one)
            elif one.kind == "withdrawal" and not self._drop(str(one.details.get("target", ""))):
                return False
        return True

    def _drop(self, id: str) -> bool:
        key = self._where.pop(id, None)
        if key is None:
            return False
        if key[1] in self._facts and not key[0]:
            self._facts[key[1]] = [fact for fact in self._facts[key[1]] if fact.id != id]
            return True
        self._series[key] = [reading for reading in self._series[key] if reading.id != id]
        return True


_kept: dict[str, Recent] = {}
_lock = threading.Lock()


def _of(place: hall.Hall) -> Recent:
    with _lock:
        return _kept.setdefault(str(place.folder.resolve()), Recent())


def readings(place: hall.Hall) -> Mapping[Key, Sequence[records.Reading]]:
    """Readings of the last fortnight by place and quantity, in order of time; none without a logbook."""
    return _of(place).look(place) if hall.Hall.has_book(place.folder) else {}


def facts(place: hall.Hall, kind: str) -> Sequence[records.Fact]:
    """Every fact of one of `KINDS` that stands, in the order in which they were written."""
    return _of(place).facts(place, kind) if hall.Hall.has_book(place.folder) else ()


def newest_of(place: hall.Hall, quantity: str) -> datetime | None:
    """When a quantity was last read anywhere: from what is held, else place by place; never a whole scan."""
    held = [rows[-1].measured for (_, word), rows in readings(place).items() if word == quantity and rows]
    if held or not hall.Hall.has_book(place.folder):
        return max(held, default=None)
    facility = place.facility
    found = [
        hall.newest(place.history(places=[name], quantities=[quantity], newest_first=True, limit=1))
        for name in (*facility.vessels, *facility.runs, *facility.equipment, *facility.pumps)
    ]
    return max((one for one in found if one is not None), default=None)
