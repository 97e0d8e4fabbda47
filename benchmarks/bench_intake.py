"""Taking in a file of readings: looked at, and stored. Long table of an automatic source, eight columns."""

import pathlib
import resource
import tempfile
import time
from datetime import UTC, datetime, timedelta

from brinehouse.workbench import clock, hall, importing

FACILITY = """schema = 1
[facility]
name = "Bench"
timezone = "UTC"
[tank.T-1]
volume = "12 m3"
stands_alone = true
"""
START = datetime(2024, 1, 1, tzinfo=UTC)
LOOKED_AT, STORED = 50_000, 15_000  # rows a second


def made(rows):
    """A long table; the values wander so that nothing stands still."""
    lines = ["time,place,quantity,value,unit,method,by,note"]
    for number in range(rows):
        at = START + timedelta(seconds=30 * number)
        value = 24.0 + (number * 7919 % 100) / 100
        lines.append(f"{at:%Y-%m-%dT%H:%M:%S}Z,T-1,temperature,{value:.2f},degC,probe,logger,")
    return ("\n".join(lines) + "\n").encode()


def peak():
    """The most memory this process has used so far. [MiB]"""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def run(rows=200_000):
    data = made(rows)
    clock.freeze(datetime(2026, 11, 15, 12, tzinfo=UTC))
    results = []
    with tempfile.TemporaryDirectory() as folder:
        (pathlib.Path(folder) / "facility.toml").write_text(FACILITY, "utf-8")
        with hall.open_hall(folder) as place:
            before = time.perf_counter()
            seen = importing.examine_upload(place, "bench.csv", data)
            took = time.perf_counter() - before
            results.append(
                {"name": "looked at", "rows_per_second": rows / took, "target": LOOKED_AT, "peak_mib": peak()}
            )
            before = time.perf_counter()
            done = importing.store(place, seen)
            took = time.perf_counter() - before
            results.append(
                {"name": "stored", "rows_per_second": rows / took, "target": STORED, "peak_mib": peak()}
            )
            assert done.new == rows
    clock.freeze(None)
    return results


if __name__ == "__main__":
    for result in run():
        print(result)
