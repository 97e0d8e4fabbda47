"""Rounds as they are walked: the plan that a phone takes along, walks under way, what is due and missed."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any, Literal
from zoneinfo import ZoneInfo

from brinehouse import findings, records
from brinehouse.facility import model
from brinehouse.workbench import clock, concern, hall, recent, round_asks, round_stops

KINDS = ("walk", "stop")
LOOK_BACK = timedelta(days=3)
LASTS = timedelta(hours=16)  # a walk that was never ended can be taken up again for so long
EARLY = timedelta(hours=2)  # a walk that begins so long before it is due is that round's
SHARE = 0.75  # of its readings: a round that was written down without being walked here counts as walked

State = Literal["walked", "under way", "due", "overdue", "waiting", "at will"]


@dataclass(slots=True, kw_only=True)
class Walk:
    """One walk of a round, as the log tells it: done stops, skipped ones with the reason, zones entered."""

    id: str
    round: str
    begun: datetime
    by: int | None
    ended: datetime | None = None
    done: dict[str, datetime] = field(default_factory=dict[str, datetime])
    skipped: dict[str, str] = field(default_factory=dict[str, str])
    zones: set[str] = field(default_factory=set[str])

    @property
    def passed(self) -> set[str]:
        """Keys of the stops that need no second visit."""
        return {*self.done, *self.skipped}


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a round stands: when it was or is due, the walk that belongs to it, and what is missing of it."""

    round: model.Round
    screens: Sequence[round_stops.Screen]
    state: State
    due: datetime | None
    until: datetime | None
    walk: Walk | None
    last: Walk | None
    missing: Sequence[round_stops.Screen] = ()


def walks(place: hall.Hall, *, since: datetime | None = None, of: str = "") -> list[Walk]:
    """The walks of the last days, oldest first."""
    if not hall.Hall.has_book(place.folder):
        return []
    facts = place.facts(KINDS, since=since or clock.now() - LOOK_BACK)
    found: dict[str, Walk] = {}
    for fact in facts:
        name, id = str(fact.details.get("round", "")), str(fact.details.get("walk", ""))
        if not id or (of and name != of):
            continue
        walk = found.setdefault(id, Walk(id=id, round=name, begun=fact.measured, by=fact.person))
        _take(walk, fact)
    return sorted(found.values(), key=lambda one: one.begun)


def _take(walk: Walk, fact: records.Fact) -> None:
    told = fact.details
    if fact.measured < walk.begun:
        walk.begun, walk.by = fact.measured, fact.person
    if fact.kind == "walk":
        if told.get("what") == "ended":
            walk.ended = fact.measured
        elif told.get("what") == "zone":
            walk.zones.add(str(told.get("zone", "")))
        return
    key = str(told.get("stop", ""))
    if told.get("what") == "skipped":
        walk.skipped[key] = str(told.get("reason", "") or fact.note)
    else:
        walk.done[key] = fact.measured
        walk.skipped.pop(key, None)


def current(place: hall.Hall, name: str) -> Walk | None:
    """The walk of a round that is under way, to be gone on with on any phone."""
    now = clock.now()
    going = [
        walk
        for walk in walks(place, since=now - LASTS - EARLY, of=name)
        if walk.ended is None and now - walk.begun <= LASTS
    ]
    return going[-1] if going else None


# -- the plan -------------------------------------------------------------------------------------------


def plan(place: hall.Hall, name: str, corrections: round_asks.Corrections | None = None) -> dict[str, Any]:
    """All that a phone needs to walk a round without a signal: see `round_asks.ask` for the asks.

    Parameters
    ----------
    place : Hall
    name : str
        Id of the round.
    corrections : mapping, optional
        What is known of how far a meter is off.
    """
    facility, whole = place.facility, round_stops.find(place.facility, name)
    screens = round_stops.screens(facility, whole)
    history, names = recent.readings(place), people(place)
    walk = current(place, name)
    return {
        "round": whole.id,
        "name": whole.name,
        "version": version(facility, whole),
        "made": clock.now().isoformat(),
        "zone": facility.timezone,
        "hall": facility.name,
        "stops": [
            stop(place, screen, round_asks.ask(place, screen, history, names, corrections))
            for screen in screens
        ],
        "people": [{"number": number, "name": said} for number, said in names.items()],
        "walk": None
        if walk is None
        else {
            "id": walk.id,
            "done": sorted(walk.done),
            "skipped": dict(walk.skipped),
            "zones": sorted(walk.zones),
            "by": names.get(walk.by, "") if walk.by is not None else "",
        },
    }


