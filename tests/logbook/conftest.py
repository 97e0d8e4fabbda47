"""A logbook of two people, and readings to put into it."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import records
from brinehouse.logbook import store

START = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)


def make_reading(number, **changes):
    """A reading of oxygen in the mangrove tank, `number` minutes after the start."""
    fields = {
        "id": f"{number:032x}",
        "measured": START + timedelta(minutes=number),
        "entered": START + timedelta(minutes=number, seconds=20),
        "place": "mangrove",
        "quantity": "oxygen",
        "value": 6.5 + number % 10 / 10,
        "unit": "mg/L",
        "text": f"{6.5 + number % 10 / 10} mg/L",
    }
    return records.Reading(**fields | changes)


def make_fact(number, kind="note", **changes):
    """A fact, `number` minutes after the start."""
    fields = {
        "id": f"f{number:031x}",
        "kind": kind,
        "measured": START + timedelta(minutes=number),
        "entered": START + timedelta(minutes=number, seconds=20),
    }
    return records.Fact(**fields | changes)


@pytest.fixture
def start():
    return START


@pytest.fixture
def reading():
    return make_reading


@pytest.fixture
def fact():
    return make_fact


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "hall"


@pytest.fixture
def book(folder):
    """An open logbook with two people in it."""
    with store.open_logbook(folder, create=True) as made:
        made.add_person("Early Shift")
        made.add_person("Late Shift")
        yield made


@pytest.fixture
def behind(folder):
    """A way round every rule: runs statements on the file with the triggers gone, then sets them again."""
    import sqlite3

    from brinehouse.logbook import tables

    def run(*statements):
        with sqlite3.connect(folder / "logbook.sqlite") as raw:
            triggers = [
                row[0] for row in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            ]
            for name in triggers:
                raw.execute(f"DROP TRIGGER {name}")
            for statement in statements:
                raw.execute(statement) if isinstance(statement, str) else raw.execute(*statement)
            for statement in tables.guards("sqlite"):
                raw.execute(statement)
        raw.close()

    return run


@pytest.fixture
def codes():
    """The codes of findings, in order."""
    return lambda found: [finding.code for finding in found]
