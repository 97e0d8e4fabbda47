"""The arrays that one course is worked in, made once and used for every course of a thread."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.transients.kernel import compiling, frames, links, waters
from brinehouse.network.transients.kernel.frames import COLUMNS

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
STAGES = 8

# What a way adds at its end for each of what its source holds: pairs of columns.
(WARM_OXYGEN, WARM_NITROGEN, WARM_ARGON, WARM_CARBON, SALT_OXYGEN, SALT_NITROGEN, SALT_ARGON, SALT_CARBON,
 TAN_NITRITE, TAN_OXYGEN, TAN_NITRATE, TAN_ALKALINITY, TAN_CARBON, NITRITE_OXYGEN, NITRITE_NITRATE,
 OXYGEN_NITRATE, OXYGEN_ALKALINITY, OXYGEN_CARBON, ALKALINITY_CARBON) = range(19)  # fmt: skip
# How ammonia turned over along a way goes with its source's ammonia and oxygen.
TURNED_TAN, TURNED_OXYGEN = 19, 20
ROW = 21
# Of a way's flow: m³/s, its slopes with its source's and target's volume; as they were at the start of a step
# the slopes, and the flow over the target's volume.
FLOW, BY_SOURCE, BY_TARGET, STEEP_SOURCE, STEEP_TARGET, SHARE = range(6)
# Of a site's water, and how far it is from where constants were expanded.
WARM, SALT, HOTTER, SALTIER = range(4)
# Of an acid balance: hydrogen [µmol/kg], alkalinity and carbon it was found for, slopes of its logarithm with
# them, carbon dioxide in solution.
HYDROGEN, CHARGE, CARBON, BY_CHARGE, BY_CARBON, FREE = range(6)
# Of water through a place [m³/s]; of how far nitrification is allowed there, with its slopes, and how far
# oxygen allows breathing, with its own.
ENTERING, LEAVING = range(2)
ALLOWED, BY_OXYGEN, BY_ALKALINITY, ENOUGH, STEEP = range(5)


class Ways(NamedTuple):
    """What ways bring. Rows: places, what comes from outside, what machines leave (`links`)."""

    flow: Floats  # (ways, 6)
    ends: Ints  # (ways,) the row at its end
    links: Ints  # (machines, LINKS)
    water: Floats  # (rows, COLUMNS)
    turned: Floats  # (rows,) ammonia that biofilters before it turned over [µmol/kg]
    slope: Floats  # (rows, COLUMNS) with the same in the source
    cross: Floats  # (rows, ROW) with others in the source
    gap: Floats  # (ways, COLUMNS) what more flow does to the target


class Sites(NamedTuple):
    """Water where constants are needed: places, then contacts that are warmer or colder than theirs."""

    water: Floats  # (4, sites)
    about: Floats  # (2, sites)
    tables: Floats  # (MANY, 6, sites)
    known: Floats  # (MANY, sites)
    acids: Floats  # (places + machines, 6)
    reading: Floats  # (6, MANY) scratch of `waters.expand`
    used: Ints  # (1,) how many


class Places(NamedTuple):
    """What stands at places."""

    through: Floats  # (places, 2)
    allowed: Floats  # (places, 5)
    local: Floats  # (places, ROW) as `Ways.cross`
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
    """Limits: (limits, 2) distance on the good side and its slope, along a step."""

    held: Floats
    middle: Floats
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


@compiling.maker
def ways_room(places: int, ways: int, machines: int) -> Ways:
    """Empty arrays."""
    rows = places + ways + machines
    return Ways(
        np.zeros((ways, 6)), np.zeros(ways, dtype=np.int64),
        np.zeros((machines, links.LINKS), dtype=np.int64),
        np.zeros((rows, COLUMNS)), np.zeros(rows), np.ones((rows, COLUMNS)), np.zeros((rows, ROW)),
        np.zeros((ways, COLUMNS)),
    )  # fmt: skip


@compiling.maker
def sites_room(sites: int, places: int, machines: int) -> Sites:
    """Empty arrays."""
    return Sites(
        np.zeros((4, sites)), np.full((2, sites), 1e9), np.zeros((waters.MANY, 6, sites)),
        np.zeros((waters.MANY, sites)), np.full((places + machines, 6), 0.01), np.zeros((6, waters.MANY)),
        np.zeros(1, dtype=np.int64),
    )  # fmt: skip


@compiling.maker
def places_room(places: int) -> Places:
    """Empty arrays."""
    return Places(
        np.zeros((places, 2)), np.zeros((places, 5)), np.zeros((places, ROW)), np.zeros((places, COLUMNS)),
        np.zeros((places, 4)),
    )  # fmt: skip


@compiling.maker
def solving_room(places: int, entries: int) -> Solving:
    """Empty arrays."""
    few = (places, COLUMNS)
    return Solving(
        np.zeros(few), np.zeros(few), np.zeros((entries, COLUMNS)), np.zeros((entries, COLUMNS)),
        np.zeros(few), np.zeros(few), np.zeros(few), np.zeros((STAGES, places, COLUMNS)),
        np.zeros(COLUMNS), np.zeros(STAGES), np.zeros(6),
    )  # fmt: skip


@compiling.maker
def room(places: int, frame: frames.Frame) -> Room:
    """Empty arrays for a structure."""
    ways, machines, limits = len(frame.ways), len(frame.ops), len(frame.limits)
    watching = Watching(
        np.zeros((limits, 2)), np.zeros((limits, 2)), np.zeros((limits, 2)), np.zeros((places, COLUMNS)),
        np.zeros((waters.MANY, places)),
    )  # fmt: skip
    made = ways_room(places, ways, machines)
    for p in range(ways):
        for column in range(COLUMNS):
            made.water[places + p, column] = frame.outside[p, column]
    return Room(
        made, sites_room(frame.sites, places, machines), places_room(places),
        solving_room(places, frame.entries), watching,
    )  # fmt: skip