def stop(place: hall.Hall, screen: round_stops.Screen, asks: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """One stop of the plan."""
    point = place.facility.points.get(screen.point)
    change = screen.change
    return {
        "key": screen.key,
        "title": screen.title,
        "place": screen.place,
        "place_name": screen.place_name,
        "point": screen.point,
        "point_name": point.name if point is not None and point.name != point.id else "",
        "depth": point.depth if point is not None else None,
        "zone": screen.zone.id if screen.zone else "",
        "zone_name": screen.zone.name if screen.zone else "",
        "zone_change": None if change is None else {"foot_bath": change.foot_bath, "tools": change.own_tools},
        "note": screen.note,
        "asks": list(asks),
    }


def version(facility: model.Facility, whole: model.Round) -> str:
    """What a printed sheet and a plan carry, so that one can tell by which facility file it was made."""
    return hashlib.sha256(f"{facility.digest} {whole.id}".encode()).hexdigest()[:12]


def people(place: hall.Hall) -> dict[int, str]:
    """Names of the people who are known and not blanked."""
    if not hall.Hall.has_book(place.folder):
        return {}
    return {one.number: one.name for one in place.book.people() if one.name}


# -- when, and what was missed ----------------------------------------------------------------------------


def look(place: hall.Hall) -> list[Look]:
    """Every round, how it stands."""
    facility = place.facility
    known = walks(place)
    return [_look(place, whole, known) for whole in round_stops.rounds(facility).values()]


def look_at(place: hall.Hall, name: str) -> Look:
    """One round, how it stands."""
    return _look(place, round_stops.find(place.facility, name), walks(place, of=name))


def _look(place: hall.Hall, whole: model.Round, known: Sequence[Walk]) -> Look:
    facility, now = place.facility, clock.now()
    mine = [walk for walk in known if walk.round == whole.id]
    screens = round_stops.screens(facility, whole)
    ended = [walk for walk in mine if walk.ended is not None]
    going = [walk for walk in mine if walk.ended is None and now - walk.begun <= LASTS]
    walk = going[-1] if going else None
    last = ended[-1] if ended else None
    due, following = _due(whole, facility.timezone, now, last)
    rest: State = "under way" if walk else "waiting" if following else "at will"
    base = Look(round=whole, screens=screens, state=rest, due=following, until=None, walk=walk, last=last)
    if due is None:
        return base
    until = due + timedelta(seconds=whole.within)
    base = replace(base, due=due, until=until)
    if last is not None and last.begun >= due - _early(whole):
        return replace(base, state="walked", missing=_left(screens, last))
    missing = _missing(place, screens, walk, due - _early(whole))
    readings = [screen for screen in screens if screen.kind == "reading"]
    unread = [screen for screen in missing if screen.kind == "reading"]
    if walk is None and readings and 1.0 - len(unread) / len(readings) >= SHARE:
        return replace(base, state="walked", missing=missing)
    late: State = "overdue" if now > until else "under way" if walk else "due"
    return replace(base, state=late, missing=missing)


def _early(whole: model.Round) -> timedelta:
    """How long before it is due a walk may begin: half the time between two rounds where that is less."""
    if len(whole.at) < 2:
        return EARLY
    gaps = [timedelta(minutes=later - sooner) for sooner, later in zip(whole.at, whole.at[1:], strict=False)]
    return min(EARLY, min(gaps) / 2)


def _due(
    whole: model.Round, zone: str, now: datetime, last: Walk | None
) -> tuple[datetime | None, datetime | None]:
    """When it was last due, and when it next will be; by the hall's clock, whatever that does in a night."""
    if whole.at:
        here = ZoneInfo(zone)
        today = now.astimezone(here).date()
        times = [
            datetime(day.year, day.month, day.day, minutes // 60, minutes % 60, tzinfo=here).astimezone(UTC)
            for day in (today - timedelta(days=1), today, today + timedelta(days=1))
            for minutes in whole.at
        ]
        past, ahead = [one for one in times if one <= now], [one for one in times if one > now]
        return (max(past) if past else None), (min(ahead) if ahead else None)
    if whole.every and last is not None:
        due = last.begun + timedelta(seconds=whole.every)
        return (due, None) if due <= now else (None, due)
    return None, None


def _left(screens: Sequence[round_stops.Screen], walk: Walk) -> list[round_stops.Screen]:
    return [screen for screen in screens if screen.key not in walk.done]


def _missing(
    place: hall.Hall, screens: Sequence[round_stops.Screen], walk: Walk | None, since: datetime
) -> list[round_stops.Screen]:
    """Stops that nothing was written down for since then, walked here or typed anywhere."""
    history = recent.readings(place)

    def read(screen: round_stops.Screen) -> bool:
        series = history.get((screen.place, screen.quantity), ())
        return any(
            one.measured >= since
            for one in reversed(series[-50:])
            if one.point == screen.point and one.source != "sensor"
        )

    passed = walk.passed if walk is not None else set[str]()
    return [
        screen
        for screen in screens
        if screen.key not in passed and not (screen.kind == "reading" and read(screen))
    ]


def concerns_of(place: hall.Hall) -> list[concern.Concern]:
    """Rounds that are overdue: begun and left, or not walked at all."""
    found: list[concern.Concern] = []
    for one in look(place):
        if one.state != "overdue" or one.due is None:
            continue
        missing = len(one.missing)
        what = (
            f"{one.round.name}: not walked" if one.walk is None else f"{one.round.name}: begun and not ended"
        )
        stops = f"{missing} of {len(one.screens)} stops are missing"
        found.append(
            concern.Concern(
                level=findings.Level.WATCH,
                since=one.until or one.due,
                what=what,
                why=stops,
                next="walk it, or what matters most of it",
                href=f"/rounds/{one.round.id}",
                code="round/overdue",
                key=f"round {one.round.id}",
                asks=False,
            )
        )
    return found
