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
    begin = tomorrow(at, zone)
    told = [said for one in studied if (said := _tomorrow(one, begin, zone))]
    if not told:
        stays = [f"{_runs(one, begin)} of the {one.duty.name}" for one in studied[:MOST]]
        more = len(studied) - MOST
        stays += [f"{more} more {'group' if more == 1 else 'groups'}"] if more > 0 else []
        return f"Nothing changes over tomorrow: {'; '.join(stays)}."
    others = "" if len(told) == len(studied) else "; nothing else changes over"
    return f"Tomorrow {'; '.join(told)}{others}."


def tomorrow(at: datetime, zone: ZoneInfo) -> datetime:
    """The next midnight of the hall."""
    here = at.astimezone(zone)
    return (here.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=1)).astimezone(at.tzinfo)


def _runs(one: study.Study, at: datetime) -> str:
    runs = one.plan.running(at)
    return f"{study.listed(runs) or 'no pump'} {'runs' if len(runs) < 2 else 'run'}"


def _tomorrow(one: study.Study, begin: datetime, zone: ZoneInfo) -> str:
    """Each change-over of a group tomorrow."""
    end = begin + question.DAY
    changes = [change for change in one.plan.changes if begin <= change.at < end and change.why != "trial"]
    return ", ".join(_change(change, zone) for change in changes) + f" ({one.duty.name})" if changes else ""


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
