"""The logbook in bulk: readings stored with chain and triggers, walked, and given to an engine as columns.

Targets: 15,000 rows stored a second; memory that grows by no more than the outcomes handed back.
"""

from __future__ import annotations

import resource
import tempfile
import time
from datetime import UTC, datetime, timedelta

from brinehouse import records
from brinehouse.logbook import store

ROWS = 200_000
TARGET = 15_000  # rows a second, at least
START = datetime(2026, 1, 1, tzinfo=UTC)
PLACES = ("mangrove", "pipefish", "sump-m", "holding")
QUANTITIES = ("oxygen", "temperature", "salinity", "total gas pressure")


def readings(rows: int):
    """One at a time, as an import gives them."""
    for i in range(rows):
        when = START + timedelta(seconds=i)
        yield records.Reading(
            id=f"{i * 0x9E3779B97F4A7C15 % 2**128:032x}",
            measured=when,
            entered=when,
            place=PLACES[i % 4],
            quantity=QUANTITIES[i // 4 % 4],
            value=7.0 + i % 97 / 100,
            unit="mg/L",
            text=f"{7.0 + i % 97 / 100:.2f} mg/L",
            instrument="meter-B",
            person=1,
            source="import",
            origin=f"import-1:{i}",
        )


def _peak() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _timed(work):
    start, busy = time.perf_counter(), time.process_time()
    result = work()
    return time.perf_counter() - start, time.process_time() - busy, result


def run(rows: int = ROWS) -> dict[str, object]:
    """Store, walk, and read back; the chain must be whole and every row there."""
    with tempfile.TemporaryDirectory() as folder, store.open_logbook(folder, create=True) as book:
        book.add_person("Bench")
        book.append(readings(10_000))  # warm: the statements are made
        before = _peak()
        seconds, busy, outcomes = _timed(lambda: sum(o.state == "new" for o in book.append(readings(rows))))
        grown = _peak() - before
        assert outcomes == rows - 10_000
        walk, _, found = _timed(lambda: book.verify(book.head()))
        assert found == []
        read, _, columns = _timed(book.columns)
        assert len(columns["time"]) == rows
        series, _, some = _timed(
            lambda: book.readings(places=["mangrove"], quantities=["oxygen"], limit=10_000)
        )
    return {
        "name": f"logbook, {rows:,} readings in one batch, chain, triggers and sync",
        "rows_per_second": outcomes / seconds,
        "rows_per_processor_second": outcomes / busy,  # what a machine with nothing else to do comes near
        "target": TARGET,
        "seconds": seconds,
        "megabytes_grown": grown,
        "verified_per_second": rows / walk,
        "columns_per_second": rows / read,
        "readings_per_second": len(some) / series,
    }


if __name__ == "__main__":
    for word, value in run().items():
        print(f"{word}: {value}")
