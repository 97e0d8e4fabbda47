"""What a balance takes from the logbook: readings, feed, air pressure; and what stands around the water."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from brinehouse import answers
from brinehouse.engines import balance
from brinehouse.facility import model
from brinehouse.network import flows
from brinehouse.workbench import gas_sources, hall, investigation, known_water, mishaps

AIR_AT = "air drawn in at "  # how the engine of gas sources names a leak


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """What the logbook says of the water today."""

    known: Mapping[str, Mapping[str, balance.Known]] = field(
        default_factory=dict[str, Mapping[str, balance.Known]]
    )
    pressure: balance.Known | None = None
    feed: Mapping[str, float] = field(default_factory=dict[str, float])
    drawn: balance.Drawn = field(default_factory=balance.Drawn)
    as_of: datetime | None = None


def look(place: hall.Hall, *, located: bool = True) -> Inputs:
    """The newest readings of a hall, its feed and its air pressure; empty where nothing was written.

    Parameters
    ----------
    place : Hall
    located : bool
        Whether air drawn in is taken from the search for where the gas comes from, which takes its time;
        otherwise as much as keeps the gas as read, by all pumps that run alike.
    """
    begin = known_water.begin_of(place) if hall.Hall.has_book(place.folder) else None
    if begin is None:
        return Inputs()
    readings = place.history(since=begin, quantities=[*known_water.WANTED, "barometer"])
    known = known_water.newest(readings, place.facility, _offsets(place))
    end = max((one.at for read in known.values() for one in read.values()), default=None)
    facts = place.facts(kinds=["feeding"], since=begin)
    inputs = Inputs(
        known=known,
        pressure=known_water.pressure(readings, place.facility),
        feed=known_water.feed(facts, end) if end is not None else {},
        as_of=end,
    )
    return dataclasses.replace(inputs, drawn=_drawn(place, inputs) if located else _spread(place, inputs))


def _spread(place: hall.Hall, inputs: Inputs) -> balance.Drawn:
    """Air drawn in by all running pumps alike that keeps total gas pressure as it was read."""
    facility = place.facility
    told = conditions(facility, inputs)
    air = told["pressure"] / known_water.PASCAL
    read = {
        name: (
            (one[known_water.GAS].value / 100.0 - 1.0) * air,
            max((one[known_water.GAS].u or 0.5) / 100.0 * air, 1.0),
        )
        for name, one in inputs.known.items()
        if known_water.GAS in one
    }
    if not read:
        return balance.Drawn()
    return balance.spread(
        balance.Plant(facility=facility, flows=flows.stated(facility), conditions=told), read
    )


def _offsets(place: hall.Hall) -> Mapping[str, answers.Value]:
    """How much each gas meter is known to read too high; none where that cannot be told."""
    try:
        return investigation.offsets_of(investigation.investigate(place).meters)
    except mishaps.Refused:
        return {}


def _drawn(place: hall.Hall, inputs: Inputs) -> balance.Drawn:
    """Air drawn in at pumps that the gas readings name, as the plant needs it to make that much gas."""
    told: dict[str, dict[str, tuple[float, float]]] = {}
    try:
        tables = gas_sources.survey(place).tables
    except mishaps.Refused:
        return balance.Drawn()  # what stands in the way is told on the sheet of sources
    sources = next((table for table in tables if table.name == "sources"), None)
    for row in sources.rows if sources is not None else ():
        name, size = str(row.get("source", "")), row.get("size")
        pump = name.removeprefix(AIR_AT)
        if pump == name or not isinstance(size, answers.Value) or size.value is None:
            continue
        span = size.interval()
        u = (span[1] - span[0]) / (2.0 * answers.COVERAGE) if span else 0.3 * size.value
        told.setdefault(pump, {})[str(row["place"])] = (size.value, max(u, 0.5))
    if not told:
        return balance.Drawn()
    facility = place.facility
    plant = balance.Plant(
        facility=facility, flows=flows.stated(facility), conditions=conditions(facility, inputs)
    )
    return balance.drawn(plant, told)


def conditions(facility: model.Facility, inputs: Inputs) -> Any:
    """What stands around the water of a plant."""
    drawn = inputs.drawn
    return balance.conditions(
        facility,
        inputs.known,
        pressure=inputs.pressure,
        feed=inputs.feed,
        leaks=drawn.leaks,
        leak_doubt=drawn.doubt if drawn.leaks else None,
        column=drawn.column,
    )
