"""The Jacobian: how every rate changes with what the places hold.

Exact but for what oxygen and alkalinity that run out do to ammonia and nitrite: columns before them. That costs
smaller steps there, and not the answer.
"""

from __future__ import annotations

from brinehouse.network.transients import compiling, passing, placing, rooms, waters
from brinehouse.network.transients.frames import (
    AHEAD, ALKALINITY, ARGON, BEGIN, BEHIND, CARBON, COLUMNS, END, KIND, LAW, NITRATE, NITRITE, NITROGEN, OF,
    OXYGEN, SALT, SITE, TAN, TO, TRACER, VOLUME, WARM,
)  # fmt: skip
from brinehouse.network.transients.rooms import (
    ALLOWED, BY_ALKALINITY, BY_OXYGEN, BY_SOURCE, BY_TARGET, ENTERING, FLOW, STEEP_SOURCE, STEEP_TARGET, TURNED,
)  # fmt: skip
from brinehouse.network.transients.rooms import CARBON as AT_CARBON
from brinehouse.network.transients.rooms import FREE as AT_FREE
from brinehouse.network.transients.rooms import HYDROGEN as AT_HYDROGEN
from brinehouse.network.transients.rooms import SALT as AT_SALT
from brinehouse.network.transients.rooms import WARM as AT_WARM
from brinehouse.network.transients.tables import BIO, CONTACT, HOLD, MAKE_UP, REMOVE
from brinehouse.science.respiration import RESPIRATORY_QUOTIENT

_QUOTIENT = RESPIRATORY_QUOTIENT
_SHARES = passing._SHARES
_OVER = placing._OVER


@compiling.inner
def free_by_warmth(sites, at, salt, alkalinity, carbon, by):
    """Rise of carbon dioxide in solution with temperature (``by`` 1) or salinity (``by`` 2)."""
    step = 1e-3
    known, tables = sites.known, sites.tables
    h = sites.water[AT_HYDROGEN, at]
    charge, amount, held = max(alkalinity, 1.0), max(carbon, 1.0), max(salt, 0.0)
    value, growth = waters.balance(known, at, held, h, charge, amount)
    before = (
        known[waters.FIRST, at],
        known[waters.BOTH, at],
        known[waters.BORIC, at],
        known[waters.WATER, at],
    )
    for row in range(waters.FIRST, waters.WATER + 1):
        known[row, at] *= 1.0 + step * tables[row, by, at]
    moved, _ = waters.balance(known, at, held + (step if by == 2 else 0.0), h, charge, amount)
    shifted = h * (1.0 + (moved - value) / growth)
    after = waters.free_of(known, at, shifted, amount)
    known[waters.FIRST, at], known[waters.BOTH, at] = before[0], before[1]
    known[waters.BORIC, at], known[waters.WATER, at] = before[2], before[3]
    return (after - waters.free_of(known, at, h, amount)) / step


