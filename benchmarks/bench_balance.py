"""Steady balance of 25 places by 11 species, ours beside a general root finder on the same equations.

Target: under 20 ms for one plant, arrays at hand. The peer is scipy's `root` on the same residual (hybrid
Powell, Jacobian by differences), from the same start; speeds are compared only where both agree.
"""

from __future__ import annotations

import time

import numpy as np

from brinehouse.facility import reading
from brinehouse.network.compartments import assembly, conditions, model, plant, settling

TANKS = 24
TURNS = 9
TARGET = 20.0  # ms
SHUTS = 1e-6  # of a species' scale: how near the peer must come


def text(tanks: int = TANKS) -> str:
    """A sump, its pump, chiller and column, and tanks fed from it."""
    lines = ['schema = 1\n[facility]\nname = "bench"\ntimezone = "Europe/London"\naltitude = "100 m"\n']
    lines.append('[sump.s]\nvolume = "20 m3"\ndepth = "1 m"\ntemperature = "24 °C"\nsalinity = "34 ppt"\n')
    lines.append('[pump.p]\nname = "p"\npower = "6 kW"\nflow = "200 m3/h"\n')
    lines.append('[equipment.k]\nkind = "chiller"\nname = "k"\npower = "60 kW"\n')
    lines.append('[equipment.g]\nkind = "packed column"\nname = "g"\n')
    lines.append('[equipment.n]\nkind = "biofilter"\nname = "n"\n')
    for tank in range(tanks):
        flow = 4 + tank % 5
        lines.append(
            f'[tank.t{tank}]\nvolume = "{3 + tank} m3"\ndepth = "1 m"\ntemperature = "24 °C"\n'
            f'salinity = "34 ppt"\nfeed = "{50 + 5 * tank} g/d"\n'
            f'[run.in{tank}]\nfrom = "s"\nthrough = ["p", "k", "n", "g"]\nto = "t{tank}"\n'
            f'flow = "{flow} m3/h"\n'
            f'[run.out{tank}]\nfrom = "t{tank}"\nto = "s"\nflow = "{flow} m3/h"\n'
            f'[[animals]]\nat = "t{tank}"\nspecies = "mullet"\nmass = "{3 + tank / 4} kg"\ncount = 30\n'
        )
    return "".join(lines)


def _plant() -> plant.Plant:
    facility = reading.read(text()).facility
    if facility is None:
        raise RuntimeError("the bench's facility does not check")
    flows = {run.id: run.flow or 0.0 for run in facility.runs.values()}
    told = conditions.Conditions(
        exchange={"s": conditions.Exchange(flow=5e-5)}, decay=1e-6, tracer={"s": 1e-4},
        leaks={"p": conditions.Leak(air=0.1)},
    )  # fmt: skip
    return model.build(facility, flows, told).plant


def _peer(rows: plant.Plant) -> np.ndarray:
    from scipy import optimize

    equations, shape = assembly.Assembly(rows), rows.start.shape
    scale = settling.SCALE[:, None]

    def residual(flat: np.ndarray) -> np.ndarray:
        x = flat.reshape(shape) * scale
        out = np.empty(shape)
        for species, made in assembly.every(equations, x).items():
            row = plant.AT[species]
            out[row] = (made.matrix @ x[row] + made.load) / rows.transport.outflow
        return (out / scale).ravel()

    found = optimize.root(residual, (rows.start / scale).ravel(), method="hybr", options={"xtol": 1e-10})
    return np.asarray(found.x).reshape(shape) * scale


def run(turns: int = TURNS) -> list[dict[str, object]]:
    """Time both; refuses to compare where the answers differ."""
    rows = _plant()
    ours: list[float] = []
    for _ in range(turns):
        start = time.process_time()
        rest = settling.settle(rows)
        ours.append(time.process_time() - start)
    if not rest.settled or rest.endless.any():
        raise RuntimeError("the bench's plant does not settle")
    start = time.process_time()
    theirs = _peer(rows)
    peer = time.process_time() - start
    off = float(np.max(np.abs(theirs - rest.x) / settling.SCALE[:, None]))
    if off > 1e-4:
        raise RuntimeError(f"the peer stands {off:.1e} of a scale apart")
    size = f"{len(rows.places)} places by {len(plant.SPECIES)} species"
    return [
        {"name": f"steady balance, {size}", "milliseconds": min(ours) * 1e3, "target": TARGET,
         "all_ours_seconds": ours},
        {"name": f"steady balance, {size}, against scipy's root", "ratio": min(ours) / peer, "target": 0.2,
         "peer_seconds": peer, "apart": off},
    ]  # fmt: skip


if __name__ == "__main__":
    for line in run():
        print(line)
