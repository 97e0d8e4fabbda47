"""What was written cannot be changed, not even by a stranger's tool on the file."""

import sqlite3

import pytest
import sqlalchemy as sa
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateIndex, CreateTable

from brinehouse.logbook import canon, store, tables


@pytest.fixture
def place(in_file):
    """All of this is about the file."""
    return in_file


@pytest.fixture
def raw(book, reading, fact, folder):
    """The file in a stranger's hands, with a row in every append-only table."""
    book.append([reading(1), reading(2)], person=1)
    book.append([reading(1, value=1.0)])
    book.keep_facility("schema = 1", reading(1).measured)
    book.keep_import("file-1", "week.csv", b"a,b", [], at=reading(3).entered)
    book.remember("week.csv", "zone", "UTC", at=reading(3).entered)
    book.house_later([], {"at": 1, "what": "entered", "person": 1}).result()
    book.close()
    connection = sqlite3.connect(folder / "logbook.sqlite", isolation_level=None)
    yield connection
    connection.close()


@pytest.mark.parametrize("table", tables.APPEND_ONLY)
def test_no_row_can_be_changed_or_taken_out(raw, table):
    before = raw.execute(f"SELECT * FROM {table}").fetchall()
    assert before
    column = [row[1] for row in raw.execute(f"PRAGMA table_info({table})")][-1]
    for statement in (f"UPDATE {table} SET {column} = {column}", f"DELETE FROM {table}"):
        with pytest.raises(sqlite3.IntegrityError, match="only added to"):
            raw.execute(statement)
    for verb in ("INSERT OR REPLACE", "REPLACE")[: 2 * (table != "entry")]:
        with pytest.raises(sqlite3.IntegrityError):
            raw.execute(f"{verb} INTO {table} SELECT * FROM {table} ORDER BY seq LIMIT 1")
    assert raw.execute(f"SELECT * FROM {table}").fetchall() == before


def test_our_own_connections_cannot_replace_an_entry(raw, folder):
    raw.execute("PRAGMA recursive_triggers = ON")  # as `database.writing_engine` sets it
    for column in ("seq", "id"):
        with pytest.raises(sqlite3.IntegrityError, match="only added to"):
            raw.execute(replacing(raw, column))


@pytest.mark.parametrize("column", ["seq", "id"])
def test_a_strangers_replacement_of_an_entry_is_named_by_the_walk(raw, folder, column):
    raw.execute(replacing(raw, column))
    with store.open_logbook(folder) as book:
        assert {f.code for f in book.verify()} & {"logbook/entry-changed", "logbook/entry-missing"}


def replacing(raw, column):
    """A statement that puts another entry in the place of the first, by its number or by its id."""
    names = [row[1] for row in raw.execute("PRAGMA table_info(entry)")]
    other = {"seq": {"id": "'other'"}, "id": {"seq": "(SELECT MAX(seq) + 1 FROM entry)"}}[column]
    values = ", ".join(other.get(name, name) for name in names)
    return f"REPLACE INTO entry SELECT {values} FROM entry WHERE seq = 1"


def test_a_name_can_be_blanked_but_a_number_stays(raw):
    raw.execute("UPDATE person SET name = '', blanked = 1 WHERE number = 1")
    for statement in ("DELETE FROM person", "UPDATE person SET number = 9 WHERE number = 1"):
        with pytest.raises(sqlite3.IntegrityError, match="the number stays"):
            raw.execute(statement)


def test_the_triggers_are_what_refuses(raw):
    for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        raw.execute(f"DROP TRIGGER {name}")
    assert raw.execute("DELETE FROM aside").rowcount == 1


def test_columns_stand_in_the_order_of_the_written_form():
    assert tuple(tables.entry.columns.keys()) == canon.COLUMNS


def test_the_same_tables_can_be_written_for_postgresql():
    dialect = postgresql.dialect()
    for table in tables.metadata.sorted_tables:
        assert "CREATE TABLE" in str(CreateTable(table).compile(dialect=dialect))
        for index in table.indexes:
            text = str(CreateIndex(index).compile(dialect=dialect))
            assert ("IS NOT NULL" in text) == (
                index.name.split("_", 1)[1] in ("supersedes", "import_id", "target")
            )
    statements = " ".join(tables.guards("postgresql"))
    for table in tables.APPEND_ONLY:
        assert f"BEFORE TRUNCATE ON {table}" in statements
        assert f"BEFORE UPDATE OR DELETE ON {table}" in statements
    assert sa.text(statements) is not None
