"""Limits along a step: whether one is crossed, when, and how near it came."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.transients.kernel import compiling, frames, rooms, waters
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
    TRACER,
    VOLUME,
    WARM,
)  # fmt: skip
from brinehouse.network.transients.kernel.placing import PRESSURE
from brinehouse.network.transients.tables import QUANTITY
from brinehouse.science.constants import ARGON_IN_AIR, MMHG, NITROGEN_IN_AIR, OXYGEN_IN_AIR, OXYGEN_MOLAR_MASS
from brinehouse.science.nitrogen import NITROGEN_ATOM

Floats = NDArray[np.float64]

(TEMPERATURE, SALINITY, OXYGEN_MG, OXYGEN_PERCENT, TGP, DELTA_P, PH, CO2, AMMONIA_NITROGEN, AMMONIA,
 NITRITE_MG, NITRATE_MG, ALKALINE, TRACED, LEVEL) = range(15)  # fmt: skip
assert (QUANTITY["ph"], QUANTITY["tan"], QUANTITY["level"]) == (PH, AMMONIA_NITROGEN, LEVEL)
_OXYGEN, _NITROGEN, _ARGON, _MMHG = OXYGEN_IN_AIR, NITROGEN_IN_AIR, ARGON_IN_AIR, MMHG
_OXYGEN_MASS, _NITROGEN_MASS = OXYGEN_MOLAR_MASS * 1e-6, NITROGEN_ATOM * 1e-6
MOMENT = 0.01  # s: over which a limit's own slope is taken


@compiling.inner
def pressures(row: Floats, known: Floats, i: int, free: float) -> float:
    """All gases and vapour together, in Pa."""
    total = (
        _OXYGEN * row[OXYGEN] / known[waters.OXYGEN, i]
        + _NITROGEN * row[NITROGEN] / known[waters.NITROGEN, i]
    )
    total += _ARGON * row[ARGON] / known[waters.ARGON, i] + free / known[waters.ACID, i]
    return total + known[waters.VAPOUR, i]


@compiling.inner
def simple(quantity: int, row: Floats, known: Floats, i: int) -> float:
    """A quantity that is one column, or one column by density."""
    if quantity == TEMPERATURE:
        return row[WARM]
    if quantity == SALINITY:
        return row[SALT]
    if quantity == OXYGEN_MG:
        return row[OXYGEN] * known[waters.DENSITY, i] * _OXYGEN_MASS
    if quantity == AMMONIA_NITROGEN:
        return row[TAN] * known[waters.DENSITY, i] * _NITROGEN_MASS
    if quantity == NITRITE_MG:
        return row[NITRITE] * known[waters.DENSITY, i] * _NITROGEN_MASS
    if quantity == NITRATE_MG:
        return row[NITRATE] * known[waters.DENSITY, i] * _NITROGEN_MASS
    if quantity == ALKALINE:
        return row[ALKALINITY]
    if quantity == TRACED:
        return row[TRACER]
    return row[VOLUME]


@compiling.inner
def value(quantity: int, row: Floats, known: Floats, i: int, hydrogen: float, station: float) -> float:
    """A quantity of a place's water, as `compartments.water.read` works it out."""
    if quantity == OXYGEN_PERCENT:
        return 100.0 * row[OXYGEN] / (known[waters.OXYGEN, i] * (station - known[waters.VAPOUR, i]))
    if quantity == PH:
        return 6.0 - math.log10(hydrogen)
    if quantity == AMMONIA:
        share = known[waters.AMMONIUM, i] / (known[waters.AMMONIUM, i] + hydrogen)
        return row[TAN] * known[waters.DENSITY, i] * _NITROGEN_MASS * share
    if quantity == CO2:
        return waters.free_of(known, i, hydrogen, row[CARBON])
    if quantity in (TGP, DELTA_P):
        total = pressures(row, known, i, waters.free_of(known, i, hydrogen, row[CARBON]))
        return 100.0 * total / station if quantity == TGP else (total - station) / _MMHG
    return simple(quantity, row, known, i)


