"""Pages of a hall whose log holds a million readings, asked for twenty times a second.

Target: 100 ms for 95 of 100 requests, all pages together; the slowest page is named.
"""

from __future__ import annotations

import asyncio
import json
import os
import pathlib
import statistics
import tempfile
import time
from collections import defaultdict
from datetime import UTC, datetime, timedelta

from benchmarks import bench_phones

ROWS = int(os.environ.get("BENCH_ROWS", "1000000"))
SECONDS = int(os.environ.get("BENCH_SECONDS", "60"))
RATE = 20.0
TARGET = 100.0  # ms
PAGES = (
    "/now", "/log", "/log?place=pipefish&quantity=temperature", "/tank/pipefish", "/tank/mangrove", "/rounds",
    "/log/new?place=pipefish&quantity=temperature", "/plant", "/gas", "/loop", "/notices", "/work",
    "/equipment", "/turns", "/hand-over", "/charts?of=pipefish:temperature", "/labels",
)  # fmt: skip
PLACES = ("mangrove", "pipefish", "estuary", "kelp", "ledge", "q-1", "q-2", "nursery")
QUANTITIES = (
    ("temperature", "°C", 25.0),
    ("salinity", "PSU", 34.0),
    ("pH", "pH", 8.0),
    ("oxygen", "mg/L", 6.5),
)


def fill(folder: pathlib.Path, rows: int) -> None:
    """The invented hall with years of readings before its own ninety days."""
    from brinehouse import records
    from brinehouse.demo import building
    from brinehouse.logbook import store

    building.build(folder, seed=1)
    begin = datetime.now(UTC) - timedelta(days=95 + rows / 320)

    def readings():
        for i in range(rows):
            quantity, unit, value = QUANTITIES[i // 8 % 4]
            at = begin + timedelta(seconds=i * 270.0)
            value = round(value + i % 97 / 200, 2)
            yield records.Reading(
                id=f"{i * 0x9E3779B97F4A7C15 % 2**128:032x}", measured=at, entered=at, place=PLACES[i % 8],
                quantity=quantity, value=value, unit=unit, text=f"{value} {unit}", source="import",
                origin=f"bench:{i}",
            )  # fmt: skip

    with store.open_logbook(folder) as book:
        book.take_import("bench", "bench.csv", b"", readings(), at=datetime.now(UTC))


async def ask(address: str, seconds: float) -> dict[str, list[float]]:
    """Ask for one page after another at a steady rate, whether or not the last has come; ms by page."""
    import httpx

    took: dict[str, list[float]] = defaultdict(list)
    async with httpx.AsyncClient(base_url=address, timeout=60.0) as client:

        async def one(page: str) -> None:
            begun = time.perf_counter()
            answer = await client.get(page)
            if answer.status_code == 200:
                took[page].append(1000.0 * (time.perf_counter() - begun))

        for page in PAGES * 2:  # what is worked out once is worked out now
            await one(page)
        await asyncio.sleep(20.0)
        took.clear()
        begun, running = time.perf_counter(), set[asyncio.Task[None]]()
        for number in range(int(RATE * seconds)):
            await asyncio.sleep(max(0.0, begun + number / RATE - time.perf_counter()))
            running.add(asyncio.create_task(one(PAGES[number * 7 % len(PAGES)])))
        await asyncio.gather(*running)
    return took


def run() -> list[dict[str, object]]:
    """All pages together, and each alone without a target."""
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name) / "hall"
        fill(folder, ROWS)
        with bench_phones.served(folder) as address:
            took = asyncio.run(ask(address, SECONDS))
    everything = [one for page in took.values() for one in page]
    ninety_five = {
        page: statistics.quantiles(times, n=20)[-1] for page, times in took.items() if len(times) > 2
    }
    slowest = max(ninety_five, key=ninety_five.__getitem__)
    return [
        {
            "name": f"pages at {RATE:.0f} a second, {ROWS:,} readings in the log: 95 of 100",
            "milliseconds": statistics.quantiles(everything, n=20)[-1],
            "target": TARGET,
            "median_ms": round(statistics.median(everything), 1),
            "slowest": f"{slowest} {ninety_five[slowest]:.0f} ms",
            "unanswered": sorted(set(PAGES) - set(took)),
        },
        *({"name": f"  {page}", "milliseconds": value} for page, value in sorted(ninety_five.items())),
    ]


if __name__ == "__main__":
    print(json.dumps(run(), indent=1))
