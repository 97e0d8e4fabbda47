"""Work that comes round: when it was last done, and when it is due again by date, hours, starts or a reading.

Where hours were not written down it is not guessed whether it is due: the answer says what would tell.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from brinehouse import findings, records
from brinehouse.facility import details, model
from brinehouse.workbench import clock, concern, hall, limits, running, typed, works

State = Literal["due", "soon", "later", "unknown"]
KINDS = ("work", "renewal", "instrument-check")
COUNTED = ("pump-run", "run-hours")
SOON = 0.1  # of the time, the hours or the starts between: common practice, no source
DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """When a piece of work was last done, as the log has it; `id` names the entry."""

    at: datetime
    id: str = ""
    what: str = ""
    lot: str = ""
    expires: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One piece of work that comes round, and how it stands.

    Attributes
    ----------
    key : str
        The same for the same thing and the same words.
    state : str
        ``due``, ``soon``, ``later``; ``unknown`` where nothing written down tells.
    when : datetime or None
        When it is due, as far as a date can be given: by date or expiry, or by hours at the pace since.
    said : sequence of str
        How it stands by each of its measures.
    cannot : sequence of str
        What is not known, and the reading that would tell.
    order : str
        The open work order for it, where there is one.
    """

    key: str
    of: str
    name: str
    what: str
    state: State
    when: datetime | None = None
    said: Sequence[str] = ()
    cannot: Sequence[str] = ()
    last: Done | None = None
    order: str = ""
    takes: float | None = None
    parts: Sequence[str] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class _One:
    """One piece of work: when it was last done, and from when its time, hours and starts count."""

    item: details.Upkeep
    last: Done | None
    since: datetime | None


