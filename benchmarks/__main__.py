"""``python -m benchmarks``: every promise about speed, measured here and now, in one table.

``python -m benchmarks oxygen start`` measures only these. The figures and the machine they hold for go to
``build/bench.json``; the exit status is 1 where a promise is not kept.
"""

from __future__ import annotations

import importlib
import json
import os
import pathlib
import platform
import subprocess
import sys
import time
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

HERE = pathlib.Path(__file__).parent
RESULT = HERE.parent / "build" / "bench.json"
FIGURES = ("ratio", "rows_per_second", "seconds", "milliseconds")
MORE_IS_BETTER = ("per_second",)
CHILD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
UNSET = ("OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE")


def names() -> list[str]:
    """Benchmarks by the names of their files."""
    return sorted(path.stem.removeprefix("bench_") for path in HERE.glob("bench_*.py"))


def environment() -> dict[str, str]:
    """This process's environment with one thread for linear algebra and no forced processor type."""
    kept = {name: value for name, value in os.environ.items() if name not in UNSET}
    return kept | CHILD


def figure(line: Mapping[str, Any]) -> tuple[str, float]:
    """The figure that a target is about: its name and value."""
    for name in FIGURES:
        if name in line:
            return name, float(line[name])
    name = next(one for one in line if one.endswith("milliseconds"))
    return name, float(line[name])


def met(line: Mapping[str, Any]) -> bool | None:
    """Whether the target is kept; None without one. Rates are to be reached, the rest not to be passed."""
    if line.get("target") is None:
        return None
    name, value = figure(line)
    target = float(line["target"])
    return value >= target if name.endswith(MORE_IS_BETTER) else value <= target


def measure(name: str) -> list[dict[str, Any]]:
    """One benchmark in a process of its own, so that none warms the next."""
    said = subprocess.run(
        [sys.executable, "-m", "benchmarks", "--one", name],
        capture_output=True, text=True, env=environment(), cwd=HERE.parent, check=False,
    )  # fmt: skip
    if said.returncode:
        last = (said.stderr.strip().splitlines() or ["it gave no reason"])[-1]
        return [{"benchmark": name, "name": name, "fault": last}]
    return [{"benchmark": name, **line} for line in json.loads(said.stdout.splitlines()[-1])]


def run_one(name: str) -> None:
    """Run one benchmark here and print its lines as JSON."""
    found = importlib.import_module(f"benchmarks.bench_{name}").run()
    lines = [found] if isinstance(found, Mapping) else list(found)
    print(json.dumps(lines, default=float))


def told(value: float) -> str:
    """A figure with three digits that count.

    >>> told(0.84219), told(412345.6), told(3.0), told(148.2)
    ('0.842', '412,346', '3.00', '148')
    """
    return f"{value:,.0f}" if value >= 1000 else f"{value:#.3g}".rstrip(".")


def table(lines: Sequence[Mapping[str, Any]]) -> str:
    """Name, figure, target and whether it is kept, in line."""
    rows = [("promise", "figure", "", "target", "kept")]
    for line in lines:
        what = f"{line['benchmark']}: {line['name']}"
        if "fault" in line:
            rows.append((what, "none", str(line["fault"])[:40], "", "no"))
            continue
        name, value = figure(line)
        kept = {True: "yes", False: "no", None: ""}[met(line)]
        sign = "at least" if name.endswith(MORE_IS_BETTER) else "at most"
        target = f"{sign} {told(float(line['target']))}" if line.get("target") is not None else ""
        rows.append((what, told(value), name.replace("_", " "), target, kept))
    widths = [max(len(row[place]) for row in rows) for place in range(5)]
    return "\n".join(
        "  ".join(
            cell.rjust(width) if place == 1 else cell.ljust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    )


def machine() -> dict[str, Any]:
    """What the figures hold for."""
    import numpy as np

    return {
        "python": platform.python_version(),
        "numpy": np.__version__,
        "system": platform.platform(),
        "processor": _processor(),
        "cores": len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count(),
        "load": os.getloadavg() if hasattr(os, "getloadavg") else None,
        "memory_megabytes": _memory(),
        "time": time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime()),
    }


def _processor() -> str:
    page = pathlib.Path("/proc/cpuinfo")
    if not page.exists():
        return platform.processor()
    lines = page.read_text("utf-8").splitlines()
    return next((line.partition(":")[2].strip() for line in lines if line.startswith("model name")), "")


def _memory() -> float | None:
    if not hasattr(os, "sysconf") or "SC_PHYS_PAGES" not in os.sysconf_names:
        return None
    return round(os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") / 2**20)


def main(wanted: Iterable[str]) -> int:
    """Measure what is wanted, or all; print, keep, and say whether every promise is kept."""
    known = names()
    asked = list(wanted) or known
    strange = [name for name in asked if name not in known]
    if strange:
        print(f"there is no benchmark '{strange[0]}'; there are: {', '.join(known)}", file=sys.stderr)
        return 2
    lines: list[dict[str, Any]] = []
    for name in asked:
        print(f"measuring {name} ...", file=sys.stderr, flush=True)
        lines += measure(name)
    print(table(lines))
    facts = machine()
    print(f"\n{facts['processor']}, {facts['cores']} cores, Python {facts['python']}, NumPy {facts['numpy']}")
    RESULT.parent.mkdir(exist_ok=True)
    kept = [line | {"met": met(line) if "fault" not in line else False} for line in lines]
    RESULT.write_text(
        json.dumps({"machine": facts, "results": kept}, indent=1, default=float) + "\n", "utf-8"
    )
    return 0 if all(line["met"] is not False for line in kept) else 1


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        run_one(sys.argv[2])
    else:
        sys.exit(main(sys.argv[1:]))
