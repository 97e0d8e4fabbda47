"""Asking the logbook: what stands today, and every version there ever was."""

from __future__ import annotations

import contextlib
import functools
import typing
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
import sqlalchemy as sa
from numpy.typing import NDArray

from brinehouse import records
from brinehouse.logbook import canon, kept, tables

_entry = tables.entry
ROW = tuple(_entry.c[name] for name in canon.COLUMNS)
FETCH = 20_000
CHUNK = 5_000

FACTS: tuple[str, ...] = typing.get_args(records.FactKind)
"""Every kind that is not a reading and not the logbook's own."""

CODED = ("place", "point", "quantity", "unit", "instrument", "quality", "bound", "basis", "source")
"""Columns that `columns` gives as small whole numbers beside a list of names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is asked for; None is no restriction, `since` counts in, `until` does not."""

    kinds: Iterable[str] | None = None
    places: Iterable[str] | None = None
    quantities: Iterable[str] | None = None
    instruments: Iterable[str] | None = None
    sittings: Iterable[str] | None = None
    since: datetime | None = None
    until: datetime | None = None
    superseded: bool = False
    limit: int | None = None
    newest_first: bool = False


_withdrawal = _entry.alias("withdrawal")
_newer = _entry.alias("newer")
_later = _entry.alias("later")  # made once: an alias of so many columns costs more than the question itself


@functools.cache
def standing(*, then: bool = False) -> tuple[sa.ColumnElement[bool], ...]:
    """Conditions that leave out what was superseded or withdrawn, alone or with its import.

    With `then`: as it was when the chain ended at the parameter ``most``.
    """

    def known(table: sa.FromClause) -> tuple[sa.ColumnElement[bool], ...]:
        return (table.c.seq <= sa.bindparam("most"),) if then else ()

    undone = ~sa.exists(sa.select(_later.c.seq).where(_later.c.target == _withdrawal.c.id, *known(_later)))
    replaced = sa.exists(sa.select(_newer.c.seq).where(_newer.c.supersedes == _entry.c.id, *known(_newer)))
    withdrawn = (undone, *known(_withdrawal))
    taken_back = sa.exists(
        sa.select(_withdrawal.c.seq).where(_withdrawal.c.target == _entry.c.id, *withdrawn)
    )
    imports = sa.select(_withdrawal.c.target).where(_withdrawal.c.target.is_not(None), *withdrawn)
    return (
        ~replaced,
        ~taken_back,
        sa.or_(_entry.c.import_id.is_(None), _entry.c.import_id.not_in(imports)),
    )


def select(wanted: Wanted, columns: Sequence[sa.ColumnElement[Any]] = ROW) -> sa.Select[Any]:
    """The statement for what is wanted, in order of time."""
    query = sa.select(*columns)
    # With a place given, the place's index is the short way; the planner would take the one of all readings.
    kind = _entry.c.kind if wanted.places is None else _entry.c.kind.concat("")
    for column, chosen in (
        (kind, wanted.kinds),
        (_entry.c.place, wanted.places),
        (_entry.c.quantity, wanted.quantities),
        (_entry.c.instrument, wanted.instruments),
        (_entry.c.sitting, wanted.sittings),
    ):
        if chosen is not None:
            names = [chosen] if isinstance(chosen, str) else list(chosen)
            query = query.where(column == names[0] if len(names) == 1 else column.in_(names))
    if wanted.since is not None:
        query = query.where(_entry.c.measured >= canon.microseconds(wanted.since))
    if wanted.until is not None:
        query = query.where(_entry.c.measured < canon.microseconds(wanted.until))
    if not wanted.superseded:
        query = query.where(*standing())
    if wanted.newest_first:
        query = query.order_by(_entry.c.measured.desc(), _entry.c.seq.desc())
    else:
        query = query.order_by(_entry.c.measured, _entry.c.seq)
    return query if wanted.limit is None else query.limit(wanted.limit)


def rows(connection: sa.Connection, wanted: Wanted) -> list[Any]:
    """Whole rows, in the order of `canon.COLUMNS`."""
    return list(connection.execute(select(wanted)))


def everything(
    looking: Callable[[], contextlib.AbstractContextManager[sa.Connection]],
) -> Iterator[tuple[int, records.Reading | records.Fact, bool]]:
    """Every reading and fact in the order of the chain, and whether it is what the logbook says now.

    Looks up a chunk at a time and holds no transaction while the caller works on it: SQLite's log grows for
    as long as somebody looks at one moment. All of it is as of the head at the beginning nevertheless.
    """
    stands = sa.case((sa.and_(*standing(then=True)), 1), else_=0).label("stands")
    query = (
        sa.select(*ROW, stands)
        .where(
            _entry.c.seq > sa.bindparam("last"),
            _entry.c.seq <= sa.bindparam("most"),
            _entry.c.kind.not_in(tables.INTERNAL),
        )
        .order_by(_entry.c.seq)
        .limit(CHUNK)
    )
    with looking() as connection:
        most = connection.execute(sa.select(sa.func.max(_entry.c.seq))).scalar() or 0
    last = 0
    while True:
        with looking() as connection:
            block = connection.execute(query, {"last": last, "most": most}).all()
        if not block:
            return
        for row in block:
            yield row[0], canon.record(row[:-1]), bool(row[-1])
        last = block[-1][0]


