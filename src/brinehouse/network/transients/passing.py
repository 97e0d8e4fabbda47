"""Water on its ways: how much flows, and what the machines along make of it."""

from __future__ import annotations

import math

from brinehouse.network.transients import compiling, waters
from brinehouse.network.transients.frames import (
    ALKALINITY, ARGON, BEGIN, CARBON, COLUMNS, END, KIND, LAW, NITRATE, NITRITE, NITROGEN, OF, OXYGEN, SALT,
    SITE, TAN, TO, TRACER, VOLUME, WARM,
)  # fmt: skip
from brinehouse.network.transients.rooms import (
    ALLOWED, BY_ALKALINITY, BY_OXYGEN, BY_SOURCE, BY_TARGET, ENTERING, FLOW, LEAVING, TURNED,
)  # fmt: skip
from brinehouse.network.transients.rooms import CARBON as AT_CARBON
from brinehouse.network.transients.rooms import FREE as AT_FREE
from brinehouse.network.transients.rooms import HYDROGEN as AT_HYDROGEN
from brinehouse.network.transients.rooms import SALT as AT_SALT
from brinehouse.network.transients.rooms import WARM as AT_WARM
from brinehouse.network.transients.tables import (
    AIR, BIO, CONTACT, HEAT, HOLD, MAKE_UP, PORT, PUMPED, REMOVE, SPILL,
    WAY_BAND, WAY_FLOW, WAY_LEVEL, WAY_SCALE,
)  # fmt: skip
from brinehouse.science.constants import ARGON_IN_AIR, ATM, NITROGEN_IN_AIR, OXYGEN_IN_AIR

OXYGEN_FIRST, OXYGEN_SECOND, CHARGE = 1.5, 0.5, 2.0
NEAR_OXYGEN, NEAR_CHARGE = 10.0, 50.0
_ATM = ATM
_SHARES = (OXYGEN_IN_AIR, NITROGEN_IN_AIR, ARGON_IN_AIR)
# Columns of a contact's numbers.
PRESSURE, ACID_PRESSURE, MIXTURE = 4, 5, 6


@compiling.inner
def ramp(u):
    """0 to 1, smooth at both ends."""
    v = min(max(u, 0.0), 1.0)
    return v * v * (3.0 - 2.0 * v)


@compiling.inner
def ramp_slope(u):
    """How fast `ramp` rises."""
    return 6.0 * u * (1.0 - u) if 0.0 < u < 1.0 else 0.0


@compiling.inner
def over(height, band):
    """A height in bands; all or nothing where the band has no width."""
    if band > 0.0:
        return height / band
    return 1.0 if height > 0.0 else 0.0


@compiling.inner
def flow_of(law, way, here, there, inside):
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
def flows(frame, way, rows, ways, places):
    """Every flow at these volumes, and what enters and leaves each place."""
    places.through[:] = 0.0
    for p in range(len(frame.ways)):
        s, d = frame.ways[p, OF], frame.ways[p, TO]
        here = rows[s, VOLUME] if s >= 0 else 0.0
        there = rows[d, VOLUME] if d >= 0 else 0.0
        q, with_source, with_target = flow_of(frame.ways[p, LAW], way[p], here, there, s >= 0)
        if frame.ways[p, LAW] == MAKE_UP and d < 0:
            q, with_target = 0.0, 0.0
        ways.flow[p, FLOW], ways.flow[p, BY_SOURCE], ways.flow[p, BY_TARGET] = q, with_source, with_target
        if s >= 0:
            places.through[s, LEAVING] += q
        if d >= 0:
            places.through[d, ENTERING] += q


@compiling.inner
def held_at(water, setpoint, cooling, warming):
    """Water after a machine that holds a temperature as far as it can."""
    beyond = water - setpoint
    if beyond > 0.0:
        return water - min(beyond, cooling)
    return water + min(-beyond, warming)


@compiling.inner
def warmth(frame, op, rows, ways, sites):
    """Temperature at the end of every way, and temperature and salinity at every contact on it."""
    for p in range(len(frame.ways)):
        s = frame.ways[p, OF]
        water = rows[s, WARM] if s >= 0 else frame.outside[p, WARM]
        for o in range(frame.ways[p, BEGIN], frame.ways[p, END]):
            kind = frame.ops[o, KIND]
            if kind == HEAT:
                water += op[o, 0]
            elif kind == HOLD:
                water = held_at(water, op[o, 0], op[o, 1], op[o, 2])
            elif kind == CONTACT:
                at = frame.ops[o, SITE]
                sites.water[AT_WARM, at] = water
                sites.water[AT_SALT, at] = rows[s, SALT] if s >= 0 else frame.outside[p, SALT]
        ways.end[p, WARM] = water


