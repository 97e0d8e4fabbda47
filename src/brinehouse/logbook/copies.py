"""Copies of a whole logbook: taken while it is written, from and into either kind of database.

A copy is one SQLite file without a log beside it, in the shape of the logbook itself. Entries are carried
over as they are, hash and all: a copy ends with the same head, and the chain says whether it is whole.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
from collections.abc import Collection
from datetime import datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import exc

from brinehouse import findings
from brinehouse.logbook import canon, chain, database, house_tables, kept, proof, remote, shape, tables

CHUNK = 2_000
AT_DOOR = ("account", "passkey", "device", "session", "entry_code")
"""Tables of who may come in: in a copy of the hall, but not in what leaves it."""


def take(engine: sa.Engine, to: Path, *, without: Collection[str] = ()) -> chain.Head:
    """Copy what an engine reads into a new file, all of one moment; returns where the chain ends in it.

    Parameters
    ----------
    engine : Engine
        One that reads; of a file or of a PostgreSQL database.
    to : Path
        Must not be there.
    without : collection of str
        Tables that are left empty.
    """
    if to.exists():
        raise kept.refused("logbook/copy-there", f"{to} is there already", "name another")
    try:
        if engine.dialect.name == "sqlite" and not without:
            _by_pages(engine, to)
        else:
            with engine.connect() as source, source.begin():
                into_file(source, to, without=without)
        return _closed(to)
    except (exc.DatabaseError, sqlite3.DatabaseError, OSError) as error:
        to.unlink(missing_ok=True)
        if isinstance(error, exc.OperationalError) and not isinstance(error.orig, sqlite3.Error):
            raise kept.Refused(remote.away(error, "of the logbook")) from error
        raise kept.Refused(database.unreadable(error, "the logbook or its copy")) from error


def _by_pages(engine: sa.Engine, to: Path) -> None:
    """SQLite's own copy: all pages in one step, so that it is of one moment whoever writes meanwhile."""
    with engine.connect() as source:
        raw: Any = source.connection.driver_connection
        target = sqlite3.connect(to)
        try:
            raw.backup(target, pages=-1)
        finally:
            target.close()


