"""Files that belong to entries: what the chain says of them. The files themselves lie beside the logbook."""

from __future__ import annotations

from collections.abc import Iterable

import sqlalchemy as sa

from brinehouse import records
from brinehouse.logbook import canon, queries, tables

_entry = tables.entry
_HEX = frozenset("0123456789abcdef")


def of(connection: sa.Connection, words: Iterable[str]) -> list[records.Fact]:
    """Facts of kind ``file`` that stand and hold one of some ids or hashes, in order of time.

    Parameters
    ----------
    connection : Connection
    words : iterable of str
        Ids of entries, or hashes of files. What is not hexadecimal digits is nobody's.
    """
    wanted = {word for word in words if word and set(word) <= _HEX}
    if not wanted:
        return []
    holds = sa.or_(*(_entry.c.details.contains(f'"{word}"', autoescape=True) for word in sorted(wanted)))
    found = connection.execute(queries.select(queries.Wanted(kinds=("file",))).where(holds))
    facts = [canon.fact(row) for row in found]
    return [fact for fact in facts if wanted & {fact.details.get("about"), fact.details.get("sha256")}]


def every(connection: sa.Connection) -> dict[str, str]:
    """Hash to name of every file that was ever kept, also of those taken back."""
    wanted = queries.Wanted(kinds=("file",), superseded=True)
    facts = (canon.fact(row) for row in connection.execute(queries.select(wanted)))
    return {str(fact.details.get("sha256", "")): str(fact.details.get("name", "")) for fact in facts}
