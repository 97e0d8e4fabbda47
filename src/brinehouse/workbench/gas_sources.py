"""Where the loop's gas comes from: the logbook's readings and the hydraulics, handed to the engine as plain data."""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from datetime import datetime

from brinehouse import answers, records
from brinehouse.engines import gas_sources as engine
from brinehouse.facility import model
from brinehouse.network import flows
from brinehouse.workbench import gas_rows, investigation

MMHG = 133.322387415  # Pa


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
        turns=tuple(
            engine.Turn(at=t.at, pump=t.pump, running=t.running)
            for t in gas_rows.turns(facts)
            if t.pump in pumps
        ),
        changes=_changes(facility, facts, system),
        suctions=suctions or {},
        flows=flows.stated(facility).flows,
        offsets={name: 7.3 * (value.u or 0.3) for name, value in offsets.items()},
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
    """How far a meter's oxygen may be off, as a share: its maker's word taken as the ends of an even spread."""
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
