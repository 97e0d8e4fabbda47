"""The Jacobian: how every rate changes with what the places hold.

Exact but for what oxygen and alkalinity that run out do to ammonia and nitrite: columns before them. That
costs smaller steps there, and not the answer.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.transients.kernel import compiling, frames, passing, placing, rooms, waters
from brinehouse.network.transients.kernel.frames import (
    AHEAD,
    ALKALINITY,
    ARGON,
    BEGIN,
    BEHIND,
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
    SHARE,
    STEEP,
    STEEP_SOURCE,
    STEEP_TARGET,
)  # fmt: skip
from brinehouse.network.transients.tables import BIO, CONTACT, HOLD, MAKE_UP, REMOVE
from brinehouse.science.respiration import RESPIRATORY_QUOTIENT

Floats = NDArray[np.float64]

_QUOTIENT = RESPIRATORY_QUOTIENT
SHARES = passing.SHARES
OVER = placing.OVER


@compiling.inner
def gas_contact(
    at: int, numbers: Floats, warmed: float, sites: rooms.Sites, slope: Floats, cross: Floats
) -> None:
    """Oxygen, nitrogen and argon of a contact; ``warmed`` is the slope of its temperature."""
    known, tables, water = sites.known, sites.tables, sites.water
    vapour = known[waters.VAPOUR, at]
    vapour_warm = vapour * waters.by_warmth(tables, water, waters.VAPOUR, at)
    vapour_salt = vapour * waters.by_salt(tables, water, waters.VAPOUR, at)
    dry = numbers[passing.PRESSURE] - vapour
    for gas in range(3):
        column = OXYGEN if gas == 0 else (NITROGEN if gas == 1 else ARGON)
        share, keep = numbers[gas], 1.0 - numbers[gas]
        each = share * known[gas, at] * numbers[passing.MIXTURE + gas] / SHARES[gas]
        rise = waters.by_warmth(tables, water, gas, at) * dry - vapour_warm
        salty = waters.by_salt(tables, water, gas, at) * dry - vapour_salt
        one, two = rooms.WARM_OXYGEN + gas, rooms.SALT_OXYGEN + gas
        cross[one] = keep * cross[one] + each * rise * warmed
        cross[two] = keep * cross[two] + each * salty
        slope[column] *= keep
    cross[rooms.TAN_OXYGEN] *= 1.0 - numbers[0]
    cross[rooms.NITRITE_OXYGEN] *= 1.0 - numbers[0]


@compiling.inner
def acid_contact(
    at: int, numbers: Floats, warmed: float, acid: Floats, sites: rooms.Sites, slope: Floats, cross: Floats
) -> None:
    """Carbon of a contact."""
    known, tables, water = sites.known, sites.tables, sites.water
    share, vapour = numbers[3], known[waters.VAPOUR, at]
    with_carbon, with_charge = waters.free_slopes(known, at, acid)
    keep = 1.0 - share * with_carbon
    level = known[waters.ACID, at] * numbers[passing.MIXTURE + 3]
    dry = numbers[passing.ACID_PRESSURE] - vapour
    rise = waters.by_warmth(tables, water, waters.ACID, at) * dry
    rise -= vapour * waters.by_warmth(tables, water, waters.VAPOUR, at)
    salty = waters.by_salt(tables, water, waters.ACID, at) * dry
    salty -= vapour * waters.by_salt(tables, water, waters.VAPOUR, at)
    hot = level * rise - waters.free_by_water(tables, known, at, water[1, at], acid, 1)
    salter = level * salty - waters.free_by_water(tables, known, at, water[1, at], acid, 2)
    cross[rooms.WARM_CARBON] = keep * cross[rooms.WARM_CARBON] + share * hot * warmed
    cross[rooms.SALT_CARBON] = keep * cross[rooms.SALT_CARBON] + share * salter
    cross[rooms.ALKALINITY_CARBON] = keep * cross[rooms.ALKALINITY_CARBON] - share * with_charge
    slope[CARBON] *= keep


@compiling.inner
def bio_slopes(
    first: float,
    second: float,
    tan: float,
    nitrite: float,
    allowed: float,
    by_oxygen: float,
    slope: Floats,
    cross: Floats,
) -> None:
    """A biofilter's part, from the ammonia and nitrite before it."""
    a = first * allowed * tan
    a_tan, a_oxygen = first * allowed * slope[TAN], first * by_oxygen * tan
    b_tan = second * allowed * (cross[rooms.TAN_NITRITE] + a_tan)
    b_nitrite = second * allowed * slope[NITRITE]
    b_oxygen = second * (by_oxygen * (nitrite + a) + allowed * a_oxygen)
    slope[TAN] -= a_tan
    cross[rooms.TAN_NITRITE] += a_tan - b_tan
    slope[NITRITE] -= b_nitrite
    cross[rooms.TAN_NITRATE] += b_tan
    cross[rooms.NITRITE_NITRATE] += b_nitrite
    cross[rooms.OXYGEN_NITRATE] += b_oxygen
    cross[rooms.TAN_OXYGEN] -= passing.OXYGEN_FIRST * a_tan + passing.OXYGEN_SECOND * b_tan
    cross[rooms.NITRITE_OXYGEN] -= passing.OXYGEN_SECOND * b_nitrite
    slope[OXYGEN] -= passing.OXYGEN_FIRST * a_oxygen + passing.OXYGEN_SECOND * b_oxygen
    cross[rooms.TAN_ALKALINITY] -= passing.CHARGE * a_tan
    cross[rooms.OXYGEN_ALKALINITY] -= passing.CHARGE * a_oxygen
    cross[rooms.TURNED_TAN] += a_tan
    cross[rooms.TURNED_OXYGEN] += a_oxygen


