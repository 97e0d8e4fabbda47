"""A change of shape cut short leaves the logbook as it was or as it shall be, and a copy of the old."""

import json
import pathlib
import shutil
import sqlite3
import sys

import pytest
import sqlalchemy as sa

from brinehouse.logbook import remote, shape, store, tables

KEPT = pathlib.Path(__file__).parents[1] / "data" / "logbooks"
OLDEST = KEPT / "0001.sqlite"
PROGRAM = "migration_kills.py"


FIRST = ("person", "entry", "facility_text", "import_file", "answer_kept", "aside")


def old_on_server(database, tmp_path, monkeypatch):
    """The kept logbook of the first shape, in a database: by the changes that led to it and no later one."""
    versions = tmp_path / "migrations" / "versions"
    versions.mkdir(parents=True)
    shutil.copy(shape.MIGRATIONS / "versions" / "v0001_entries.py", versions)
    database.empty()
    engine = remote.writing_engine(remote.normal(database.address))
    raw = sqlite3.connect(OLDEST)
    raw.row_factory = sqlite3.Row
    with engine.begin() as connection, monkeypatch.context() as then:
        then.setattr(tables, "APPEND_ONLY", FIRST[1:])
        shape.upgrade(connection, versions.parent)
        there = sa.MetaData()
        there.reflect(connection)
        for name in FIRST:
            rows = [dict(row) for row in raw.execute(f"SELECT * FROM {name}")]
            for row in rows:
                row.update({"blanked": bool(row["blanked"])} if "blanked" in row else {})
            connection.execute(sa.insert(there.tables[name]), rows)
    raw.close()
    engine.dispose()
    return database.address


def sound(told, head):
    assert told["changed"]
    assert told["killed"] >= 10
    assert told["between"] == []
    assert told["without a copy"] == []
    assert told["found"] == []
    assert told["head"] == head


def head_of_old():
    return json.loads(OLDEST.with_suffix(".json").read_text())["head"]


@pytest.mark.parametrize("step", [5, pytest.param(1, marks=pytest.mark.soak)])
def test_a_file_killed_at_any_statement_of_a_change_is_old_or_new(run, tmp_path, step):
    sound(run(PROGRAM, tmp_path, OLDEST, step), head_of_old())


@pytest.mark.part("postgresql")
@pytest.mark.parametrize("step", [11, pytest.param(1, marks=pytest.mark.soak)])
def test_a_database_killed_at_any_statement_of_a_change_is_old_or_new(
    run, tmp_path, on_server, monkeypatch, step
):
    address = old_on_server(on_server, tmp_path, monkeypatch)
    told = run(PROGRAM, tmp_path, OLDEST, step, address)
    head = told.pop("head")
    assert head[0] == head_of_old()[0] + 1  # and the entry that says whose it is
    sound(told | {"head": None, "killed": 3 * told["killed"]}, None)
    copy = sqlite3.connect(tmp_path / "hall" / shape.copy_name("0001"))
    assert copy.execute("SELECT count(*) FROM entry").fetchone() == (head_of_old()[0],)
    assert copy.execute("SELECT hash FROM entry ORDER BY seq DESC").fetchone() == (head_of_old()[1],)
    copy.close()


@pytest.mark.parametrize("step", [6, pytest.param(1, marks=pytest.mark.soak)])
def test_a_first_start_killed_at_any_statement_leaves_nothing_or_a_logbook(run, tmp_path, step):
    told = run(PROGRAM, tmp_path, "-", step)
    assert (told["between"], told["found"], told["head"]) == ([], [], [0, "0" * 64])
    assert told["killed"] >= 10


def test_a_change_that_commits_each_statement_is_caught_in_between(run, tmp_path):
    assert run(PROGRAM, tmp_path, OLDEST, 9, CARELESS=1)["between"]


@pytest.mark.parametrize("file", sorted(KEPT.glob("*.sqlite")), ids=lambda path: path.stem)
def test_the_logbook_kept_of_each_shape_opens_and_is_whole(file, tmp_path):
    sys.path.insert(0, str(KEPT.parents[1] / "logbook"))
    try:
        import small_logbook
    finally:
        sys.path.pop(0)
    shutil.copy(file, tmp_path / "logbook.sqlite")
    then = json.loads(file.with_suffix(".json").read_text("utf-8"))
    with store.open_logbook(tmp_path) as book:
        assert book.verify(tuple(then["head"])) == []
        assert small_logbook.found(book) == then
        assert book.append([small_logbook.reading(9_000)])[0].state == "new"
        assert book.verify(tuple(then["head"])) == []
    assert (tmp_path / shape.copy_name(file.stem)).exists() == (file.stem != tables.REVISIONS[-1])
    assert file.stat().st_size < 250_000


def test_a_logbook_of_every_shape_is_kept():
    assert {file.stem for file in KEPT.glob("*.sqlite")} == set(tables.REVISIONS)


def test_a_copy_that_was_cut_short_is_made_again(tmp_path):
    shutil.copy(OLDEST, tmp_path / "logbook.sqlite")
    (tmp_path / f"{shape.copy_name('0001')}.new").write_bytes(b"half a co")
    with store.open_logbook(tmp_path) as book:
        assert book.head()[0] == head_of_old()[0]
    copy = sqlite3.connect(tmp_path / shape.copy_name("0001"))
    assert copy.execute("SELECT version_num FROM alembic_version").fetchone() == ("0001",)
    copy.close()
