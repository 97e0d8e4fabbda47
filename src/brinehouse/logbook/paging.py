"""The newest rows of a place or a quantity, a page at a time, without sorting all there ever was of it.

The index of places goes by quantity and then by time, so the newest of a place are the newest of each of its
quantities put together; the quantities of a place, and the places there are, are found by stepping through
the index from one to the next. A quantity without a place is looked for among the newest readings of all, and
place by place only where it is rare there.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import sqlalchemy as sa

from brinehouse.logbook import canon, queries, tables

_entry = tables.entry
NEAR = 20_000  # readings of all quantities that are looked through before places are stepped through
_SEQ, _MEASURED = canon.COLUMNS.index("seq"), canon.COLUMNS.index("measured")


def rows(connection: sa.Connection, wanted: queries.Wanted) -> list[Any]:
    """As `queries.rows`, quick where only the newest of a place or of a quantity are asked for."""
    if wanted.limit is None or not wanted.newest_first:
        return queries.rows(connection, wanted)
    if wanted.places is not None and wanted.quantities is None:
        return _of_places(connection, wanted)
    if wanted.places is None and wanted.quantities is not None and wanted.kinds == ("reading",):
        return _of_quantities(connection, wanted)
    return queries.rows(connection, wanted)


def _of_places(connection: sa.Connection, wanted: queries.Wanted) -> list[Any]:
    found: list[Any] = []
    readings = wanted.kinds is None or "reading" in wanted.kinds  # only they have a quantity
    for place in _listed(wanted.places):
        words = steps(connection, _entry.c.quantity, _entry.c.place == place) if readings else [""]
        for quantity in words:
            one = replace(wanted, places=[place], quantities=[quantity])
            found += queries.rows(connection, one)
    return _newest(found, wanted)


def _of_quantities(connection: sa.Connection, wanted: queries.Wanted) -> list[Any]:
    begin = connection.execute(
        sa.select(_entry.c.measured)
        .where(_entry.c.kind == "reading")
        .order_by(_entry.c.measured.desc())
        .limit(1)
        .offset(NEAR)
    ).scalar()
    if begin is None:  # a small logbook
        return queries.rows(connection, wanted)
    near = canon.moment(begin)
    if wanted.since is None or wanted.since < near:
        found = queries.rows(connection, replace(wanted, since=near))
        if wanted.limit is not None and len(found) >= wanted.limit:
            return found
    places = steps(connection, _entry.c.place)
    return queries.rows(connection, replace(wanted, places=places)) if places else []


def _newest(found: list[Any], wanted: queries.Wanted) -> list[Any]:
    found.sort(key=lambda row: (row[_MEASURED], row[_SEQ]), reverse=True)
    return found[: wanted.limit]


def _listed(names: Any) -> list[str]:
    return [names] if isinstance(names, str) else list(dict.fromkeys(names))


def steps(connection: sa.Connection, column: sa.Column[str], *where: sa.ColumnElement[bool]) -> list[str]:
    """The different values of a column, each found from the one before by the index."""
    found: list[str] = []
    query = sa.select(column).where(*where).order_by(column).limit(1)
    value = connection.execute(query).scalar()
    while value is not None:
        found.append(value)
        value = connection.execute(query.where(column > value)).scalar()
    return found
