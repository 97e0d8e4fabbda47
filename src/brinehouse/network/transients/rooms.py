"""The arrays that one course is worked in, made once and used for every course of a thread."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.transients import compiling, waters
from brinehouse.network.transients.frames import COLUMNS

Floats = NDArray[np.float64]
STAGES = 8

# What a way adds at its end for each of what its source holds: pairs of columns.
(WARM_OXYGEN, WARM_NITROGEN, WARM_ARGON, WARM_CARBON, SALT_OXYGEN, SALT_NITROGEN, SALT_ARGON, SALT_CARBON,
 TAN_NITRITE, TAN_OXYGEN, TAN_NITRATE, TAN_ALKALINITY, TAN_CARBON, NITRITE_OXYGEN, NITRITE_NITRATE,
 OXYGEN_NITRATE, OXYGEN_ALKALINITY, OXYGEN_CARBON, ALKALINITY_CARBON) = range(19)  # fmt: skip
PAIRS = 19
# Of a way's flow: m³/s, its slopes with its source's and target's volume, ammonia turned over on it
# [µmol/kg]; and the two slopes as they were at the start of a step.
FLOW, BY_SOURCE, BY_TARGET, TURNED, STEEP_SOURCE, STEEP_TARGET = range(6)
# Of a site's water; carbon is that which a contact meets.
WARM, SALT, HYDROGEN, FREE, CARBON = range(5)
# Of water through a place [m³/s], and of how far nitrification is allowed there, with its slopes.
ENTERING, LEAVING = range(2)
ALLOWED, BY_OXYGEN, BY_ALKALINITY = range(3)


class Ways(NamedTuple):
    """What ways bring."""

    flow: Floats  # (ways, 6)
    end: Floats  # (ways, COLUMNS) water at the end
    slope: Floats  # (ways, COLUMNS) of it, with the same in the source
    cross: Floats  # (ways, PAIRS) of it, with others in the source
    gap: Floats  # (ways, COLUMNS) what more flow does to the target


class Sites(NamedTuple):
    """Water where constants are needed: places, then contacts."""

    water: Floats  # (5, sites)
    about: Floats  # (2, sites)
    tables: Floats  # (MANY, 6, sites)
    known: Floats  # (MANY, sites)
    reading: Floats  # (6, MANY) scratch of `waters.expand`


class Places(NamedTuple):
    """What stands at places."""

    through: Floats  # (places, 2)
    allowed: Floats  # (places, 3)
    local: Floats  # (places, PAIRS) as `Ways.cross`
    by_volume: Floats  # (places, COLUMNS)
    by_stirring: Floats  # (places, 4) of gases, with the water that comes in


class Solving(NamedTuple):
    """What a step works with, rows of (places, COLUMNS) where nothing else is said."""

    grow: Floats  # rates at the start of the step
    drift: Floats  # what the hour of the day alone does to them
    jacobian: Floats  # (entries, COLUMNS)
    matrix: Floats
    y: Floats
    stage: Floats
    rate: Floats
    moves: Floats  # (STAGES, places, COLUMNS)
    scale: Floats  # (COLUMNS,)
    weights: Floats  # (STAGES,)
    hours: Floats  # (6,) light, breathing, excreting and their slopes


class Watching(NamedTuple):
    """Limits: (limits, 2) distance on the good side and its slope, at both ends of a step."""

    held: Floats
    now: Floats
    nearby: Floats  # (places, COLUMNS) water a moment on
    beside: Floats  # (MANY, places) its constants


class Room(NamedTuple):
    """All of it."""

    ways: Ways
    sites: Sites
    places: Places
    solving: Solving
    watching: Watching


@compiling.inner
def ways_room(ways):
    """Empty arrays."""
    return Ways(
        np.zeros((ways, 6)), np.zeros((ways, COLUMNS)), np.ones((ways, COLUMNS)), np.zeros((ways, PAIRS)),
        np.zeros((ways, COLUMNS)),
    )  # fmt: skip


@compiling.inner
def sites_room(sites):
    """Empty arrays."""
    return Sites(
        np.full((5, sites), 0.01), np.full((2, sites), 1e9), np.zeros((waters.MANY, 6, sites)),
        np.zeros((waters.MANY, sites)), np.zeros((6, waters.MANY)),
    )  # fmt: skip


@compiling.inner
def places_room(places):
    """Empty arrays."""
    return Places(
        np.zeros((places, 2)), np.zeros((places, 3)), np.zeros((places, PAIRS)), np.zeros((places, COLUMNS)),
        np.zeros((places, 4)),
    )  # fmt: skip


@compiling.inner
def solving_room(places, entries):
    """Empty arrays."""
    few = (places, COLUMNS)
    return Solving(
        np.zeros(few), np.zeros(few), np.zeros((entries, COLUMNS)), np.zeros((entries, COLUMNS)),
        np.zeros(few), np.zeros(few), np.zeros(few), np.zeros((STAGES, places, COLUMNS)),
        np.zeros(COLUMNS), np.zeros(STAGES), np.zeros(6),
    )  # fmt: skip


@compiling.inner
def room(places, ways, sites, entries, limits):
    """Empty arrays for a structure of this size."""
    watching = Watching(
        np.zeros((limits, 2)), np.zeros((limits, 2)), np.zeros((places, COLUMNS)),
        np.zeros((waters.MANY, places)),
    )  # fmt: skip
    return Room(
        ways_room(ways), sites_room(sites), places_room(places), solving_room(places, entries), watching
    )
