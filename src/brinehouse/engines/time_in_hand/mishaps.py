"""Everything that can go wrong with a facility, in the order in which a person would think of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from brinehouse.engines.time_in_hand import (
    mishap,
    mishaps_of_machines,
    mishaps_of_pumps,
    mishaps_of_water,
    mishaps_of_whole,
)
from brinehouse.facility import model
from brinehouse.network.plumbing import way

KINDS = mishap.KINDS
Mishap = mishap.Mishap


def every(facility: model.Facility, running: Mapping[str, bool] | None = None) -> Iterator[mishap.Mishap]:
    """Every failure of a facility; pumps run as told, else the first of each duty group."""
    on = way.running_now(facility, running)
    yield from mishaps_of_whole.power(facility, on)
    yield from mishaps_of_pumps.pumps(facility, on)
    yield from mishaps_of_pumps.change_overs(facility, on)
    yield from mishaps_of_machines.machines(facility)
    yield from mishaps_of_pumps.suctions(facility, on)
    yield from mishaps_of_water.top_ups(facility)
    yield from mishaps_of_water.leaks(facility)
    yield from mishaps_of_water.valves(facility)
    yield from mishaps_of_whole.feeding(facility)
    yield from mishaps_of_whole.surroundings(facility)
    yield from mishaps_of_whole.own(facility)
