"""The right-hand side: how fast every place's water changes."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.compartments.building import TRANSFER_OVER_OXYGEN
from brinehouse.network.transients.kernel import compiling, frames, passing, rooms, waters
from brinehouse.network.transients.kernel.frames import (
    ALKALINITY,
    ARGON,
    CARBON,
    COLUMNS,
    NITRATE,
    NITRITE,
    NITROGEN,
    OXYGEN,
    SALT,
    TAN,
    TO,
    TRACER,
    VOLUME,
    WARM,
)  # fmt: skip
from brinehouse.network.transients.kernel.rooms import ALLOWED, ENOUGH, ENTERING, FLOW, FREE, LEAVING
from brinehouse.network.transients.tables import AT
from brinehouse.science.respiration import RESPIRATORY_QUOTIENT

Floats = NDArray[np.float64]

LEAST = 1e-3  # of the usual volume: what a place is counted to hold at least
WET = 0.05  # of the usual volume: below it less evaporates
_QUOTIENT = RESPIRATORY_QUOTIENT
OVER = (
    TRANSFER_OVER_OXYGEN["oxygen"], TRANSFER_OVER_OXYGEN["nitrogen"], TRANSFER_OVER_OXYGEN["argon"],
    TRANSFER_OVER_OXYGEN["carbon"],
)  # fmt: skip
(USUAL, VELOCITY, STILL, USUAL_IN, WARMTH, ROOM, LAMPS, OWN, OWN_AT, HEAT, COOLING, ABOUT, EVAPORATION,
 BREATH, PHOTO, AMMONIA, DOSING, KEPT, FIRST, SECOND, SOURCE, DECAY, PRESSURE, ACID) = range(24)  # fmt: skip
assert (len(AT), AT["acid"], AT["breath"], AT["kept"]) == (ACID + 1, ACID, BREATH, KEPT)
TURN = 2.0 * math.pi / 24.0
(NOON, EDGE, WIDTH, PEAK, BREATH_SWING, BREATH_HOUR, EXCRETE_SWING, EXCRETE_HOUR) = range(8)


@compiling.inner
def day(frame: frames.Frame, hour: float, out: Floats) -> None:
    """Light, breathing and excreting at an hour of the day, and their slopes for each second."""
    numbers = frame.day
    second = TURN / 3600.0
    turn = TURN * (hour - numbers[NOON])
    u = 0.0
    if numbers[PEAK] != 0.0:
        u = passing.over(math.cos(turn) - numbers[EDGE], numbers[WIDTH])
    out[0] = numbers[PEAK] * passing.ramp(u)
    out[3] = 0.0
    if numbers[PEAK] != 0.0 and numbers[WIDTH] > 0.0:
        out[3] = -numbers[PEAK] * passing.ramp_slope(u) * math.sin(turn) * second / numbers[WIDTH]
    turn = TURN * (hour - numbers[BREATH_HOUR])
    out[1] = 1.0 + numbers[BREATH_SWING] * math.cos(turn)
    out[4] = -numbers[BREATH_SWING] * math.sin(turn) * second
    turn = TURN * (hour - numbers[EXCRETE_HOUR])
    out[2] = 1.0 + numbers[EXCRETE_SWING] * math.cos(turn)
    out[5] = -numbers[EXCRETE_SWING] * math.sin(turn) * second


@compiling.inner
def until_light_bends(frame: frames.Frame, hour: float) -> float:
    """Seconds until the light next begins or ends to rise or fall: a step that ends there is smooth."""
    numbers = frame.day
    least = math.inf
    if numbers[PEAK] == 0.0:
        return least
    for which in range(2):
        height = numbers[EDGE] + which * numbers[WIDTH]
        if not -1.0 < height < 1.0:
            continue
        away = math.acos(height) / TURN
        for side in (-1.0, 1.0):
            wait = (numbers[NOON] + side * away - hour) % 24.0
            if wait < 1e-6:
                wait = 24.0
            least = min(least, wait)
    return least * 3600.0


@compiling.inner
def stirred(place: Floats, entering: float) -> float:
    """Exchange at a surface as far as water comes in, over the usual."""
    still, usual = place[STILL], place[USUAL_IN]
    if not usual > 0.0:
        return 1.0
    w = min(max(entering / usual, 0.0), 1.0)
    return still + (1.0 - still) * w * (2.0 - w)


@compiling.inner
def stirred_slope(place: Floats, entering: float) -> float:
    """How fast `stirred` rises with the water that comes in."""
    usual = place[USUAL_IN]
    if not usual > 0.0 or not 0.0 < entering < usual:
        return 0.0
    return 2.0 * (1.0 - place[STILL]) * (1.0 - entering / usual) / usual


@compiling.inner
def vapour_share(usual: float, volume: float) -> tuple[float, float]:
    """Share of the usual evaporation, and its slope with volume."""
    wet = WET * usual
    if volume >= wet > 0.0:
        return 1.0, 0.0
    u = passing.over(volume, wet)
    return passing.ramp(u), (passing.ramp_slope(u) / wet if wet > 0.0 else 0.0)


@compiling.inner
def amount(usual: float, volume: float) -> float:
    """Volume that amounts are spread over."""
    return max(max(volume, LEAST * usual), 1e-12)


@compiling.inner
def local(
    i: int,
    place: Floats,
    row: Floats,
    volume: float,
    share: float,
    hours: Floats,
    known: Floats,
    free: float,
    entering: float,
    allowing: Floats,
    out: Floats,
) -> float:
    """What acts at a place itself, added to ``out`` (rate of V x); gives the ammonia turned over there."""
    light, breathing, excreting = hours[0], hours[1], hours[2]
    warm = row[WARM]
    vapour = share * (place[HEAT] + place[COOLING] * (warm - place[ABOUT]))
    if place[EVAPORATION] == 0.0:
        vapour = 0.0
    out[WARM] += (
        place[WARMTH] * (place[ROOM] - warm)
        + place[LAMPS] * light
        + place[OWN] * (place[OWN_AT] - warm)
        + vapour
    )
    speed = place[VELOCITY] * known[waters.FASTER, i] * stirred(place, entering)
    dry = place[PRESSURE] - known[waters.VAPOUR, i]
    out[OXYGEN] += OVER[0] * speed * (known[waters.OXYGEN, i] * dry - row[OXYGEN])
    out[NITROGEN] += OVER[1] * speed * (known[waters.NITROGEN, i] * dry - row[NITROGEN])
    out[ARGON] += OVER[2] * speed * (known[waters.ARGON, i] * dry - row[ARGON])
    out[CARBON] += OVER[3] * speed * (known[waters.ACID, i] * place[ACID] - free)
    breath = place[BREATH]
    if breath != 0.0:
        used = breath * breathing * known[waters.BREATH, i] * allowing[ENOUGH]
        out[OXYGEN] -= used
        out[CARBON] += _QUOTIENT * used
    bound = place[PHOTO] * light
    out[OXYGEN] += bound
    out[CARBON] -= bound
    out[TRACER] += place[SOURCE] - place[DECAY] * volume * row[TRACER]
    first = place[FIRST] * volume * allowing[ALLOWED] * row[TAN]
    second = place[SECOND] * volume * allowing[ALLOWED] * row[NITRITE]
    out[TAN] += place[AMMONIA] * excreting - first
    out[NITRITE] += first - second
    out[NITRATE] += second
    out[OXYGEN] -= passing.OXYGEN_FIRST * first + passing.OXYGEN_SECOND * second
    back = place[DOSING] + place[KEPT] * passing.CHARGE * first
    out[ALKALINITY] += back - passing.CHARGE * first
    out[CARBON] += back
    return first


@compiling.inner
def apart(sites: rooms.Sites) -> None:
    """How far every site's water is from where its constants were expanded."""
    water, about = sites.water, sites.about
    for site in range(sites.used[0]):
        water[2, site] = water[0, site] - about[0, site]
        water[3, site] = max(water[1, site], 0.0) - about[1, site]


