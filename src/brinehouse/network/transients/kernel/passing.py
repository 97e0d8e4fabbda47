"""Water on its ways: how much flows, and what the machines along make of it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.transients.kernel import compiling, frames, rooms, waters
from brinehouse.network.transients.kernel.frames import (
    ALKALINITY,
    ARGON,
    BEGIN,
    CARBON,
    COLUMNS,
    END,
    KIND,
    LAW,
    NITRATE,
    NITRITE,
    NITROGEN,
    OF,
    OXYGEN,
    SALT,
    TAN,
    TO,
    TRACER,
    VOLUME,
    WARM,
)  # fmt: skip
from brinehouse.network.transients.kernel.links import BEFORE, FRESH, SITE, TWIN
from brinehouse.network.transients.kernel.rooms import (
    ALLOWED,
    BY_ALKALINITY,
    BY_OXYGEN,
    BY_SOURCE,
    BY_TARGET,
    ENOUGH,
    ENTERING,
    FLOW,
    FREE,
    LEAVING,
    STEEP,
)  # fmt: skip
from brinehouse.network.transients.kernel.rooms import SALT as SALT_AT
from brinehouse.network.transients.kernel.rooms import WARM as WARM_AT
from brinehouse.network.transients.tables import (
    AIR,
    BIO,
    CONTACT,
    HEAT,
    HOLD,
    MAKE_UP,
    PORT,
    PUMPED,
    REMOVE,
    SPILL,
    WAY_BAND,
    WAY_FLOW,
    WAY_LEVEL,
    WAY_SCALE,
)  # fmt: skip
from brinehouse.science.constants import ARGON_IN_AIR, NITROGEN_IN_AIR, OXYGEN_IN_AIR

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

OXYGEN_FIRST, OXYGEN_SECOND, CHARGE = 1.5, 0.5, 2.0
NEAR_OXYGEN, NEAR_CHARGE = 10.0, 50.0
SHARES = (OXYGEN_IN_AIR, NITROGEN_IN_AIR, ARGON_IN_AIR)
# Columns of a contact's numbers.
PRESSURE, ACID_PRESSURE, MIXTURE = 4, 5, 6


@compiling.inner
def ramp(u: float) -> float:
    """0 to 1, smooth at both ends."""
    v = min(max(u, 0.0), 1.0)
    return v * v * (3.0 - 2.0 * v)


@compiling.inner
def ramp_slope(u: float) -> float:
    """How fast `ramp` rises."""
    return 6.0 * u * (1.0 - u) if 0.0 < u < 1.0 else 0.0


@compiling.inner
def over(height: float, band: float) -> float:
    """A height in bands; all or nothing where the band has no width."""
    if band > 0.0:
        return height / band
    return 1.0 if height > 0.0 else 0.0


@compiling.inner
def flow_of(law: int, way: Floats, here: float, there: float, inside: bool) -> tuple[float, float, float]:
    """Flow of a way, and its slopes with the volumes of its source and its target."""
    flow, scale, level, band = way[WAY_FLOW], way[WAY_SCALE], way[WAY_LEVEL], way[WAY_BAND]
    if law == MAKE_UP:
        u = over(level - there, band)
        steep = -flow * ramp_slope(u) / band if band > 0.0 else 0.0
        return flow * ramp(u), 0.0, steep
    if law == PUMPED:
        if not inside:
            return flow, 0.0, 0.0
        u = over(here - level, band)
        steep = flow * ramp_slope(u) / band if band > 0.0 else 0.0
        return flow * ramp(u), steep, 0.0
    y = here - level
    if not inside or not y > 0.0:
        return (
            0.0,
            (scale / math.sqrt(band) if law == PORT and inside and y == 0.0 and band > 0.0 else 0.0),
            0.0,
        )
    if law == SPILL:
        root = math.sqrt(y)
        return scale * y * root, 1.5 * scale * root, 0.0
    under = y * y + band * band
    root = math.sqrt(math.sqrt(under))
    return scale * y / root, scale * (0.5 * y * y + band * band) / (under * root), 0.0


@compiling.inner
def flows(frame: frames.Frame, way: Floats, rows: Floats, flow: Floats, through: Floats) -> None:
    """Every flow at these volumes, and what enters and leaves each place."""
    through[:] = 0.0
    for p in range(len(frame.ways)):
        s, d = frame.ways[p, OF], frame.ways[p, TO]
        here = rows[s, VOLUME] if s >= 0 else 0.0
        there = rows[d, VOLUME] if d >= 0 else 0.0
        q, with_source, with_target = flow_of(frame.ways[p, LAW], way[p], here, there, s >= 0)
        if frame.ways[p, LAW] == MAKE_UP and d < 0:
            q, with_target = 0.0, 0.0
        flow[p, FLOW], flow[p, BY_SOURCE], flow[p, BY_TARGET] = q, with_source, with_target
        if s >= 0:
            through[s, LEAVING] += q
        if d >= 0:
            through[d, ENTERING] += q


@compiling.inner
def held_at(water: float, setpoint: float, cooling: float, warming: float) -> float:
    """Water after a machine that holds a temperature as far as it can."""
    beyond = water - setpoint
    if beyond > 0.0:
        return water - min(beyond, cooling)
    return water + min(-beyond, warming)


@compiling.inner
def warmth(frame: frames.Frame, op: Floats, rows: Floats, ways: rooms.Ways, sites: rooms.Sites) -> None:
    """Temperature in every row, and temperature and salinity at every site."""
    water, links, at = ways.water, ways.links, sites.water
    places = len(rows)
    first = places + len(frame.ways)
    for i in range(places):
        at[WARM_AT, i], at[SALT_AT, i] = rows[i, WARM], rows[i, SALT]
        for column in range(COLUMNS):
            water[i, column] = rows[i, column]
    for o in range(len(frame.ops)):
        if links[o, TWIN] != o:
            continue
        before, kind = links[o, BEFORE], frame.ops[o, KIND]
        warm, salt = water[before, WARM], water[before, SALT]
        if kind == HEAT:
            warm += op[o, 0]
        elif kind == HOLD:
            warm = held_at(warm, op[o, 0], op[o, 1], op[o, 2])
        elif kind == CONTACT and links[o, SITE] >= places:
            at[WARM_AT, links[o, SITE]], at[SALT_AT, links[o, SITE]] = warm, salt
        water[first + o, WARM], water[first + o, SALT] = warm, salt


@compiling.inner
def turn(first_share: float, second_share: float, allowed: float, end: Floats) -> float:
    """A biofilter; gives the ammonia that it turns over."""
    first = first_share * allowed * end[TAN]
    end[TAN] -= first
    second = second_share * allowed * (end[NITRITE] + first)
    end[NITRITE] += first - second
    end[NITRATE] += second
    end[OXYGEN] -= OXYGEN_FIRST * first + OXYGEN_SECOND * second
    end[ALKALINITY] -= CHARGE * first
    return first


@compiling.inner
def contact(at: int, numbers: Floats, known: Floats, free: float, end: Floats) -> None:
    """Gases brought nearer to what a machine's gas would hold; ``free`` is carbon dioxide in solution."""
    vapour = known[waters.VAPOUR, at]
    dry = numbers[PRESSURE] - vapour
    along = known[0, at] * dry * numbers[MIXTURE] * (1.0 / SHARES[0])
    end[OXYGEN] += numbers[0] * (along - end[OXYGEN])
    along = known[1, at] * dry * numbers[MIXTURE + 1] * (1.0 / SHARES[1])
    end[NITROGEN] += numbers[1] * (along - end[NITROGEN])
    along = known[2, at] * dry * numbers[MIXTURE + 2] * (1.0 / SHARES[2])
    end[ARGON] += numbers[2] * (along - end[ARGON])
    level = known[waters.ACID, at] * (numbers[ACID_PRESSURE] - vapour) * numbers[MIXTURE + 3]
    end[CARBON] -= numbers[3] * (free - level)


