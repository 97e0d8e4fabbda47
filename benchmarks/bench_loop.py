"""How long the loop sheet takes on the server: the whole request, as a browser waits for it.

Target: 60 ms for 95 of 100 requests on the invented hall, told also as times over the sheet ``now``. Beside
it, without a target: the same where every drawing is made anew, and one drawing of thirty tanks.
"""

from __future__ import annotations

import asyncio
import pathlib
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from typing import Any

TURNS = 100
FRESH = 20
sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "tests" / "network" / "profile"))


def ninety_five(took: list[float]) -> float:
    """The time that 95 of 100 keep."""
    return statistics.quantiles(took, n=20)[-1]


def timed(work: Callable[[], object], turns: int) -> list[float]:
    took: list[float] = []
    for _ in range(turns):
        start = time.perf_counter()
        work()
        took.append(time.perf_counter() - start)
    return took


def asking(app: Any, path: str) -> Callable[[], object]:
    """One GET through the application, without a socket."""
    scope: dict[str, Any] = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET", "path": path,
        "raw_path": path.encode(), "query_string": b"", "root_path": "", "scheme": "http",
        "headers": [(b"host", b"127.0.0.1")], "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80),
    }  # fmt: skip

    async def once() -> int:
        status: list[int] = []

        async def receive() -> dict[str, Any]:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: dict[str, Any]) -> None:
            if message["type"] == "http.response.start":
                status.append(message["status"])

        await app(dict(scope), receive, send)
        return status[0]

    runner = asyncio.Runner()

    def ask() -> None:
        answered = runner.run(once())
        if answered != 200:
            raise RuntimeError(f"{path} answered {answered}")

    return ask


def run(turns: int = TURNS, days: int = 30) -> list[dict[str, object]]:
    """The sheet as served, and its parts."""
    from brinehouse.demo import building
    from brinehouse.web import app, loop_sheet

    with tempfile.TemporaryDirectory() as folder:
        place = pathlib.Path(folder) / "hall"
        building.build(place, seed=1, days=days, end="2026-03-14 06:40")
        made = app.create_app(place)
        loop, now = asking(made, "/loop"), asking(made, "/now")
        loop()
        now()
        made.state.knowing.rest()  # else what is worked out ahead shares the processor
        loop()
        served, beside = timed(loop, turns), timed(now, turns)

        def anew() -> None:
            loop_sheet.forget()
            loop()

        fresh = timed(anew, FRESH)
        made.state.knowing.close()
        made.state.desk.close()
    drawn = timed(_rack(), FRESH)
    return [
        {
            "name": "loop sheet, 95 of 100",
            "milliseconds": ninety_five(served) * 1e3,
            "target": 60.0,
            "over_now_sheet": statistics.median(served) / statistics.median(beside),
            "median_milliseconds": statistics.median(served) * 1e3,
        },
        {"name": "loop sheet, every drawing anew", "milliseconds": ninety_five(fresh) * 1e3, "target": None},
        {
            "name": "thirty tanks in three systems, drawn wide",
            "milliseconds": ninety_five(drawn) * 1e3,
            "target": None,
        },
    ]


def _rack() -> Callable[[], object]:
    import oddhalls
    import sketching

    from brinehouse.facility import reading
    from brinehouse.network.profile import building
    from brinehouse.web import catalogue, loop_drawing, loop_words

    hall: Any = reading.read(oddhalls.rack().encode()).facility
    layout = sketching.layout(hall)
    say = loop_words.Say(catalogue.Words())
    profiles = [building.build(hall, system, layout, {}) for system in hall.systems]
    return lambda: [loop_drawing.picture(profile, say, "wide") for profile in profiles]


if __name__ == "__main__":
    for line in run():
        print(line)
