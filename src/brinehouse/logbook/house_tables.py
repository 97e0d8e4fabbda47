"""The tables of who may come in: accounts, phones, sessions, and what happened at the door.

Names stay in `tables.person`: what is here goes when a name is blanked, but for the events of the door, which
hold numbers alone. Nothing here is part of the chain.
"""

from __future__ import annotations

import sqlalchemy as sa

from brinehouse.logbook import tables

_whole = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False, server_default="")


def _time(name: str, *, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, _whole, nullable=nullable)


def _person(*, key: bool = False, nullable: bool = False) -> sa.Column[int]:
    link = sa.ForeignKey("person.number")
    if key:
        return sa.Column("person", _whole, link, primary_key=True, autoincrement=False)
    return sa.Column("person", _whole, link, nullable=nullable)


# `pin` and `password` are Argon2id; `codes` is the secret of one-time codes, sealed with the folder's key;
# `codes_step` the last step that was used, so that no code counts twice.
account = sa.Table(
    "account",
    tables.metadata,
    _person(key=True),
    sa.Column("role", sa.Text, nullable=False),
    _text("pin"),
    _text("password"),
    _text("codes"),
    sa.Column("codes_step", _whole, nullable=False, server_default="0"),
    sa.Column("needs_change", sa.Boolean, nullable=False, server_default=sa.false()),
    _time("made"),
    _time("disabled", nullable=True),
)

passkey = sa.Table(
    "passkey",
    tables.metadata,
    sa.Column("id", sa.Text, primary_key=True),
    _person(),
    sa.Column("public_key", sa.Text, nullable=False),
    sa.Column("uses", _whole, nullable=False, server_default="0"),
    _text("name"),
    _time("made"),
    _time("used", nullable=True),
    sa.Index("passkey_person", "person"),
)

device = sa.Table(
    "device",
    tables.metadata,
    sa.Column("id", sa.Text, primary_key=True),
    sa.Column("token", sa.Text, nullable=False, unique=True),
    _text("name"),
    sa.Column("admitted_by", _whole, sa.ForeignKey("person.number")),
    _time("first_seen"),
    _time("last_seen"),
    _time("ended", nullable=True),
)

# `id` is the SHA-256 of what the cookie holds. An ended session stays for a while: what a phone kept while it
# was out of reach is taken for whoever had signed in on it.
session = sa.Table(
    "session",
    tables.metadata,
    sa.Column("id", sa.Text, primary_key=True),
    _person(),
    _text("device"),
    sa.Column("kind", sa.Text, nullable=False),
    _time("begun"),
    _time("seen"),
    _time("until"),
    _time("sure", nullable=True),
    _time("ended", nullable=True),
    sa.Index("session_person", "person", "begun"),
)

entry_code = sa.Table(
    "entry_code",
    tables.metadata,
    sa.Column("id", sa.Text, primary_key=True),
    sa.Column("kind", sa.Text, nullable=False),
    _person(nullable=True),
    sa.Column("by", _whole, sa.ForeignKey("person.number")),
    _time("until"),
    _time("used", nullable=True),
)

security_event = sa.Table(
    "security_event",
    tables.metadata,
    sa.Column("seq", _whole, primary_key=True, autoincrement=False),
    _time("at"),
    sa.Column("what", sa.Text, nullable=False),
    sa.Column("person", _whole, sa.ForeignKey("person.number")),
    sa.Column("about", _whole, sa.ForeignKey("person.number")),
    _text("device"),
    _text("address"),
    _text("note"),
    sa.Index("security_event_at", "at"),
)
