"""Oxygen at saturation over ten million readings, ours beside gsw's compiled one, in one process.

Target: ours takes no longer. The rows are shared, the turns alternate, and the best of each is compared,
so that a busy machine slows both alike.
"""

from __future__ import annotations

import time

import gsw
import numpy as np

from brinehouse.science import gases

ROWS = 10_000_000
TURNS = 3
TARGET = 1.0  # ours over theirs, at most


def _seconds(function, *arguments):
    start = time.perf_counter()
    result = function(*arguments)
    return time.perf_counter() - start, result


def run(rows: int = ROWS, turns: int = TURNS) -> dict[str, object]:
    """Time both and say how they compare; refuses to compare speeds where the values differ."""
    chance = np.random.default_rng(20240601)
    temperature = chance.uniform(0.0, 35.0, rows)
    salinity = chance.uniform(0.0, 40.0, rows)
    ours, peer = [], []
    for _ in range(turns):
        seconds, mine = _seconds(gases.oxygen_at_saturation, temperature, salinity)
        ours.append(seconds)
        seconds, theirs = _seconds(gsw.O2sol_SP_pt, salinity, temperature)
        peer.append(seconds)
        np.testing.assert_allclose(mine, theirs, rtol=1e-13)
        del mine, theirs
    return {
        "name": f"oxygen at saturation, {rows:,} rows, against gsw",
        "ratio": min(ours) / min(peer),
        "target": TARGET,
        "ours_seconds": min(ours),
        "peer_seconds": min(peer),
        "all_ours_seconds": ours,
        "all_peer_seconds": peer,
    }


if __name__ == "__main__":
    for word, value in run().items():
        print(f"{word}: {value}")
