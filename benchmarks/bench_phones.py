"""Two hundred phones save, each an entry every five seconds, on the machine that also plays the phones.

Target: 300 ms for 95 of 100 saves, with a disk as it is and with every sync slowed by 20 ms; and nothing that
a phone was told is stored may be missing from the logbook. ``BENCH_SECONDS`` says how long each run takes.
"""

from __future__ import annotations

import contextlib
import json
import os
import pathlib
import signal
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Generator
from typing import Any

HERE = pathlib.Path(__file__).parent
PHONES = 200
SECONDS = int(os.environ.get("BENCH_SECONDS", "60"))
TARGET = 300.0  # ms
HALL = """schema = 1
[facility]
name = "Bench Hall"
timezone = "Europe/London"
[tank.mangrove]
volume = "58 m3"
depth = "2.6 m"
"""


@contextlib.contextmanager
def served(folder: pathlib.Path, **environment: str) -> Generator[str]:
    """The hall's pages in a process of their own; its address."""
    server = subprocess.Popen(
        [sys.executable, "-m", "brinehouse", "serve", str(folder), "--port", "0", "--json"],
        stdout=subprocess.PIPE, text=True, env=os.environ | environment,
    )  # fmt: skip
    try:
        assert server.stdout is not None
        said = "".join(iter(server.stdout.readline, "}\n")) + "}"
        yield json.loads(said)["address"].rstrip("/")
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(30)


def slow_disk(folder: pathlib.Path) -> dict[str, str]:
    """The environment in which each sync takes 20 ms longer."""
    library = folder / "faultio.so"
    source = HERE.parent / "tests" / "faults" / "faultio.c"
    subprocess.run(["cc", "-O2", "-shared", "-fPIC", "-o", library, source, "-ldl"], check=True)
    return {"LD_PRELOAD": str(library), "FAULT_SYNC_MS": "20", "FAULT_PATH": "logbook"}


def load(folder: pathlib.Path, **environment: str) -> list[dict[str, Any]]:
    """Run the phones against a new hall; every entry with how it ended and how long it took."""
    hall = folder / "hall"
    hall.mkdir()
    (hall / "facility.toml").write_text(HALL, "utf-8")
    out = folder / "phones.jsonl"
    with served(hall, **environment) as address:
        subprocess.run(
            [sys.executable, "-m", "locust", "-f", HERE / "phones_load.py", "--headless", "--host", address,
             "-u", str(PHONES), "-r", "100", "-t", f"{SECONDS}s", "--stop-timeout", "20", "--only-summary",
             "--loglevel", "ERROR"],
            env=os.environ | {"LOAD_OUT": str(out)}, stdout=subprocess.DEVNULL, check=False,
        )  # fmt: skip
    return [json.loads(line) for line in out.read_text("utf-8").splitlines()]


def lost(hall: pathlib.Path, phones: list[dict[str, Any]]) -> int:
    """How many entries a phone holds for stored and the logbook has not."""
    from brinehouse.logbook import store

    with store.open_logbook(hall) as book:
        there = {reading.id for reading in book.readings(superseded=True)}
    return sum(one["id"] not in there for one in phones if one["state"] in ("stored", "same", "late"))


def run() -> list[dict[str, object]]:
    """Both disks."""
    lines: list[dict[str, object]] = []
    for told, slow in (("disk as it is", False), ("each sync 20 ms slower", True)):
        with tempfile.TemporaryDirectory() as name:
            folder = pathlib.Path(name)
            phones = load(folder, **(slow_disk(folder) if slow else {}))
            missing = lost(folder / "hall", phones)
        took = [1000.0 * one["seconds"] for one in phones]
        unsaved = sum(one["state"] not in ("stored", "same", "late") for one in phones)
        assert len(took) > PHONES * SECONDS / 5 * 0.7, f"only {len(took)} entries: the phones were too slow"
        assert (missing, unsaved) == (0, 0), f"{missing} lost, {unsaved} not saved"
        lines.append(
            {
                "name": f"{PHONES} phones, an entry each 5 s for {SECONDS} s, {told}: save, 95 of 100",
                "milliseconds": statistics.quantiles(took, n=20)[-1],
                "target": TARGET,
                "entries": len(took),
                "median_ms": round(statistics.median(took), 1),
                "p99_ms": round(statistics.quantiles(took, n=100)[-1], 1),
            }
        )
    return lines


if __name__ == "__main__":
    print(json.dumps(run(), indent=1))
