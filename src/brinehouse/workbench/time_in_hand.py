"""Time in hand of a hall: its file, what the logbook knows of the water, every failure, and how sure it is.

The table is there at once; intervals are worked out behind the reader's back, one piece after the other, and
kept as long as neither file nor readings change.
"""

from __future__ import annotations

import collections
import dataclasses
import threading
import zoneinfo
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from brinehouse import answers
from brinehouse.engines.balance import acting, around, flowing
from brinehouse.engines.time_in_hand import answering, failures, question, sampling, telling
from brinehouse.facility import model
from brinehouse.network import flows as flows_of
from brinehouse.science import seawater
from brinehouse.workbench import balance_inputs, clock, hall, known_water, swept, time_told

KEPT = 6  # questions whose courses are kept
PIECE = 10  # samples worked between two looks at whether to go on
GROUP = 30  # failures whose intervals are told together
MASS = 0.1  # standard uncertainty of the animals' mass: common practice, no source
QUANTITIES: Mapping[str, str] = {
    "temperature": "temperature", "salinity": "salinity", "oxygen": "oxygen",
    "oxygen saturation": "oxygen_percent", "total gas pressure": "tgp", "delta p": "delta_p", "pH": "ph",
    "alkalinity": "alkalinity", "ammonia": "tan", "nitrite": "nitrite", "nitrate": "nitrate",
}  # fmt: skip
"""Glossary word to the quantity of courses."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A table with its sentence, the newest reading used, and how many were.

    ``share`` tells how much of the intervals is worked out.
    """

    table: question.Table
    sentence: str
    as_of: datetime | None
    used: int
    share: float = 0.0

    @property
    def answer(self) -> answers.Answer:
        """The same as an answer any face can show."""
        return dataclasses.replace(telling.answer(self.table), as_of=self.as_of)


@dataclass(slots=True)
class _Kept:
    """One question with its courses, and what is known of its intervals."""

    work: answering.Work
    as_of: datetime | None
    table: question.Table
    ids: tuple[str, ...] = ()
    done: int = 0
    thread: threading.Thread | None = None
    fault: Exception | None = None
    stop: threading.Event = dataclasses.field(default_factory=threading.Event)
    pairing: threading.Lock = dataclasses.field(default_factory=threading.Lock)
    sweeps: tuple[Any, ...] = ()


_kept: collections.OrderedDict[tuple[Any, ...], _Kept] = collections.OrderedDict()
_lock = threading.RLock()
_turn = threading.Lock()  # one set of intervals at a time


def survey(
    place: hall.Hall, wanted: time_told.Wanted | None = None, *, ahead: bool = True, wait: bool = False
) -> Found:
    """Every failure of a hall and how long it leaves.

    Parameters
    ----------
    place : Hall
    wanted : Wanted, optional
        From where, single or in pairs, and the hours below which sets are told.
    ahead : bool
        Whether intervals are begun behind the reader's back.
    wait : bool
        Whether to wait until they are there.
    """
    wanted = wanted or time_told.Wanted()
    kept = _of(place, wanted)
    if wanted.pairs:
        _pair(kept)
    _take(place, kept)
    if ahead or wait:
        _begin(kept)
    if wait and kept.thread is not None:
        kept.thread.join()
    if kept.fault is not None:
        fault, kept.fault = kept.fault, None
        raise fault
    table = kept.table
    if wanted.within != table.asked.less_than:
        table = kept.work.within(table, wanted.within)
    if ahead and table.intervals == "none" and kept.ids:
        table = dataclasses.replace(table, intervals="computing")
    used = sum(len(one) for one in table.asked.known.values())
    return Found(
        table=table, sentence=telling.sentence(table), as_of=kept.as_of, used=used,
        share=1.0 if table.intervals == "ready" else kept.done / sampling.MANY,
    )  # fmt: skip


def courses(place: hall.Hall, row: str, wanted: time_told.Wanted | None = None) -> Sequence[time_told.Course]:
    """The courses that matter after one failure or two."""
    kept = _of(place, wanted or time_told.Wanted())
    return [
        time_told.Course(
            place=one.place, quantity=one.quantity, unit=one.unit, hours=one.hours, values=one.values,
            lines=one.lines,
        )
        for one in kept.work.curves(row)
    ]  # fmt: skip