@compiling.inner
def machine_slopes(
    frame: frames.Frame,
    op: Floats,
    o: int,
    s: int,
    places: int,
    ways: rooms.Ways,
    sites: rooms.Sites,
    allowing: Floats,
) -> None:
    """What the water a machine leaves owes to its way's source."""
    links, water = ways.links, ways.water
    row, before, kind = places + len(frame.ways) + o, links[o, BEFORE], frame.ops[o, KIND]
    slope, cross = ways.slope[row], ways.cross[row]
    for column in range(COLUMNS):
        slope[column] = ways.slope[before, column]
    for pair in range(rooms.ROW):
        cross[pair] = ways.cross[before, pair]
    if kind == HOLD:
        beyond = water[before, WARM] - op[o, 0]
        if -op[o, 2] < beyond < op[o, 1]:
            slope[WARM] = 0.0
    elif kind == CONTACT:
        at = links[o, SITE]
        gas_contact(at, op[o], slope[WARM], sites, slope, cross)
        if op[o, 3] != 0.0:
            acid = sites.acids[s] if links[o, FRESH] == 1 else sites.acids[places + o]
            acid_contact(at, op[o], slope[WARM], acid, sites, slope, cross)
    elif kind == BIO:
        bio_slopes(
            op[o, 0], op[o, 1], water[before, TAN], water[before, NITRITE], allowing[s, ALLOWED],
            allowing[s, BY_OXYGEN], slope, cross,
        )  # fmt: skip
    elif kind == REMOVE:
        slope[TRACER] *= 1.0 - op[o, 0]


@compiling.inner
def gas_slopes(
    i: int,
    place: Floats,
    row: Floats,
    entering: float,
    sites: rooms.Sites,
    by_stirring: Floats,
    diagonal: Floats,
    cross: Floats,
) -> None:
    """Exchange at a surface."""
    known, tables, water, acid = sites.known, sites.tables, sites.water, sites.acids[i]
    faster = waters.by_warmth(tables, water, waters.FASTER, i)
    full = place[placing.VELOCITY] * known[waters.FASTER, i]
    speed, stirring = full * placing.stirred(place, entering), full * placing.stirred_slope(place, entering)
    vapour = known[waters.VAPOUR, i]
    vapour_warm = vapour * waters.by_warmth(tables, water, waters.VAPOUR, i)
    vapour_salt = vapour * waters.by_salt(tables, water, waters.VAPOUR, i)
    dry = place[placing.PRESSURE] - vapour
    for gas in range(3):
        column = OXYGEN if gas == 0 else (NITROGEN if gas == 1 else ARGON)
        mine, held = OVER[gas] * speed, known[gas, i]
        rise = waters.by_warmth(tables, water, gas, i) * dry - vapour_warm
        salty = waters.by_salt(tables, water, gas, i) * dry - vapour_salt
        cross[rooms.WARM_OXYGEN + gas] = mine * (held * rise + faster * (held * dry - row[column]))
        cross[rooms.SALT_OXYGEN + gas] = mine * held * salty
        by_stirring[i, gas] = OVER[gas] * stirring * (held * dry - row[column])
        diagonal[column] -= mine
    mine, level = OVER[3] * speed, known[waters.ACID, i] * place[placing.ACID]
    with_carbon, with_charge = waters.free_slopes(known, i, acid)
    hot = level * waters.by_warmth(tables, water, waters.ACID, i)
    hot -= waters.free_by_water(tables, known, i, row[SALT], acid, 1)
    salter = level * waters.by_salt(tables, water, waters.ACID, i)
    salter -= waters.free_by_water(tables, known, i, row[SALT], acid, 2)
    by_stirring[i, 3] = OVER[3] * stirring * (level - acid[FREE])
    cross[rooms.WARM_CARBON] = mine * (hot + faster * (level - acid[FREE]))
    cross[rooms.SALT_CARBON] = mine * salter
    cross[rooms.ALKALINITY_CARBON] = -mine * with_charge
    diagonal[CARBON] -= mine * with_carbon


