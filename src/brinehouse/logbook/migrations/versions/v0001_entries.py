"""Entries in one chain, and what is kept beside them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False, server_default="")


def _needed(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _whole(name: str, *, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, WHOLE, nullable=nullable)


def _person(name: str = "person") -> sa.Column[int]:
    return sa.Column(name, WHOLE, sa.ForeignKey("person.number"))


def _key(name: str = "seq", *more: sa.ForeignKey) -> sa.Column[int]:
    return sa.Column(name, WHOLE, *more, primary_key=True, autoincrement=False)


def _entry() -> None:
    op.create_table(
        "entry", _key(), _whole("entered"), _person("writer"), _text("marks"), _needed("digest"),
        _needed("id"), _needed("kind"), _whole("measured"), _person(), _text("place"), _text("point"),
        sa.Column("depth", sa.Double), _text("quantity"), sa.Column("value", sa.Double), _text("unit"),
        _text("text"), _text("bound"), _text("missing"), _text("basis"), _text("instrument"), _text("method"),
        _text("sitting"), _text("quality"), _text("source"),
        sa.Column("supersedes", sa.Text), _text("reason"), sa.Column("origin", sa.Text),
        sa.Column("import_id", sa.Text), sa.Column("target", sa.Text), _text("note"), _text("details"),
        _needed("prev"), _needed("hash"),
    )  # fmt: skip
    op.create_index("entry_id", "entry", ["id"], unique=True)
    op.create_index("entry_where", "entry", ["place", "quantity", "measured"])
    op.create_index("entry_kind", "entry", ["kind", "measured"])
    for name in ("supersedes", "import_id", "target"):
        there = sa.text(f"{name} IS NOT NULL")
        op.create_index(
            f"entry_{name}",
            "entry",
            [name],
            unique=name == "supersedes",
            sqlite_where=there,
            postgresql_where=there,
        )


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "person",
        _key("number"),
        _text("name"),
        sa.Column("blanked", sa.Boolean, nullable=False, server_default=sa.false()),
    )
    _entry()
    op.create_table(
        "facility_text", _key("seq", sa.ForeignKey("entry.seq")), _whole("since"), _needed("digest"),
        _needed("text"), _person(), _whole("at"),
    )  # fmt: skip
    op.create_index("facility_text_since", "facility_text", ["since"])
    op.create_table(
        "import_file", _key("seq", sa.ForeignKey("entry.seq")),
        sa.Column("id", sa.Text, nullable=False, unique=True),
        _needed("name"), _needed("sha256"), _whole("size"), _whole("rows"), _person(), _whole("at"),
        sa.Column("content", sa.LargeBinary, nullable=False),
    )  # fmt: skip
    op.create_index("import_file_sha256", "import_file", ["sha256"])
    op.create_table(
        "answer_kept", _key("seq", sa.ForeignKey("entry.seq")), _needed("source"), _needed("question"),
        _needed("answer"), _person(), _whole("at", nullable=True),
    )  # fmt: skip
    op.create_index("answer_kept_source", "answer_kept", ["source"])
    op.create_table(
        "aside", _key("seq", sa.ForeignKey("entry.seq")), _needed("id"), _needed("kept"), _needed("offered")
    )
    op.create_index("aside_id", "aside", ["id"])
