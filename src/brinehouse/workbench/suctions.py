"""Whether air can be drawn in at a pump, as the hydraulics tell it, in words an engine can pass on."""

from __future__ import annotations

from brinehouse.engines import gas_sources as engine
from brinehouse.facility import model
from brinehouse.network import plumbing


def of(facility: model.Facility) -> dict[str, engine.Suction]:
    """Every pump: can air come in at its suction, and the heights that say so."""
    layout = plumbing.stations(facility)
    return {
        pump: engine.Suction(
            pump=pump, below_air=state.below_air, why=_why(state, facility.pumps[pump].elevation)
        )
        for pump, state in layout.pumps.items()
        if pump in facility.pumps
    }


def _why(state: plumbing.PumpState, elevation: float | None) -> str:
    if state.suction_head is None or elevation is None:
        return "its height or the water before it is not known"
    over = state.suction_head - elevation
    word = "under" if over < 0.0 else "over"
    return f"the head at its inlet is {abs(over):.1f} m {word} the air's"
