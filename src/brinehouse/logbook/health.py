"""A look at the store as it stands: its file, its disk, its SQLite, and who writes it."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Mapping
from pathlib import Path

from sqlalchemy import exc

from brinehouse import findings
from brinehouse.logbook import chain, database, kept, lock, proof, remote, shape

LOW, VERY_LOW, LAST = 0.10, 0.05, 0.02
"""Free parts of a disk below which it is said, photos are refused, and readings soon cannot be saved."""


def doctor(folder: Path | str, *, whole: bool = True) -> list[findings.Finding]:
    """What a keeper should know about the store in a folder, looked at and not changed.

    Without `whole` the file itself is not read through.
    """
    folder = Path(folder)
    path = folder / database.FILE
    found = [*_sqlite(sqlite3.sqlite_version), *_owner(folder)]
    if not path.exists():
        return [
            *found,
            kept.stop("logbook/not-there", f"there is no logbook in {folder}", "make one with init"),
        ]
    usage = shutil.disk_usage(folder)
    found += disk(usage.free, usage.total)
    try:
        database.refuse_network(folder)
    except kept.Refused as refusal:
        found.append(refusal.finding)
    return [*found, *_kind_of_disk(folder), *_file(path, whole=whole)]


def _kind_of_disk(folder: Path) -> list[findings.Finding]:
    kind = database.file_system(folder)
    said = f"the folder is on a disk of kind {kind}" if kind else ""
    if kind in ("tmpfs", "ramfs"):
        return [
            findings.Finding(
                code="logbook/in-memory",
                level=findings.Level.ACT,
                text=f"{said}: all of it is gone when the machine stops",
                hint="move the folder to a disk",
            )
        ]
    return [_note("logbook/file-system", said, kind=kind)] if kind else []


def disk_of(folder: Path) -> list[findings.Finding]:
    """Whether the disk under a folder is filling up."""
    usage = shutil.disk_usage(folder)
    return disk(usage.free, usage.total)


def server(address: str) -> list[findings.Finding]:
    """What a keeper should know about the logbook's PostgreSQL database, looked at and not changed."""
    where, normal = remote.shown(address), remote.normal(address)
    engine = remote.reading_engine(normal)
    try:
        with engine.connect() as connection, connection.begin():
            shape.known(shape.revision(connection))
            asked = ("server_version", "fsync", "full_page_writes", "synchronous_commit")
            told = {name: connection.exec_driver_sql(f"SHOW {name}").scalar() for name in asked}
            seq, own = chain.head(connection)
    except kept.Refused as refusal:
        return [refusal.finding]
    except exc.DatabaseError as error:
        return [remote.away(error, where, address)]
    finally:
        engine.dispose()
    found = [
        _note("logbook/postgresql", f"PostgreSQL {told['server_version']} keeps the logbook at {where}"),
        _note("logbook/head", f"the chain ends at entry {seq}, {own[:12]}", seq=seq, hash=own),
    ]
    return [*found, *unsafe(told, where)]


def unsafe(told: Mapping[str, str | None], where: str) -> list[findings.Finding]:
    """Whether a database server is set so that a power cut can break what it keeps."""
    off = [name for name in ("fsync", "full_page_writes") if told[name] == "off"]
    if not off:
        return []
    return [
        findings.Finding(
            code="logbook/postgresql-unsafe",
            level=findings.Level.ACT,
            text=f"the database at {where} runs with {' and '.join(off)} off: a power cut can break it",
            hint="set it on in postgresql.conf and start the server again",
        )
    ]


def _file(path: Path, *, whole: bool) -> list[findings.Finding]:
    engine = database.reading_engine(path)
    try:
        with engine.connect() as connection:
            found = mode(connection.exec_driver_sql("PRAGMA journal_mode").scalar())
            shape.known(shape.revision(connection))
            found += proof.integrity(connection, "quick_check") if whole else []
            seq, own = chain.head(connection)
            found.append(
                _note("logbook/head", f"the chain ends at entry {seq}, {own[:12]}", seq=seq, hash=own)
            )
    except kept.Refused as refusal:
        found = [refusal.finding]
    except exc.DatabaseError as error:
        found = [database.unreadable(error)]
    finally:
        engine.dispose()
    return found


def _note(code: str, text: str, hint: str = "", **data: object) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.NOTE, text=text, hint=hint, data=data)


def _owner(folder: Path) -> list[findings.Finding]:
    who = lock.owner(folder) if folder.exists() else None
    if who is None:
        return []
    name = f"process {who.pid}" if who.pid else "another program"
    where = f" and takes batches at {who.address}:{who.port}" if who.address else ""
    return [_note("logbook/has-writer", f"{name} writes this logbook{where}", pid=who.pid)]


def _sqlite(version: str) -> list[findings.Finding]:
    return races(version) or [_note("logbook/sqlite", f"SQLite {version} keeps the logbook", version=version)]


def races(version: str) -> list[findings.Finding]:
    """Whether this SQLite has the race in which two connections that checkpoint at once break a file.

    >>> races("3.51.3")
    []
    """
    parts = tuple(int(part) for part in version.split("."))
    if (3, 7, 0) <= parts < (3, 51, 3) or parts[:2] == (3, 52):
        return [
            _note(
                "logbook/sqlite-race",
                f"SQLite {version} can break a file that two programs write at once; only one is let in here",
                "write through Brinehouse only; newer than 3.51.3 is free of it",
                version=version,
            )
        ]
    return []


def mode(journal: str | None) -> list[findings.Finding]:
    """Whether the file is in the mode on which the promise of "saved" rests."""
    if journal == "wal":
        return []
    return [
        findings.Finding(
            code="logbook/journal-mode",
            level=findings.Level.ACT,
            text=f"the logbook's file is in journal mode '{journal}', not 'wal': another program changed it",
            hint="write one entry with Brinehouse, which sets it right",
            data={"mode": journal},
        )
    ]


def disk(free: int, total: int) -> list[findings.Finding]:
    """Whether the disk is filling up."""
    share = free / total if total else 1.0
    if share >= LOW:
        return []
    level = findings.Level.ACT if share < VERY_LOW else findings.Level.WATCH
    return [
        findings.Finding(
            code="logbook/disk-low",
            level=level,
            text=f"the disk is {100 * (1 - share):.0f} % full: {free / 1e6:.0f} MB are left",
            hint=_what_waits(share),
            data={"free": free, "total": total},
        )
    ]


def _what_waits(share: float) -> str:
    if share < LAST:
        return "make room now: readings can soon no longer be saved"
    if share <= VERY_LOW:
        return "make room: photos are refused until then, readings are still saved"
    return "make room before photos, and then readings, can no longer be saved"
