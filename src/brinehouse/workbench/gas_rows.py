"""Gas readings of one system as samples that a comparison of pumps can use.

Each sample is one meter at one place in one sitting: total gas pressure less the meter's offset, oxygen,
temperature and air pressure of the same meter, salinity of the round nearest in time.
"""

from __future__ import annotations

import bisect
from collections.abc import Mapping, Sequence
from datetime import timedelta

import numpy as np

from brinehouse import answers, records
from brinehouse.engines import gas_budget, gas_changes
from brinehouse.facility import model

TOGETHER = timedelta(minutes=15)
LAST_ROUND = timedelta(days=4)
NEEDED = ("total gas pressure", "oxygen", "temperature", "barometer")


def samples(
    readings: Sequence[records.Reading], facility: model.Facility, offsets: Mapping[str, answers.Value]
) -> dict[str, list[gas_changes.Sample]]:
    """Samples by system.

    Parameters
    ----------
    readings : sequence of Reading
        Effective readings, in order of time.
    facility : Facility
    offsets : mapping
        How much each meter's total gas pressure reads too high. [%]
    """
    salinity = _by_system(readings, facility)
    rows: list[tuple[records.Reading, float, float, float, float]] = []
    for reading, others in _visits(readings):
        system = facility.system_of(reading.point or reading.place)
        salt = _nearest(salinity.get(system.id if system else "", ()), reading)
        if salt is None or reading.value is None:
            continue
        rows.append((reading, others["oxygen"], others["temperature"], others["barometer"], salt))
    if not rows:
        return {}
    shift = np.array([_offset(offsets, reading.instrument) for reading, *_ in rows])
    values = gas_budget.columns(
        {
            "tgp": np.array([reading.value for reading, *_ in rows], dtype=float) - shift,
            "oxygen": np.array([row[1] for row in rows]),
            "temperature": np.array([row[2] for row in rows]),
            "barometer": np.array([row[3] for row in rows]),
            "salinity": np.array([row[4] for row in rows]),
        }
    )
    found: dict[str, list[gas_changes.Sample]] = {}
    for place, (reading, *_) in enumerate(rows):
        system = facility.system_of(reading.point or reading.place)
        sample = gas_changes.Sample(
            at=reading.measured,
            place=reading.place,
            delta_p=float(values["delta_p"][place]),
            oxygen=float(values["oxygen_percent"][place]),
            nitrogen=float(values["nitrogen_percent"][place]),
            meter=reading.instrument,
        )
        if all(map(np.isfinite, (sample.delta_p, sample.oxygen, sample.nitrogen))):
            found.setdefault(system.id if system else "", []).append(sample)
    return found


def _offset(offsets: Mapping[str, answers.Value], instrument: str) -> float:
    value = offsets.get(instrument)
    return value.value if value is not None and value.value is not None else 0.0


def _visits(
    readings: Sequence[records.Reading],
) -> list[tuple[records.Reading, dict[str, float]]]:
    """Each total gas pressure with what the same meter showed beside it."""
    by_meter: dict[tuple[str, str, str], list[records.Reading]] = {}
    for reading in readings:
        if reading.quantity in NEEDED and reading.instrument and _sound(reading):
            by_meter.setdefault((reading.instrument, reading.place, reading.point), []).append(reading)
    found: list[tuple[records.Reading, dict[str, float]]] = []
    for group in by_meter.values():
        for reading in group:
            if reading.quantity != "total gas pressure" or reading.unit != "%":
                continue
            beside = {
                other.quantity: other.value
                for other in group
                if other.value is not None and abs(other.measured - reading.measured) <= TOGETHER
            }
            if all(quantity in beside for quantity in NEEDED):
                found.append((reading, beside))
    return sorted(found, key=lambda pair: pair[0].measured)


def _sound(reading: records.Reading) -> bool:
    """Whether a reading is a number that nobody doubts."""
    return reading.value is not None and not reading.bound and reading.quality in ("good", "unusual")


def _by_system(
    readings: Sequence[records.Reading], facility: model.Facility
) -> dict[str, list[records.Reading]]:
    found: dict[str, list[records.Reading]] = {}
    for reading in readings:
        if reading.quantity == "salinity" and reading.value is not None and reading.quality == "good":
            system = facility.system_of(reading.place)
            found.setdefault(system.id if system else "", []).append(reading)
    return found


def _nearest(history: Sequence[records.Reading], reading: records.Reading) -> float | None:
    """The salinity nearest in time, or None where the last round is too long ago."""
    if not history:
        return None
    at = bisect.bisect_left(history, reading.measured, key=lambda one: one.measured)
    near = min(
        history[max(0, at - 1) : at + 1], key=lambda one: abs(one.measured - reading.measured), default=None
    )
    if near is None or abs(near.measured - reading.measured) > LAST_ROUND:
        return None
    return near.value


def changes(facts: Sequence[records.Fact], facility: model.Facility, system: str) -> list[gas_changes.Change]:
    """Dated changes of plant in one system: events that name a piece of equipment."""
    found: list[gas_changes.Change] = []
    for fact in facts:
        equipment = str(fact.details.get("equipment", ""))
        if fact.kind != "event" or not equipment:
            continue
        where = facility.system_of(equipment) or facility.system_of(fact.place)
        if where is not None and where.id == system:
            found.append(gas_changes.Change(at=fact.measured, text=str(fact.details.get("what", equipment))))
    return found


def memory(facility: model.Facility, system: str) -> dict[str, float]:
    """Hours of water in each place of a system, volume over flow, where both are known."""
    found: dict[str, float] = {}
    for vessel in facility.places:
        here = facility.system_of(vessel.id)
        flow = sum(run.flow for run in facility.runs.values() if run.target == vessel.id and run.flow)
        volume = vessel.working or vessel.volume
        if here is not None and here.id == system and flow and volume:
            found[vessel.id] = volume / flow / 3600.0
    return found


def pumps_of(facility: model.Facility, system: str) -> set[str]:
    """Pumps that serve a system."""
    return {
        pump
        for pump in facility.pumps
        if (here := facility.system_of(pump)) is not None and here.id == system
    }
