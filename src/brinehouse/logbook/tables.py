"""The logbook's tables, and the triggers that refuse to change what was written."""

from __future__ import annotations

import sqlalchemy as sa

REVISIONS: tuple[str, ...] = ("0001", "0002")
"""Every shape this program knows, oldest first; the last is the one it writes."""

APPLICATION_ID = 0x4272696E
"""Marks a SQLite file as ours."""

APPEND_ONLY = ("entry", "facility_text", "import_file", "answer_kept", "aside", "security_event")

metadata = sa.MetaData()

_whole = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False, server_default="")


def _seq() -> sa.Column[int]:
    return sa.Column("seq", _whole, sa.ForeignKey("entry.seq"), primary_key=True, autoincrement=False)


person = sa.Table(
    "person",
    metadata,
    sa.Column("number", _whole, primary_key=True, autoincrement=False),
    _text("name"),
    sa.Column("blanked", sa.Boolean, nullable=False, server_default=sa.false()),
)

# Times are whole microseconds since 1970-01-01 UTC. Text that is not there is '', but what is looked up by
# (supersedes, import_id, target) is NULL then, so that its index holds only rows that have it.
entry = sa.Table(
    "entry",
    metadata,
    sa.Column("seq", _whole, primary_key=True, autoincrement=False),
    sa.Column("entered", _whole, nullable=False),
    sa.Column("writer", _whole, sa.ForeignKey("person.number")),
    _text("marks"),
    sa.Column("digest", sa.Text, nullable=False),
    sa.Column("id", sa.Text, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("measured", _whole, nullable=False),
    sa.Column("person", _whole, sa.ForeignKey("person.number")),
    _text("place"),
    _text("point"),
    sa.Column("depth", sa.Double),
    _text("quantity"),
    sa.Column("value", sa.Double),
    _text("unit"),
    _text("text"),
    _text("bound"),
    _text("missing"),
    _text("basis"),
    _text("instrument"),
    _text("method"),
    _text("sitting"),
    _text("quality"),
    _text("source"),
    sa.Column("supersedes", sa.Text),
    _text("reason"),
    sa.Column("origin", sa.Text),
    sa.Column("import_id", sa.Text),
    sa.Column("target", sa.Text),
    _text("note"),
    _text("details"),
    sa.Column("prev", sa.Text, nullable=False),
    sa.Column("hash", sa.Text, nullable=False),
    sa.Index("entry_id", "id", unique=True),
    sa.Index("entry_where", "place", "quantity", "measured"),
    sa.Index("entry_kind", "kind", "measured"),
)
for _name, _unique in (("supersedes", True), ("import_id", False), ("target", False)):
    _column = entry.c[_name]
    sa.Index(
        f"entry_{_name}",
        _column,
        unique=_unique,
        sqlite_where=_column.is_not(None),
        postgresql_where=_column.is_not(None),
    )

facility_text = sa.Table(
    "facility_text",
    metadata,
    _seq(),
    sa.Column("since", _whole, nullable=False),
    sa.Column("digest", sa.Text, nullable=False),
    sa.Column("text", sa.Text, nullable=False),
    sa.Column("person", _whole, sa.ForeignKey("person.number")),
    sa.Column("at", _whole, nullable=False),
    sa.Index("facility_text_since", "since"),
)

import_file = sa.Table(
    "import_file",
    metadata,
    _seq(),
    sa.Column("id", sa.Text, nullable=False, unique=True),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("sha256", sa.Text, nullable=False),
    sa.Column("size", _whole, nullable=False),
    sa.Column("rows", _whole, nullable=False),
    sa.Column("person", _whole, sa.ForeignKey("person.number")),
    sa.Column("at", _whole, nullable=False),
    sa.Column("content", sa.LargeBinary, nullable=False),
    sa.Index("import_file_sha256", "sha256"),
)

answer_kept = sa.Table(
    "answer_kept",
    metadata,
    _seq(),
    sa.Column("source", sa.Text, nullable=False),
    sa.Column("question", sa.Text, nullable=False),
    sa.Column("answer", sa.Text, nullable=False),
    sa.Column("person", _whole, sa.ForeignKey("person.number")),
    sa.Column("at", _whole),
    sa.Index("answer_kept_source", "source"),
)

aside = sa.Table(
    "aside",
    metadata,
    _seq(),
    sa.Column("id", sa.Text, nullable=False),
    sa.Column("kept", sa.Text, nullable=False),
    sa.Column("offered", sa.Text, nullable=False),
    sa.Index("aside_id", "id"),
)

SIDE = {
    "facility-text": facility_text,
    "import-file": import_file,
    "answer": answer_kept,
    "aside": aside,
}
"""Kinds of entry that stand for a row of another table; ``details`` of the entry holds that row's SHA-256."""

INTERNAL = (*SIDE, "person-blanked", "hall-mark")
"""Kinds of entry the logbook writes by itself; never among readings and facts."""


def guards(dialect: str) -> list[str]:
    """Statements that (re-)create every trigger; to be run after each change of shape.

    SQLite's batch changes make a new table and drop the old one with its triggers, without a word.
    """
    return _sqlite_guards() if dialect == "sqlite" else _postgresql_guards()


def guard(connection: sa.Connection) -> None:
    """Set the triggers on a database."""
    for statement in guards(connection.dialect.name):
        connection.exec_driver_sql(statement)


_WORDS = "the logbook is only added to: write a correction that names the entry it replaces"


def _sqlite_guards() -> list[str]:
    made: list[str] = []

    def trigger(name: str, event: str, table: str, words: str, when: str = "") -> None:
        made.append(f"DROP TRIGGER IF EXISTS {name}")
        made.append(
            f"CREATE TRIGGER {name} BEFORE {event} ON {table} {when} "
            f"BEGIN SELECT RAISE(ABORT, '{words}'); END"
        )

    for table in APPEND_ONLY:
        trigger(f"{table}_no_update", "UPDATE", table, _WORDS)
        trigger(f"{table}_no_delete", "DELETE", table, _WORDS)
    # REPLACE deletes without asking the delete trigger, unless the connection sets recursive_triggers as
    # ours do. The small tables refuse it to every tool. A trigger on each insert would halve the speed
    # of `entry`; there a foreign REPLACE leaves a gap or a changed entry, which the walk names.
    for table in APPEND_ONLY[1:]:
        taken = f"EXISTS (SELECT 1 FROM {table} WHERE seq = NEW.seq)"  # noqa: S608
        trigger(f"{table}_once", "INSERT", table, _WORDS, f"WHEN {taken}")
    trigger("person_no_delete", "DELETE", "person", "a person can be blanked, but the number stays")
    trigger("person_number", "UPDATE OF number", "person", "a person can be blanked, but the number stays")
    return made


def _postgresql_guards() -> list[str]:
    made = [
        "CREATE OR REPLACE FUNCTION brinehouse_kept() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{_WORDS}'; END $$",
    ]

    def trigger(name: str, event: str, table: str, function: str, each: str = "ROW") -> None:
        made.append(f"DROP TRIGGER IF EXISTS {name} ON {table}")
        made.append(
            f"CREATE TRIGGER {name} BEFORE {event} ON {table} FOR EACH {each} EXECUTE FUNCTION {function}()"
        )

    for table in APPEND_ONLY:
        trigger(f"{table}_no_change", "UPDATE OR DELETE", table, "brinehouse_kept")
        trigger(f"{table}_no_truncate", "TRUNCATE", table, "brinehouse_kept", "STATEMENT")
    trigger("person_no_delete", "DELETE", "person", "brinehouse_kept")
    trigger("person_number", "UPDATE OF number", "person", "brinehouse_kept")
    return made
