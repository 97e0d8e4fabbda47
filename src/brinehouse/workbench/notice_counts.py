"""The rates of a hall's own notices over the last thirty days, kept for an hour."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from brinehouse import glossary, records
from brinehouse.facility import model
from brinehouse.workbench import clock, hall, notice_rates, notices
from brinehouse.workbench import notice_states as states

SPAN = timedelta(days=30)
_kept: dict[str, tuple[tuple[object, ...], notice_rates.Rates]] = {}
_lock = threading.Lock()


def of(place: hall.Hall, book: notices.Book) -> notice_rates.Rates:
    """How many notices were raised, against published figures; today's limits are held to old readings."""
    now = clock.now()
    stamp = (place.facility.digest, now.replace(minute=0, second=0, microsecond=0))
    with _lock:
        known = _kept.get(str(place.folder.resolve()))
        if known is not None and known[0] == stamp:
            return known[1]
        made = _reckon(place, book, now)
        _kept[str(place.folder.resolve())] = (stamp, made)
        return made


def _reckon(place: hall.Hall, book: notices.Book, now: datetime) -> notice_rates.Rates:
    facility = place.facility
    begin, raised, noisy = now, list[notice_rates.Raised](), list[str]()
    for where, readings in _series(place, facility, now - SPAN).items():
        begin = min(begin, readings[0].measured)
        limit = next(one for one in facility.limits_for(where[1], where[0]) if one.asks)
        hours, _ = notices.to_respond(limit, where, notices.in_hand(place))
        found = states.episodes(notices.samples(facility, readings), notices.rule(limit, hours))
        id = notices.key("limit", limit.quantity, limit.at, where[0])
        raised += [
            notice_rates.Raised(
                at=at,
                notice=id,
                what=_what(facility, where),
                priority=states.priority(limit.harm, hours, level),
            )
            for one in found
            for at, level in one.steps
        ]
        if states.chatters([one.raised for one in found], states.usual_step([r.measured for r in readings])):
            noisy.append(id)
    standing = [one for one in book.notices if one.standing and one.state in ("new", "seen")]
    raised += [
        notice_rates.Raised(at=one.asked, notice=one.id, what=one.what, priority=one.priority)
        for one in standing
        if not one.quantity and one.asked is not None
    ]
    stale = sum(1 for one in standing if one.asked is not None and now - one.asked > states.STALE)
    if begin - (now - SPAN) < timedelta(
        days=1
    ):  # the first reading of thirty full days is never at their begin
        begin = now - SPAN
    return notice_rates.reckon(raised, begin, now, standing=stale, chattering=noisy)


def _series(
    place: hall.Hall, facility: model.Facility, since: datetime
) -> Mapping[tuple[str, str], Sequence[records.Reading]]:
    """Readings of the places and quantities whose limits ask somebody for something."""
    wanted = sorted(
        {limit.quantity for limit in facility.limits if limit.asks and (limit.watch or limit.act)}
    )
    if not wanted or not hall.Hall.has_book(place.folder):
        return {}
    found: dict[tuple[str, str], list[records.Reading]] = {}
    for one in place.history(quantities=wanted, since=since):
        key = (one.place, one.quantity)
        if key in found or any(limit.asks for limit in facility.limits_for(one.quantity, one.place)):
            found.setdefault(key, []).append(one)
    return found


def _what(facility: model.Facility, where: tuple[str, str]) -> str:
    vessel, quantity = facility.place(where[0]), glossary.quantity(where[1])
    return f"{vessel.name if vessel else where[0]}: {quantity.word if quantity else where[1]}"
