"""Times as people type them, in the hall's zone."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from brinehouse import findings
from brinehouse.workbench import mishaps


def local(text: str, zone: str) -> datetime:
    """A typed time, aware and in UTC.

    Parameters
    ----------
    text : str
        ISO 8601 as people write it, ``2026-03-14 06:40``; with an offset it is taken as it stands.
    zone : str
        The hall's zone, for a time without an offset.

    Raises
    ------
    mishaps.Refused
        Not a time; a time that the clocks skipped; one that came twice in that night.

    Examples
    --------
    >>> local("2026-03-14 06:40", "Europe/London").isoformat()
    '2026-03-14T06:40:00+00:00'
    """
    try:
        when = datetime.fromisoformat(text.strip())
    except ValueError:
        raise mishaps.Refused(
            _stop("workbench/not-a-time", f"'{text}' is not a time", "write it like 2026-03-14 06:40")
        ) from None
    if when.tzinfo is not None:
        return when.astimezone(UTC)
    here = ZoneInfo(zone)
    early, late = when.replace(tzinfo=here, fold=0), when.replace(tzinfo=here, fold=1)
    if early.utcoffset() == late.utcoffset():
        return early.astimezone(UTC)
    back = early.astimezone(UTC).astimezone(here).replace(tzinfo=None)
    if back != when:
        raise mishaps.Refused(
            _stop(
                "workbench/skipped-hour",
                f"{text} did not exist in {zone}: the clocks went forward",
                "give the time again",
            )
        )
    offsets = " or ".join(f"{one:%Y-%m-%dT%H:%M}{one:%z}" for one in (early, late))
    raise mishaps.Refused(
        _stop(
            "workbench/doubled-hour", f"{text} came twice in {zone}: the clocks went back", f"write {offsets}"
        )
    )


def _stop(code: str, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint)