@compiling.inner
def freshen(frame: frames.Frame, op: Floats, rows: Floats, ways: rooms.Ways, sites: rooms.Sites) -> None:
    """Constants expanded anew where the water has moved away from where they were."""
    passing.warmth(frame, op, rows, ways, sites)
    water, about = sites.water, sites.about
    for site in range(sites.used[0]):
        warm, salt = water[0, site], water[1, site]
        near = abs(warm - about[0, site]) <= waters.HELD
        near = near and abs(max(salt, 0.0) - about[1, site]) <= waters.HELD * max(salt, 1.0) / 35.0
        if not near:
            waters.expand(sites.tables, about, site, warm, salt, sites.reading)


@compiling.inner
def stand(rows: Floats, sites: rooms.Sites) -> None:
    """Constants and acids of places alone, for limits between two steps."""
    water, about, known = sites.water, sites.about, sites.known
    for i in range(len(rows)):
        water[0, i], water[1, i] = rows[i, WARM], rows[i, SALT]
        water[2, i] = rows[i, WARM] - about[0, i]
        water[3, i] = max(rows[i, SALT], 0.0) - about[1, i]
    waters.follow(sites.tables, water, 0, waters.STAGED, len(rows), known)
    for i in range(len(rows)):
        waters.settle(known, i, rows[i, SALT], rows[i, ALKALINITY], rows[i, CARBON], sites.acids[i])


