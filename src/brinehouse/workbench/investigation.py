"""The gas investigation: meters, water, explanations and pumps, put together in the order a crew would ask.

First which meters to believe, then what the water holds with their errors taken off, then which pump the gas
comes with. The whole is kept until the logbook or the facility file changes.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from brinehouse import answers, findings, glossary, records
from brinehouse.engines import gas_budget, gas_changes
from brinehouse.engines import instruments as meters_engine
from brinehouse.facility import model
from brinehouse.workbench import clock, gas_rows, gas_series, hall, now, reasons, recent

SPAN = timedelta(days=120)
BY_HAND, MOST = 3_000, 20_000
"""So many gas readings are weighed, the newest: of those taken by hand, and of all, loggers' among them."""
PRESSURE = "total gas pressure"
LIMITS_ELSEWHERE = ("gas/limit-crossed", "gas/limit-may-be-crossed")  # the sheet judges limits by itself


@dataclass(frozen=True, slots=True, kw_only=True)
class Investigation:
    """What was found, each part an engine's own answer.

    Attributes
    ----------
    title : str
        The hall and the days it rests on.
    sentence : str
        The finding that matters most.
    meters : Answer
        Total gas pressure meters against one another and their air checks.
    water : Answer
        The budget of every place, with what the meters do wrong taken off.
    changes : mapping
        System to what goes with its gas.
    series : mapping
        Place to what its logger's columns say of one another.
    next_readings : sequence of str
        Most telling first.
    """

    title: str
    sentence: str
    meters: answers.Answer
    water: answers.Answer
    changes: Mapping[str, answers.Answer]
    series: Mapping[str, answers.Answer] = field(default_factory=dict[str, answers.Answer])
    next_readings: Sequence[str] = ()
    begin: datetime | None = None
    as_of: datetime | None = None
    used: int = 0
    names: Mapping[str, str] = field(default_factory=dict[str, str])
    left_out: Sequence[findings.Finding] = ()

    @property
    def findings(self) -> list[findings.Finding]:
        """Everything found, heaviest first."""
        order = list(findings.Level)
        told = [*self.left_out, *self.meters.findings, *self.water.findings]
        for answer in (*self.changes.values(), *self.series.values()):
            told += answer.findings
        return sorted(told, key=lambda finding: -order.index(finding.level))

    @property
    def status(self) -> int:
        """1 where something needs a person."""
        heavy = (findings.Level.ACT, findings.Level.ASK, findings.Level.WATCH)
        return 1 if any(finding.level in heavy for finding in self.findings) else 0

    def as_json(self) -> dict[str, Any]:
        """Plain data: the parts as their engines give them."""
        return {
            "title": self.title,
            "sentence": self.sentence,
            "meters": self.meters.as_json(),
            "water": self.water.as_json(),
            "changes": {system: answer.as_json() for system, answer in self.changes.items()},
            "series": {place: answer.as_json() for place, answer in self.series.items()},
            "findings": [finding.as_json() for finding in self.findings],
            "next_readings": list(self.next_readings),
            "as_of": self.as_of.isoformat() if self.as_of else None,
            "used": self.used,
            "advice": "Advice, not a command.",
        }


_kept: dict[str, tuple[tuple[Any, ...], Investigation]] = {}


def investigate(place: hall.Hall) -> Investigation:
    """The investigation as things stand; kept while neither logbook nor facility file has changed."""
    facility = place.facility
    stamp = (place.book.head(), facility.digest, clock.now().date())
    known = _kept.get(str(place.folder.resolve()))
    if known is not None and known[0] == stamp:
        return known[1]
    since, left_out = _window(place)
    made = examine(facility, place.history(since=since), place.facts(since=since - SPAN), as_of=clock.now())
    made = dataclasses.replace(made, left_out=left_out)
    _kept[str(place.folder.resolve())] = (stamp, made)
    return made


def examine(
    facility: model.Facility,
    readings: Sequence[records.Reading],
    facts: Sequence[records.Fact],
    *,
    as_of: datetime,
) -> Investigation:
    """The investigation of given readings and facts, as they stood at a time.

    Parameters
    ----------
    facility : Facility
    readings, facts : sequences
        Effective ones, in order of time.
    as_of : datetime
        Aware.
    """
    meters = _meters(facility, readings, facts, PRESSURE)
    offsets = offsets_of(meters)
    corrections = {
        name: {PRESSURE: (-offset.value, offset.u or 0.0)}
        for name, offset in offsets.items()
        if offset.value is not None
    }
    water = gas_budget.survey(facility, readings, corrections=corrections, facts=facts, as_of=as_of)
    changes = _changes(facility, readings, facts, offsets)
    series = gas_series.examine(facility, readings)
    gas = [reading for reading in readings if reading.quantity == PRESSURE]
    begin, end = (min((r.measured for r in gas), default=None), hall.newest(gas))
    return Investigation(
        title=_title(facility, begin, end),
        sentence=_sentence(facility, water, changes, series),
        meters=meters,
        water=water,
        changes=changes,
        series=series,
        next_readings=_next(changes, *series.values(), meters, water),
        begin=begin,
        as_of=end,
        used=water.used,
        names={vessel.id: vessel.name for vessel in facility.places},
    )


def known_offsets(place: hall.Hall) -> Mapping[str, answers.Value]:
    """How far each gas meter is off as last worked out; nothing where nobody has asked yet: nobody waits."""
    known = _kept.get(str(place.folder.resolve()))
    return offsets_of(known[1].meters) if known is not None else {}