@compiling.inner
def machine(kind, site, numbers, end, charge, allowed, sites):
    """One machine that acts on more than warmth; gives the ammonia that it turns over."""
    if kind == CONTACT:
        contact(site, numbers, end, charge, sites)
    elif kind == AIR:
        end[OXYGEN] += numbers[0]
        end[NITROGEN] += numbers[1]
        end[ARGON] += numbers[2]
    elif kind == REMOVE:
        end[TRACER] *= 1.0 - numbers[0]
    elif kind == BIO:
        first = numbers[0] * allowed * end[TAN]
        end[TAN] -= first
        second = numbers[1] * allowed * (end[NITRITE] + first)
        end[NITRITE] += first - second
        end[NITRATE] += second
        end[OXYGEN] -= OXYGEN_FIRST * first + OXYGEN_SECOND * second
        end[ALKALINITY] -= CHARGE * first
        return first
    return 0.0


@compiling.inner
def contact(at, numbers, end, charge, sites):
    """Gases brought nearer to what a machine's gas would hold."""
    known = sites.known
    vapour = known[waters.VAPOUR, at]
    dry = numbers[PRESSURE] - vapour
    for gas in range(3):
        column = OXYGEN if gas == 0 else (NITROGEN if gas == 1 else ARGON)
        along = known[gas, at] * dry * numbers[MIXTURE + gas] / _SHARES[gas]
        end[column] += numbers[gas] * (along - end[column])
    share = numbers[3]
    if share != 0.0:
        carbon = end[CARBON]
        h = waters.settle(known, at, sites.water[AT_SALT, at], charge, carbon, sites.water[AT_HYDROGEN, at])
        level = known[waters.ACID, at] * (numbers[ACID_PRESSURE] - vapour) * numbers[MIXTURE + 3]
        sites.water[AT_HYDROGEN, at], sites.water[AT_CARBON, at] = h, carbon
        sites.water[AT_FREE, at] = waters.free_of(known, at, h, carbon)
        end[CARBON] = carbon - share * (sites.water[AT_FREE, at] - level)


@compiling.inner
def ends(frame, op, rows, ways, sites, places):
    """Water at the end of every way; temperatures stand there already."""
    for p in range(len(frame.ways)):
        s, end = frame.ways[p, OF], ways.end[p]
        allowed = 1.0
        if s >= 0:
            for column in range(SALT, COLUMNS):
                end[column] = rows[s, column]
            allowed = places.allowed[s, ALLOWED]
        else:
            for column in range(SALT, COLUMNS):
                end[column] = frame.outside[p, column]
        charge, turned = end[ALKALINITY], 0.0
        for o in range(frame.ways[p, BEGIN], frame.ways[p, END]):
            kind = frame.ops[o, KIND]
            if kind > HOLD:
                turned += machine(kind, frame.ops[o, SITE], op[o], end, charge, allowed, sites)
        ways.flow[p, TURNED] = turned


@compiling.inner
def left(amount, near):
    """Share of a use that what is left still allows, and its slope."""
    part = amount / near
    if part > 40.0:
        return 1.0, 0.0
    if part > 0.0:
        gone = math.exp(-part)
        return 1.0 - gone, gone / near
    return part, 1.0 / near


@compiling.inner
def permit(rows, places):
    """How far oxygen and alkalinity let nitrification go at every place, and the slopes of that."""
    for i in range(len(rows)):
        one, one_slope = left(rows[i, OXYGEN], NEAR_OXYGEN)
        two, two_slope = left(rows[i, ALKALINITY], NEAR_CHARGE)
        both = one * two
        inside = 0.0 < both <= 1.0
        places.allowed[i, ALLOWED] = min(max(both, 0.0), 1.0)
        places.allowed[i, BY_OXYGEN] = one_slope * two if inside else 0.0
        places.allowed[i, BY_ALKALINITY] = one * two_slope if inside else 0.0
