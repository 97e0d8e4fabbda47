"""From the drawing of a plant to heads: stations along each run, suctions, overflows, drain-back."""

from brinehouse.network.plumbing.laying import stations
from brinehouse.network.plumbing.parts import Layout, PumpState, Station, Surroundings

__all__ = ["Layout", "PumpState", "Station", "Surroundings", "stations"]
