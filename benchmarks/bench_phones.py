"""Two hundred phones save, each an entry every five seconds, on the machine that also plays the phones.

Target: 300 ms for 95 of 100 saves, with a disk as it is and with every sync slowed by 20 ms; and nothing that
a phone was told is stored may be missing from the logbook. Every phone is signed in, as a hall with people
asks, and asks once a second whether the hall is there. ``BENCH_SECONDS`` says how long each run takes.
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
PEOPLE = 25
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
def served(folder: pathlib.Path, spent: list[float] | None = None, **environment: str) -> Generator[str]:
    """The hall's pages in a process of their own; its address. `spent` gets the processor's seconds."""
    server = subprocess.Popen(
        [sys.executable, "-m", "brinehouse", "serve", str(folder), "--port", "0", "--json"],
        stdout=subprocess.PIPE, text=True, env=os.environ | environment,
    )  # fmt: skip
    try:
        assert server.stdout is not None
        said = "".join(iter(server.stdout.readline, "}\n")) + "}"
        begun = processor(server.pid)
        yield json.loads(said)["address"].rstrip("/")
        if spent is not None:
            spent.append(processor(server.pid) - begun)
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(30)


def processor(pid: int) -> float:
    """How long a process has kept the processors busy, all its threads together. [s]"""
    fields = pathlib.Path(f"/proc/{pid}/stat").read_text("utf-8").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def slow_disk(folder: pathlib.Path) -> dict[str, str]:
    """The environment in which each sync takes 20 ms longer."""
    library = folder / "faultio.so"
    source = HERE.parent / "tests" / "faults" / "faultio.c"
    subprocess.run(["cc", "-O2", "-shared", "-fPIC", "-o", library, source, "-ldl"], check=True)
    return {"LD_PRELOAD": str(library), "FAULT_SYNC_MS": "20", "FAULT_PATH": "logbook"}


def peopled(hall: pathlib.Path) -> list[str]:
    """Let people into a hall and sign each of them in on several phones of the hall; the phones' cookies."""
    from brinehouse.logbook import canon
    from brinehouse.workbench import clock, entering, people, sealing
    from brinehouse.workbench import hall as halls

    acts: list[Any] = []
    cookies: list[str] = []
    at = canon.microseconds(clock.now())
    with halls.open_hall(hall) as place:
        people.first(place, "Administrator Wren", "brown kettle under nine ladders")
        keepers = [
            people.add(place, f"Keeper {number}", "keeper", people.OPEN)[0] for number in range(PEOPLE)
        ]
        acts += [["change account", {"person": keeper, "needs_change": False}] for keeper in keepers]
        for number in range(PHONES):
            device, ticket = sealing.short_id(), sealing.ticket()
            keeper = keepers[number % PEOPLE]
            told = {"id": device, "token": sealing.digest(sealing.ticket()), "name": f"phone {number}",
                    "admitted_by": keeper, "first_seen": at, "last_seen": at}  # fmt: skip
            acts.append(["add device", told])
            session = {"id": sealing.digest(ticket), "person": keeper, "device": device, "kind": "pin",
                       "begun": at, "seen": at, "until": canon.microseconds(clock.now() + entering.LASTS),
                       "sure": at, "at": at, "replaces": ""}  # fmt: skip
            acts.append(["begin session", session])
            cookies.append(f"brinehouse={ticket}")
        people.do(place, acts)
    return cookies


def load(folder: pathlib.Path, spent: list[float] | None = None, **environment: str) -> list[dict[str, Any]]:
    """Run the phones against a new hall; every entry with how it ended and how long it took."""
    hall = folder / "hall"
    hall.mkdir()
    (hall / "facility.toml").write_text(HALL, "utf-8")
    (folder / "cookies").write_text("\n".join(peopled(hall)), "utf-8")
    out = folder / "phones.jsonl"
    with served(hall, spent, **environment) as address:
        subprocess.run(
            [sys.executable, "-m", "locust", "-f", HERE / "phones_load.py", "--headless", "--host", address,
             "-u", str(PHONES), "-r", "100", "-t", f"{SECONDS}s", "--stop-timeout", "20", "--only-summary",
             "--loglevel", "ERROR"],
            env=os.environ | {"LOAD_OUT": str(out), "LOAD_COOKIES": str(folder / "cookies")},
            stdout=subprocess.DEVNULL, check=False,
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
            spent: list[float] = []
            phones = load(folder, spent, **(slow_disk(folder) if slow else {}))
            missing = lost(folder / "hall", phones)
        took = [1000.0 * one["seconds"] for one in phones]
        unsaved = sum(one["state"] not in ("stored", "same", "late") for one in phones)
        busy = round(1000.0 * spent[0] / len(took), 2)
        few = f"only {len(took)} entries, {busy} ms of the processor for each: the phones were too slow"
        assert len(took) > PHONES * SECONDS / 5 * 0.7, few
        assert (missing, unsaved) == (0, 0), f"{missing} lost, {unsaved} not saved"
        lines.append(
            {
                "name": f"{PHONES} phones, an entry each 5 s for {SECONDS} s, {told}: save, 95 of 100",
                "milliseconds": statistics.quantiles(took, n=20)[-1],
                "target": TARGET,
                "entries": len(took),
                "processor_ms_an_entry": busy,
                "load": os.getloadavg()[0],
                "median_ms": round(statistics.median(took), 1),
                "p99_ms": round(statistics.quantiles(took, n=100)[-1], 1),
            }
        )
    return lines


if __name__ == "__main__":
    print(json.dumps(run(), indent=1))
