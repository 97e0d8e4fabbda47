"""Volumes that stand for heights: crests, rims, mouths of pipes, and where pumps begin to draw air."""

from __future__ import annotations

import math
from dataclasses import dataclass

from brinehouse.facility import model
from brinehouse.network.compartments import building
from brinehouse.network.plumbing import overflowing
from brinehouse.science import weirs
from brinehouse.science.constants import GRAVITY

HEAD = overflowing.UNSAID.value  # m over a crest of which nothing is told
CUT = 0.15  # of the working volume: where a pump begins to draw air when no height tells it
BAND = 0.10  # of the working volume: from there up to where it gives its whole flow
FLOOR = 0.01  # of the working volume: what no way takes
DISCHARGE = 0.61  # of a sharp round hole
MOST = 0.5  # of the working volume: more never stands over a crest
DROP = 0.5  # m: the least a siphon falls
SIPHON_LOSS = 2.0  # velocity heads in its fittings and the pump at rest
PIPE_FRICTION = 0.02  # Darcy's
COMMON = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """One place: its water as a rule [m³], surface [m²], and height of its water and floor [m] where told."""

    vessel: model.Vessel
    usual: float
    area: float
    over: float  # m of water over its crest
    told: bool  # whether its overflow tells that
    level: float | None
    floor: float | None

    def at(self, height: float) -> float | None:
        """Water in it when it stands at a height; None where its own height is not told."""
        return None if self.level is None else self.usual + (height - self.level) * self.area

    @property
    def crest(self) -> float:
        """Water in it when none runs over. [m³]."""
        return self.usual - min(self.over * self.area, MOST * self.usual)

    @property
    def rim(self) -> float | None:
        """Water in it at its rim, else what it can hold; None where neither is told. [m³]."""
        if self.vessel.rim is not None:
            full = self.at(self.vessel.rim)
            if full is not None:
                return max(full, self.usual)
        volume, working = self.vessel.volume, self.vessel.working
        if volume is not None and working is not None and volume > working:
            return max(volume, self.usual)
        return None

    @property
    def lip(self) -> float:
        """Flow over the rim all round, for (m³ above it) to the 1.5."""
        return weirs.AIRY_WEIR * 4.0 * math.sqrt(self.area) / self.area**1.5

    def cut(self, inlet: float | None) -> tuple[float, bool]:
        """Water at which a pump with its inlet at that height draws air, and whether heights tell it."""
        if inlet is not None and self.floor is not None and self.level is not None:
            low = self.at(inlet)
            if low is not None and self.floor < inlet and low < 0.9 * self.usual:
                return max(low, 2.0 * FLOOR * self.usual), True
        return CUT * self.usual, False

    def hole(self, bore: float) -> float:
        """Scale of a round hole: flow for the root of (m³ above it)."""
        return DISCHARGE * math.pi / 4.0 * bore**2 * math.sqrt(2.0 * GRAVITY / self.area)


def shape(vessel: model.Vessel, usual: float, over: float) -> Shape:
    """One place from its sizes and what runs over its crest as a rule. [m³, m³/s]."""
    area = max(building.surface_of(vessel, usual), 1e-3)
    told = vessel.overflow is not None and over > 0.0
    head = overflowing.standing(vessel.overflow, over).head if vessel.overflow is not None else HEAD
    head = head if over > 0.0 else 0.0
    level: float | None = None
    if vessel.crest is not None and over > 0.0:
        level = vessel.crest + head
    elif vessel.elevation is not None:
        level = vessel.elevation + (vessel.depth if vessel.depth is not None else usual / area)
    return Shape(
        vessel=vessel, usual=usual, area=area, over=head, told=told, level=level, floor=vessel.elevation
    )


def siphon(run: model.Run, tank: Shape, sump: Shape) -> tuple[float, float] | None:
    """Water in a tank down to which a run sucks it, and the scale of that flow; None where it does not.

    Nothing is sucked back where a break lets air in, where the mouth is not told, or where it lies above the
    water.
    """
    if run.siphon_break or run.outlet is None or run.diameter is None or tank.level is None:
        return None
    lowest = max(run.outlet, sump.level or run.outlet, tank.floor or run.outlet)
    down = tank.at(lowest)
    if down is None or lowest >= tank.level:
        return None
    drop = max(tank.level - (sump.level if sump.level is not None else tank.level - DROP), DROP)
    lost = SIPHON_LOSS + PIPE_FRICTION * (run.length or 10.0) / run.diameter
    flow = float(weirs.siphon_flow(drop, run.diameter, lost))
    down = max(down, 2.0 * FLOOR * tank.usual)
    return down, flow / math.sqrt(max(tank.usual - down, 1e-6))