@compiling.inner
def breath_slopes(
    place: Floats,
    allowing: Floats,
    breathing: float,
    breath: float,
    warmer: float,
    diagonal: Floats,
    cross: Floats,
) -> None:
    """Breathing; ``breath`` is how it goes with warmth, ``warmer`` the slope of its logarithm."""
    if place[placing.BREATH] == 0.0:
        return
    enough, steep = allowing[ENOUGH], allowing[STEEP]
    use = place[placing.BREATH] * breathing * breath
    diagonal[OXYGEN] -= use * steep
    cross[rooms.WARM_OXYGEN] -= use * enough * warmer
    cross[rooms.WARM_CARBON] += _QUOTIENT * use * enough * warmer
    cross[rooms.OXYGEN_CARBON] += _QUOTIENT * use * steep


@compiling.inner
def turning_slopes(
    place: Floats, row: Floats, volume: float, allowing: Floats, diagonal: Floats, cross: Floats
) -> None:
    """Nitrification at a place itself, and decay of the tracer."""
    diagonal[TRACER] -= place[placing.DECAY] * volume
    one, two = place[placing.FIRST] * volume, place[placing.SECOND] * volume
    allowed, tan, nitrite = allowing[ALLOWED], row[TAN], row[NITRITE]
    a_tan, a_oxygen = one * allowed, one * allowing[BY_OXYGEN] * tan
    a_charge = one * allowing[BY_ALKALINITY] * tan
    b_nitrite, b_oxygen = two * allowed, two * allowing[BY_OXYGEN] * nitrite
    kept = place[placing.KEPT]
    diagonal[TAN] -= a_tan
    diagonal[NITRITE] -= b_nitrite
    diagonal[OXYGEN] -= passing.OXYGEN_FIRST * a_oxygen + passing.OXYGEN_SECOND * b_oxygen
    diagonal[ALKALINITY] -= passing.CHARGE * (1.0 - kept) * a_charge
    cross[rooms.TAN_NITRITE] = a_tan
    cross[rooms.TAN_OXYGEN] = -passing.OXYGEN_FIRST * a_tan
    cross[rooms.NITRITE_OXYGEN] = -passing.OXYGEN_SECOND * b_nitrite
    cross[rooms.NITRITE_NITRATE] = b_nitrite
    cross[rooms.OXYGEN_NITRATE] = b_oxygen
    cross[rooms.TAN_ALKALINITY] = -passing.CHARGE * (1.0 - kept) * a_tan
    cross[rooms.OXYGEN_ALKALINITY] = -passing.CHARGE * (1.0 - kept) * a_oxygen
    cross[rooms.TAN_CARBON] = passing.CHARGE * kept * a_tan
    cross[rooms.OXYGEN_CARBON] += passing.CHARGE * kept * a_oxygen
    cross[rooms.ALKALINITY_CARBON] += passing.CHARGE * kept * a_charge


@compiling.inner
def volume_slopes(
    place: Floats, row: Floats, volume: float, share_slope: float, allowed: float, grow: Floats, out: Floats
) -> None:
    """How the rates of a place change with its own volume, flows apart."""
    over = 1.0 / volume
    held = row[VOLUME] >= volume
    for column in range(1, COLUMNS):
        out[column] = over * place[placing.EVAPORATION] * share_slope * row[column]
        if held:
            out[column] -= over * grow[column]
    if place[placing.EVAPORATION] != 0.0:
        warm = place[placing.HEAT] + place[placing.COOLING] * (row[WARM] - place[placing.ABOUT])
        out[WARM] += over * share_slope * warm
    if held:
        a, b = place[placing.FIRST] * allowed * row[TAN], place[placing.SECOND] * allowed * row[NITRITE]
        kept = place[placing.KEPT]
        out[TAN] -= over * a
        out[NITRITE] += over * (a - b)
        out[NITRATE] += over * b
        out[OXYGEN] -= over * (passing.OXYGEN_FIRST * a + passing.OXYGEN_SECOND * b)
        out[ALKALINITY] -= over * passing.CHARGE * (1.0 - kept) * a
        out[CARBON] += over * passing.CHARGE * kept * a
        out[TRACER] -= over * place[placing.DECAY] * row[TRACER]


