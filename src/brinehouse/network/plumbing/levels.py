"""How high the water stands in each place."""

from __future__ import annotations

from collections.abc import Mapping

from brinehouse.facility import model
from brinehouse.network.plumbing import overflowing, parts, way

READ = 0.01  # m: a level that was read
FROM_CREST = 0.02  # m: a crest and what stands over it
FROM_SIZES = 0.1  # m: depth, or volume over surface. All three: common practice, no source


def surfaces(
    facility: model.Facility, flows: Mapping[str, float], told: Mapping[str, float] | None = None
) -> dict[str, parts.Head]:
    """Level of each place whose level can be told.

    As told; else the crest and the water that stands over it; else the floor and the depth, or the floor and
    the water in running over the surface. What is part of another place shares its level.
    """
    told = told or {}
    found: dict[str, parts.Head] = {}
    for vessel in facility.vessels.values():
        level = _level(facility, vessel, flows, told)
        if level is not None:
            found[vessel.id] = level
    for vessel in facility.vessels.values():
        outer, seen = vessel.part_of, {vessel.id}
        while outer in facility.vessels and outer not in found and outer not in seen:
            seen.add(outer)
            outer = facility.vessels[outer].part_of
        if vessel.id not in told and vessel.part_of and outer in found:
            found[vessel.id] = found[outer]
    return found


def _level(
    facility: model.Facility, vessel: model.Vessel, flows: Mapping[str, float], told: Mapping[str, float]
) -> parts.Head | None:
    if vessel.id in told:
        return parts.Head.of(told[vessel.id], READ)
    if vessel.crest is not None and any(way.overflows(facility, run) for run in _leaving(facility, vessel)):
        over = overflowing.over_crest(facility, vessel, flows)
        return parts.Head.of(vessel.crest, FROM_CREST).plus(over)
    if vessel.elevation is None:
        return None
    if vessel.depth is not None:
        return parts.Head.of(vessel.elevation + vessel.depth, FROM_SIZES)
    water = vessel.working or vessel.volume
    if water is not None and vessel.surface:
        return parts.Head.of(vessel.elevation + water / vessel.surface, FROM_SIZES)
    return None


def _leaving(facility: model.Facility, vessel: model.Vessel) -> list[model.Run]:
    return [run for run in facility.runs.values() if run.source == vessel.id]


def room(vessel: model.Vessel, level: float) -> float | None:
    """Free volume between a level and the rim; None where either is not told. [m³]."""
    if vessel.rim is None or area(vessel) is None:
        return None
    return max(vessel.rim - level, 0.0) * (area(vessel) or 0.0)


def area(vessel: model.Vessel) -> float | None:
    """Area of the water's surface: as stated, else by the sizes. [m²]."""
    if vessel.surface is not None:
        return vessel.surface
    if vessel.length is not None and vessel.width is not None:
        return vessel.length * vessel.width
    if vessel.diameter is not None:
        return 3.141592653589793 / 4 * vessel.diameter**2
    if vessel.depth is not None and vessel.volume is not None:
        return vessel.volume / vessel.depth
    return None
