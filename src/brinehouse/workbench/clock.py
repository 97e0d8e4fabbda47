"""The only clock: everything that needs the time is handed it from here."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

_now: Callable[[], datetime] | None = None


def now() -> datetime:
    """The present moment, aware and in UTC, or what `freeze` was given."""
    if _now is not None:
        return _now()
    return datetime.now(UTC)  # the one place where the clock is read


def freeze(at: datetime | None) -> None:
    """Stop the clock at a moment, or let it run again with None: for tests and for the demo's past."""
    global _now
    _now = None if at is None else lambda: at