def _closed(to: Path) -> chain.Head:
    """Make it one file that needs no log, have it on the disk, and say where its chain ends."""
    raw = sqlite3.connect(to, isolation_level=None)
    try:
        raw.execute("PRAGMA journal_mode = DELETE").fetchone()
        raw.execute(f"PRAGMA user_version = {generation()}").close()
        row = raw.execute("SELECT seq, hash FROM entry ORDER BY seq DESC LIMIT 1").fetchone()
    finally:
        raw.close()
    descriptor = os.open(to, os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
    return (row[0], row[1]) if row else (0, canon.ZERO)


def generation() -> int:
    """A new number for a file: two that were written apart never have the same."""
    return 1 + secrets.randbelow(2**31 - 2)


def into_file(source: sa.Connection, to: Path, *, without: Collection[str] = ()) -> None:
    """Every row into a new file, one by one."""
    engine = database.writing_engine(to, synchronous="OFF")  # synced once, when it is whole
    try:
        with engine.connect() as target, target.begin():
            shape.upgrade(target)
            rows(source, target, without=without)
    finally:
        engine.dispose()


def rows(source: sa.Connection, target: sa.Connection, *, without: Collection[str] = ()) -> None:
    """Every row from one database into another that has the tables and no row; inside their transactions."""
    assert house_tables.account.metadata is tables.metadata
    for table in tables.metadata.sorted_tables:
        if table.name in without:
            continue
        result = source.execution_options(stream_results=True).execute(sa.select(table))
        for block in result.mappings().partitions(CHUNK):
            target.execute(sa.insert(table), [dict(row) for row in block])


def bring_into(copy: Path, address: str) -> chain.Head:
    """Put every row of a copy into an empty PostgreSQL database; refused where anything is in it.

    Returns where the chain ends there.
    """
    where = remote.shown(address)
    normal = remote.normal(address)
    source, target = database.reading_engine(copy), remote.writing_engine(normal)
    try:
        with source.connect() as here, here.begin(), target.connect() as there:
            remote.take(there, wait=5.0, where=where)
            with there.begin():
                _refuse_used(there, where)
                if not shape.known(shape.revision(there)):
                    shape.upgrade(there)
                rows(here, there)
                head = chain.head(there)
            remote.release(there)
        return head
    except exc.DatabaseError as error:
        raise kept.Refused(remote.away(error, where, address)) from error
    finally:
        source.dispose()
        target.dispose()


def _refuse_used(connection: sa.Connection, where: str) -> None:
    if shape.revision(connection) is None:
        return
    if chain.head(connection)[0] or connection.execute(sa.select(tables.person).limit(1)).first():
        raise kept.refused(
            "logbook/not-empty",
            f"{where} holds a logbook already",
            "name an empty database",
        )


def examine(copy: Path, head: chain.Head | None = None) -> list[findings.Finding]:
    """Open a copy and walk it: what is wrong with it, nothing where it is whole and ends where it should."""
    engine = database.reading_engine(copy)
    try:
        with engine.connect() as connection, connection.begin():
            found = chain.head(connection)
            shape.known(shape.revision(connection))
        if head is not None and found != head:
            return [
                kept.stop(
                    "logbook/copy-ends",
                    f"the copy ends at entry {found[0]} ({found[1][:12]}), not at {head[0]} ({head[1][:12]})",
                    "use another copy",
                )
            ]
        return proof.verify(engine, (head[0], head[1]) if head and head[0] else None)
    except kept.Refused as refusal:
        return [refusal.finding]
    except exc.DatabaseError as error:
        return [database.unreadable(error, "the copy")]
    finally:
        engine.dispose()


def begins(connection: sa.Connection) -> str:
    """The hash of the first entry; empty while there is none."""
    first = sa.select(tables.entry.c.hash).order_by(tables.entry.c.seq).limit(1)
    return connection.execute(first).scalar() or ""


def last_entered(connection: sa.Connection) -> datetime | None:
    """When the last entry was written down; None while there is none."""
    last = sa.select(tables.entry.c.entered).order_by(tables.entry.c.seq.desc()).limit(1)
    ticks = connection.execute(last).scalar()
    return None if ticks is None else canon.moment(ticks)


def contents(connection: sa.Connection) -> dict[str, tuple[int, str]]:
    """For each table of the chain: how many rows it holds, and a hash over all of them in order.

    Two logbooks with the same contents have the same answer, on whatever database they are.
    """
    import hashlib

    found: dict[str, tuple[int, str]] = {}
    for table in (tables.person, tables.entry, *tables.SIDE.values()):
        digest, count = hashlib.sha256(), 0
        ordered = sa.select(table).order_by(*table.primary_key.columns)
        for block in connection.execution_options(stream_results=True).execute(ordered).partitions(CHUNK):
            for row in block:
                digest.update(repr([_plain(cell) for cell in row]).encode() + b"\n")
                count += 1
        found[table.name] = (count, digest.hexdigest())
    return found


def _plain(cell: Any) -> Any:
    if isinstance(cell, memoryview):
        return bytes(cell)
    if isinstance(cell, bool):
        return int(cell)
    return cell


def end_sessions(copy: Path, at: datetime) -> None:
    """Nobody is signed in where a copy is brought back: who was let in no more since then stays out."""
    engine = database.writing_engine(copy)
    try:
        with engine.connect() as connection:
            with connection.begin():
                session = house_tables.session
                connection.execute(
                    sa.update(session).where(session.c.ended.is_(None)).values(ended=canon.microseconds(at))
                )
            raw: Any = connection.connection.driver_connection
            raw.execute("PRAGMA journal_mode = DELETE").fetchone()
    finally:
        engine.dispose()


def shown(address: str) -> str:
    """An address as it may be shown: see `remote.shown`."""
    return remote.shown(address)