@compiling.inner
def contact_slopes(at, numbers, warmed, charge, sites, slope, cross):
    """A contact's part of what its way's end owes to its source; ``warmed`` is that of temperature here."""
    known, tables = sites.known, sites.tables
    warm, salt = sites.water[AT_WARM, at], sites.water[AT_SALT, at]
    vapour = known[waters.VAPOUR, at]
    vapour_warm = vapour * waters.by_warmth(tables, sites.about, waters.VAPOUR, at, warm, salt)
    vapour_salt = vapour * waters.by_salt(tables, sites.about, waters.VAPOUR, at, warm, salt)
    dry = numbers[passing.PRESSURE] - vapour
    for gas in range(3):
        column = OXYGEN if gas == 0 else (NITROGEN if gas == 1 else ARGON)
        share, keep = numbers[gas], 1.0 - numbers[gas]
        each = share * known[gas, at] * numbers[passing.MIXTURE + gas] / _SHARES[gas]
        rise = waters.by_warmth(tables, sites.about, gas, at, warm, salt) * dry - vapour_warm
        salty = waters.by_salt(tables, sites.about, gas, at, warm, salt) * dry - vapour_salt
        one, two = rooms.WARM_OXYGEN + gas, rooms.SALT_OXYGEN + gas
        cross[one] = keep * cross[one] + each * rise * warmed
        cross[two] = keep * cross[two] + each * salty
        slope[column] *= keep
        if gas == 0:
            cross[rooms.TAN_OXYGEN] *= keep
            cross[rooms.NITRITE_OXYGEN] *= keep
    share = numbers[3]
    if share != 0.0:
        carbon = sites.water[AT_CARBON, at]
        with_carbon, with_charge = waters.free_slopes(
            known, at, salt, charge, carbon, sites.water[AT_HYDROGEN, at]
        )
        keep = 1.0 - share * with_carbon
        level = known[waters.ACID, at] * numbers[passing.MIXTURE + 3]
        dry = numbers[passing.ACID_PRESSURE] - vapour
        rise = waters.by_warmth(tables, sites.about, waters.ACID, at, warm, salt) * dry - vapour_warm
        salty = waters.by_salt(tables, sites.about, waters.ACID, at, warm, salt) * dry - vapour_salt
        hot = level * rise - free_by_warmth(sites, at, salt, charge, carbon, 1)
        salter = level * salty - free_by_warmth(sites, at, salt, charge, carbon, 2)
        cross[rooms.WARM_CARBON] = keep * cross[rooms.WARM_CARBON] + share * hot * warmed
        cross[rooms.SALT_CARBON] = keep * cross[rooms.SALT_CARBON] + share * salter
        cross[rooms.ALKALINITY_CARBON] = keep * cross[rooms.ALKALINITY_CARBON] - share * with_charge
        slope[CARBON] *= keep


@compiling.inner
def bio_slopes(first, second, end, allowed, by_oxygen, slope, cross):
    """A biofilter's part; ``end`` is the water before it and is led on."""
    tan, nitrite = end[TAN], end[NITRITE]
    a = first * allowed * tan
    b = second * allowed * (nitrite + a)
    a_tan = first * allowed * slope[TAN]
    a_oxygen = first * by_oxygen * tan
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
    end[TAN] -= a
    end[NITRITE] += a - b
    return a_tan, a_oxygen


@compiling.inner
def way_slopes(frame, op, place, rows, p, ways, sites, places):
    """What the end of a way owes to its source."""
    s, d = frame.ways[p, OF], frame.ways[p, TO]
    slope, cross, water = ways.slope[p], ways.cross[p], ways.gap[p]
    slope[:] = 1.0
    cross[:] = 0.0
    if s < 0 or d < 0 or frame.ways[p, BEGIN] == frame.ways[p, END]:
        return
    for column in range(COLUMNS):
        water[column] = rows[s, column]
    warm, warmed, tan, oxygen = rows[s, WARM], 1.0, 0.0, 0.0
    for o in range(frame.ways[p, BEGIN], frame.ways[p, END]):
        kind = frame.ops[o, KIND]
        if kind == HOLD:
            beyond = warm - op[o, 0]
            if -op[o, 2] < beyond < op[o, 1]:
                warmed = 0.0
            warm = passing.held_at(warm, op[o, 0], op[o, 1], op[o, 2])
        elif kind == 0:
            warm += op[o, 0]
        elif kind == CONTACT:
            contact_slopes(frame.ops[o, SITE], op[o], warmed, rows[s, ALKALINITY], sites, slope, cross)
        elif kind == BIO:
            more, with_oxygen = bio_slopes(
                op[o, 0],
                op[o, 1],
                water,
                places.allowed[s, ALLOWED],
                places.allowed[s, BY_OXYGEN],
                slope,
                cross,
            )
            tan += more
            oxygen += with_oxygen
        elif kind == REMOVE:
            slope[TRACER] *= 1.0 - op[o, 0]
    slope[WARM] = warmed
    back = place[d, placing.KEPT] * passing.CHARGE
    cross[rooms.TAN_ALKALINITY] += back * tan
    cross[rooms.TAN_CARBON] += back * tan
    cross[rooms.OXYGEN_ALKALINITY] += back * oxygen
    cross[rooms.OXYGEN_CARBON] += back * oxygen