def _begin(place: hall.Hall, quantity: str) -> datetime:
    """From when on readings count: some months before the newest one of a quantity, however old that is."""
    newest = recent.newest_of(place, quantity)
    return (newest or clock.now()) - SPAN


def _window(place: hall.Hall) -> tuple[datetime, tuple[findings.Finding, ...]]:
    """From when on readings are weighed, and what is to be said where that is later than it would be."""
    since = _begin(place, PRESSURE)
    newest = place.book.readings(quantities=[PRESSURE], since=since, limit=MOST + 1, newest_first=True)
    times = sorted(reading.measured for reading in newest)
    hands = sorted(reading.measured for reading in newest if reading.source == "hand")
    if len(times) <= MOST and len(hands) <= BY_HAND:
        return since, ()
    later = max(times[-MOST:][0], hands[-BY_HAND:][0] if hands else since)
    told = findings.Finding(
        code="gas/only-the-newest",
        level=findings.Level.NOTE,
        text=f"Of more gas readings only those from {later:%Y-%m-%d %H:%M} UTC on are weighed",
        hint="what was before stands in the log",
        data={"since": later.isoformat(), "by_hand": BY_HAND, "most": MOST},
    )
    return later, (told,)


def instruments(place: hall.Hall, quantity: str) -> answers.Answer:
    """Which meter of a quantity is off, from the whole logbook."""
    word = glossary.find(quantity).word
    since = _begin(place, word)
    return _meters(place.facility, place.history(since=since), place.facts(since=since - SPAN), word)


def _meters(
    facility: model.Facility,
    readings: Sequence[records.Reading],
    facts: Sequence[records.Fact],
    quantity: str,
) -> answers.Answer:
    known = glossary.find(quantity)
    accuracies = {
        meter.id: meter.accuracy[known.word]
        for meter in facility.instruments.values()
        if known.word in meter.accuracy
    }
    return meters_engine.survey(readings, facts, accuracies, known.word, known.unit)


def offsets_of(answer: answers.Answer) -> dict[str, answers.Value]:
    """How much each meter reads too high, where that is known against something absolute."""
    for table in answer.tables:
        if table.name == "meters":
            return {
                str(row["meter"]).split(" from ")[0]: row["offset"]
                for row in table.rows
                if isinstance(row.get("offset"), answers.Value) and row["offset"].value is not None
            }
    return {}


def _changes(
    facility: model.Facility,
    readings: Sequence[records.Reading],
    facts: Sequence[records.Fact],
    offsets: Mapping[str, answers.Value],
) -> dict[str, answers.Answer]:
    """By system: which pump goes with its gas; systems without gas samples or a pump record are left out."""
    turns = records.turns(facts)
    found: dict[str, answers.Answer] = {}
    for system, samples in gas_rows.samples(readings, facility, offsets).items():
        pumps = gas_rows.pumps_of(facility, system)
        mine = [turn for turn in turns if turn.pump in pumps]
        if len({turn.pump for turn in mine}) < 2:
            continue
        found[system] = gas_changes.survey(
            samples,
            mine,
            gas_rows.changes(facts, facility, system),
            memory=gas_rows.memory(facility, system),
        )
    return found


def _title(facility: model.Facility, begin: datetime | None, end: datetime | None) -> str:
    if begin is None or end is None:
        return f"{facility.name}: no gas readings yet"
    one, two = f"{begin.day} {begin:%B %Y}", f"{end.day} {end:%B %Y}"
    return f"{facility.name}: gas, readings of {one}" + (f" to {two}" if two != one else "")


def _sentence(
    facility: model.Facility,
    water: answers.Answer,
    changes: Mapping[str, answers.Answer],
    series: Mapping[str, answers.Answer],
) -> str:
    """What matters most: a pump that brings gas in, with the place that feels it; else the water's own."""
    for system, answer in changes.items():
        if answer.state == "found":
            named = facility.systems[system].name if system in facility.systems else system
            return f"{named}: {answer.sentence[0].lower()}{answer.sentence[1:]}"
    for place, answer in series.items():
        return f"{place}: {answer.sentence[0].lower()}{answer.sentence[1:]}"
    return water.sentence


def _next(changes: Mapping[str, answers.Answer], *others: answers.Answer) -> tuple[str, ...]:
    told: list[str] = []
    for answer in changes.values():
        if answer.state == "found":
            told += answer.next_readings
    for answer in others:
        told += answer.next_readings
    return tuple(dict.fromkeys(told))


def concerns_of(found: Investigation) -> list[now.Concern]:
    """What an investigation adds to that sheet."""
    if found.as_of is None:
        return []
    heavy = (findings.Level.ACT, findings.Level.WATCH, findings.Level.ASK)
    evidence = reasons.Evidence(meters=found.meters, water=found.water, changes=found.changes)
    return [
        now.Concern(
            level=findings.Level.WATCH if finding.level is findings.Level.ASK else finding.level,
            since=_since(finding) or found.as_of,
            what=finding.text,
            why=reasons.why(finding, evidence),
            next=finding.hint,
            href="/gas",
            code=finding.code,
            asks=False,
        )
        for finding in found.findings
        if finding.level in heavy and finding.code not in LIMITS_ELSEWHERE
    ]


def _since(finding: findings.Finding) -> datetime | None:
    """Since when a finding holds, where its engine says so."""
    try:
        return datetime.fromisoformat(str(finding.data["since"])) if "since" in finding.data else None
    except ValueError:
        return None