@compiling.inner
def free_here(
    o: int,
    places: int,
    source: int,
    charge: float,
    carbon: float,
    share: float,
    links: Ints,
    sites: rooms.Sites,
) -> float:
    """Carbon dioxide that a contact meets."""
    acids = sites.acids
    if links[o, FRESH] == 1:
        return float(acids[source, FREE])
    if share == 0.0:
        return 0.0
    at = links[o, SITE]
    waters.settle(sites.known, at, sites.water[SALT_AT, at], charge, carbon, acids[places + o])
    return float(acids[places + o, FREE])


@compiling.inner
def ends(
    frame: frames.Frame, op: Floats, places: int, ways: rooms.Ways, sites: rooms.Sites, allowing: Floats
) -> None:
    """What every machine leaves; temperature and salinity stand there already."""
    water, links, turned, kinds = ways.water, ways.links, ways.turned, frame.ops
    first = places + len(frame.ways)
    for p in range(len(frame.ways)):
        s = frame.ways[p, OF]
        start = s if s >= 0 else places + p
        allowed = allowing[s, ALLOWED] if s >= 0 else 1.0
        for o in range(frame.ways[p, BEGIN], frame.ways[p, END]):
            if links[o, TWIN] != o:
                continue
            before, end = links[o, BEFORE], water[first + o]
            for column in range(SALT + 1, COLUMNS):
                end[column] = water[before, column]
            more, kind = turned[before], kinds[o, KIND]
            if kind == CONTACT:
                free = free_here(o, places, s, water[start, ALKALINITY], end[CARBON], op[o, 3], links, sites)
                contact(links[o, SITE], op[o], sites.known, free, end)
            elif kind == BIO:
                more += turn(op[o, 0], op[o, 1], allowed, end)
            elif kind == AIR:
                end[OXYGEN] += op[o, 0]
                end[NITROGEN] += op[o, 1]
                end[ARGON] += op[o, 2]
            elif kind == REMOVE:
                end[TRACER] *= 1.0 - op[o, 0]
            turned[first + o] = more


@compiling.inner
def left(amount: float, near: float) -> tuple[float, float]:
    """Share of a use that what is left still allows, and its slope."""
    part = amount / near
    if part > 40.0:
        return 1.0, 0.0
    if part > 0.0:
        gone = math.exp(-part)
        return 1.0 - gone, gone / near
    return part, 1.0 / near


@compiling.inner
def permit(rows: Floats, allowing: Floats) -> None:
    """How far oxygen and alkalinity let nitrification go at every place, and the slopes of that."""
    for i in range(len(rows)):
        one, one_slope = left(rows[i, OXYGEN], NEAR_OXYGEN)
        two, two_slope = left(rows[i, ALKALINITY], NEAR_CHARGE)
        allowing[i, ENOUGH], allowing[i, STEEP] = one, one_slope
        both = one * two
        inside = 0.0 < both <= 1.0
        allowing[i, ALLOWED] = min(max(both, 0.0), 1.0)
        allowing[i, BY_OXYGEN] = one_slope * two if inside else 0.0
        allowing[i, BY_ALKALINITY] = one * two_slope if inside else 0.0
