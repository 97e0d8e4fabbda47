"""The plan in words: tomorrow first."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from brinehouse.engines.turns import planning, question, study
from brinehouse.facility import model

MOST = 2  # groups of which the sentence speaks

WHY = {
    "turn": "its turn",
    "work": "time kept free for work",
    "lock-out": "locked out",
    "missing": "too few run",
    "surplus": "more run than are kept running",
    "trial": "trial start",
}


def sentence(studied: Sequence[study.Study], facility: model.Facility, at: datetime) -> str:
    """Who runs tomorrow, and what has to be done for it."""
    if not studied:
        return "There is no duty group: the facility file names no pumps that take turns."
    zone = ZoneInfo(facility.timezone)
    told = [_group(one, at, zone) for one in studied[:MOST]]
    rest = len(studied) - MOST
    more = f" {rest} more {'group' if rest == 1 else 'groups'} below." if rest > 0 else ""
    return " ".join(told) + more


def tomorrow(at: datetime, zone: ZoneInfo) -> datetime:
    """The next midnight of the hall."""
    here = at.astimezone(zone)
    return (here.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=1)).astimezone(at.tzinfo)


def _group(one: study.Study, at: datetime, zone: ZoneInfo) -> str:
    """Who runs tomorrow morning, and each change-over of that day."""
    begin = tomorrow(at, zone)
    end = begin + question.DAY
    runs = one.plan.running(begin)
    verb = "runs" if len(runs) == 1 else "run"
    named = study.listed(runs) or "no pump"
    said = f"Tomorrow {named} {verb} of the {one.duty.name}"
    changes = [change for change in one.plan.changes if begin <= change.at < end and change.why != "trial"]
    if not changes:
        return f"{said}, and nothing changes over."
    return f"{said}; {', '.join(_change(change, zone) for change in changes)}."


def _change(change: planning.Change, zone: ZoneInfo) -> str:
    clock = change.at.astimezone(zone).strftime("%H:%M")
    if change.start and change.stop:
        verb = "takes" if len(change.start) == 1 else "take"
        return f"at {clock} {study.listed(change.start)} {verb} over from {study.listed(change.stop)}"
    if change.start:
        return f"at {clock} {study.listed(change.start)} {'starts' if len(change.start) == 1 else 'start'}"
    return f"at {clock} {study.listed(change.stop)} {'stops' if len(change.stop) == 1 else 'stop'}"


def why(change: planning.Change) -> str:
    """Why a change is planned."""
    return WHY[change.why]
