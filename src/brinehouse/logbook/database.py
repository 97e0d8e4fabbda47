"""How the database is opened: one connection that writes, others that can only read."""

from __future__ import annotations

import os
import sqlite3
import sys
from pathlib import Path
from typing import Any
from urllib.parse import quote

import sqlalchemy as sa
from sqlalchemy import event, exc, pool

from brinehouse import findings
from brinehouse.logbook import kept, tables

FILE = "logbook.sqlite"
BUSY = 5.0
LOG_LIMIT = 64 * 1024 * 1024
"""What a log that grew beside a long reader is cut back to once that has gone. [bytes]"""

NETWORK = frozenset(
    {"nfs", "nfs4", "cifs", "smb3", "smbfs", "ncpfs", "afs", "ceph", "davfs", "fuse.sshfs", "fuse.rclone",
     "fuse.glusterfs", "fuse.davfs", "fuse.smbnetfs", "fuse.curlftpfs"}
)  # fmt: skip
"""File systems of other machines: their locks and syncs do not hold what a database needs."""


def writing_engine(where: Path, *, synchronous: str = "FULL") -> sa.Engine:
    """The engine of the one connection that writes and checkpoints.

    `synchronous` is for the durability tests only: every promise rests on ``FULL``.
    """
    engine = sa.create_engine("sqlite://", creator=lambda: _connect(where, "rwc"), poolclass=pool.NullPool)

    def prepare(connection: sqlite3.Connection, _record: Any) -> None:
        # WAL with FULL: with NORMAL a power cut takes back entries that were called saved.
        for pragma in (
            f"application_id = {tables.APPLICATION_ID}",
            "journal_mode = WAL",
            f"synchronous = {synchronous}",
            "foreign_keys = ON",
            "recursive_triggers = ON",
            "cache_size = -16000",
            "mmap_size = 0",
            f"journal_size_limit = {LOG_LIMIT}",
        ):
            connection.execute(f"PRAGMA {pragma}").close()

    event.listen(engine, "connect", prepare)
    event.listen(engine, "begin", _begin_immediate)
    return engine


def reading_engine(where: Path) -> sa.Engine:
    """An engine whose connections cannot write, and never checkpoint."""
    engine = sa.create_engine(
        "sqlite://",
        creator=lambda: _connect(where, "ro"),
        poolclass=pool.QueuePool,
        pool_size=4,
        max_overflow=28,
    )

    def prepare(connection: sqlite3.Connection, _record: Any) -> None:
        for pragma in ("query_only = ON", "wal_autocheckpoint = 0", "mmap_size = 0"):
            connection.execute(f"PRAGMA {pragma}").close()

    event.listen(engine, "connect", prepare)
    event.listen(engine, "begin", _begin)
    return engine


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    name = f"file:{quote(path.absolute().as_posix())}?mode={mode}"
    return sqlite3.connect(name, uri=True, timeout=BUSY, isolation_level=None, check_same_thread=False)


def _begin_immediate(connection: sa.Connection) -> None:
    # A deferred transaction that reads first and writes later fails with "locked" whatever the time-out.
    connection.exec_driver_sql("BEGIN IMMEDIATE")


def _begin(connection: sa.Connection) -> None:
    connection.exec_driver_sql("BEGIN")


def cause_of(error: BaseException) -> str:
    """What the driver or the disk said, in one line."""
    said = str(getattr(error, "orig", None) or error)
    return " ".join(said.split())


def unreadable(error: Exception, what: str = "the store") -> findings.Finding:
    """The finding for a store that did not let itself be read: a failing disk, or a damaged file."""
    cause = cause_of(error)
    if isinstance(error, exc.OperationalError | OSError):
        return kept.stop(
            "logbook/disk",
            f"{what} could not be read just now ({cause})",
            "see whether the disk is full, failing or not to be written to; nothing was changed",
            cause=cause,
        )
    return kept.stop(
        "logbook/damaged",
        f"{what} cannot be read to its end ({cause})",
        "keep a copy of the folder as it is, then bring back the last backup",
        cause=cause,
    )


def rewrite_log(folder: Path) -> None:
    """Write the write-ahead log's own bytes over themselves and sync them.

    A failed sync can leave pages in memory that the disk never got, marked clean: no later sync brings them
    there. What was in doubt is on the disk only after this, also when the program that met the fault is gone.
    """
    path = folder / f"{FILE}-wal"
    if not path.exists():
        return
    with path.open("r+b", buffering=0) as log:
        while block := log.read(1 << 20):
            log.seek(-len(block), os.SEEK_CUR)
            log.write(block)
        os.fsync(log.fileno())


def file_system(path: Path, mounts: str | None = None) -> str:
    """The type of file system a path is on, as Linux names it; empty where it cannot be told.

    `mounts` is the text of ``/proc/self/mountinfo``, for tests.
    """
    if mounts is None:
        if not sys.platform.startswith("linux"):
            return ""
        try:
            mounts = Path("/proc/self/mountinfo").read_text("utf-8")
        except OSError:
            return ""
        path = path.resolve()
    best, found = -1, ""
    for line in mounts.splitlines():
        left, _, right = line.partition(" - ")
        point = Path(
            left.split(" ")[4].encode().decode("unicode_escape") if "\\" in left else left.split(" ")[4]
        )
        if path.is_relative_to(point) and len(point.parts) >= best:
            best, found = len(point.parts), right.split(" ")[0]
    return found


def refuse_network(path: Path, mounts: str | None = None) -> None:
    """Refuse a folder that stands on another machine's disk."""
    kind = file_system(path, mounts)
    if kind in NETWORK:
        raise kept.refused(
            "logbook/network-disk",
            f"{path} is on a network file system ({kind}), where a power cut or a second "
            "writer can break a logbook",
            "keep the folder on a disk of this machine, or give the address of a PostgreSQL database",
            file_system=kind,
        )