@compiling.inner
def nearby(
    i: int, row: Floats, grow: Floats, sites: rooms.Sites, near: Floats, beside: Floats, sour: int
) -> float:
    """The hydrogen ion of a place a moment on; its row in ``near``, its constants in ``beside``."""
    warm, salt = grow[WARM] * MOMENT, grow[SALT] * MOMENT
    for column in range(COLUMNS):
        near[i, column] = row[column] + MOMENT * grow[column]
    tables, water, known, acid = sites.tables, sites.water, sites.known, sites.acids[i]
    for k in range(waters.MANY):
        by = waters.by_warmth(tables, water, k, i) * warm + waters.by_salt(tables, water, k, i) * salt
        beside[k, i] = known[k, i] * (1.0 + by)
    charge, carbon, h = max(near[i, ALKALINITY], 1.0), max(near[i, CARBON], 1.0), acid[0]
    if not sour:
        return acid[0]
    far, growth = waters.balance(beside, i, max(near[i, SALT], 0.0), h, charge, carbon)
    off, _ = waters.balance(known, i, max(row[SALT], 0.0), h, acid[1], acid[2])
    return h * (1.0 + (far - off) / growth)


@compiling.inner
def margins(
    frame: frames.Frame,
    place: Floats,
    rows: Floats,
    grow: Floats,
    sites: rooms.Sites,
    watching: rooms.Watching,
    out: Floats,
) -> None:
    """Distance of every limit on its good side, and its slope in time, at water whose rates are known."""
    known, acids, near, beside = sites.known, sites.acids, watching.nearby, watching.beside
    waters.follow(sites.tables, sites.water, waters.STAGED, waters.MANY, len(rows), known)
    last, later = -1, 0.0
    for n in range(len(frame.limits)):
        i, quantity, sign = frame.limits[n, 0], frame.limits[n, 1], frame.bounds[n, 1]
        if i != last:
            later = nearby(i, rows[i], grow[i], sites, near, beside, frame.limits[n, 2])
            last = i
        station = place[i, PRESSURE]
        here = value(quantity, rows[i], known, i, acids[i, 0], station)
        there = value(quantity, near[i], beside, i, later, station)
        out[n, 0] = sign * (frame.bounds[n, 0] - here)
        out[n, 1] = -sign * (there - here) / MOMENT


@compiling.inner
def cubic(m0: float, b: float, c: float, d: float, u: float) -> float:
    """A cubic over the step, at a share of it."""
    return m0 + u * (b + u * (c + u * d))


@compiling.inner
def lowest(b: float, c: float, d: float) -> float:
    """Where in the step the cubic has its low; 2 where it has none in it."""
    under = c * c - 3.0 * b * d
    if not under > 0.0:
        return 2.0
    root = math.sqrt(under)
    if c > 0.0:
        at = -b / (c + root)
    elif d != 0.0:
        at = (root - c) / (3.0 * d)
    else:
        return 2.0
    return at if 0.0 < at < 1.0 else 2.0


@compiling.inner
def root(m0: float, b: float, c: float, d: float, end: float) -> float:
    """The first nothing of the cubic before ``end``, where it is below nothing."""
    low, high = 0.0, end
    u = 0.5 * end
    for _ in range(80):
        at = cubic(m0, b, c, d, u)
        if at > 0.0:
            low = u
        else:
            high = u
        steep = b + u * (2.0 * c + u * 3.0 * d)
        following = u - at / steep if steep != 0.0 else low
        if not low < following < high:
            following = 0.5 * (low + high)
        if abs(following - u) < 1e-13:
            return following
        u = following
    return u


@compiling.inner
def check(
    before: Floats,
    after: Floats,
    size: float,
    start: float,
    crossed: Floats,
    margin: Floats,
    margin_at: Floats,
) -> None:
    """Every limit over one step, from values and slopes at its ends."""
    for n in range(len(before)):
        m0, m1 = before[n, 0], after[n, 0]
        b, e = before[n, 1] * size, after[n, 1] * size
        floor = min(min(m0 + b / 3.0, m1 - e / 3.0), m1)  # the cubic stays above these
        if floor > 0.0 and floor >= margin[n]:
            continue
        c, d = 3.0 * (m1 - m0) - 2.0 * b - e, 2.0 * (m0 - m1) + b + e
        low = lowest(b, c, d)
        under = cubic(m0, b, c, d, low) if low < 1.0 else m1
        if m1 < margin[n]:
            margin[n], margin_at[n] = m1, start + size
        if under < margin[n]:
            margin[n], margin_at[n] = under, start + low * size
        if crossed[n] == math.inf and (m1 <= 0.0 or under <= 0.0):
            end = low if under <= 0.0 and low < 1.0 else 1.0
            crossed[n] = start + size * root(m0, b, c, d, end)


@compiling.inner
def begin(values: Floats, crossed: Floats, margin: Floats, margin_at: Floats) -> None:
    """How limits stand at the start."""
    for n in range(len(values)):
        crossed[n] = 0.0 if values[n, 0] <= 0.0 else math.inf
        margin[n], margin_at[n] = (values[n, 0], 0.0) if values[n, 0] == values[n, 0] else (math.inf, 0.0)
