"""How far crossing times and least margins lie from a reference, and which limits were missed or invented."""

from __future__ import annotations

import json
from typing import Any, NamedTuple

import numpy as np
from tests.network.transients import batches

from brinehouse.network.transients import tables

KEPT = batches.HERE / "lsoda_crossings.json"
# Within this of its limit [unit of the quantity] a course grazes it: whether it is met is told by the margin.
GRAZES = {
    "temperature": 1e-3, "salinity": 1e-3, "oxygen": 2e-3, "oxygen_percent": 3e-2, "tgp": 1e-2,
    "delta_p": 8e-2, "ph": 3e-4, "co2": 3e-2, "tan": 1e-4, "ammonia": 5e-6, "nitrite": 1e-4, "nitrate": 1e-2,
    "alkalinity": 1e-1, "tracer": 1e-5, "level": 1e-3,
}  # fmt: skip
RMS, MOST = 0.15, 1.5  # min: what is promised


class Apart(NamedTuple):
    """Of all scenarios compared; times in minutes."""

    rms: float
    most: float
    crossings: int
    missed: list[tuple[int, int]]
    """Scenario and limit the reference crosses and we do not, and are not within its grazing either."""
    invented: list[tuple[int, int]]
    margins: float
    """Largest difference of least margins, in units of `GRAZES`."""

    @property
    def keeps(self) -> bool:
        """Whether it is as near as promised."""
        return self.rms <= RMS and self.most <= MOST and not self.missed and not self.invented


def grazes(structure: tables.Structure) -> np.ndarray:
    """For each limit; of a level, a share of where it lies."""
    names = [tables.QUANTITIES[one] for one in structure.limit_quantity]
    return np.array([
        GRAZES[name] * (max(1.0, value) if name == "level" else 1.0)
        for name, value in zip(names, structure.limit_value, strict=True)
    ])  # fmt: skip


def reference(plant: str) -> tuple[list[int], np.ndarray, np.ndarray]:
    """Scenarios kept of a plant; their crossing times [s] and least margins, as `tables.Outcome` has them."""
    kept: list[dict[str, Any]] = json.loads(KEPT.read_text("utf-8"))["plants"][plant]
    times = np.array([one["crossed"] for one in kept], dtype=np.float64)
    margins = np.array([one["margin"] for one in kept], dtype=np.float64)
    return [int(one["scenario"]) for one in kept], np.where(np.isnan(times), np.inf, times), margins


def apart(
    structure: tables.Structure,
    crossed: np.ndarray,
    margin: np.ndarray,
    times: np.ndarray,
    margins: np.ndarray,
) -> Apart:
    """Rows of one compared with rows of the reference."""
    tolerance = grazes(structure)
    both, ours, theirs = np.isfinite(crossed) & np.isfinite(times), np.isfinite(crossed), np.isfinite(times)
    off = np.abs(crossed[both] - times[both]) / 60.0
    missed = theirs & ~ours & ~(np.abs(margin) <= tolerance)
    invented = ours & ~theirs & ~(np.abs(margins) <= tolerance)
    neither = ~ours & ~theirs
    by = np.abs(margin - margins) / tolerance
    return Apart(
        rms=float(np.sqrt(np.mean(off**2))) if off.size else 0.0,
        most=float(off.max(initial=0.0)),
        crossings=int(both.sum()),
        missed=[(int(a), int(b)) for a, b in np.argwhere(missed)],
        invented=[(int(a), int(b)) for a, b in np.argwhere(invented)],
        margins=float(by[neither].max(initial=0.0)),
    )
