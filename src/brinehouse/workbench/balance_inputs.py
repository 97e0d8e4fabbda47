"""What a balance takes from the logbook: readings, feed, air pressure; and what stands around the water."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from brinehouse.engines import balance
from brinehouse.facility import model
from brinehouse.workbench import hall, known_water


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """What the logbook says of the water today."""

    known: Mapping[str, Mapping[str, balance.Known]] = field(
        default_factory=dict[str, Mapping[str, balance.Known]]
    )
    pressure: balance.Known | None = None
    feed: Mapping[str, float] = field(default_factory=dict[str, float])
    as_of: datetime | None = None


def look(place: hall.Hall) -> Inputs:
    """The newest readings of a hall, its feed and its air pressure; empty where nothing was written."""
    begin = known_water.begin_of(place) if hall.Hall.has_book(place.folder) else None
    if begin is None:
        return Inputs()
    readings = place.history(since=begin, quantities=[*known_water.WANTED, "barometer"])
    known = known_water.newest(readings, place.facility)
    end = max((one.at for read in known.values() for one in read.values()), default=None)
    facts = place.facts(kinds=["feeding"], since=begin)
    return Inputs(
        known=known,
        pressure=known_water.pressure(readings, place.facility),
        feed=known_water.feed(facts, end) if end is not None else {},
        as_of=end,
    )


def conditions(facility: model.Facility, inputs: Inputs) -> Any:
    """What stands around the water of a plant."""
    return balance.conditions(facility, inputs.known, pressure=inputs.pressure, feed=inputs.feed)
