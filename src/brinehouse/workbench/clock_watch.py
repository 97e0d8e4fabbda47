"""A clock that jumps while the hall is served: seen against one that cannot be set, and written down.

Entries are kept in the order in which they came, whatever their times say; but whoever reads a log in which
an hour is missing, or comes twice, should find there why.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from brinehouse import records
from brinehouse.workbench import clock, desk, mishaps
from brinehouse.workbench import hall as halls

LOOK_EVERY = 15.0
"""How often the two clocks are held against each other. [s]"""
JUMP = timedelta(seconds=10)
"""Less than this is a clock being set right, as clocks are over a network."""


@dataclass(frozen=True, slots=True)
class Jump:
    """The clock went from `before` to `after` in no time, or in as much less than it should."""

    before: datetime
    after: datetime

    @property
    def by(self) -> timedelta:
        """How far, ahead or back."""
        return self.after - self.before


def steady() -> float:
    """Seconds of a clock that nobody can set, and that runs on in sleep where the machine has one."""
    asleep_too = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if asleep_too is None else time.clock_gettime(asleep_too)


class Watch:
    """Two clocks side by side, looked at now and then.

    Parameters
    ----------
    told : callable
        The clock that may be set.
    runs : callable
        The one that cannot. [s]
    """

    def __init__(self, told: Callable[[], datetime] = clock.now, runs: Callable[[], float] = steady) -> None:
        self._told, self._runs = told, runs
        self._last = told(), runs()

    def look(self) -> Jump | None:
        """The jump since the last look, where there was one."""
        now, ran = self._told(), self._runs()
        (then, began), self._last = self._last, (now, ran)
        should = then + timedelta(seconds=ran - began)
        return Jump(should, now) if abs(now - should) >= JUMP else None


def sentence(jump: Jump) -> str:
    """What is written down.

    >>> from datetime import UTC
    >>> noon = datetime(2026, 3, 14, 12, tzinfo=UTC)
    >>> sentence(Jump(noon, noon - timedelta(hours=1)))
    'clock jumped back by 1 h 0 min, at 2026-03-14 12:00 UTC to 2026-03-14 11:00 UTC'
    """
    seconds = abs(jump.by).total_seconds()
    days, rest = divmod(round(seconds), 86_400)
    hours, minutes = divmod(rest // 60, 60)
    far = f"{days} days {hours} h" if days else f"{hours} h {minutes} min" if hours else f"{seconds:.0f} s"
    way = "ahead" if jump.by > timedelta(0) else "back"
    return f"clock jumped {way} by {far}, at {_at(jump.before)} to {_at(jump.after)}"


def _at(when: datetime) -> str:
    return f"{when:%Y-%m-%d %H:%M} UTC"


def note(place: halls.Hall, jump: Jump) -> None:
    """Write a jump down, under the time the clock says now."""
    place.write(
        [
            records.Fact(
                id=halls.new_id(),
                kind="event",
                measured=jump.after,
                entered=jump.after,
                details={"what": sentence(jump), "seconds": round(jump.by.total_seconds(), 1)},
            )
        ]
    )


class Watcher:
    """The thread of a running server that looks."""

    def __init__(self, table: desk.Desk, watch: Watch | None = None, every: float = LOOK_EVERY) -> None:
        self._table, self._every = table, every
        self._watch = watch or Watch()
        self._unwritten: list[Jump] = []
        self._end = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin, in a thread that ends with the process."""
        self._thread = threading.Thread(target=self._run, name="clock", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """End."""
        self._end.set()
        if self._thread is not None:
            self._thread.join(1.0)

    def look(self) -> Jump | None:
        """Look once, and write down what was seen; what cannot be written is kept for the next time."""
        jump = self._watch.look()
        if jump is not None:
            self._unwritten.append(jump)
        if not self._unwritten or not self._table.has_hall() or not halls.Hall.has_book(self._table.folder):
            return jump
        try:
            while self._unwritten:
                note(self._table.hall(), self._unwritten[0])
                del self._unwritten[0]
        except Exception as fault:  # noqa: BLE001 - it is looked at again, whatever stood in the way
            if not hasattr(fault, "finding") and not isinstance(fault, mishaps.Refused):
                mishaps.keep(fault)
        return jump

    def _run(self) -> None:
        while not self._end.wait(self._every):
            self.look()
