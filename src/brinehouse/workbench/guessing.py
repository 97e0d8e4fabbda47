"""How often somebody may be wrong at the door: failures are counted, and waits grow but never last.

A stranger's failures count for the name and for the address they come from; those on a phone of the hall
count for the name on that phone, and for that phone, since two hundred phones may share one address. So
nobody who only knows a name can keep its person out of the hall's own phones.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

WINDOW = 15 * 60.0
"""Failures older than this no longer count to the limit. [s]"""
FIRST_WAIT, LONGEST_WAIT = 30.0, 15 * 60.0
"""The first wait after the limit, doubled at each further failure up to the longest. [s]"""
FORGOTTEN = 24 * 3600.0
"""Without a failure for so long, waits begin anew. [s]"""
MOST = 20_000
"""So many keys are remembered; those heard of longest ago go first."""

LIMITS = {"name": 10, "code": 10, "device": 30, "address": 100}
"""Failures of each kind of key within `WINDOW` before waits begin."""

Key = tuple[str, str]


@dataclass(slots=True)
class _Counted:
    failures: list[float] = field(default_factory=list[float])
    beyond: int = 0
    closed_until: float = 0.0


class Guesses:
    """Counts failures.

    Parameters
    ----------
    clock : callable
        Seconds of a clock that only goes on.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._known: dict[Key, _Counted] = {}
        self._lock = threading.Lock()

    def wait(self, keys: Iterable[Key]) -> float:
        """How many seconds none of these may try."""
        now = self._clock()
        with self._lock:
            found = [self._known[key].closed_until - now for key in keys if key in self._known]
        return max([0.0, *found])

    def failed(self, keys: Iterable[Key]) -> bool:
        """Count a failure; whether this one began or lengthened a wait."""
        closed, now = False, self._clock()
        with self._lock:
            for key in keys:
                counted = self._known.pop(key, None) or _Counted()
                self._known[key] = counted  # the newest stands last
                closed |= _count(counted, LIMITS[key[0]], now)
            while len(self._known) > MOST:
                del self._known[next(iter(self._known))]
        return closed

    def succeeded(self, key: Key) -> None:
        """Whoever came in begins anew."""
        with self._lock:
            self._known.pop(key, None)


def _count(counted: _Counted, limit: int, now: float) -> bool:
    if counted.failures and now - counted.failures[-1] > FORGOTTEN:
        counted.beyond = 0
    counted.failures = [at for at in counted.failures[-limit:] if now - at < WINDOW]
    counted.failures.append(now)
    if len(counted.failures) < limit and not counted.beyond:
        return False
    counted.closed_until = now + min(FIRST_WAIT * 2.0**counted.beyond, LONGEST_WAIT)
    counted.beyond = min(counted.beyond + 1, 20)
    return True


def keys(*, name: str = "", code: bool = False, device: str = "", address: str = "") -> list[Key]:
    """What a try counts for.

    >>> keys(name="Ada", address="::1"), keys(name="Ada", device="0f", address="::1")
    ([('name', 'ada'), ('address', '::1')], [('name', 'ada on 0f'), ('device', '0f')])
    """
    made: list[Key] = []
    known = " ".join(name.lower().split())
    if known:
        made.append(("name", f"{known} on {device}" if device else known))
    if code:
        made.append(("code", device or address))
    made.append(("device", device) if device else ("address", address))
    return made
