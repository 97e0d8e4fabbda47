"""Whether air can be drawn in at a pump, from heights alone: its suction against the water it draws from."""

from __future__ import annotations

from brinehouse.engines import gas_sources as engine
from brinehouse.facility import model

DEEP = 1.0  # metres of water over a suction that no clogged strainer takes away; common practice, no source


def of(facility: model.Facility) -> dict[str, engine.Suction]:
    """Every pump that some run passes."""
    groups = {pump: duty.id for duty in facility.duties.values() for pump in duty.pumps}
    found: dict[str, engine.Suction] = {}
    for pump in facility.pumps.values():
        names = {pump.id, groups.get(pump.id, pump.id)}
        sources = {run.source for run in facility.runs.values() if names & {run.source, *run.through}}
        heights = [surface(vessel) for name in sources if (vessel := facility.place(name)) is not None]
        levels = [height for height in heights if height is not None]
        if sources:
            lowest = min(levels) if levels and len(levels) == len(heights) else None
            found[pump.id] = _judged(pump, lowest)
    return found


def surface(vessel: model.Vessel) -> float | None:
    """Where the water of a place stands in normal running. [m above datum]."""
    if vessel.crest is not None:
        return vessel.crest
    if vessel.elevation is None:
        return None
    if vessel.depth is not None:
        return vessel.elevation + vessel.depth
    held = vessel.working or vessel.volume
    return vessel.elevation + held / vessel.surface if held and vessel.surface else None


def _judged(pump: model.Pump, level: float | None) -> engine.Suction:
    if level is None or pump.elevation is None:
        return engine.Suction(pump=pump.id, below_air="may be", why="heights are not known")
    over = level - pump.elevation
    if over < 0.0:
        why = f"it stands {-over:.1f} m above the water it draws from"
        return engine.Suction(pump=pump.id, below_air="yes", why=why)
    why = f"{over:.1f} m of water stand over it"
    return engine.Suction(pump=pump.id, below_air="no" if over >= DEEP else "may be", why=why)
