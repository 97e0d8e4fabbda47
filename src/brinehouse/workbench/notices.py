"""Notices of a hall: which limit asks whom for what, since when, how long there is, and who has seen it.

A notice belongs to a limit at one place and quantity, or to a thing that is overdue. It is raised by readings
(`notice_states`), never written down; what people do with it is: facts of the kind ``notice``.
"""

from __future__ import annotations

import hashlib
import importlib
import re
import sys
import urllib.parse
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from brinehouse import findings, glossary, records
from brinehouse.facility import model
from brinehouse.workbench import clock, concern, hall, limits, logging_book, mishaps, people, recent, typed
from brinehouse.workbench import notice_states as states

Concern = concern.Concern
ACTS = ("seen", "shelved", "unshelved", "out of service", "in service")
LEADS = ("lead", "veterinarian", "administrator", "open")
"""Who may take a notice out of service: a shelf ends by itself, this does not."""
GONE = timedelta(days=3)  # how long one that came and went unseen stands on the sheet
_HOURS = "brinehouse.workbench.time_in_hand"
_ORDER = ("new", "gone unseen", "seen", "shelved", "out of service", "normal")


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """One notice as it stands.

    Attributes
    ----------
    id : str
        Of the limit at its place, or of the thing that is overdue: the same each time it is raised.
    what : str
        In a keeper's words.
    place, quantity : str
        Empty where it belongs to no reading.
    system : str
        Name of the system.
    level : Level
    priority : str
        One of `notice_states.PRIORITIES`.
    state : str
    since, asked, left : datetime or None
        The first reading outside; when somebody was last asked anew; when it was kept again.
    value : str
        The newest reading outside, with unit.
    read : datetime or None
        When that was read.
    sure, second : bool
        Whether more than an interval lies over the limit; whether a second reading is asked for first.
    limit, source, cause, consequence, response : str
    hours : float or None
        To respond: what is written, or the least time in hand where that is shorter.
    in_hand : str
        The failure that leaves so little, where it is that.
    act : Act or None
        What made the state so; `by` names its person.
    why, code, href : str
    """

    id: str
    what: str
    level: findings.Level
    priority: states.Priority
    state: states.State
    place: str = ""
    quantity: str = ""
    system: str = ""
    since: datetime | None = None
    asked: datetime | None = None
    left: datetime | None = None
    value: str = ""
    read: datetime | None = None
    sure: bool = True
    second: bool = False
    limit: str = ""
    source: str = ""
    cause: str = ""
    consequence: str = ""
    response: str = ""
    hours: float | None = None
    in_hand: str = ""
    act: states.Act | None = None
    by: str = ""
    why: str = ""
    code: str = ""
    href: str = ""

    @property
    def standing(self) -> bool:
        """Whether it is so now, whoever has seen it."""
        return self.asked is not None and self.left is None

    @property
    def occasion(self) -> str:
        """Names this one time, for what must not be sent twice."""
        at = self.asked.isoformat() if self.asked else ""
        return f"{self.id}/{self.level.value}/{at}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """Every notice of a hall, heaviest and oldest first, and what asks nobody for anything."""

    notices: Sequence[Notice]
    events: Sequence[Concern] = ()

    def of(self, *wanted: str) -> list[Notice]:
        """Those in some states."""
        return [one for one in self.notices if one.state in wanted]


def key(*parts: str) -> str:
    """The id of what some words name.

    >>> key("limit", "temperature", "m", "mangrove") == key("limit", "temperature", "m", "mangrove")
    True
    """
    return hashlib.sha256("\x1f".join(parts).encode("utf-8", "replace")).hexdigest()[:16]


def of_concern(told: Concern) -> str:
    """The id of a concern: numbers in its words change from day to day and do not count."""
    return key("concern", told.code, told.key or re.sub(r"[\d.,]+", "#", told.what))


# -- looking ----------------------------------------------------------------------------------------------


def look(place: hall.Hall, extra: Sequence[Concern] = ()) -> Book:
    """Every notice as things stand.

    Parameters
    ----------
    place : Hall
    extra : sequence of Concern
        What the parts found that is overdue or out of order.
    """
    facility, at = place.facility, clock.now()
    series = recent.readings(place)
    acts, names = _acts(place), logging_book.people(place)
    hours = in_hand(place)
    found: list[Notice] = []
    asking: set[tuple[str, str]] = set()
    for where in series:
        limit = next((one for one in facility.limits_for(where[1], where[0]) if one.asks), None)
        if limit is None or not (limit.watch or limit.act):
            continue
        asking.add(where)
        found.append(_of_limit(facility, limit, where, series[where], hours, acts, names, at))
    events: list[Concern] = []
    for told in [*extra, *_stale(place, series, at)]:
        if told.asks and told.next:
            found.append(_of_concern(facility, told, acts, names, at))
        else:
            events.append(told)
    found.sort(key=lambda one: (_ORDER.index(one.state), one.asked or one.since or at))
    return Book(notices=found, events=events)


def in_hand(place: hall.Hall) -> Mapping[tuple[str, str], tuple[float, str]]:
    """The least time in hand by place and quantity, only where it was worked out already."""
    return importlib.import_module(_HOURS).least(place) if _HOURS in sys.modules else {}


def rule(limit: model.Limit, hours: float | None) -> states.Rule:
    """What a limit asks for, with so many hours to respond."""
    return states.Rule(
        watch=limit.watch, act=limit.act, dead_band=limit.dead_band, delay=timedelta(seconds=limit.delay),
        second=limit.second, near=hours is not None and hours <= states.NEAR.total_seconds() / 3600.0,
    )  # fmt: skip


def to_respond(
    limit: model.Limit, where: tuple[str, str], hours: Mapping[tuple[str, str], tuple[float, str]]
) -> tuple[float | None, str]:
    """Hours to respond, and the failure whose time in hand is shorter than what is written."""
    written = limit.time / 3600.0 if limit.time is not None else None
    least = hours.get(where)
    if least is not None and (written is None or least[0] < written):
        return least
    return written, ""


_episodes: dict[tuple[str, str, str], tuple[Any, Any, list[states.Episode]]] = {}


def episodes(
    facility: model.Facility, asked: states.Rule, readings: Sequence[records.Reading]
) -> list[states.Episode]:
    """Every time that readings of one place crossed a limit; kept while neither changes."""
    if not readings:
        return []
    name = (facility.digest, readings[0].place, readings[0].quantity)
    known = _episodes.get(name)
    if known is not None and known[0] is readings and known[1] == asked:
        return known[2]
    made = states.episodes(samples(facility, readings), asked)
    if len(_episodes) > 4000:
        _episodes.clear()
    _episodes[name] = (readings, asked, made)
    return made


def samples(facility: model.Facility, readings: Sequence[records.Reading]) -> list[states.Sample]:
    """Readings as what notices are raised by; bounds and doubtful ones are left out."""
    u: dict[str, float] = {}
    found: list[states.Sample] = []
    for one in readings:
        value = limits.in_glossary_unit(one)
        if value is None or one.bound or one.quality not in ("good", "unusual"):
            continue
        if one.instrument not in u:
            u[one.instrument] = limits.uncertainty(one, facility) or 0.0
        found.append(
            states.Sample(
                at=one.measured, value=value, u=u[one.instrument], meter=one.instrument,
                hand=one.source != "sensor", id=one.id,
            )
        )  # fmt: skip
    return found


def _of_limit(
    facility: model.Facility,
    limit: model.Limit,
    where: tuple[str, str],
    readings: Sequence[records.Reading],
    hours: Mapping[tuple[str, str], tuple[float, str]],
    acts: Mapping[str, Sequence[states.Act]],
    names: Mapping[int, str],
    at: datetime,
) -> Notice:
    """One limit at one place."""
    left, failure = to_respond(limit, where, hours)
    found = episodes(facility, rule(limit, left), readings)
    last = found[-1] if found else None
    id = key("limit", limit.quantity, limit.at, where[0])
    asked = last.steps[-1][0] if last else None
    if last is not None and last.left is not None and at - last.left > GONE:
        asked = last = None
    stands = states.standing(asked, last.left if last else None, acts.get(id, ()), at)
    level: states.Level = last.level if last else "watch"
    vessel, quantity = facility.place(where[0]), glossary.quantity(where[1])
    system = facility.system_of(where[0])
    unit = quantity.unit if quantity and quantity.unit != "1" else ""
    return Notice(
        id=id,
        what=f"{vessel.name if vessel else where[0]}: {quantity.word if quantity else where[1]}",
        place=where[0], quantity=where[1], system=system.name if system else "",
        level=findings.Level.ACT if level == "act" else findings.Level.WATCH,
        priority=states.priority(limit.harm, left, level),
        state=stands.state, act=stands.act, by=_by(stands.act, names),
        since=last.since if last else None, asked=asked, left=last.left if last else None,
        value=_value(last.sample, readings, unit) if last else "", read=last.sample.at if last else None,
        sure=last.sure if last else True, second=last.second if last else False,
        limit=limit.text, source=limit.source, cause=limit.cause, consequence=limit.consequence,
        response=limit.response, hours=left, in_hand=failure,
        why=_why(limit, last), code=_code(last),
        href="/log?" + urllib.parse.urlencode({"place": where[0], "quantity": where[1]}),
    )  # fmt: skip


def _code(last: states.Episode | None) -> str:
    if last is None:
        return ""
    return "limit/crossed" if last.sure else "limit/may-be-crossed"


def _value(sample: states.Sample, readings: Sequence[records.Reading], unit: str) -> str:
    decimals = next((concern.decimals(one) for one in reversed(readings) if one.id == sample.id), 1)
    return f"{sample.value:.{decimals}f} {unit}".strip()


def _why(limit: model.Limit, last: states.Episode | None) -> str:
    if last is None:
        return ""
    source = f" ({limit.source})" if limit.source else ""
    if not last.sure:
        return f"the interval of the reading reaches over the limit: {limit.text}{source}"
    if last.second:
        return f"one reading is over 'act': {limit.text}{source}"
    return f"the {last.level} limit is crossed: {limit.text}{source}"


def _of_concern(
    facility: model.Facility,
    told: Concern,
    acts: Mapping[str, Sequence[states.Act]],
    names: Mapping[int, str],
    at: datetime,
) -> Notice:
    """Something overdue or out of order: it stands as long as its part says so."""
    id = of_concern(told)
    stands = states.standing(told.since, None, acts.get(id, ()), at)
    system = facility.system_of(told.place) if told.place else None
    level: states.Level = "act" if told.level is findings.Level.ACT else "watch"
    return Notice(
        id=id, what=told.what, level=told.level, priority=states.priority("more work", None, level),
        state=stands.state, act=stands.act, by=_by(stands.act, names), place=told.place,
        system=system.name if system else "", since=told.since, asked=told.since, value=told.value,
        response=told.next, why=told.why, code=told.code, href=told.href,
    )  # fmt: skip


def _stale(
    place: hall.Hall, series: Mapping[tuple[str, str], Sequence[records.Reading]], at: datetime
) -> list[Concern]:
    """Sensors that fell silent: nothing for ten of their own steps, an hour at least.

    Ten steps and an hour are common practice, no source.
    """
    found: list[Concern] = []
    for (name, quantity), readings in series.items():
        newest = readings[-1] if readings else None
        if newest is None or newest.source != "sensor":
            continue
        step = states.usual_step([one.measured for one in readings[-50:]])
        if at - newest.measured <= max(timedelta(hours=1), 10 * step):
            continue
        vessel = place.facility.place(name)
        found.append(
            Concern(
                level=findings.Level.WATCH, since=newest.measured,
                what=f"{vessel.name if vessel else name}: the sensor of {quantity} is silent",
                why=f"it read every {_minutes(step)}, and then nothing",
                next="read by hand; look at the sensor and its line", place=name,
                key=f"{name} {quantity}", code="notice/sensor-silent",
            )
        )  # fmt: skip
    return found


def _minutes(step: timedelta) -> str:
    minutes = step.total_seconds() / 60.0
    return f"{minutes:.0f} min" if minutes >= 1.0 else f"{step.total_seconds():.0f} s"


# -- people -----------------------------------------------------------------------------------------------


def _by(act: states.Act | None, names: Mapping[int, str]) -> str:
    return names.get(act.person, "") if act is not None and act.person is not None else ""


def _acts(place: hall.Hall) -> Mapping[str, list[states.Act]]:
    """What people did, by notice, in order of time."""
    found: dict[str, list[states.Act]] = {}
    for fact in recent.facts(place, "notice"):
        what = str(fact.details.get("what", ""))
        if what in ACTS:
            act = states.Act(
                what=what, at=fact.measured, until=moment(fact.details.get("until")), person=fact.person,
                why=str(fact.details.get("why", "")),
            )  # fmt: skip
            found.setdefault(str(fact.details.get("notice", "")), []).append(act)
    return found


def moment(text: Any) -> datetime | None:
    """A time as a fact holds it, or None."""
    try:
        found = datetime.fromisoformat(str(text))
    except ValueError:
        return None
    return found if found.tzinfo is not None else None


def one(book: Book, id: str) -> Notice:
    """A notice by its id, or by its first digits; refused where there is none."""
    found = [notice for notice in book.notices if len(id) >= 4 and notice.id.startswith(id)]
    if len(found) != 1:
        raise mishaps.Refused(
            _stop("notice/unknown", "There is no notice of that id now.", "look at the list")
        )
    return found[0]


def act(
    place: hall.Hall,
    notice: Notice,
    what: str,
    who: people.Who,
    *,
    until: datetime | None = None,
    why: str = "",
    person: int | None = None,
) -> None:
    """Write down what somebody did with a notice.

    Parameters
    ----------
    place : Hall
    notice : Notice
    what : str
        One of `ACTS`.
    who : Who
        Whose role counts.
    until : datetime, optional
        The end of a shelf: at most one shift away.
    why : str
        Needed to shelve and to take out of service.
    person : int, optional
        Who is written down; that of `who` where not given.

    Raises
    ------
    mishaps.Refused
    """
    at = clock.now()
    for fault in _faults(what, who, until, why.strip(), at):
        raise mishaps.Refused(fault)
    details = {
        "notice": notice.id, "what": what, "about": notice.what,
        "until": until.isoformat() if until is not None and what == "shelved" else "", "why": why.strip(),
    }  # fmt: skip
    number = person if person is not None else who.number
    fact = records.Fact(
        id=hall.new_id(), kind="notice", measured=at, entered=at, place=notice.place, person=number,
        details={name: value for name, value in details.items() if value},
    )  # fmt: skip
    place.write([fact], person=number)


def _faults(
    what: str, who: people.Who, until: datetime | None, why: str, at: datetime
) -> Sequence[findings.Finding]:
    if what not in ACTS:
        return [
            _stop("notice/no-act", f"'{what}' is nothing that is done with a notice.", typed.near(what, ACTS))
        ]
    if what in ("shelved", "out of service") and not why:
        said = "A notice that is put aside needs a reason."
        return [_stop("notice/no-reason", said, "say why it need not be looked at now")]
    if what == "shelved" and (until is None or states.shelf(until, at) is None):
        most = states.SHELVED_AT_MOST.total_seconds() / 3600.0
        said = "A shelf has an end, and it comes back by itself then."
        return [_stop("notice/no-end", said, f"give an end within {most:.0f} hours")]
    if what in ("out of service", "in service") and who.role not in LEADS:
        said = "Only a lead takes a notice out of service, or brings it back."
        return [_stop("notice/not-yours", said, "shelve it, and tell the lead")]
    return []


def _stop(code: str, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint)


def as_json(notice: Notice) -> dict[str, Any]:
    """A notice as plain data."""

    def when(at: datetime | None) -> str | None:
        return at.isoformat() if at else None

    return {
        "id": notice.id, "what": notice.what, "place": notice.place, "quantity": notice.quantity,
        "level": notice.level.value, "priority": notice.priority, "state": notice.state,
        "since": when(notice.since), "asked": when(notice.asked), "left": when(notice.left),
        "value": notice.value, "read": when(notice.read), "sure": notice.sure, "second": notice.second,
        "limit": notice.limit, "cause": notice.cause, "consequence": notice.consequence,
        "response": notice.response, "hours": notice.hours, "in_hand": notice.in_hand, "by": notice.by,
        "until": when(notice.act.until) if notice.act else None, "why": notice.act.why if notice.act else "",
        "code": notice.code,
    }  # fmt: skip
