"""What the fault programs share: readings to write, a file of acknowledgements, and the check after a fault.

These programs run outside pytest, each in a process of its own; the tests beside them start them.
"""

import os
import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path

from brinehouse import records
from brinehouse.logbook import database, kept, store

START = datetime(2026, 3, 1, tzinfo=UTC)


def name(number):
    return f"r{number:07d}"


def reading(number):
    """The reading of this number, the same each time it is made: a phone sends what it kept."""
    when = START + timedelta(seconds=number)
    return records.Reading(
        id=name(number), measured=when, entered=when, place=f"tank-{number % 7}", quantity="oxygen",
        value=number / 2, unit="mg/L", text=f"{number / 2} mg/L",
    )  # fmt: skip


class Acknowledged:
    """Ids that were called saved, on a file that outlives the process that wrote them."""

    def __init__(self, path):
        self.path = Path(path)
        self._file = None

    def open(self):
        self._file = os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        return self

    def say(self, outcomes):
        """To be called after `append` came back, and not before."""
        os.write(self._file, "".join(f"{outcome.id}\n" for outcome in outcomes).encode())

    def ids(self):
        return set(self.path.read_text().split()) if self.path.exists() else set()


def check(folder, acknowledged, whole=True):
    """None where all is well, else what is not: lost, doubled, damaged, or a chain that is not whole."""
    try:
        with store.open_logbook(folder) as book:
            found = book.verify() if whole else []
    except kept.Refused as refusal:
        if refusal.finding.code == "logbook/not-there":
            return f"lost: all of {len(acknowledged)}" if acknowledged else None
        return str(refusal)
    if found:
        return str(found[0])
    raw = sqlite3.connect(Path(folder) / database.FILE)
    there = [row[0] for row in raw.execute("SELECT id FROM entry")]
    raw.close()
    if len(there) != len(set(there)):
        return "doubled"
    lost = acknowledged - set(there)
    return f"lost: {len(lost)}, first {min(lost)}" if lost else None