@compiling.inner
def arrive(
    frame: frames.Frame, place: Floats, rows: Floats, ways: rooms.Ways, through: Floats, out: Floats
) -> None:
    """What ways bring, as rates of V x; and what enters, leaves and is gone as vapour, of volume."""
    flow, ends, water, turned = ways.flow, ways.ends, ways.water, ways.turned
    for p in range(len(frame.ways)):
        d, q = frame.ways[p, TO], flow[p, FLOW]
        if d < 0 or q == 0.0:
            continue
        end = ends[p]
        for column in range(1, COLUMNS):
            out[d, column] += q * (water[end, column] - rows[d, column])
        back = place[d, KEPT] * passing.CHARGE * q * turned[end]
        out[d, ALKALINITY] += back
        out[d, CARBON] += back
    for i in range(len(rows)):
        share, _ = vapour_share(place[i, USUAL], rows[i, VOLUME])
        gone = place[i, EVAPORATION] * share
        for column in range(1, COLUMNS):
            out[i, column] += gone * rows[i, column]
        out[i, VOLUME] = through[i, ENTERING] - through[i, LEAVING] - gone


@compiling.inner
def rates(
    frame: frames.Frame,
    way: Floats,
    op: Floats,
    place: Floats,
    rows: Floats,
    hours: Floats,
    ways: rooms.Ways,
    sites: rooms.Sites,
    places: rooms.Places,
    out: Floats,
) -> None:
    """How fast every row changes."""
    known, acids, water = sites.known, sites.acids, sites.water
    through, allowing = places.through, places.allowed
    passing.flows(frame, way, rows, ways.flow, through)
    passing.warmth(frame, op, rows, ways, sites)
    apart(sites)
    waters.follow(sites.tables, water, 0, waters.STAGED, sites.used[0], known)
    passing.permit(rows, allowing)
    for i in range(len(rows)):
        waters.settle(known, i, rows[i, SALT], rows[i, ALKALINITY], rows[i, CARBON], acids[i])
    passing.ends(frame, op, len(rows), ways, sites, allowing)
    for i in range(len(rows)):
        for column in range(COLUMNS):
            out[i, column] = 0.0
    arrive(frame, place, rows, ways, through, out)
    for i in range(len(rows)):
        volume = amount(place[i, USUAL], rows[i, VOLUME])
        share, _ = vapour_share(place[i, USUAL], rows[i, VOLUME])
        local(
            i, place[i], rows[i], volume, share, hours, known, acids[i, FREE], through[i, ENTERING],
            allowing[i], out[i],
        )  # fmt: skip
        over = 1.0 / volume
        for column in range(1, COLUMNS):
            out[i, column] *= over


@compiling.inner
def drift(place: Floats, rows: Floats, hours: Floats, known: Floats, out: Floats) -> None:
    """What the hour of the day alone does to the rates, at this water."""
    for i in range(len(rows)):
        over = 1.0 / amount(place[i, USUAL], rows[i, VOLUME])
        for column in range(COLUMNS):
            out[i, column] = 0.0
        out[i, WARM] = over * place[i, LAMPS] * hours[3]
        out[i, TAN] = over * place[i, AMMONIA] * hours[5]
        bound = place[i, PHOTO] * hours[3]
        enough, _ = passing.left(rows[i, OXYGEN], passing.NEAR_OXYGEN)
        used = place[i, BREATH] * hours[4] * known[waters.BREATH, i] * enough
        out[i, OXYGEN] = over * (bound - used)
        out[i, CARBON] = over * (_QUOTIENT * used - bound)