def columns(connection: sa.Connection, wanted: Wanted) -> dict[str, NDArray[Any]]:
    """Readings as arrays, in order of time.

    ``time`` (µs since 1970 UTC), ``value`` and ``depth`` (NaN where there is none), ``seq``, and for each
    name in `CODED` its codes (int32) and ``NAME_names``, the texts they stand for.
    """
    chosen = (_entry.c.seq, _entry.c.measured, _entry.c.value, _entry.c.depth, *(_entry.c[n] for n in CODED))
    books: list[dict[str, int]] = [{} for _ in CODED]
    parts: list[list[NDArray[Any]]] = [[] for _ in chosen]
    result = connection.execution_options(stream_results=True).execute(select(wanted, chosen))
    for block in result.partitions(FETCH):
        series = list(zip(*block, strict=True))
        parts[0].append(np.array(series[0], dtype=np.int64))
        parts[1].append(np.array(series[1], dtype=np.int64))
        parts[2].append(np.array(series[2], dtype=np.float64))
        parts[3].append(np.array(series[3], dtype=np.float64))
        for i, (book, texts) in enumerate(zip(books, series[4:], strict=True), start=4):
            for text in set(texts) - book.keys():
                book[text] = len(book)
            parts[i].append(np.fromiter(map(book.__getitem__, texts), np.int32, len(texts)))
    kinds: list[Any] = [np.int64, np.int64, np.float64, np.float64] + [np.int32] * len(CODED)
    names = ("seq", "time", "value", "depth", *CODED)
    made: dict[str, NDArray[Any]] = {
        name: np.concatenate(part) if part else np.empty(0, kind)
        for name, part, kind in zip(names, parts, kinds, strict=True)
    }
    for name, book in zip(CODED, books, strict=True):
        made[f"{name}_names"] = np.array(list(book), dtype=object)
    return made


def after(connection: sa.Connection, seq: int) -> list[Any]:
    """Readings and facts written down after an entry, in that order."""
    query = sa.select(*ROW).where(_entry.c.seq > seq, _entry.c.kind.not_in(tables.INTERNAL))
    return list(connection.execute(query.order_by(_entry.c.seq)))


def ids(connection: sa.Connection, first: str) -> list[str]:
    """Ids that begin with some digits; a handful at most."""
    query = sa.select(_entry.c.id).where(
        _entry.c.id >= first, _entry.c.id < f"{first}g", _entry.c.kind.not_in(tables.INTERNAL)
    )
    return [row[0] for row in connection.execute(query.limit(8))]


_BY_ID = sa.select(*ROW).where(_entry.c.id == sa.bindparam("wanted"), _entry.c.kind.not_in(tables.INTERNAL))


def by_id(connection: sa.Connection, id: str) -> Any | None:
    """The row with this id, or None; the logbook's own entries are not shown."""
    return connection.execute(_BY_ID, {"wanted": id}).first()


def trail(connection: sa.Connection, id: str) -> list[kept.Version]:
    """Every version of a fact and its withdrawals, oldest first; empty where the id is unknown."""
    row = by_id(connection, id)
    while row is not None and row.supersedes:
        row = by_id(connection, row.supersedes)
    found: list[Any] = []
    seen_imports: set[str] = set()
    while row is not None:
        found.append(row)
        found += _withdrawals_of(connection, row.id)
        if row.import_id and row.import_id not in seen_imports:
            seen_imports.add(row.import_id)
            found += _withdrawals_of(connection, row.import_id)
        row = connection.execute(sa.select(*ROW).where(_entry.c.supersedes == row.id)).first()
    found.sort(key=lambda row: row.seq)
    stands = _standing_among(connection, [row.id for row in found])
    return [
        kept.Version(
            seq=row.seq,
            fact=canon.record(row),
            entered=canon.moment(row.entered),
            person=row.writer,
            reason=row.reason,
            stands=row.id in stands,
        )
        for row in found
    ]


def _withdrawals_of(connection: sa.Connection, target: str) -> list[Any]:
    found: list[Any] = []
    for row in connection.execute(sa.select(*ROW).where(_entry.c.target == target)).all():
        found.append(row)
        found += _withdrawals_of(connection, row.id)
    return found


def _standing_among(connection: sa.Connection, ids: list[str]) -> set[str]:
    query = sa.select(_entry.c.id).where(_entry.c.id.in_(ids), *standing())
    return {row[0] for row in connection.execute(query)}
