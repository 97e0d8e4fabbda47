"""Visits: one meter at one place at one time, with the water and the air around it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from brinehouse import records
from brinehouse.engines.gas_budget import closure, completing, shelves, understanding
from brinehouse.facility import model
from brinehouse.science import barometer

Array = NDArray[np.float64]
MMHG = understanding.MMHG
TOGETHER = timedelta(minutes=45)


@dataclass(slots=True, kw_only=True)
class Visit:
    """Readings of one meter at one place within 45 minutes or one sitting; `known` as if typed by hand."""

    place: str
    instrument: str
    sitting: str
    when: datetime
    readings: dict[str, records.Reading] = field(default_factory=dict[str, records.Reading])
    known: understanding.Given = field(default_factory=understanding.Given)
    ready: completing.Ready | None = None

    @property
    def triple(self) -> bool:
        """Whether the meter's own total, oxygen and nitrogen are all there."""
        has = self.readings
        return (
            (shelves.TOTAL in has or shelves.DELTA in has)
            and shelves.OXYGEN in has
            and shelves.NITROGEN in has
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Barometer:
    """What one barometer was taken to show, and why."""

    instrument: str
    sea_level: bool
    stated: bool
    apart: float  # how far it stands from the station pressure expected there [Pa]


def gather(readings: Sequence[records.Reading]) -> list[Visit]:
    """Visits in order of time: readings of gas meters that belong together."""
    gas = {shelves.TOTAL, shelves.DELTA, shelves.NITROGEN}
    meters = {one.instrument for one in readings if one.quantity in gas}
    open_visits: dict[tuple[str, str, str], Visit] = {}
    found: list[Visit] = []
    for one in readings:
        if one.instrument not in meters or not one.place:
            continue
        key = (one.place, one.instrument, one.sitting)
        visit = open_visits.get(key)
        if visit is None or one.measured - visit.when > TOGETHER or one.quantity in visit.readings:
            visit = Visit(place=one.place, instrument=one.instrument, sitting=one.sitting, when=one.measured)
            open_visits[key] = visit
            found.append(visit)
        visit.readings[one.quantity] = one
        visit.when = one.measured
    return [visit for visit in found if gas & set(visit.readings)]


class Surroundings:
    """Temperature, salinity and air pressure for a visit, the nearest in time, less sure with age."""

    def __init__(
        self,
        facility: model.Facility,
        readings: Sequence[records.Reading],
        worth: shelves.Worth,
    ) -> None:
        self.facility, self.worth = facility, worth
        self.shelves = shelves.shelve(readings)
        air = [one for one in readings if one.quantity == shelves.BAROMETER]
        self.barometers = kinds_of_barometers(facility, air, worth)
        self.air = shelves.shelve([replace(one, place="") for one in air]).get(
            ("", shelves.BAROMETER), shelves.Shelf()
        )

    def fill(self, visit: Visit) -> None:
        """Make the visit's readings into one as typed by hand, and complete it."""
        known, has = visit.known, visit.readings
        known.altitude = self.facility.altitude
        known.temperature = self._temperature(visit)
        known.salinity = self._salinity(visit)
        known.barometer = self._barometer(visit)
        depth = self.facility.shallow_end(visit.place)
        if depth is not None:
            known.depth = understanding.Quantity(value=depth, u=0.03, rounding=0.0, text=f"{depth:g} m")
        instrument = self.facility.instruments.get(visit.instrument)
        if instrument is not None and instrument.salinity_setting is not None:
            known.meter_salinity = instrument.salinity_setting
        if shelves.TOTAL in has:
            known.total = self.worth.of(has[shelves.TOTAL])
            known.total_kind = "percent" if has[shelves.TOTAL].unit == "%" else "pressure"
        elif shelves.DELTA in has:
            known.total, known.total_kind = self.worth.of(has[shelves.DELTA]), "delta"
        for name, word in (
            ("oxygen", shelves.OXYGEN),
            ("saturation", shelves.SATURATION),
            ("nitrogen", shelves.NITROGEN),
            ("carbon_dioxide", shelves.CARBON),
        ):
            if word in has:
                setattr(known, name, self.worth.of(has[word]))
        if known.oxygen is None and known.saturation is None:
            self._borrow_oxygen(visit)
        visit.ready, _ = completing.complete(known)

    def _borrow_oxygen(self, visit: Visit) -> None:
        """Another instrument's oxygen, within 45 minutes; it tests no settings."""
        shelf = self.shelves.get((visit.place, shelves.OXYGEN))
        one = shelf.near(visit.when, TOGETHER.total_seconds() / 3600.0) if shelf else None
        if one is not None:
            visit.known.oxygen = self.worth.of(one)
            visit.known.nitrogen = None
            other = self.facility.instruments.get(one.instrument)
            visit.known.meter_salinity = other.salinity_setting if other else None

    def _temperature(self, visit: Visit) -> understanding.Quantity | None:
        own = visit.readings.get(shelves.TEMPERATURE)
        return self.worth.of(own) if own is not None else self.temperature_at(visit.place, visit.when)

    def temperature_at(self, place: str, when: datetime) -> understanding.Quantity | None:
        """Temperature nearest in time, within a day; else the facility file's."""
        shelf = self.shelves.get((place, shelves.TEMPERATURE))
        one = shelf.near(when, 24.0) if shelf else None
        if one is not None:
            hours = abs((one.measured - when).total_seconds()) / 3600.0
            return _aged(self.worth.of(one), 0.1 * math.sqrt(hours))
        return self._starting(place, "temperature", 1.0)

    def _salinity(self, visit: Visit) -> understanding.Quantity | None:
        own = visit.readings.get(shelves.SALINITY)
        return self.worth.of(own) if own is not None else self.salinity_at(visit.place, visit.when)

    def salinity_at(self, place: str, when: datetime) -> understanding.Quantity | None:
        """Salinity nearest in time, within two weeks, here or elsewhere in the system; else the file's."""
        system = self.facility.system_of(place)
        near = [place, *(system.places if system else ())]
        for step, name in enumerate(dict.fromkeys(near)):
            shelf = self.shelves.get((name, shelves.SALINITY))
            one = shelf.near(when, 14.0 * 24.0) if shelf else None
            if one is not None:
                days = abs((one.measured - when).total_seconds()) / 86400.0
                return _aged(self.worth.of(one), 0.1 * math.sqrt(days) + (0.2 if step else 0.0))
        return self._starting(place, "salinity", 1.0)

    def _starting(self, place: str, name: str, u: float) -> understanding.Quantity | None:
        """The facility file's starting value, of the place or of any place of its system."""
        system = self.facility.system_of(place)
        names = [place, *(system.places if system else ())]
        for one in names:
            vessel = self.facility.place(one)
            value = getattr(vessel, name, None) if vessel else None
            if value is not None:
                return understanding.Quantity(value=value, u=u, rounding=u, source="the facility file")
        return None

    def _barometer(self, visit: Visit) -> understanding.Quantity | None:
        own = visit.readings.get(shelves.BAROMETER)
        if own is not None:
            return self._as_station(own)
        one = self.air.near(visit.when, 6.0)
        if one is not None:
            hours = abs((one.measured - visit.when).total_seconds()) / 3600.0
            return _aged(self._as_station(one), 0.7 * MMHG * hours)
        altitude = self.facility.altitude
        if altitude is None:
            return None
        value = float(barometer.station_pressure_from_altitude(altitude))
        u = understanding.WEATHER
        return understanding.Quantity(value=value, u=u, rounding=u, source="standard atmosphere")

    def _as_station(self, one: records.Reading) -> understanding.Quantity:
        found, altitude = self.worth.of(one), self.facility.altitude
        kind = self.barometers.get(one.instrument)
        if altitude is None or kind is None or not kind.sea_level:
            return found
        station = float(barometer.station_pressure_from_sea_level_pressure(found.value, altitude))
        source = f"{found.source}, reduced from sea level"
        return replace(found, value=station, u=math.hypot(found.u, MMHG), source=source)


def _aged(found: understanding.Quantity, more: float) -> understanding.Quantity:
    return replace(
        found, u=math.hypot(found.u, more), rounding=math.hypot(found.rounding, more), text=found.text
    )


def kinds_of_barometers(
    facility: model.Facility, readings: Sequence[records.Reading], worth: shelves.Worth
) -> dict[str, Barometer]:
    """What each barometer shows: as stated, or by which of the two pressures it stands near."""
    by_instrument: dict[str, list[records.Reading]] = {}
    for one in readings:
        by_instrument.setdefault(one.instrument, []).append(one)
    return {name: _kind(facility, name, rows, worth) for name, rows in by_instrument.items()}


def _kind(
    facility: model.Facility, name: str, rows: Sequence[records.Reading], worth: shelves.Worth
) -> Barometer:
    instrument = facility.instruments.get(name)
    said = {one.basis for one in rows if one.basis} | {instrument.barometer if instrument else ""}
    altitude = facility.altitude
    if altitude is None:
        return Barometer(instrument=name, sea_level="sea level" in said, stated=True, apart=0.0)
    middle = float(np.median([worth.of(one).value for one in rows[-500:]]))
    station = float(barometer.station_pressure_from_altitude(altitude))
    sea = float(barometer.sea_level_pressure_from_station_pressure(station, altitude))
    if "sea level" in said:
        return Barometer(instrument=name, sea_level=True, stated=True, apart=middle - sea)
    # two normal guesses of one width: the nearer one is 100 times likelier where they stand far enough apart
    spread = understanding.WEATHER / math.sqrt(min(len(rows), 4))
    gain = ((middle - station) ** 2 - (middle - sea) ** 2) / (2.0 * spread**2)
    looks = gain > math.log(100.0)
    return Barometer(instrument=name, sea_level=looks, stated=False, apart=middle - station)


def as_case(found: Sequence[Visit]) -> closure.Case:
    """The triples of one meter as rows of a closure."""
    states = [completing.state(visit.ready) for visit in found if visit.ready]
    cases = [
        completing.as_case(visit.ready, state)
        for visit, state in zip((v for v in found if v.ready), states, strict=True)
        if visit.ready
    ]
    rows = closure.stack([case for case in cases if case is not None])
    rows.saturation = np.full_like(rows.nitrogen, math.nan)
    return rows


def latest(found: Sequence[Visit]) -> dict[str, Visit]:
    """The newest complete visit of each place; of several within 90 minutes the surest one."""
    out: dict[str, Visit] = {}
    newest: Mapping[str, datetime] = {visit.place: visit.when for visit in found if visit.ready}
    for visit in found:
        if visit.ready is None or newest[visit.place] - visit.when > timedelta(minutes=90):
            continue
        held = out.get(visit.place)
        if held is None or held.ready is None or visit.ready.total.u <= held.ready.total.u:
            out[visit.place] = visit
    return out
