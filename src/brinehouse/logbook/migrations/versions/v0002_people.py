"""Who may come in: accounts, passkeys, phones, sessions, codes, and the events of the door."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False, server_default="")


def _needed(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _whole(name: str, *, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, WHOLE, nullable=nullable)


def _counted(name: str) -> sa.Column[int]:
    return sa.Column(name, WHOLE, nullable=False, server_default="0")


def _person(name: str = "person", *, nullable: bool = True) -> sa.Column[int]:
    return sa.Column(name, WHOLE, sa.ForeignKey("person.number"), nullable=nullable)


def _id() -> sa.Column[str]:
    return sa.Column("id", sa.Text, primary_key=True)


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "account",
        sa.Column("person", WHOLE, sa.ForeignKey("person.number"), primary_key=True, autoincrement=False),
        _needed("role"), _text("pin"), _text("password"), _text("codes"), _counted("codes_step"),
        sa.Column("needs_change", sa.Boolean, nullable=False, server_default=sa.false()),
        _whole("made"), _whole("disabled", nullable=True),
    )  # fmt: skip
    op.create_table(
        "passkey", _id(), _person(nullable=False), _needed("public_key"), _counted("uses"), _text("name"),
        _whole("made"), _whole("used", nullable=True),
    )  # fmt: skip
    op.create_index("passkey_person", "passkey", ["person"])
    op.create_table(
        "device", _id(), sa.Column("token", sa.Text, nullable=False, unique=True), _text("name"),
        _person("admitted_by"), _whole("first_seen"), _whole("last_seen"), _whole("ended", nullable=True),
    )  # fmt: skip
    op.create_table(
        "session", _id(), _person(nullable=False), _text("device"), _needed("kind"), _whole("begun"),
        _whole("seen"), _whole("until"), _whole("sure", nullable=True), _whole("ended", nullable=True),
    )  # fmt: skip
    op.create_index("session_person", "session", ["person", "begun"])
    op.create_table(
        "entry_code", _id(), _needed("kind"), _person(), _person("by"), _whole("until"),
        _whole("used", nullable=True),
    )  # fmt: skip
    op.create_table(
        "security_event",
        sa.Column("seq", WHOLE, primary_key=True, autoincrement=False),
        _whole("at"), _needed("what"), _person(), _person("about"), _text("device"), _text("address"),
        _text("note"),
    )  # fmt: skip
    op.create_index("security_event_at", "security_event", ["at"])