@dataclass(slots=True)
class _Judged:
    """What the measures of one piece of work say, gathered."""

    states: list[State] = field(default_factory=list[State])
    whens: list[datetime] = field(default_factory=list[datetime])
    said: list[str] = field(default_factory=list[str])
    cannot: list[str] = field(default_factory=list[str])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What the log knows, gathered once for all pieces of work."""

    place: hall.Hall
    facility: model.Facility
    now: datetime
    zone: ZoneInfo
    done: Sequence[records.Fact]
    courses: Mapping[str, running.Course]
    orders: Sequence[works.Order]


def key_of(of: str, what: str) -> str:
    """The key of a piece of work.

    >>> key_of("P-201", "change the shaft seal") == key_of("P-201", "Change the shaft seal ")
    True
    """
    return hashlib.sha256(f"{of}\n{what.strip().casefold()}".encode()).hexdigest()[:16]


def due(place: hall.Hall, of: str = "") -> list[Due]:
    """All that comes round, what is due first; of one thing where one is named.

    Pieces of work on what is retired are left out.
    """
    facility = place.facility
    known = _know(place, facility)
    day = known.now.astimezone(known.zone).date().isoformat()
    items = [item for item in facility.upkeep if of in ("", item.of) and facility.in_use(item.of, day)]
    found = [_due(known, item) for item in items]
    mine = {(item.of, item.what.strip().casefold()) for item in items}
    found += [one for one in _expiring(known, of) if (one.of, one.what.strip().casefold()) not in mine]
    far = datetime.max.replace(tzinfo=UTC)
    order = ("due", "soon", "unknown", "later")
    return sorted(found, key=lambda one: (order.index(one.state), one.when or far, one.name, one.what))


def _know(place: hall.Hall, facility: model.Facility) -> _Known:
    counted = any(item.hours or item.starts for item in facility.upkeep)
    book = hall.Hall.has_book(place.folder)
    return _Known(
        place=place,
        facility=facility,
        now=clock.now(),
        zone=ZoneInfo(facility.timezone),
        done=place.facts(kinds=KINDS) if book else [],
        courses=running.courses(place.facts(kinds=COUNTED)) if book and counted else {},
        orders=works.orders(place) if book else [],
    )


def _due(known: _Known, item: details.Upkeep) -> Due:
    last = _last(known, item)
    since = last.at if last else _begun(known, item.of)
    judged, one = _Judged(), _One(item, last, since)
    for judge in (_by_date, _by_expiry, _by_hours, _by_starts, _by_reading):
        judge(known, one, judged)
    key = key_of(item.of, item.what)
    return Due(
        key=key,
        of=item.of,
        name=works.name_of(known.place, item.of),
        what=item.what,
        state=_worst(judged),
        when=min(judged.whens, default=None),
        said=judged.said,
        cannot=judged.cannot,
        last=last,
        order=next((each.id for each in known.orders if each.open and each.upkeep == key), ""),
        takes=item.takes,
        parts=item.parts,
        note=item.note,
    )


def _worst(judged: _Judged) -> State:
    """Due by any measure is due; what one measure cannot tell stays open, unless another says 'due'."""
    for state in ("due", "soon"):
        if state in judged.states:
            return state
    return "unknown" if judged.cannot or not judged.states else "later"


def _last(known: _Known, item: details.Upkeep) -> Done | None:
    """The newest entry that counts as having done it."""
    key = key_of(item.of, item.what)
    found = [done for fact in known.done if (done := _counts(fact, item, key)) is not None]
    return max(found, key=lambda done: done.at, default=None)


def _counts(fact: records.Fact, item: details.Upkeep, key: str) -> Done | None:
    told = fact.details
    if fact.kind == "work":
        mine = told.get("upkeep") == key and told.get("what") == "done"
        return Done(at=fact.measured, id=fact.id, what=str(told.get("did", ""))) if mine else None
    if fact.kind == "renewal":
        same = str(told.get("what", "")).strip().casefold() == item.what.strip().casefold()
        mine = item.counts == "renewal" and told.get("of") == item.of and same
        return _renewed(fact) if mine else None
    named = str(told.get("check", ""))
    wanted = [kind for kind in ("air", "pressure", "salinity", "wet-chemistry") if kind in item.what]
    mine = item.counts == "check" and told.get("instrument") == item.of
    return (
        Done(at=fact.measured, id=fact.id, what=named) if mine and (not wanted or named in wanted) else None
    )


def _renewed(fact: records.Fact) -> Done:
    told = fact.details
    return Done(
        at=fact.measured,
        id=fact.id,
        what=str(told.get("what", "")),
        lot=str(told.get("lot", "")),
        expires=str(told.get("expires", "")),
    )


def _begun(known: _Known, of: str) -> datetime | None:
    """When it was new: the day it was bought, where the file says so."""
    facility = known.facility
    thing = facility.pumps.get(of) or facility.equipment.get(of) or facility.instruments.get(of)
    bought = thing.bought if thing is not None else ""
    return datetime.fromisoformat(bought).replace(tzinfo=known.zone) if bought else None


# -- the measures -----------------------------------------------------------------------------------------


def _day(known: _Known, at: datetime) -> str:
    return at.astimezone(known.zone).date().isoformat()


def _by_date(known: _Known, one: _One, judged: _Judged) -> None:
    if one.item.every is None:
        return
    if one.since is None:
        judged.cannot.append("nobody wrote down when it was last done: the day it was would tell")
        return
    when = one.since + timedelta(seconds=one.item.every)
    judged.whens.append(when)
    days = one.item.every / DAY.total_seconds()
    what = "last done" if one.last else "bought"
    judged.said.append(f"{_day(known, when)}: {days:g} days after it was {what}, {_day(known, one.since)}")
    judged.states.append(_state((known.now - one.since).total_seconds(), one.item.every))


def _by_expiry(known: _Known, one: _One, judged: _Judged) -> None:
    if one.last is not None and one.last.expires:
        _expires(known, one.last, judged)


def _expires(known: _Known, done: Done, judged: _Judged) -> None:
    try:
        day = date.fromisoformat(done.expires)
    except ValueError:
        return
    when = datetime(day.year, day.month, day.day, tzinfo=known.zone) + DAY
    lot = f"lot {done.lot} " if done.lot else ""
    judged.said.append(f"{lot}keeps until {done.expires}")
    judged.whens.append(when)
    judged.states.append(_state((known.now - done.at).total_seconds(), (when - done.at).total_seconds()))


def _state(gone: float, whole: float) -> State:
    """How far through it is; the last tenth is soon."""
    if gone >= whole:
        return "due"
    return "soon" if gone >= (1.0 - SOON) * whole else "later"


def _by_hours(known: _Known, one: _One, judged: _Judged) -> None:
    if one.item.hours is None:
        return
    whole = one.item.hours / running.HOUR
    ran = _ran(known, one)
    _counted(known, one, ran.hours, whole, "running hours", judged)


def _ran(known: _Known, one: _One) -> running.Ran:
    """Since it was last done; where it never was, all that its counter shows, which began when it was new."""
    course = known.courses.get(one.item.of, running.Course())
    if one.last is None and course.counters:
        return running.total(course, known.now)[0]
    return running.between(course, one.since or running.NEVER, known.now)


def _by_starts(known: _Known, one: _One, judged: _Judged) -> None:
    if one.item.starts is None:
        return
    ran = _ran(known, one)
    if ran.starts is None:
        judged.cannot.append(f"starts of {one.item.of} are not written down: its counter would tell")
        return
    _counted(known, one, ran.starts, float(one.item.starts), "starts", judged)


def _counted(
    known: _Known,
    one: _One,
    count: running.Span,
    whole: float,
    what: str,
    judged: _Judged,
) -> None:
    """Hours or starts since it was last done, against how many there may be."""
    if count.low >= whole:
        judged.said.append(f"{count.low:.0f} of {whole:.0f} {what}")
        judged.states.append("due")
        judged.whens.append(known.now)
        return
    if one.since is None or _state(count.low, whole) != _state(count.high, whole):
        low = f"at least {count.low:.0f} of {whole:.0f} {what}"
        judged.cannot.append(f"{low}; the rest is not written down: the counter of {one.item.of} would tell")
        return
    mid = f"{count.low:.0f}" if count.sure else f"{count.low:.0f} to {count.high:.0f}"
    judged.said.append(f"{mid} of {whole:.0f} {what}")
    judged.states.append(_state(count.high, whole))
    days = (known.now - one.since) / DAY
    if days >= 1 and count.high > 0:
        left = timedelta(days=(whole - count.high) * days / count.high)
        judged.whens.append(min(known.now + left, datetime(9999, 1, 1, tzinfo=UTC)))


def _by_reading(known: _Known, one: _One, judged: _Judged) -> None:
    if one.item.when is None:
        return
    newest = _newest(known, one.item, one.since)
    if newest is None:
        judged.cannot.append(
            f"{one.item.quantity} at {one.item.at} was not read since: one reading would tell"
        )
        return
    value = limits.in_glossary_unit(newest)
    read = f"{one.item.quantity} at {one.item.at} read {newest.text} on {_day(known, newest.measured)}"
    judged.said.append(f"{read}; due {one.item.text}")
    if value is not None and not one.item.when.holds(value):
        judged.states.append("due")
        judged.whens.append(newest.measured)
    else:
        judged.states.append("later")


def _newest(known: _Known, item: details.Upkeep, since: datetime | None) -> records.Reading | None:
    if not item.at or not hall.Hall.has_book(known.place.folder):
        return None
    found = known.place.history(
        places=[typed.standing(known.facility, item.at)],
        quantities=[item.quantity],
        since=since,
        newest_first=True,
        limit=200,
    )
    usable = (one for one in found if one.point == item.at and one.value is not None and not one.bound)
    return next((one for one in usable if one.quality in ("good", "unusual")), None)


def _expiring(known: _Known, of: str) -> list[Due]:
    """What was renewed with an expiry and no upkeep of its own: reagents and the like, the newest of each."""
    newest: dict[tuple[str, str], records.Fact] = {}
    for fact in known.done:
        if fact.kind == "renewal" and fact.details.get("expires"):
            thing, what = str(fact.details.get("of", "")), str(fact.details.get("what", ""))
            if of in ("", thing):
                newest[thing, what.strip().casefold()] = fact
    found: list[Due] = []
    for (thing, what), fact in newest.items():
        judged, done = _Judged(), _renewed(fact)
        _expires(known, done, judged)
        found.append(
            Due(
                key=key_of(thing, what),
                of=thing,
                name=works.name_of(known.place, thing),
                what=done.what,
                state=_worst(judged),
                when=min(judged.whens, default=None),
                said=judged.said,
                last=done,
            )
        )
    return found


def concerns_of(place: hall.Hall) -> list[concern.Concern]:
    """What is due and not asked for yet; what is asked for is told by its order."""
    return [
        concern.Concern(
            level=findings.Level.WATCH,
            since=min(one.when or clock.now(), clock.now()),
            what=f"upkeep due: {one.what}",
            why=f"{one.name}: {'; '.join(one.said)}",
            next="ask for the work, or write down that it was done",
            href=f"/work#{one.key}",
            code="upkeep/due",
            key=f"upkeep {one.key}",
            asks=False,
        )
        for one in due(place)
        if one.state == "due" and not one.order
    ]


def renew(
    place: hall.Hall,
    *,
    of: str,
    what: str,
    lot: str = "",
    expires: str = "",
    note: str = "",
    person: int | None = None,
) -> records.Fact:
    """Write down that a membrane, a reagent, a lamp or the like was renewed.

    Raises
    ------
    mishaps.Refused
        The thing is not in the facility file, nothing is named, or the day is no day.
    """
    found = [*_thing_found(place, of), *_named(what), *_no_day(expires)]
    _refuse(found)
    return _kept(
        place,
        "renewal",
        {"of": of, "what": what.strip(), "lot": lot.strip(), "expires": expires},
        note,
        person,
    )


def count(
    place: hall.Hall, *, of: str, hours: str = "", starts: str = "", note: str = "", person: int | None = None
) -> records.Fact:
    """Write down what a machine's counter shows.

    Raises
    ------
    mishaps.Refused
        The thing is not in the facility file, or what was typed is no count.
    """
    told = {name: _number(text) for name, text in (("hours", hours), ("starts", starts)) if text.strip()}
    found = [*_thing_found(place, of)]
    for name, value in told.items():
        if value is None or value < 0:
            found.append(
                _stop("upkeep/no-count", f"the {name} are not a number above nought", "write 12840", name)
            )
    if not told:
        found.append(
            _stop(
                "upkeep/no-count",
                "neither hours nor starts are written",
                "write what the counter shows",
                "hours",
            )
        )
    _refuse(found)
    whole = {
        name: int(value) if name == "starts" else value for name, value in told.items() if value is not None
    }
    return _kept(place, "run-hours", {"of": of, **whole}, note, person)


def _number(text: str) -> float | None:
    try:
        value = float(text.strip().replace(",", ".").replace(" ", ""))
    except ValueError:
        return None
    return value if value == value and abs(value) < 1e9 else None


def _kept(
    place: hall.Hall, kind: records.FactKind, told: Mapping[str, object], note: str, person: int | None
) -> records.Fact:
    now = clock.now()
    vessel = place.facility.place(str(told["of"]))
    fact = records.Fact(
        id=hall.new_id(),
        kind=kind,
        measured=now,
        entered=now,
        place=vessel.id if vessel else "",
        details={name: one for name, one in told.items() if one not in ("", None)},
        person=person,
        note=note.strip(),
    )
    place.write([fact], person=person)
    return fact


def _thing_found(place: hall.Hall, of: str) -> list[findings.Finding]:
    if works.known(place, of):
        return []
    return [_stop("upkeep/unknown-thing", f"'{of}' is not a thing of this facility", "choose one", "of")]


def _named(what: str) -> list[findings.Finding]:
    if what.strip():
        return []
    return [
        _stop("upkeep/nothing", "nothing is named", "write what was renewed: membrane, reagent, lamp", "what")
    ]


def _no_day(text: str) -> list[findings.Finding]:
    try:
        if text:
            date.fromisoformat(text)
    except ValueError:
        return [_stop("upkeep/no-day", f"'{text}' is not a day", "write it like 2026-03-14", "expires")]
    return []


def _refuse(found: Iterable[findings.Finding]) -> None:
    from brinehouse.workbench import mishaps

    if told := list(found):
        raise mishaps.Refused(*told)


def _stop(code: str, text: str, hint: str, field: str) -> findings.Finding:
    return findings.Finding(
        code=code, level=findings.Level.STOP, text=text, hint=hint, spot=findings.Spot(field=field)
    )
