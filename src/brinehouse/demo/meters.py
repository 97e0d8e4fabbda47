"""How meters show what the water holds: slowly, with bias and noise, and rounded to the display."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.demo import water

Floats = NDArray[np.float64]

_PROBES = {
    "one-exponential": ((1.0, 5.2),),
    "two-exponential": ((0.86, 4.3), (0.14, 11.0)),
    "three-exponential": ((0.62, 3.2), (0.25, 11.0), (0.13, 48.0)),
}
"""Shares and time constants [min] of a probe's way to rest."""


def approach(kind: str, minutes: Floats, start: float, rest: float, speed: float = 1.0) -> Floats:
    """What a probe shows some minutes after it was hung, on its way from `start` to `rest`."""
    left = sum(share * np.exp(-minutes / (tau * speed)) for share, tau in _PROBES[kind])
    return rest + (start - rest) * np.asarray(left, dtype=float)


@dataclass(frozen=True, slots=True, kw_only=True)
class GasMeter:
    """One gas meter: bias of TGP on a daily grid [points], gain of oxygen, own barometer's error [mmHg]."""

    id: str
    bias: Floats
    gain: float
    barometer: float
    speed: float
    salinity: float = 34.0

    def bias_at(self, hour: float) -> float:
        """Its bias at an hour of the history [points]."""
        return float(np.interp(hour / 24.0, np.arange(self.bias.size), self.bias))

    def oxygen(self, true_mg: float, temperature: float, salinity: float) -> float:
        """mg/L it shows: it feels oxygen's own pressure and reckons with the salinity it was told."""
        told = float(water.bunsen("oxygen", temperature, self.salinity))
        real = float(water.bunsen("oxygen", temperature, salinity))
        return true_mg * self.gain * told / real

    def nitrogen(self, tgp: float, oxygen: float, temperature: float, pressure: float) -> float:
        """Its own sum: what total, oxygen and vapour leave over, in % of saturation."""
        free = float(water.dry(pressure, temperature, self.salinity))
        own = oxygen / (float(water.bunsen("oxygen", temperature, self.salinity)) * water.MG_PER_LITRE)
        rest = pressure * tgp / 100.0 - own - (pressure - free)
        return 100.0 * rest / (0.7902 * free)


def hand_oxygen(true_mg: float, temperature: float, salinity: float, told: float) -> float:
    """What the hand meter shows, set to a salinity of `told` [mg/L]."""
    shown = water.bunsen("oxygen", temperature, told) / water.bunsen("oxygen", temperature, salinity)
    return true_mg * float(shown)
