"""How long the first sign of life takes: ``--version`` and the bare import, against Python alone.

Targets: 150 ms and 60 ms, medians of fifteen runs, each also told as times over ``python -c pass``.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Sequence

TURNS = 15
ARGUMENTS: dict[str, Sequence[str]] = {
    "python": ("-c", "pass"),
    "version": ("-m", "brinehouse", "--version"),
    "import": ("-c", "import brinehouse"),
}
INSIDE = "import time; a = time.perf_counter(); import brinehouse; print(time.perf_counter() - a)"


def environment() -> dict[str, str]:
    """One thread for linear algebra, no forced processor type."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("OPENBLAS_")}
    return kept | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}


def seconds(arguments: Sequence[str]) -> float:
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], env=environment(), check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start


def inside() -> float:
    """Seconds of ``import brinehouse`` alone, as the new process counts them."""
    said = subprocess.run(
        [sys.executable, "-c", INSIDE], env=environment(), check=True, capture_output=True, text=True
    )
    return float(said.stdout)


def run(turns: int = TURNS) -> list[dict[str, object]]:
    """Both, in turn with Python alone."""
    for arguments in ARGUMENTS.values():
        seconds(arguments)  # warm: the files are read
    took: dict[str, list[float]] = {name: [] for name in ARGUMENTS}
    alone: list[float] = []
    for _ in range(turns):
        for name, arguments in ARGUMENTS.items():
            took[name].append(seconds(arguments))
        alone.append(inside())
    bare = statistics.median(took["python"])
    version, whole = statistics.median(took["version"]), statistics.median(took["import"])
    return [
        {
            "name": "brinehouse --version",
            "milliseconds": version * 1e3,
            "target": 150.0,
            "over_bare_python": version / bare,
            "bare_python_milliseconds": bare * 1e3,
        },
        {
            "name": "import brinehouse",
            "milliseconds": statistics.median(alone) * 1e3,
            "target": 60.0,
            "over_bare_python": whole / bare,
            "bare_python_milliseconds": bare * 1e3,
        },
    ]


if __name__ == "__main__":
    for line in run():
        print(line)