@compiling.inner
def gas_slopes(i, place, row, sites, places, diagonal, cross):
    """Exchange at a surface, and breathing."""
    known, tables = sites.known, sites.tables
    warm, salt = row[WARM], row[SALT]
    faster = waters.by_warmth(tables, sites.about, waters.FASTER, i, warm, salt)
    full = place[placing.VELOCITY] * known[waters.FASTER, i]
    speed = full * placing.stirred(place, places.through[i, ENTERING])
    stirring = full * placing.stirred_slope(place, places.through[i, ENTERING])
    vapour = known[waters.VAPOUR, i]
    vapour_warm = vapour * waters.by_warmth(tables, sites.about, waters.VAPOUR, i, warm, salt)
    vapour_salt = vapour * waters.by_salt(tables, sites.about, waters.VAPOUR, i, warm, salt)
    dry = place[placing.PRESSURE] - vapour
    for gas in range(3):
        column = OXYGEN if gas == 0 else (NITROGEN if gas == 1 else ARGON)
        mine, held = _OVER[gas] * speed, known[gas, i]
        rise = waters.by_warmth(tables, sites.about, gas, i, warm, salt) * dry - vapour_warm
        salty = waters.by_salt(tables, sites.about, gas, i, warm, salt) * dry - vapour_salt
        cross[rooms.WARM_OXYGEN + gas] = mine * (held * rise + faster * (held * dry - row[column]))
        cross[rooms.SALT_OXYGEN + gas] = mine * held * salty
        places.by_stirring[i, gas] = _OVER[gas] * stirring * (held * dry - row[column])
        diagonal[column] -= mine
    mine, level = _OVER[3] * speed, known[waters.ACID, i] * place[placing.ACID]
    alkalinity, carbon = row[ALKALINITY], row[CARBON]
    with_carbon, with_charge = waters.free_slopes(
        known, i, salt, alkalinity, carbon, sites.water[AT_HYDROGEN, i]
    )
    hot = level * waters.by_warmth(tables, sites.about, waters.ACID, i, warm, salt)
    hot -= free_by_warmth(sites, i, salt, alkalinity, carbon, 1)
    salter = level * waters.by_salt(tables, sites.about, waters.ACID, i, warm, salt)
    salter -= free_by_warmth(sites, i, salt, alkalinity, carbon, 2)
    places.by_stirring[i, 3] = _OVER[3] * stirring * (level - sites.water[AT_FREE, i])
    cross[rooms.WARM_CARBON] = mine * (hot + faster * (level - sites.water[AT_FREE, i]))
    cross[rooms.SALT_CARBON] = mine * salter
    cross[rooms.ALKALINITY_CARBON] = -mine * with_charge
    diagonal[CARBON] -= mine * with_carbon


@compiling.inner
def local_slopes(i, place, row, volume, hours, sites, places, cooling, diagonal):
    """What acts at a place itself: on its own column in ``diagonal``, on others in ``places.local``."""
    cross = places.local[i]
    cross[:] = 0.0
    diagonal[WARM] += cooling - place[placing.WARMTH] - place[placing.OWN]
    gas_slopes(i, place, row, sites, places, diagonal, cross)
    oxygen_carbon = 0.0
    if place[placing.BREATH] != 0.0:
        enough, steep = passing.left(row[OXYGEN], passing.NEAR_OXYGEN)
        use = place[placing.BREATH] * hours[1] * sites.known[waters.BREATH, i]
        warmer = waters.by_warmth(sites.tables, sites.about, waters.BREATH, i, row[WARM], row[SALT])
        diagonal[OXYGEN] -= use * steep
        cross[rooms.WARM_OXYGEN] -= use * enough * warmer
        cross[rooms.WARM_CARBON] += _QUOTIENT * use * enough * warmer
        oxygen_carbon = _QUOTIENT * use * steep
    diagonal[TRACER] -= place[placing.DECAY] * volume
    one, two = place[placing.FIRST] * volume, place[placing.SECOND] * volume
    allowed, tan, nitrite = places.allowed[i, ALLOWED], row[TAN], row[NITRITE]
    a_tan, a_oxygen, a_charge = (
        one * allowed,
        one * places.allowed[i, BY_OXYGEN] * tan,
        one * places.allowed[i, BY_ALKALINITY] * tan,
    )
    b_nitrite, b_oxygen = two * allowed, two * places.allowed[i, BY_OXYGEN] * nitrite
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
    cross[rooms.OXYGEN_CARBON] = oxygen_carbon + passing.CHARGE * kept * a_oxygen
    cross[rooms.ALKALINITY_CARBON] += passing.CHARGE * kept * a_charge