@compiling.inner
def place_slopes(
    frame: frames.Frame,
    place: Floats,
    rows: Floats,
    hours: Floats,
    sites: rooms.Sites,
    places: rooms.Places,
    grow: Floats,
    entries: Floats,
) -> None:
    """What acts at places: on their own columns in ``entries``, on others in ``places.local``."""
    known, through, allowing, by_volume = sites.known, places.through, places.allowed, places.by_volume
    local, by_stirring = places.local, places.by_stirring
    for i in range(len(rows)):
        here, cross = entries[frame.diagonal[i]], local[i]
        for pair in range(rooms.ROW):
            cross[pair] = 0.0
        volume = placing.amount(place[i, placing.USUAL], rows[i, VOLUME])
        share, share_slope = placing.vapour_share(place[i, placing.USUAL], rows[i, VOLUME])
        gone = place[i, placing.EVAPORATION]
        here[WARM] -= place[i, placing.WARMTH] + place[i, placing.OWN]
        if gone != 0.0:
            here[WARM] += share * place[i, placing.COOLING]
        gas_slopes(i, place[i], rows[i], through[i, ENTERING], sites, by_stirring, here, cross)
        warmer = waters.by_warmth(sites.tables, sites.water, waters.BREATH, i)
        breath_slopes(place[i], allowing[i], hours[1], known[waters.BREATH, i], warmer, here, cross)
        turning_slopes(place[i], rows[i], volume, allowing[i], here, cross)
        over = 1.0 / volume
        for column in range(1, COLUMNS):
            here[column] = over * (here[column] + gone * share - through[i, ENTERING])
        for pair in range(rooms.ROW):
            cross[pair] *= over
        here[VOLUME] = -gone * share_slope
        volume_slopes(place[i], rows[i], volume, share_slope, allowing[i, ALLOWED], grow[i], by_volume[i])


@compiling.inner
def way_slopes(
    frame: frames.Frame, place: Floats, rows: Floats, ways: rooms.Ways, by_stirring: Floats, entries: Floats
) -> None:
    """What ways bring to their targets' rates, and take from their sources' volumes."""
    flow, ends, water, slope, gap, turned = (
        ways.flow,
        ways.ends,
        ways.water,
        ways.slope,
        ways.gap,
        ways.turned,
    )
    for p in range(len(frame.ways)):
        s, d, q, end = frame.ways[p, OF], frame.ways[p, TO], flow[p, FLOW], ends[p]
        flow[p, STEEP_SOURCE], flow[p, STEEP_TARGET] = flow[p, BY_SOURCE], flow[p, BY_TARGET]
        if s >= 0:
            entries[frame.diagonal[s], VOLUME] -= flow[p, BY_SOURCE]
        if d < 0:
            continue
        over = 1.0 / placing.amount(place[d, placing.USUAL], rows[d, VOLUME])
        entries[frame.diagonal[d], VOLUME] += flow[p, BY_TARGET]
        for column in range(1, COLUMNS):
            gap[p, column] = over * (water[end, column] - rows[d, column])
        back = over * place[d, placing.KEPT] * passing.CHARGE * turned[end]
        gap[p, ALKALINITY] += back
        gap[p, CARBON] += back + over * by_stirring[d, 3]
        gap[p, OXYGEN] += over * by_stirring[d, 0]
        gap[p, NITROGEN] += over * by_stirring[d, 1]
        gap[p, ARGON] += over * by_stirring[d, 2]
        flow[p, SHARE] = q * over
        if s >= 0:
            ahead = entries[frame.ways[p, AHEAD]]
            ahead[VOLUME] += flow[p, BY_SOURCE]
            for column in range(1, COLUMNS):
                ahead[column] += q * over * slope[end, column]
            if frame.ways[p, LAW] == MAKE_UP:
                entries[frame.ways[p, BEHIND], VOLUME] -= flow[p, BY_TARGET]


@compiling.inner
def jacobian(
    frame: frames.Frame,
    op: Floats,
    place: Floats,
    rows: Floats,
    hours: Floats,
    ways: rooms.Ways,
    sites: rooms.Sites,
    places: rooms.Places,
    grow: Floats,
    entries: Floats,
) -> None:
    """All slopes at the water that `placing.rates` has just seen; its rates are ``grow``."""
    for e in range(len(entries)):
        for column in range(COLUMNS):
            entries[e, column] = 0.0
    place_slopes(frame, place, rows, hours, sites, places, grow, entries)
    for p in range(len(frame.ways)):
        s = frame.ways[p, OF]
        if s < 0:
            continue
        for o in range(frame.ways[p, BEGIN], frame.ways[p, END]):
            if ways.links[o, TWIN] == o:
                machine_slopes(frame, op, o, s, len(rows), ways, sites, places.allowed)
    way_slopes(frame, place, rows, ways, places.by_stirring, entries)