def least(place: hall.Hall) -> dict[tuple[str, str], tuple[float, str]]:
    """The least hours a failure leaves, and its title, by place and quantity, where it is known already.

    Nothing is worked out here: a page that must be quick asks this. ``(place, "")`` holds the least of all
    quantities there.
    """
    folder, digest = str(place.folder.resolve()), place.facility.digest
    with _lock:
        tables = [one.table for key, one in _kept.items() if (key[0], key[2]) == (folder, digest)]
    words = {name: word for word, name in QUANTITIES.items()}
    found: dict[tuple[str, str], tuple[float, str]] = {}
    for row in tables[-1].rows if tables else ():
        for one in row.crossings if row.noticed else ():
            if one.anyway or not np.isfinite(one.hours):
                continue
            for key in ((one.place, words.get(one.quantity, one.quantity)), (one.place, "")):
                if key not in found or one.hours < found[key][0]:
                    found[key] = (float(one.hours), row.title)
    return found


def close(patience: float | None = None) -> None:
    """Let the work on intervals end after the piece it is at, and forget what is kept.

    `patience` is how long [s] a piece is waited for; None is as long as it takes.
    """
    with _lock:
        for one in _kept.values():
            one.stop.set()
        threads = [one.thread for one in _kept.values() if one.thread is not None]
        _kept.clear()
    for thread in threads:
        thread.join(patience)


# -- what is asked ---------------------------------------------------------------------------------------


def asked(place: hall.Hall, wanted: time_told.Wanted | None = None) -> tuple[question.Asked, datetime | None]:
    """What the engine is asked for a hall, and the newest reading it rests on."""
    wanted = wanted or time_told.Wanted()
    facility, inputs = place.facility, balance_inputs.look(place, located=False)
    told: around.Around = balance_inputs.conditions(facility, inputs)
    found = flows_of.stated(facility)
    closed = flowing.closed(facility, found.flows, found.u)
    return (
        question.Asked(
            facility=facility,
            flows=closed.flows,
            conditions=acting.conditions(facility, told, closed.flows),
            failures=failures.catalogue(facility),
            known=known(inputs),
            pairs=wanted.pairs,
            begin=wanted.begin,
            clock=hour(facility),
            notice=hours(facility.detection, question.NOTICE),
            travel=hours(facility.travel, question.TRAVEL),
            less_than=wanted.within,
            doubts=doubts(told),
        ),
        inputs.as_of,
    )


def hours(seconds: float | None, usual: float) -> float:
    """A time of the facility file in hours; the usual one where it is not stated.

    >>> hours(1800.0, 1.0), hours(None, 1.0)
    (0.5, 1.0)
    """
    return usual if seconds is None else seconds / 3600.0


def known(inputs: balance_inputs.Inputs) -> dict[str, dict[str, float]]:
    """The newest readings that were taken together, as courses count them."""
    out: dict[str, dict[str, float]] = {}
    for place, read in inputs.known.items():
        for word, one in read.items():
            quantity = QUANTITIES.get(word)
            if quantity is None or inputs.as_of is None or inputs.as_of - one.at > known_water.FRESH:
                continue
            value = one.value
            if quantity == "alkalinity":
                warm = read["temperature"].value if "temperature" in read else 20.0
                salt = read["salinity"].value if "salinity" in read else 34.0
                value *= 1e6 / float(seawater.density(warm, salt))
            out.setdefault(place, {})[quantity] = value
    return out


def hour(facility: model.Facility) -> float:
    """The hour of the day at the hall, whole: an answer holds for the hour."""
    try:
        zone = zoneinfo.ZoneInfo(facility.timezone)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError):
        return float(clock.now().hour)
    return float(clock.now().astimezone(zone).hour)


