"""The weather over the moor and the light in the hall."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
ALTITUDE = 412.0  # m, as hall.toml says
KNOT = 3.0  # h between the points through which slow things wander


def wander(
    rng: np.random.Generator, hours: Floats, *, size: float, memory: float, knot: float = KNOT
) -> Floats:
    """A slow walk about zero that always comes home.

    Parameters
    ----------
    hours : ndarray
        Ascending. [h]
    size : float
        Its standard deviation, in any unit.
    memory : float
        How long it remembers. [h]
    """
    count = int((hours[-1] - hours[0]) / knot) + 3
    keep = float(np.exp(-knot / memory))
    kicks = rng.standard_normal(count) * np.sqrt(1.0 - keep * keep)
    walk = np.empty(count)
    at = float(rng.standard_normal())
    for k, kick in enumerate(kicks.tolist()):
        at = keep * at + kick
        walk[k] = at
    return size * np.interp(hours, hours[0] + knot * np.arange(count), walk)


def sea_level_pressure(rng: np.random.Generator, hours: Floats) -> Floats:
    """Pressure reduced to the sea, as a feed gives it: lows of some days, ripples of some hours [mmHg]."""
    lows = wander(rng, hours, size=6.5, memory=52.0)
    smooth = np.convolve(np.pad(lows, 18, mode="edge"), np.ones(37) / 37.0, mode="valid")
    return 761.8 + smooth + wander(rng, hours, size=0.35, memory=4.0)


def outdoors(rng: np.random.Generator, hours: Floats, clock: Floats) -> Floats:
    """Air over a winter moor [°C]."""
    day = 2.2 * np.cos(2.0 * np.pi * (clock - 14.0) / 24.0)
    return 3.5 + day + wander(rng, hours, size=3.5, memory=60.0) + 2.0 * hours / max(float(hours[-1]), 1.0)


def station_pressure(sea_level: Floats, outside: Floats) -> Floats:
    """Pressure where the hall stands: an exponential air with the day's own temperature [mmHg].

    Scale height R T / (M g), dry air of 28.96 g/mol. Common practice, no source.
    """
    column = 8.314 * (outside + 273.15 + 0.5 * 0.0065 * ALTITUDE) / (0.02896 * 9.81)
    return sea_level * np.exp(-ALTITUDE / column)


def light(rng: np.random.Generator, hours: Floats, clock: Floats) -> tuple[Floats, Floats]:
    """Lamps and skylight as a share of full light, and each day's hours of lamps."""
    days = np.floor((hours + clock[0]) / 24.0).astype(int)
    lamps = np.round(9.5 + 0.4 * rng.standard_normal(int(days.max()) + 1), 1)
    cloud = np.clip(0.55 + 0.25 * rng.standard_normal(lamps.size), 0.15, 1.0)
    on = 8.0
    lit = ((clock >= on) & (clock < on + lamps[days])).astype(float)
    length = 8.2 + 3.4 * days / max(int(days.max()), 1)
    sun = np.clip(np.cos(np.pi * (clock - 12.3) / length), 0.0, None) * (np.abs(clock - 12.3) < length / 2)
    return 0.65 * lit + 0.35 * sun * cloud[days], lamps
