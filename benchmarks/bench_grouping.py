"""Entries from many phones on a slow disk: each sync takes 20 ms longer, as on a memory card.

Target: 95 of 100 entries are safe within 300 ms at 100 entries a second. Needs a C compiler; Linux only.
"""

from __future__ import annotations

import json
import os
import pathlib
import random
import subprocess
import sys
import tempfile
import threading
import time
from datetime import UTC, datetime, timedelta

RATE = 100  # entries a second
SECONDS = 8
SLOWER = 20  # ms a sync
TARGET = 300  # ms, at most
SHIM = pathlib.Path(__file__).parents[1] / "tests" / "faults" / "faultio.c"


def entries(rate: int, seconds: float) -> list[float]:
    """Send entries at random moments; how long each took until it was safe. [ms]"""
    from brinehouse import records
    from brinehouse.logbook import store

    chance, took, lock = random.Random(3), [], threading.Lock()
    start = datetime(2026, 1, 1, tzinfo=UTC)
    with (
        tempfile.TemporaryDirectory(prefix="grouping-") as folder,
        store.open_logbook(folder, create=True) as book,
    ):
        book.hold()

        def done(sent: float):
            def note(_future):
                with lock:
                    took.append((time.perf_counter() - sent) * 1e3)

            return note

        end, number = time.perf_counter() + seconds, 0
        while time.perf_counter() < end:
            time.sleep(chance.expovariate(rate))
            number += 1
            when = start + timedelta(seconds=number)
            entry = records.Reading(
                id=f"{number:032x}", measured=when, entered=when, place="mangrove", quantity="oxygen",
                value=7.0, unit="mg/L", text="7.0 mg/L",
            )  # fmt: skip
            book.append_later([entry]).add_done_callback(done(time.perf_counter()))
    assert len(took) == number
    return sorted(took)


def run(rate: int = RATE, seconds: float = SECONDS) -> dict[str, object]:
    """Build the shim, run `entries` under it in a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        library = pathlib.Path(folder) / "faultio.so"
        subprocess.run(["cc", "-O2", "-shared", "-fPIC", "-o", library, SHIM, "-ldl"], check=True)
        slow = {"LD_PRELOAD": str(library), "FAULT_PATH": "logbook.sqlite", "FAULT_SYNC_MS": str(SLOWER)}
        said = subprocess.run(
            [sys.executable, __file__, str(rate), str(seconds)],
            env=os.environ | slow,
            capture_output=True,
            text=True,
            check=True,
        ).stdout
    took = json.loads(said)
    return {
        "name": f"{rate} entries a second, each sync {SLOWER} ms slower",
        "p95_milliseconds": took[int(len(took) * 0.95)],
        "target": TARGET,
        "p50_milliseconds": took[len(took) // 2],
        "entries": len(took),
    }


if __name__ == "__main__":
    if len(sys.argv) > 1:
        print(json.dumps(entries(int(sys.argv[1]), float(sys.argv[2]))))
    else:
        for word, value in run().items():
            print(f"{word}: {value}")
