"""A small logbook with every kind of entry, and what a program must find in one that was kept.

``python tests/logbook/small_logbook.py`` writes ``tests/data/logbooks/<shape>.sqlite`` and beside it, as
JSON, what stood in it then. It is run once for each shape, by the program that first writes that shape; a
file that is there already is never written anew.
"""

import hashlib
import json
import pathlib
import sys
import tempfile
from datetime import UTC, datetime, timedelta

from brinehouse import records
from brinehouse.logbook import database, queries, store, tables
from brinehouse.workbench import starting

KEPT = pathlib.Path(__file__).parents[1] / "data" / "logbooks"
START = datetime(2026, 3, 1, 6, 0, tzinfo=UTC)

DETAILS = {
    "instrument-check": {"instrument": "meter-1", "check": "air", "quantity": "oxygen", "reads": 100.4},
    "instrument-setting": {"instrument": "meter-1", "setting": "salinity", "value": "35"},
    "gas-trial": {"instrument": "meter-1", "quantity": "oxygen", "minutes": [0, 10], "values": [101.0, 99.5]},
    "event": {"what": "power back"},
    "pump-run": {"pump": "P1", "running": "true"},
    "feeding": {"food": "krill", "grams": 120.5, "eaten": True},
    "observation": {"animals": "pipefish", "sign": "breathing", "count": 3},
    "light": {"hours": 9.5},
}


def moment(minutes):
    """A time, so many minutes after the start."""
    return START + timedelta(minutes=minutes)


def reading(number, **changes):
    """A reading, `number` times ten minutes after the start."""
    return records.Reading(
        **{
            "id": f"{number:032x}",
            "measured": moment(10 * number),
            "entered": moment(10 * number + 1),
            "place": ("mangrove", "pipefish")[number % 2],
            "quantity": ("oxygen", "temperature", "salinity")[number % 3],
            "value": 6.5 + number % 7 / 10,
            "unit": ("mg/L", "°C", "g/kg")[number % 3],
            "text": f"{6.5 + number % 7 / 10}",
            "instrument": "meter-1",
        }
        | changes
    )


def fact(number, kind, **changes):
    """A fact, `number` times ten minutes after the start."""
    told = {"id": f"f{number:031x}", "measured": moment(10 * number), "entered": moment(10 * number + 1)}
    return records.Fact(kind=kind, **told | changes)


def fill(book):
    """Write every kind of entry: readings of every sort, facts, corrections, imports and the rest."""
    early, late = book.add_person("Early Shift"), book.add_person("Late Shift")
    book.add_person("One Who Left")
    facility = _facility()
    book.keep_facility(facility, START, early)
    book.keep_facility(facility + "\n# the refugium was drained\n", moment(500), late)
    for first in range(1, 61, 20):
        book.append([reading(number) for number in range(first, first + 20)], person=early)
    book.append(
        [
            reading(70, value=None, text="", unit="", missing="the probe is in repair"),
            reading(71, bound="<", basis="N", quantity="ammonia", value=0.02, text="< 0.02", method="strip"),
            reading(72, depth=2.25, point="mangrove-low", sitting="trial-7", quality="doubtful"),
            reading(73, quality="unusual", marks=("reading/unusual",), note="µ ‰ ° \u200f done", person=late),
            reading(74, source="sensor", quality="fault", value=-0.0, text="-0.0"),
        ],
        person=early,
    )
    kinds = [kind for kind in queries.FACTS if kind != "withdrawal"]
    book.append(
        [
            fact(n, kind, place="mangrove", details=DETAILS.get(kind, {"what": kind, "n": n}), note=kind)
            for n, kind in enumerate(kinds, start=100)
        ],
        person=late,
    )
    book.append([reading(3, value=99.0)], person=late)  # another content under a known id: kept aside
    again = book.supersede(reading(5).id, value=7.25, reason="wrong line", entered=moment(900), person=late)
    book.supersede(again.id, value=7.2, reason="wrong again", entered=moment(901), person=early)
    gone = book.withdraw(reading(6).id, reason="wrong tank", entered=moment(902), person=late)
    book.withdraw(gone.id, reason="it was right", entered=moment(903), person=late)
    book.withdraw(reading(8).id, reason="never taken", entered=moment(904), person=late)
    for name, at in (("week-1", 1000), ("week-2", 1100)):
        rows = [reading(at + i, source="import", origin=f"{name}:{i + 2}", instrument="") for i in range(5)]
        text = f"time;oxygen\n{name}\n".encode()
        book.keep_import(name, f"{name}.csv", text, rows, at=moment(at), person=early)
    book.withdraw_import("week-2", reason="taken in twice", entered=moment(1200), person=late)
    book.remember("week.csv", "zone", "Europe/Lisbon", at=moment(1001), person=early)
    book.remember("week.csv", "zone", "Atlantic/Azores", at=moment(1002), person=early)
    book.remember("week.csv", "decimal", ",")
    book.blank_person(3, "asked to be forgotten", at=moment(1300), person=early)


def _facility():
    """A small hall's file, from the five questions."""
    with tempfile.TemporaryDirectory() as folder:
        made = starting.begin(
            pathlib.Path(folder), name="Small Hall", altitude="12 m", zone="Europe/Lisbon",
            tanks=["Mangrove, 4 m3, 1.2 m", "Pipefish, 900 L, 0.8 m"],
            meters=["Meter 1: oxygen, temperature"],
        )  # fmt: skip
        assert made.written, made.findings
        return made.file.read_text("utf-8")


def found(book):
    """What stands in a logbook, as plain data: the same text for the same logbook, whatever wrote it."""
    return json.loads(
        json.dumps(
            {
                "head": list(book.head()),
                "readings": [[r.id, r.measured, r.place, r.quantity, r.value, r.person] for r in _all(book)],
                "facts": [[f.id, f.kind, f.measured, dict(f.details)] for f in book.facts()],
                "versions": [len(book.trail(reading(n).id)) for n in (5, 6, 8)],
                "people": [[p.number, p.name, p.blanked] for p in book.people()],
                "imports": [[i.id, i.sha256, i.rows, i.withdrawn] for i in book.imports()],
                "file": hashlib.sha256(book.import_content("week-1")).hexdigest(),
                "facility": [text.digest for text in book.facility_texts()],
                "answers": book.remembered("week.csv"),
                "asides": [[a.id, a.offered["value"]] for a in book.asides()],
            },
            default=str,
        )
    )


def _all(book):
    return book.readings(superseded=True)


def keep():
    """Write the kept file of today's shape; refused where there is one."""
    shape = tables.REVISIONS[-1]
    target = KEPT / f"{shape}.sqlite"
    if target.exists():
        return f"{target.name} is kept already"
    with tempfile.TemporaryDirectory() as folder:
        with store.open_logbook(folder, create=True) as book:
            fill(book)
            assert book.verify() == []
            stands = found(book)
        target.write_bytes((pathlib.Path(folder) / database.FILE).read_bytes())
    page = json.dumps(stands, ensure_ascii=True, indent=1)
    target.with_suffix(".json").write_text(page + "\n", "utf-8")
    return f"{target.name}: {target.stat().st_size} bytes, {stands['head'][0]} entries"


if __name__ == "__main__":
    print(keep())
    sys.exit(0)
