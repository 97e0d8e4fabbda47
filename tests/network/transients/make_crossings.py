"""Crossing times by an outside integrator, kept as a file.

``python -m tests.network.transients.make_crossings``

LSODA (SciPy) at a relative tolerance of 1e-9 on the equations of `benchmarks.transient_peer`, limits looked
at eight times a step and met by root-finding on its own interpolant. It takes a quarter of an hour or more on
two cores, so the tests read what it gave: ``lsoda_crossings.json``. Run it anew where the equations or the
plants in `batches` change. ``--start`` first works out the water the twelve places begin with, ``--check``
tells how far a second method (Radau, implicit Runge-Kutta) lies from it on some scenarios.
"""

from __future__ import annotations

import concurrent.futures
import json
import math
import pathlib
import sys
import tempfile
from typing import Any

import numpy as np
from benchmarks import transient_peer as peer
from tests.network.transients import batches, comparing, drawn_plants

PART = pathlib.Path(tempfile.gettempdir()) / "lsoda_crossings.part"
RTOL, SAMPLES, LONGEST = 1e-9, 8, 3600.0
HOURS = 72.0
SETTLES = 24.0 * 25
CHECKED = (0, 2, 11, 15, 16, 60, 150)
RANDOM = tuple(range(10))
DRAWN = (1, 2, 4, 5)  # pumps off, all off, a hole, filling over and fed
PROCESSES = 3
MADE = (
    "Crossing times [s] and least margins [unit of the quantity] by scipy.integrate.LSODA, rtol 1e-9, on the "
    "equations of benchmarks/transient_peer.py; made by tests/network/transients/make_crossings.py. "
    "null: never crossed; margins stand only where it was not."
)


def chosen() -> list[int]:
    """Of the twelve places: as it runs, every failure, and every fifth pair."""
    return [*range(22), *range(22, 232, 5)]


def settle() -> None:
    """The plant as it runs until its days repeat."""
    made = batches.hall()
    structure = made.structure()
    x, volume = batches.rough(made)
    batch = made.batch([[]], x, volume, until=(1e9,))
    found = peer.solve(structure, batch, 0, SETTLES, rtol=1e-7)
    told = {
        "x": [[float(f"{one:.9g}") for one in row] for row in found.x],
        "volume": [float(f"{one:.9g}") for one in found.volume],
    }
    batches.STARTS.write_text(json.dumps({"twelve": told}, indent=1) + "\n", "utf-8")


def one(task: tuple[str, int, str, float]) -> dict[str, Any]:
    """One scenario."""
    plant, scenario, method, rtol = task
    structure, batch = drawn_plants.named(plant)
    found = peer.solve(
        structure, batch, scenario, HOURS, method=method, rtol=rtol, samples=SAMPLES, longest=LONGEST
    )
    return {
        "scenario": scenario,
        "crossed": [None if math.isinf(at) else round(float(at), 2) for at in found.crossed],
        "margin": [
            float(f"{by:.6g}") if math.isinf(at) else None
            for at, by in zip(found.crossed, found.margin, strict=True)
        ],
        "x": [[float(f"{value:.8g}") for value in row] for row in found.x],
        "volume": [float(f"{value:.8g}") for value in found.volume],
    }


def tasks() -> list[tuple[str, int]]:
    """All that is kept."""
    drawn = [(f"random {seed}", scenario) for seed in RANDOM for scenario in DRAWN]
    return [("twelve", scenario) for scenario in chosen()] + drawn


def check(pool: concurrent.futures.Executor) -> None:
    """Against a method that shares nothing with LSODA."""
    kept = json.loads(comparing.KEPT.read_text("utf-8"))["plants"]["twelve"]
    old = {told["scenario"]: told for told in kept}
    for new in pool.map(one, [("twelve", at, "Radau", 1e-8) for at in CHECKED]):
        then = old[new["scenario"]]
        times = [np.array(told["crossed"], dtype=float) for told in (then, new)]
        off = np.nanmax(np.abs(times[0] - times[1]), initial=0.0)
        same = bool((np.isnan(times[0]) == np.isnan(times[1])).all())
        print(f"{new['scenario']}: {off:.3f} s apart at most, same limits: {same}", flush=True)


def main(asked: list[str]) -> None:
    """Make, or check. What is done is kept at once, so that a run that was stopped goes on."""
    if "--start" in asked:
        settle()
        return
    with concurrent.futures.ProcessPoolExecutor(PROCESSES) as pool:
        if "--check" in asked:
            check(pool)
            return
        done = {}
        if PART.exists():
            done = {tuple(at): told for at, told in map(json.loads, PART.read_text("utf-8").splitlines())}
        todo = [task for task in tasks() if task not in done]
        found = pool.map(one, [(*task, "LSODA", RTOL) for task in todo])
        for task, told in zip(todo, found, strict=True):
            done[task] = told
            with PART.open("a", encoding="utf-8") as file:
                file.write(json.dumps([task, told]) + "\n")
            print(*task, flush=True)
    plants: dict[str, list[dict[str, Any]]] = {}
    for task in tasks():
        plants.setdefault(task[0], []).append(done[task])
    comparing.KEPT.write_text(json.dumps({"made": MADE, "hours": HOURS, "plants": plants}) + "\n", "utf-8")
    PART.unlink()


if __name__ == "__main__":
    main(sys.argv[1:])