@compiling.inner
def volume_slopes(i, place, row, volume, share_slope, places, grow):
    """How the rates of a place change with its own volume, flows apart."""
    out = places.by_volume[i]
    over = 1.0 / volume
    held = row[VOLUME] >= volume
    for column in range(1, COLUMNS):
        out[column] = over * place[placing.EVAPORATION] * share_slope * row[column]
        if held:
            out[column] -= over * grow[i, column]
    if place[placing.EVAPORATION] != 0.0:
        warm = place[placing.HEAT] + place[placing.COOLING] * (row[WARM] - place[placing.ABOUT])
        out[WARM] += over * share_slope * warm
    if held:
        allowed = places.allowed[i, ALLOWED]
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
def jacobian(frame, op, place, rows, hours, ways, sites, places, grow, entries):
    """All slopes at the water that `placing.rates` has just seen; its rates are ``grow``."""
    entries[:] = 0.0
    for i in range(len(rows)):
        here = entries[frame.diagonal[i]]
        volume = placing.amount(place[i], rows[i, VOLUME])
        share, share_slope = placing.vapour_share(place[i], rows[i, VOLUME])
        gone = place[i, placing.EVAPORATION]
        cooling = share * place[i, placing.COOLING] if gone != 0.0 else 0.0
        local_slopes(i, place[i], rows[i], volume, hours, sites, places, cooling, here)
        over = 1.0 / volume
        for column in range(1, COLUMNS):
            here[column] = over * (here[column] + gone * share - places.through[i, ENTERING])
        for pair in range(rooms.PAIRS):
            places.local[i, pair] *= over
        here[VOLUME] = -gone * share_slope
        volume_slopes(i, place[i], rows[i], volume, share_slope, places, grow)
    for p in range(len(frame.ways)):
        way_slopes(frame, op, place, rows, p, ways, sites, places)
        s, d, q = frame.ways[p, OF], frame.ways[p, TO], ways.flow[p, FLOW]
        ways.flow[p, STEEP_SOURCE], ways.flow[p, STEEP_TARGET] = (
            ways.flow[p, BY_SOURCE],
            ways.flow[p, BY_TARGET],
        )
        if s >= 0:
            entries[frame.diagonal[s], VOLUME] -= ways.flow[p, BY_SOURCE]
        if d < 0:
            continue
        over = 1.0 / placing.amount(place[d], rows[d, VOLUME])
        entries[frame.diagonal[d], VOLUME] += ways.flow[p, BY_TARGET]
        for column in range(1, COLUMNS):
            ways.gap[p, column] = over * (ways.end[p, column] - rows[d, column])
        back = over * place[d, placing.KEPT] * passing.CHARGE * ways.flow[p, TURNED]
        ways.gap[p, ALKALINITY] += back
        ways.gap[p, CARBON] += back + over * places.by_stirring[d, 3]
        ways.gap[p, OXYGEN] += over * places.by_stirring[d, 0]
        ways.gap[p, NITROGEN] += over * places.by_stirring[d, 1]
        ways.gap[p, ARGON] += over * places.by_stirring[d, 2]
        for pair in range(rooms.PAIRS):
            ways.cross[p, pair] *= q * over
        if s >= 0:
            ahead = entries[frame.ways[p, AHEAD]]
            ahead[VOLUME] += ways.flow[p, BY_SOURCE]
            for column in range(1, COLUMNS):
                ahead[column] += q * over * ways.slope[p, column]
            if frame.ways[p, LAW] == MAKE_UP:
                entries[frame.ways[p, BEHIND], VOLUME] -= ways.flow[p, BY_TARGET]
