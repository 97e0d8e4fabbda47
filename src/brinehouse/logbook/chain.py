"""The end of the chain inside one transaction: the only place where entries are added."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa

from brinehouse.logbook import canon, tables

_ADD = sa.insert(tables.entry)
_LAST = sa.select(tables.entry.c.seq, tables.entry.c.hash).order_by(tables.entry.c.seq.desc()).limit(1)

Head = tuple[int, str]
Row = tuple[canon.Content, canon.Header, str, str]
"""Content, header, written content and digest of an entry to be."""


def head(connection: sa.Connection) -> Head:
    """Number and hash of the last entry; (0, 64 zeros) while there is none."""
    row = connection.execute(_LAST).first()
    return (row[0], row[1]) if row else (0, canon.ZERO)


def holds(connection: sa.Connection, known: Head) -> bool:
    """Whether the chain goes through a head that was seen before; every chain goes through (0, zeros)."""
    found = connection.execute(sa.select(tables.entry.c.hash).where(tables.entry.c.seq == known[0])).scalar()
    return found == known[1] or (known[0] == 0 and found is None)


class Chain:
    """The end of the chain as a transaction sees it; every entry added moves it on.

    Attributes
    ----------
    connection : Connection
        Inside a transaction that holds the write lock.
    seq, hash : int, str
        The last entry.
    people : set of int or None
        The numbers of everyone, once a batch of this transaction has asked; None after they have changed.
    """

    def __init__(self, connection: sa.Connection) -> None:
        self.connection = connection
        self.seq, self.hash = head(connection)
        self.people: set[int] | None = None

    def add(self, rows: Sequence[Row]) -> None:
        """Add entries."""
        made: list[tuple[Any, ...]] = []
        seq, prev = self.seq, self.hash
        for content, header, text, digest in rows:
            seq += 1
            own = canon.link(prev, seq, header, digest, text)
            made.append((seq, *header, digest, *content, prev, own))
            prev = own
        if made:
            _insert(self.connection, made)
        self.seq, self.hash = seq, prev

    def add_internal(self, content: canon.Content, entered: int) -> int:
        """Add one entry of the logbook's own; returns its number."""
        text = canon.written(content)
        self.add([(content, (entered, content[3], ""), text, canon.digest_of(text))])
        return self.seq


def _insert(connection: sa.Connection, rows: list[tuple[Any, ...]]) -> None:
    """Insert whole rows; straight to the driver where it takes them by position (half the time of a bulk)."""
    if connection.dialect.positional:
        connection.exec_driver_sql(_positional(connection.dialect), rows)
    else:
        connection.execute(_ADD, [dict(zip(canon.COLUMNS, row, strict=True)) for row in rows])


@functools.cache
def _positional(dialect: sa.Dialect) -> str:
    return str(_ADD.compile(dialect=dialect))
