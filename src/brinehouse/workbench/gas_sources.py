"""Where the loop's gas comes from: readings and hydraulics, handed to the engine as plain data."""

from __future__ import annotations

import collections
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from brinehouse import answers, findings, glossary, records
from brinehouse.engines import gas_sources as engine
from brinehouse.facility import changing, hidden, model
from brinehouse.network import flows
from brinehouse.workbench import clock, gas_rows, hall, investigation, mishaps, recent, suctions

MMHG = 133.322387415  # Pa
POINT = 7.6  # mmHg in a point of TGP at sea level
KEPT = 8

_kept: collections.OrderedDict[tuple[Any, ...], answers.Answer] = collections.OrderedDict()


@dataclass(frozen=True, slots=True, kw_only=True)
class Excess:
    """ΔP at a place, its 95 % interval, and when it was so. [Pa]."""

    value: float
    low: float
    high: float
    when: datetime


def survey(place: hall.Hall, changes: changing.Changes | None = None) -> answers.Answer:
    """Where every system's gas comes from; kept while neither logbook, facility file nor list has changed.

    Parameters
    ----------
    place : Hall
    changes : Changes, optional
        A change of plant of the keeper's own: it stands among the what-ifs.
    """
    facility = place.facility
    if changes is not None and not changes.text.strip():
        changes = None
    if not hall.Hall.has_book(place.folder):
        return engine.joined({}, {})
    head = tuple(place.book.head())
    plan = (changes.digest, changes.name) if changes is not None else ()
    stamp = (str(place.folder.resolve()), head, facility.digest, clock.now().date(), plan)
    if stamp not in _kept:
        _kept[stamp] = _surveyed(place, changes)
        while len(_kept) > KEPT:
            _kept.popitem(last=False)
    _kept.move_to_end(stamp)
    return _kept[stamp]


def _surveyed(place: hall.Hall, changes: changing.Changes | None) -> answers.Answer:
    changed: dict[str, model.Facility] = {}
    if changes is not None:
        made = changing.apply(
            place.file.read_text("utf-8-sig"), changes, hall.FACILITY_FILE, base=place.checked
        )
        if made.facility is None:
            raise mishaps.Refused(*made.findings)
        changed[changes.title or " ".join(made.said) or changes.name] = made.facility
    span = investigation.SPAN
    newest = recent.newest_of(place, investigation.PRESSURE)
    since = (newest or clock.now()) - span
    meters = investigation.investigate(place).meters
    return examine(
        place.facility, place.history(since=since), place.facts(since=since - span), meters, changed=changed
    )


def examine(
    facility: model.Facility,
    readings: Sequence[records.Reading],
    facts: Sequence[records.Fact],
    meters: answers.Answer,
    *,
    changed: Mapping[str, model.Facility] | None = None,
) -> answers.Answer:
    """The same of given readings and facts, in order of time; `meters` is the judgement of the gas meters."""
    told = suctions.of(facility)
    offsets = investigation.offsets_of(meters)
    parts: dict[str, answers.Answer] = {}
    for system in gas_rows.samples(readings, facility, offsets):
        if system:
            given = given_of(facility, readings, facts, meters, system, suctions=told, changed=changed)
            parts[system] = engine.survey(given)
    return engine.joined(parts, {one.id: one.name or one.id for one in facility.systems.values()})


def excess(place: hall.Hall) -> dict[str, Excess]:
    """ΔP at each place of every system that could be fitted, for the picture of the loop."""
    levels = next((table for table in survey(place).tables if table.name == "levels"), None)
    found: dict[str, Excess] = {}
    for row in levels.rows if levels else ():
        value = row["delta_p"]
        low, high = value.interval()
        found[str(row["place"])] = Excess(
            value=value.value * MMHG,
            low=low * MMHG,
            high=high * MMHG,
            when=datetime.fromisoformat(str(row["measured"])),
        )
    return found


