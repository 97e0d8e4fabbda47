"""Changes of shape: one line of them, tried from nothing, and the triggers come out alive."""

import sqlite3

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from brinehouse.logbook import database, kept, shape, store, tables


@pytest.fixture
def place(in_file):
    """All of this is about the file."""
    return in_file


def script(folder=shape.MIGRATIONS):
    config = Config()
    config.set_main_option("script_location", str(folder))
    return ScriptDirectory.from_config(config)


def triggers(path):
    raw = sqlite3.connect(path)
    found = {row[0] for row in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")}
    raw.close()
    return found


def test_the_changes_form_one_line_and_the_program_knows_each():
    line = script()
    assert len(line.get_heads()) == 1
    assert tuple(step.revision for step in reversed(list(line.walk_revisions()))) == tables.REVISIONS


def test_the_changes_lead_to_the_tables_the_program_uses(folder, book):
    engine = database.reading_engine(folder / database.FILE)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, tables.metadata) == []
    engine.dispose()


LATER = '''
"""A later change: a column more, by a table made anew."""
import sqlalchemy as sa
from alembic import op

revision, down_revision, branch_labels, depends_on = "0003", "0002", None, None
def upgrade():
    with op.batch_alter_table("aside", recreate="always") as batch:
        batch.add_column(sa.Column("more", sa.Text))
    left = "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'aside'"
    seen = op.get_bind().exec_driver_sql(left)
    op.get_bind().exec_driver_sql("CREATE TABLE seen AS SELECT %d AS n" % seen.scalar())
'''


def later(tmp_path, text=LATER):
    """Our changes and one more, in a folder of their own."""
    folder = tmp_path / "migrations"
    (folder / "versions").mkdir(parents=True)
    for page in (shape.MIGRATIONS / "versions").glob("v*.py"):
        (folder / "versions" / page.name).write_text(page.read_text("utf-8"), "utf-8")
    (folder / "versions" / "v0002_later.py").write_text(text, "utf-8")
    return folder


def test_triggers_survive_a_table_made_anew(tmp_path, folder, book, reading):
    book.append([reading(1)])
    book.append([reading(1, value=2.0)])
    book.close()
    path = folder / database.FILE
    before = triggers(path)
    engine = database.writing_engine(path)
    with engine.begin() as connection:
        shape.upgrade(connection, later(tmp_path))
    engine.dispose()
    raw = sqlite3.connect(path)
    assert raw.execute("SELECT n FROM seen").fetchone() == (0,)  # the batch had dropped them without a word
    assert triggers(path) == before
    with pytest.raises(sqlite3.IntegrityError, match="only added to"):
        raw.execute("DELETE FROM aside")
    raw.close()


def test_a_change_that_fails_leaves_the_old_shape_whole(tmp_path, folder, book, reading):
    book.append([reading(1)])
    book.close()
    path = folder / database.FILE
    broken = LATER + '    op.execute("INSERT INTO nowhere VALUES (1)")\n'
    engine = database.writing_engine(path)
    with pytest.raises(sa.exc.OperationalError), engine.begin() as connection:
        shape.upgrade(connection, later(tmp_path, broken))
    engine.dispose()
    with store.open_logbook(folder) as again:
        assert again.readings() == [reading(1)]
        assert again.verify() == []
        again.append([reading(2)])


def test_an_older_shape_is_brought_up_to_date_and_a_copy_is_kept(
    tmp_path, folder, book, reading, monkeypatch
):
    book.append([reading(1)])
    book.close()
    monkeypatch.setattr(tables, "REVISIONS", (*tables.REVISIONS, "0003"))
    changes, upgrade = later(tmp_path), shape.upgrade
    monkeypatch.setattr(shape, "upgrade", lambda connection: upgrade(connection, changes))
    with store.open_logbook(folder) as again:
        assert again.readings() == [reading(1)]
        again.append([reading(2)])
    copy = sqlite3.connect(folder / "logbook-before-0002-changed.sqlite")
    assert copy.execute("SELECT version_num FROM alembic_version").fetchone() == ("0002",)
    assert copy.execute("SELECT count(*) FROM entry").fetchone() == (1,)
    copy.close()
    with store.open_logbook(folder) as again:
        assert len(again.readings()) == 2


def test_shapes_are_known_older_or_refused():
    assert shape.known(tables.REVISIONS[-1])
    assert not shape.known(None)
    with pytest.raises(kept.Refused, match="logbook/newer-data"):
        shape.known("9999")
