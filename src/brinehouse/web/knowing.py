"""What the pages know of the gas without waiting: the last investigation, renewed behind the reader's back.

The first look waits for the engines. After that a page shows what is known at once; where the logbook has
grown since, it says that newer entries are being worked in, and the next look has them. What took long to
work out is not worked out anew with every entry: ten times as long is left to the pages and the phones.
"""

from __future__ import annotations

import contextlib
import importlib
import math
import sys
import threading
import time
from concurrent import futures
from dataclasses import dataclass

from brinehouse.web import behind, plant_drawing
from brinehouse.workbench import (
    balance,
    clock,
    concerns,
    flows,
    gas_sources,
    hall,
    investigation,
    mishaps,
    now,
    plant,
)

_HOURS = "brinehouse.workbench.time_in_hand"  # loaded by whoever asks first
PATIENCE = 4.0
"""How long [s] a page that has more to tell waits for the very first investigation of a logbook."""
SHORT = 2.0
"""What took no longer [s] is worked out anew as soon as there is more to know."""
RESTS, LONGEST = 10.0, 900.0
"""For how many times as long as it took nothing is worked out anew, and for how long [s] at most."""
HOURS_AHEAD = True
"""Whether time in hand, and how sure it is, is worked out before and behind the reader."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """An investigation, and whether a newer one is on its way."""

    found: investigation.Investigation
    renewing: bool


class Knowing:
    """One investigation per application, made by one worker at a time."""

    def __init__(self) -> None:
        self._worker = behind.Worker("investigation")
        self._lock = threading.Lock()
        self._closing = threading.Event()
        self._running: tuple[tuple[object, ...], futures.Future[investigation.Investigation]] | None = None
        self._now: tuple[tuple[object, ...], now.Now] | None = None
        self._last: tuple[tuple[object, ...], investigation.Investigation] | None = None
        self._rests_until = -math.inf

    def warm(self, place: hall.Hall) -> None:
        """Begin an investigation, so that the first reader waits less."""
        stamp = _stamp(place)
        with self._lock:
            if self._running is None:
                self._running = (stamp, self._worker.submit(self._renew, place, stamp))

    def soon(self, place: hall.Hall) -> Known | None:
        """The newest investigation that is ready; None where even the first takes longer than one waits."""
        if not hall.Hall.has_book(place.folder):
            return None
        with contextlib.suppress(futures.TimeoutError):
            return self.gas(place, PATIENCE)
        return None

    def gas(self, place: hall.Hall, patience: float | None = None, *, rests: bool = True) -> Known:
        """The newest investigation that is ready; waits only where there is none at all.

        With `rests` false a newer one is begun whatever the last one took.
        """
        stamp = _stamp(place)
        with self._lock:
            last = self._last
            if last is not None and last[0] == stamp:
                return Known(found=last[1], renewing=False)
            self._tell(stamp)
            if self._running is None and last is not None and rests and self._is_resting(last[0], stamp):
                return Known(found=last[1], renewing=True)
            if self._running is None:
                self._running = (stamp, self._worker.submit(self._renew, place, stamp))
            work = self._running[1]
        if last is None:
            return Known(found=work.result(timeout=patience), renewing=False)
        return Known(found=last[1], renewing=True)

    def _is_resting(self, last: tuple[object, ...], stamp: tuple[object, ...]) -> bool:
        """Whether entries may wait; another facility file or day does not."""
        return last[1:] == stamp[1:] and time.monotonic() < self._rests_until

    def _took(self, seconds: float) -> None:
        """Leave the processor to others after something long."""
        if seconds > SHORT:
            begin = max(self._rests_until, time.monotonic())
            self._rests_until = min(begin + RESTS * seconds, time.monotonic() + LONGEST)

    def _tell(self, stamp: tuple[object, ...]) -> None:
        """Clear away an investigation that has ended; what went wrong in it is told to the next reader."""
        if self._running is None or not self._running[1].done():
            return
        (made_for, work), self._running = self._running, None
        fault = work.exception()
        if fault is not None and made_for == stamp:
            raise fault

    def settle(self, place: hall.Hall) -> investigation.Investigation:
        """The investigation of the logbook as it stands, waited for."""
        while True:
            known = self.gas(place, rests=False)
            if not known.renewing:
                return known.found
            with self._lock:
                work = self._running
            if work is not None:
                work[1].result()

    def rest(self) -> None:
        """Wait until nothing is being worked out any more."""
        for _ in range(2):  # an investigation puts what is worked out ahead behind itself
            self._worker.submit(lambda: None).result()

    def now(self, place: hall.Hall, known: Known | None) -> now.Now:
        """What is not as it should be, and the water; kept for a minute while nothing new is known."""
        found = known.found if known else None
        has_book = hall.Hall.has_book(place.folder)
        stamp = (_stamp(place), id(found), clock.now().replace(second=0, microsecond=0)) if has_book else ()
        kept = self._now
        if kept is not None and stamp and kept[0] == stamp:
            return kept[1]
        made = now.look(place, concerns.of(place, found, ahead=found is None) if has_book else ())
        self._now = (stamp, made)
        return made

    def close(self, patience: float | None = None) -> None:
        """Let the worker end what it is at; it only reads, so who ends the program need not wait for it.

        `patience` is how long [s] it is waited for; None is as long as it takes.
        """
        self._closing.set()
        self._worker.close(patience)
        if _HOURS in sys.modules:
            importlib.import_module(_HOURS).close(patience)

    def _renew(self, place: hall.Hall, stamp: tuple[object, ...]) -> investigation.Investigation:
        begun = time.thread_time()
        found = investigation.investigate(place)
        with self._lock:
            self._last = (stamp, found)
        self._took(time.thread_time() - begun)
        with contextlib.suppress(RuntimeError):  # the pages are closing
            self._worker.submit(self._ahead, place)
        return found

    def _ahead(self, place: hall.Hall) -> None:
        """What other sheets will ask for and what takes long, so that its first reader does not wait."""
        begun = time.thread_time()
        self._surveys(place)
        self._took(time.thread_time() - begun)

    def _surveys(self, place: hall.Hall) -> None:
        """All of it; what is refused here is told to whoever asks for it."""
        for survey in (gas_sources.survey, flows.survey, balance.survey):
            if self._closing.is_set():
                return
            with contextlib.suppress(mishaps.Refused):
                survey(place)
        with contextlib.suppress(mishaps.Refused):
            plant_drawing.ready(plant.look(place))
        if HOURS_AHEAD and not self._closing.is_set():
            with contextlib.suppress(mishaps.Refused):
                importlib.import_module(_HOURS).survey(place)


def _stamp(place: hall.Hall) -> tuple[object, ...]:
    """What an investigation rests on; it changes with each entry and with each new facility file."""
    return (tuple(place.book.head()), place.facility.digest, clock.now().date())
