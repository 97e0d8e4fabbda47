"""The end of the chain inside one transaction: the only place where entries are added."""

from __future__ import annotations

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


class Chain:
    """The end of the chain as a transaction sees it; every entry added moves it on.

    Attributes
    ----------
    connection : Connection
        Inside a transaction that holds the write lock.
    seq, hash : int, str
        The last entry.
    """

    def __init__(self, connection: sa.Connection) -> None:
        self.connection = connection
        self.seq, self.hash = head(connection)

    def add(self, rows: Sequence[Row]) -> None:
        """Add entries."""
        made: list[dict[str, Any]] = []
        seq, prev = self.seq, self.hash
        for content, header, text, digest in rows:
            seq += 1
            own = canon.link(prev, seq, header, digest, text)
            made.append(dict(zip(canon.COLUMNS, (seq, *header, digest, *content, prev, own), strict=True)))
            prev = own
        if made:
            self.connection.execute(_ADD, made)
        self.seq, self.hash = seq, prev

    def add_internal(self, content: canon.Content, entered: int) -> int:
        """Add one entry of the logbook's own; returns its number."""
        text = canon.written(content)
        self.add([(content, (entered, content[3], ""), text, canon.digest_of(text))])
        return self.seq
