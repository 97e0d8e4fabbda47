"""A logbook of two people, and readings to put into it."""

import contextlib
import sqlite3
from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import records
from brinehouse.logbook import store, tables

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


class InFile:
    """A logbook in a folder's file."""

    def __init__(self, folder):
        self.folder = self.where = folder

    def open(self, **more):
        return store.open_logbook(self.folder, **more)

    def behind(self, *statements):
        """Runs statements on the file with the triggers gone, then sets them again."""
        with sqlite3.connect(self.folder / "logbook.sqlite") as raw:
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

    def ask(self, statement):
        raw = sqlite3.connect(self.folder / "logbook.sqlite")
        rows = raw.execute(statement).fetchall()
        raw.close()
        return rows


class OnServer:
    """A logbook in a database of a PostgreSQL server."""

    def __init__(self, database):
        self.behind = database.behind
        self.ask = database.ask
        self.empty = database.empty
        self.where = database.address

    def open(self, **more):
        return store.open_logbook(self.where, **more)


@pytest.fixture(params=["file", pytest.param("server", marks=pytest.mark.part("postgresql"))])
def place(request):
    """Where the logbook is kept: each test that opens it here runs once on either database."""
    if request.param == "file":
        return InFile(request.getfixturevalue("folder"))
    return OnServer(request.getfixturevalue("on_server"))


@contextlib.contextmanager
def of_two(place):
    with place.open(create=True) as made:
        made.add_person("Early Shift")
        made.add_person("Late Shift")
        yield made


@pytest.fixture
def book(place):
    """An open logbook with two people in it, on either database."""
    with of_two(place) as made:
        yield made


@pytest.fixture
def file_book(in_file):
    """The same, in a file: for what is about the file."""
    with of_two(in_file) as made:
        yield made


@pytest.fixture
def in_file(folder):
    """The file alone: a page of tests that is about the file makes it its `place`."""
    return InFile(folder)


@pytest.fixture
def behind(place):
    """A way round every rule: runs statements past the triggers."""
    return place.behind


@pytest.fixture
def codes():
    """The codes of findings, in order."""
    return lambda found: [finding.code for finding in found]
