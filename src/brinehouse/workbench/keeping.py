"""Whether the hall would survive its disk: when the next copy is due, how the last one went, what to say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from brinehouse import findings, records
from brinehouse.facility import copies as asked_for
from brinehouse.workbench import clock, concern, copying, hall, mishaps

RETRY = timedelta(hours=1)
LATE, VERY_LATE = 1.5, 3.0
"""How many times their interval old copies may be before it is said, and said louder."""

_FEW = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How the copies of a hall stand.

    Attributes
    ----------
    asked : Copies or None
        What its file asks for.
    made, tried, failed : Fact or None
        The last of each kind; a copy that was made was tried too.
    due : datetime or None
        When the next is made; None where none is asked for.
    """

    asked: asked_for.Copies | None = None
    made: records.Fact | None = None
    restored: records.Fact | None = None
    failed: records.Fact | None = None
    begun: datetime | None = None
    due: datetime | None = None

    @property
    def failing(self) -> bool:
        """Whether the last attempt failed."""
        return self.failed is not None and (self.made is None or self.failed.measured > self.made.measured)


def standing(place: hall.Hall) -> Standing:
    """How the copies stand, from what was written down."""
    asked = place.facility.backup
    if not hall.Hall.has_book(place.folder):
        return Standing(asked=asked)
    told = place.facts(["backup"], newest_first=True, limit=_FEW)

    def last(*what: str) -> records.Fact | None:
        return next((one for one in told if one.details.get("what") in what), None)

    made = last("made")
    first = place.book.facility_texts()
    return Standing(
        asked=asked,
        made=made,
        restored=last("restored", "moved in"),
        failed=last("failed"),
        begun=first[0].at if first else None,
        due=due(asked, made.measured if made else None, clock.now(), place.facility.timezone)
        if asked
        else None,
    )


def due(asked: asked_for.Copies, last: datetime | None, now: datetime, zone: str = "UTC") -> datetime:
    """When the next copy is made; a hall without any is copied at once.

    >>> from datetime import UTC
    >>> noon = datetime(2026, 3, 14, 12, tzinfo=UTC)
    >>> wants = asked_for.Copies(to="x", at=(210,))
    >>> due(wants, noon, noon).isoformat(), due(wants, noon - timedelta(days=2), noon) <= noon
    ('2026-03-15T03:30:00+00:00', True)
    """
    if last is None:
        return now
    if not asked.at:
        return last + timedelta(seconds=asked.every)
    here = last.astimezone(ZoneInfo(zone))
    times = [
        (here + timedelta(days=day)).replace(hour=one // 60, minute=one % 60, second=0, microsecond=0)
        for day in (0, 1)
        for one in asked.at
    ]
    return min(one.astimezone(now.tzinfo) for one in times if one > here)


def attempt(place: hall.Hall) -> copying.Copy | None:
    """Make a copy if one is due; None where none is. What stood in its way is written down once a day.

    Raises
    ------
    mishaps.Refused
        Where it is due and could not be made.
    """
    stands = standing(place)
    if stands.asked is None or stands.due is None or stands.due > clock.now():
        return None
    if not hall.Hall.has_book(place.folder):
        return None
    if stands.failing and stands.failed and clock.now() - stands.failed.measured < RETRY:
        return None
    try:
        return copying.make(place, copying.place_for(place.folder, stands.asked), stands.asked)
    except mishaps.Refused as refusal:
        said = stands.failed and clock.now() - stands.failed.measured < timedelta(days=1) and stands.failing
        if not said:
            copying.note(place, "failed", "", why=refusal.findings[0].text)
        raise


def concerns_of(place: hall.Hall) -> list[concern.Concern]:
    """What of the copies and the disk is not as it should be."""
    from brinehouse.logbook import health

    stands = standing(place)
    found: list[concern.Concern] = []
    if stands.asked is not None:
        found += _of_copies(stands, stands.asked)
    room = health.disk_of(place.folder)
    return [*found, *(_concern(one, clock.now(), "disk") for one in room)]


def _of_copies(stands: Standing, asked: asked_for.Copies) -> list[concern.Concern]:
    if stands.failing and stands.failed is not None:
        told = findings.Finding(
            code="copy/failed",
            level=findings.Level.ACT,
            text=f"The last copy of the hall could not be made: {stands.failed.details.get('why', '')}",
            hint="see that the disk for copies is there and not full",
        )
        return [_concern(told, stands.failed.measured, "copies")]
    late = lateness(stands, asked)
    return [_concern(late, _since(stands, asked), "copies")] if late else []


def _since(stands: Standing, asked: asked_for.Copies) -> datetime:
    last = stands.made.measured if stands.made else stands.begun
    return (last or clock.now()) + timedelta(seconds=asked.every)


def lateness(stands: Standing, asked: asked_for.Copies) -> findings.Finding | None:
    """Whether the last copy is older than it should be."""
    last = stands.made.measured if stands.made else stands.begun
    if last is None:
        return None
    times = (clock.now() - last).total_seconds() / asked.every
    if times < LATE:
        return None
    hours = (clock.now() - last).total_seconds() / 3600.0
    old = f"{hours:.0f} h" if hours < 48.0 else f"{hours / 24.0:.0f} days"
    return findings.Finding(
        code="copy/overdue" if stands.made else "copy/none",
        level=findings.Level.ACT if times >= VERY_LATE else findings.Level.WATCH,
        text=f"The last copy of the hall is {old} old"
        if stands.made
        else "There is no copy of this hall yet",
        hint="make one with 'brinehouse backup', and see that the server runs",
    )


def _concern(told: findings.Finding, since: datetime, key: str) -> concern.Concern:
    return concern.Concern(
        level=told.level,
        since=since,
        what=told.text,
        next=told.hint,
        href="/keeping",
        code=told.code,
        key=f"keeping {key}",
    )


def read_back(copies: Sequence[copying.Copy]) -> list[tuple[str, datetime, int, str]]:
    """The copies as a list is printed: name, when, bytes, where the chain ends."""
    return [
        (one.path.name, one.list.made, one.list.size, f"{one.list.head[0]}:{one.list.head[1][:12]}")
        for one in copies
    ]
