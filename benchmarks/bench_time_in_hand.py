"""Time in hand: every failure of a plant of twelve places and every two of them, beside SciPy's BDF.

The peer is `transient_peer`: the same equations, vectorised, with a coloured Jacobian, limits looked at once
a step. Each side runs at the loosest tolerance of its list that keeps crossing times within 0.15 min (rms)
and 1.5 min (most) of LSODA at 1e-9, none missed and none invented; both accuracies stand beside the factor.
Both are given the same cores: ours by threads on all scenarios, the peer by processes on a sample of them.
"""

from __future__ import annotations

import concurrent.futures
import os
import subprocess
import sys
import time

import numpy as np
from benchmarks import transient_peer as peer
from tests.network.transients import batches, comparing

from brinehouse.network.transients import running, tables

HOURS = 72.0
CORES = min(2, os.cpu_count() or 1)
OURS = (3e-5, 1e-5, 3e-6, 1e-6, 3e-7)
PEERS = {"BDF": (1e-5, 3e-6, 1e-6, 3e-7), "LSODA": (3e-5, 1e-5, 3e-6, 1e-6)}
SAMPLE = 24
TARGET = 1.0 / 60.0
MANY = (100, 1000, 10_000)
FIRST = """
import time
began = time.perf_counter()
import numpy as np
from brinehouse.network.transients import running, tables
held = np.load({path!r}, allow_pickle=True)
structure = tables.Structure(**held["structure"].item())
batch = tables.Tables(**held["batch"].item())
running.run(structure, batch, 72.0, threads={cores})
print(time.perf_counter() - began)
"""


def _one(task: tuple[str, float, int]) -> tuple[peer.Course, float]:
    """A scenario by the peer, and its processor time."""
    method, rtol, scenario = task
    if not hasattr(_one, "plant"):
        structure, batch, _ = batches.twelve()
        _one.plant = structure, batch, peer.Frame(structure)
    structure, batch, frame = _one.plant
    began = time.process_time()
    found = peer.solve(structure, batch, scenario, HOURS, method=method, rtol=rtol, frame=frame)
    return found, time.process_time() - began


def _sample(scenarios: list[int]) -> np.ndarray:
    """Rows of the reference for the peer: spread over failures and pairs alike."""
    return np.linspace(0, len(scenarios) - 1, SAMPLE).round().astype(int)


def _ours(structure: tables.Structure, batch: tables.Tables) -> tuple[float, comparing.Apart]:
    """The loosest tolerance that is near enough, and how near."""
    scenarios, times, margins = comparing.reference("twelve")
    some = tables.take(batch, np.array(scenarios))
    for rtol in OURS:
        found = running.run(structure, some, HOURS, rtol=rtol)
        near = comparing.apart(structure, found.crossed, found.margin, times, margins)
        if near.keeps and found.whole.all():
            return rtol, near
    raise RuntimeError(f"no tolerance of ours is near enough: {near}")


def _peer(
    pool: concurrent.futures.Executor, method: str, structure: tables.Structure
) -> tuple[float, comparing.Apart, float, float]:
    """Tolerance, how near, and seconds of processor and of clock for each scenario on the sample."""
    scenarios, times, margins = comparing.reference("twelve")
    rows = _sample(scenarios)
    list(pool.map(_one, [(method, 1e-3, 0)] * CORES))  # what is loaded is not timed
    for rtol in PEERS[method]:
        began = time.perf_counter()
        told = list(pool.map(_one, [(method, rtol, scenarios[row]) for row in rows]))
        clock = time.perf_counter() - began
        crossed = np.array([course.crossed for course, _ in told])
        margin = np.array([course.margin for course, _ in told])
        near = comparing.apart(structure, crossed, margin, times[rows], margins[rows])
        if near.keeps:
            return rtol, near, sum(spent for _, spent in told) / SAMPLE, clock / SAMPLE
    raise RuntimeError(f"no tolerance of {method} is near enough: {near}")


def _said(near: comparing.Apart) -> dict[str, float]:
    return {"rms_minutes": near.rms, "most_minutes": near.most, "crossings": near.crossings}


def varied(batch: tables.Tables, many: int) -> tables.Tables:
    """As many scenarios, stocks and surfaces a little different in each."""
    chance = np.random.default_rng(20261125)
    made = tables.take(batch, np.arange(many) % batch.scenarios)
    place = made.place.copy()
    for name in ("breath", "ammonia", "velocity", "warmth"):
        place[..., tables.AT[name]] *= np.exp(0.15 * chance.standard_normal((many, 1, place.shape[2])))
    return tables.Tables(
        way=made.way,
        op=made.op,
        place=place,
        until=made.until,
        x=made.x,
        volume=made.volume,
        clock=made.clock,
    )


def _first(structure: tables.Structure, batch: tables.Tables) -> float:
    """Seconds from nothing to all answers in a new process, what is compiled being kept on disk."""
    import pathlib
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = str(pathlib.Path(folder) / "batch.npz")
        held = {
            "structure": {name: getattr(structure, name) for name in tables.Structure.__slots__},
            "batch": {name: getattr(batch, name) for name in tables.Tables.__slots__},
        }
        np.savez(
            path, **{name: np.array(told, dtype=object) for name, told in held.items()}, allow_pickle=True
        )
        said = subprocess.run(
            [sys.executable, "-c", FIRST.format(path=path, cores=CORES)],
            capture_output=True,
            text=True,
            check=True,
        )
    return float(said.stdout.split()[-1])


def run() -> list[dict[str, object]]:
    """Measure; refuses to compare speeds where either is not near enough to the reference."""
    structure, batch, _ = batches.twelve()
    running.warm()
    rtol, near = _ours(structure, batch)
    walls, spent = [], []
    for _ in range(5):
        began, cpu = time.perf_counter(), time.process_time()
        running.run(structure, batch, HOURS, rtol=rtol, threads=CORES)
        walls.append(time.perf_counter() - began)
        spent.append(time.process_time() - cpu)
    each, clock = min(spent) / batch.scenarios, min(walls) / batch.scenarios
    ours = {"ours_rtol": rtol, **{f"ours_{name}": value for name, value in _said(near).items()}}
    lines: list[dict[str, object]] = []
    with concurrent.futures.ProcessPoolExecutor(CORES) as pool:
        for method in PEERS:
            their, found, theirs, wall = _peer(pool, method, structure)
            lines.append({
                "name": f"{batch.scenarios} courses over {method}, same accuracy", "ratio": each / theirs,
                "target": TARGET if method == "BDF" else None, "times": theirs / each,
                "times_by_the_clock": wall / clock, "ours_milliseconds": 1e3 * each,
                "peer_milliseconds": 1e3 * theirs, "peer_rtol": their, **ours,
                **{f"peer_{name}": value for name, value in _said(found).items()},
            })  # fmt: skip
    lines.append(
        {"name": f"{batch.scenarios} courses, warm, {CORES} cores", "seconds": min(walls), "target": 1.0}
    )
    lines.append({"name": "the first in a new process, compiled before", "seconds": _first(structure, batch),
                  "target": 3.0})  # fmt: skip
    curve = {}
    for many in MANY:
        rows = varied(batch, many)
        began = time.perf_counter()
        running.run(structure, rows, HOURS, rtol=rtol, threads=CORES)
        curve[f"milliseconds_each_of_{many}"] = 1e3 * (time.perf_counter() - began) / many
    last = curve[f"milliseconds_each_of_{MANY[-1]}"]
    lines.append({"name": f"each of {MANY[-1]} courses", "milliseconds": last, "target": None, **curve})
    return lines


if __name__ == "__main__":
    for line in run():
        print(line)