def doubts(told: around.Around) -> dict[str, question.Doubt]:
    """How sure biomass and exchange are, from what the balance assumes of them."""
    activity, velocity = told.knobs["activity"], told.knobs["velocity"]
    return {
        "biomass": question.Doubt(
            name="biomass", label=sampling.DOUBTS["biomass"].label,
            u=float(np.hypot(activity.u / activity.value, MASS)), source=activity.source,
        ),
        "exchange": question.Doubt(
            name="exchange", label=sampling.DOUBTS["exchange"].label, u=velocity.u / velocity.value,
            source=velocity.source,
        ),
        "volume": sampling.DOUBTS["volume"],
    }  # fmt: skip


# -- kept, and intervals ---------------------------------------------------------------------------------


def stamp(place: hall.Hall, wanted: time_told.Wanted) -> tuple[Any, ...]:
    """What an answer rests on: plant, readings, hour, and what is asked."""
    head = tuple(place.book.head()) if hall.Hall.has_book(place.folder) else ()
    when = hour(place.facility) if wanted.begin == "now" else -1.0
    return (str(place.folder.resolve()), head, place.facility.digest, clock.now().date(), when,
            wanted.begin)  # fmt: skip


def _of(place: hall.Hall, wanted: time_told.Wanted) -> _Kept:
    key = stamp(place, wanted)
    with _lock:
        if key in _kept:
            _kept.move_to_end(key)
            return _kept[key]
        what, as_of = asked(place, wanted)
        work = answering.Work(dataclasses.replace(what, pairs=False))
        table = work.table()
        made = _Kept(work=work, as_of=as_of, table=table, ids=work.shortest(table))
        _kept[key] = made
        while len(_kept) > KEPT:
            _, old = _kept.popitem(last=False)
            old.stop.set()
        return made


def _pair(kept: _Kept) -> None:
    """Work out the pairs of a question, once."""
    with kept.pairing:
        if not kept.table.asked.pairs:
            made = kept.work.with_pairs(kept.table)
            with _lock:
                kept.table = made


def _take(place: hall.Hall, kept: _Kept) -> None:
    """The intervals of a sweep of this very question, where one has come to its end since the last look."""
    mark = swept.mark(place.folder)
    if mark == kept.sweeps:
        return
    kept.sweeps = mark
    found = swept.finished(place.folder, kept.work.asked)
    if found is None:
        return
    rows = {row.id for row in (*kept.table.rows, *kept.table.pairs)}
    here = [at for at, one in enumerate(found[0]) if one in rows]
    ids = [found[0][at] for at in here]
    kept.stop.set()
    with _lock:
        kept.table = kept.work.with_intervals(kept.table, ids, found[1][:, here])


def _begin(kept: _Kept) -> None:
    """Begin the intervals of a question, once."""
    with _lock:
        if kept.thread is not None or kept.table.intervals == "ready" or not kept.ids:
            return
        kept.thread = threading.Thread(target=_work, args=(kept,), daemon=True, name="time in hand")
        kept.thread.start()


def _work(kept: _Kept) -> None:
    """Pairs, then intervals: the shortest failures first, then the rest of those that cross a limit."""
    try:
        with _turn:
            _pair(kept)
            rest = [row.id for row in kept.table.rows if row.noticed and row.first and row.id not in kept.ids]
            groups = [kept.ids, *(rest[at : at + GROUP] for at in range(0, len(rest), GROUP))]
            for at, ids in enumerate(groups):
                found = _sampled(kept, ids)
                with _lock:
                    if found is None or kept.stop.is_set():  # no longer wanted, or a sweep came first
                        return
                    last = at == len(groups) - 1
                    kept.table = kept.work.with_intervals(kept.table, ids, found, whole=last)
    except Exception as met:  # noqa: BLE001 - it is told to the reader who asks next
        kept.fault = met


def _sampled(kept: _Kept, ids: Sequence[str]) -> Any:
    """Samples of some rows, piece by piece; None where they are no longer wanted."""
    pieces: list[Any] = []
    for begin in range(0, sampling.MANY, PIECE):
        if kept.stop.is_set():
            return None
        end = min(begin + PIECE, sampling.MANY)
        pieces.append(kept.work.samples(ids, begin, end))
        kept.done = max(kept.done, end)
    return np.concatenate(pieces)