def known_place(facility: model.Facility, wanted: str) -> str:
    """The id of a place as it was asked for, or a refusal that names the nearest."""
    vessel = facility.place(wanted)
    if vessel is not None:
        return vessel.id
    near = glossary.nearest(wanted, [one.id for one in facility.places])
    raise mishaps.Refused(
        findings.Finding(
            code="sources/unknown-place",
            level=findings.Level.STOP,
            text=f"'{hidden.visible(wanted)}' is no place of this hall",
            hint=f"did you mean {near[0]}?" if near else "see the places with: brinehouse hall",
        )
    )


def status(answer: answers.Answer) -> int:
    """1 where something needs a person."""
    heavy = (findings.Level.ACT, findings.Level.ASK, findings.Level.WATCH)
    return 1 if any(finding.level in heavy for finding in answer.findings) else 0


def given_of(
    facility: model.Facility,
    readings: Sequence[records.Reading],
    facts: Sequence[records.Fact],
    meters: answers.Answer,
    system: str,
    *,
    suctions: Mapping[str, engine.Suction] | None = None,
    changed: Mapping[str, model.Facility] | None = None,
) -> engine.Given:
    """What the engine needs of one system."""
    offsets = investigation.offsets_of(meters)
    found = gas_rows.samples(readings, facility, offsets).get(system, [])
    usual = _usual(facility, readings, system)
    samples = tuple(
        engine.Sample(
            at=s.at, place=s.place, delta_p=s.delta_p, oxygen=s.oxygen, nitrogen=s.nitrogen, meter=s.meter,
            **usual,
        )
        for s in sorted(found, key=lambda one: one.at)
    )  # fmt: skip
    pumps = gas_rows.pumps_of(facility, system)
    return engine.Given(
        facility=facility,
        system=system,
        samples=samples,
        turns=tuple(one for one in records.turns(facts) if one.pump in pumps),
        changes=_changes(facility, facts, system),
        suctions=suctions or {},
        flows=flows.stated(facility).flows,
        offsets={name: POINT * (value.u or 0.3) for name, value in offsets.items()},
        gains=_gains(facility, samples),
        barometer=_barometer(readings),
        changed=changed or {},
    )


def _usual(facility: model.Facility, readings: Sequence[records.Reading], system: str) -> dict[str, float]:
    """The usual temperature, salinity and air pressure at the visits of a system."""
    wanted = {"temperature": "°C", "salinity": "", "barometer": "mmHg"}
    found: dict[str, list[float]] = {}
    for one in readings:
        where = facility.system_of(one.point or one.place) if one.place else None
        if one.value is None or where is None or where.id != system or one.quantity not in wanted:
            continue
        if wanted[one.quantity] in ("", one.unit):
            found.setdefault(one.quantity, []).append(one.value)
    names = {"temperature": "temperature", "salinity": "salinity", "barometer": "pressure"}
    return {names[quantity]: statistics.median(values) for quantity, values in found.items()}


def _changes(
    facility: model.Facility, facts: Sequence[records.Fact], system: str
) -> tuple[engine.Change, ...]:
    found: list[engine.Change] = []
    for fact in facts:
        equipment = str(fact.details.get("equipment", ""))
        where = facility.system_of(equipment) if equipment else None
        if fact.kind == "event" and where is not None and where.id == system:
            text = str(fact.details.get("what", equipment))
            found.append(engine.Change(at=fact.measured, equipment=equipment, text=text))
    return tuple(found)


def _gains(facility: model.Facility, samples: Sequence[engine.Sample]) -> dict[str, float]:
    """How far a meter's oxygen may be off, as a share: its maker's word as the ends of an even spread."""
    found: dict[str, float] = {}
    for name in {sample.meter for sample in samples}:
        meter = facility.instruments.get(name)
        amount = meter.accuracy.get("oxygen") if meter is not None else None
        if amount is not None and amount.unit == "mg/L":
            found[name] = amount.value / 6.7 / 3.0**0.5
    return found


def _barometer(readings: Sequence[records.Reading]) -> tuple[tuple[datetime, float], ...]:
    return tuple(
        (r.measured, float(r.value))
        for r in readings
        if r.quantity == "barometer" and not r.place and r.value is not None and r.unit == "mmHg"
    )
