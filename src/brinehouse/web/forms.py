"""What a form sends, as plain text; nothing of it is trusted."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from starlette.requests import Request

LONGEST = 20_000  # characters of one box


async def read(request: Request) -> dict[str, str]:
    """The text boxes of a form; a file, and a box that is far too long, is left out."""
    form = await request.form(max_files=1, max_fields=200, max_part_size=4 * 1024 * 1024)
    return {name: value for name, value in form.items() if isinstance(value, str) and len(value) <= LONGEST}


def lines(text: str) -> Sequence[str]:
    """The lines of a box that hold something."""
    return [line.strip() for line in text.splitlines() if line.strip()]


def local_time(text: str, zone: str) -> datetime | None:
    """A ``datetime-local`` box in the hall's zone, or None where it is empty or not a time.

    >>> local_time("2026-03-14T06:40", "Europe/London").isoformat()
    '2026-03-14T06:40:00+00:00'
    >>> local_time("soon", "Europe/London") is None
    True
    """
    try:
        return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
    except ValueError:
        return None
