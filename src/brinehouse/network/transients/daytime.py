"""The hours of a day: when lamps are lit, and how breathing and excreting follow the feeding."""

from __future__ import annotations

import functools
import math

import numpy as np

from brinehouse.network.compartments import conditions as given
from brinehouse.network.transients import tables

COMMON = "common practice, no source"
NOON = 13.0  # h: the middle of the lamps' day
LIT = 12.0  # h
DUSK = 0.15  # of the cosine: some 35 min from dark to full light
BREATH_SWING, BREATH_HOUR = 0.25, 13.0  # after the morning's feeding
EXCRETE_SWING, EXCRETE_HOUR = 0.4, 15.0


def day() -> np.ndarray:
    """Numbers of `tables.DAY` for a usual day; light is 1 on its mean."""
    edge = math.cos(math.pi * LIT / 24.0) - DUSK / 2.0
    peak = 1.0 / _mean(edge, DUSK)
    return np.array([NOON, edge, DUSK, peak, BREATH_SWING, BREATH_HOUR, EXCRETE_SWING, EXCRETE_HOUR])


def even() -> np.ndarray:
    """A day whose hours are all alike: what a state of rest goes with."""
    return np.array([0.0, -3.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0])


@functools.cache
def _mean(edge: float, width: float) -> float:
    hours = (np.arange(4800) + 0.5) * 24.0 / 4800.0
    part = np.clip((np.cos(2.0 * np.pi * hours / 24.0) - edge) / width, 0.0, 1.0)
    return float(np.mean(part * part * (3.0 - 2.0 * part)))


def light(day: np.ndarray, hour: float) -> float:
    """Light at an hour of the day, over its mean.

    >>> round(light(day(), 13.0), 2), light(day(), 1.0)
    (2.0, 0.0)
    """
    at = dict(zip(tables.DAY, day.tolist(), strict=True))
    part = (math.cos(2.0 * math.pi * (hour - at["noon"]) / 24.0) - at["edge"]) / at["width"]
    part = min(max(part, 0.0), 1.0)
    return at["peak"] * part * part * (3.0 - 2.0 * part)


def assumed() -> tuple[given.Assumed, ...]:
    """What the hours rest on."""
    return (
        given.Assumed(what="hours of light a day, about 13:00", value=LIT, unit="h", source=COMMON),
        given.Assumed(what="breathing, up and down over a day, most at 13:00", value=BREATH_SWING, unit="-",
                      source=COMMON),
        given.Assumed(what="ammonia given off, up and down over a day, most at 15:00", value=EXCRETE_SWING,
                      unit="-", source=COMMON),
    )  # fmt: skip
