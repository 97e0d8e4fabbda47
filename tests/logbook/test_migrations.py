"""The changes of shape, taken one after the other, give exactly the tables this program uses."""

import contextlib
import pathlib

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext

from brinehouse.logbook import database, house_tables, remote, shape, tables

METADATA = house_tables.account.metadata
TRIGGERS = {
    "sqlite": "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name",
    "postgresql": "SELECT tgname, pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal ORDER BY 1",
}


@pytest.fixture
def anew(place):
    """A connection to an empty database of either kind, as often as it is asked for."""
    made = []

    @contextlib.contextmanager
    def connected():
        if isinstance(place.where, pathlib.Path):
            folder = place.where / str(len(made))
            folder.mkdir(parents=True)
            engine = database.writing_engine(folder / database.FILE)
        else:
            place.empty()
            engine = remote.writing_engine(remote.normal(place.where))
        made.append(engine)
        with engine.begin() as connection:
            yield connection
        engine.dispose()

    return connected


def _plain(options):
    return sorted((name, str(value)) for name, value in options.items())


def picture(connection):
    """Everything of a shape that a program could meet, but for the order of what has none."""
    looked = sa.inspect(connection)
    seen = {}
    for table in sorted(set(looked.get_table_names()) - {"alembic_version"}):
        columns = [
            (c["name"], str(c["type"]), c["nullable"], c.get("default")) for c in looked.get_columns(table)
        ]
        keys = [
            (k["constrained_columns"], k["referred_table"], k["referred_columns"])
            for k in looked.get_foreign_keys(table)
        ]
        indexes = [
            (i["name"], i["column_names"], bool(i["unique"]), _plain(i.get("dialect_options") or {}))
            for i in looked.get_indexes(table)
        ]
        unique = [u["column_names"] for u in looked.get_unique_constraints(table)]
        key = looked.get_pk_constraint(table)["constrained_columns"]
        seen[table] = (columns, key, sorted(keys), sorted(indexes), sorted(unique))
    triggers = connection.exec_driver_sql(TRIGGERS[connection.dialect.name]).all()
    return seen, [tuple(row) for row in triggers]


def by_changes(anew):
    with anew() as connection:
        shape.upgrade(connection)
        return picture(connection)


def by_metadata(anew):
    with anew() as connection:
        METADATA.create_all(connection)
        tables.guard(connection)
        return picture(connection)


def test_the_changes_lead_to_the_same_tables_and_triggers_as_the_program_would_make(anew):
    changed, made = by_changes(anew), by_metadata(anew)
    assert changed[0].keys() == made[0].keys()
    for table in made[0]:
        assert changed[0][table] == made[0][table], table
    assert changed[1] == made[1]
    assert len(made[1]) >= 2 * len(tables.APPEND_ONLY)


def test_the_tool_that_writes_changes_finds_none_left_to_write(anew):
    with anew() as connection:
        shape.upgrade(connection)
        options = {"compare_type": True}  # defaults are compared above
        assert compare_metadata(MigrationContext.configure(connection, opts=options), METADATA) == []


def test_a_column_that_no_change_makes_would_be_seen(anew):
    changed = by_changes(anew)
    with anew() as connection:
        shape.upgrade(connection)
        connection.exec_driver_sql("ALTER TABLE aside ADD COLUMN more TEXT")
        assert picture(connection)[0]["aside"] != changed[0]["aside"]
        assert picture(connection)[1] == changed[1]
