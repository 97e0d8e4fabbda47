"""Questions to the store find their way by an index."""

import pytest
import sqlalchemy as sa

from brinehouse.logbook import database, queries


@pytest.fixture
def place(in_file):
    """All of this is about the file."""
    return in_file


def plan(folder, wanted):
    engine = database.reading_engine(folder / database.FILE)
    text = str(queries.select(wanted).compile(engine, compile_kwargs={"literal_binds": True}))
    with engine.connect() as connection:
        rows = connection.execute(sa.text(f"EXPLAIN QUERY PLAN {text}".replace(":", "\\:"))).all()
    engine.dispose()
    return [row[-1] for row in rows]


def test_a_series_of_one_place_is_found_by_place_quantity_and_time(folder, book, start):
    steps = plan(
        folder, queries.Wanted(kinds=("reading",), places=("a",), quantities=("oxygen",), since=start)
    )
    assert any("entry_where (place=? AND quantity=? AND measured>?)" in step for step in steps)
    assert not any(step.startswith("SCAN entry") and "INDEX" not in step for step in steps)


def test_what_replaced_and_withdrew_is_found_by_its_own_index(folder, book):
    steps = plan(folder, queries.Wanted(kinds=("reading",)))
    assert any("entry_supersedes" in step for step in steps)
    assert any("entry_target" in step for step in steps)


def test_every_kind_of_fact_is_asked_for_and_readings_are_not():
    assert "withdrawal" in queries.FACTS
    assert "reading" not in queries.FACTS
