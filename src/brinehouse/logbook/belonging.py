"""Whose logbook a database holds: an id in the hall's folder and, as an entry of the chain, in the database.

A file in a folder is that folder's. A database is only an address, and an address can be mistyped, kept in a
shell for too long, or given to two halls. So the first program that writes there leaves the hall's id in
both, and every later one looks whether the two are the same before it reads a single entry.
"""

from __future__ import annotations

import json
import os
import secrets
import sqlite3
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from brinehouse.logbook import canon, chain, database, kept, tables

MARK = "logbook.hall"
KIND = "hall-mark"
_entry = tables.entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What the folder says: the hall's id, where its logbook is, and whether it is still being claimed."""

    hall: str
    database: str
    claiming: bool = False


def mark(folder: Path) -> Mark | None:
    """The mark of a folder whose logbook is in a database; None where it has none."""
    path = folder / MARK
    try:
        said: Any = json.loads(path.read_text("utf-8"))
        return Mark(
            hall=str(said["hall"]), database=str(said["database"]), claiming=said.get("claiming") is True
        )
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as fault:
        raise kept.refused(
            "logbook/mark-unreadable",
            f"{path} cannot be read ({fault}): it holds the hall's id and where its logbook is",
            "bring the file back from a backup",
        ) from fault


def refuse_elsewhere(folder: Path) -> None:
    """Refuse to begin a file beside a logbook that is in a database."""
    there = mark(folder)
    if there is not None and not there.claiming:
        raise kept.refused(
            "logbook/in-a-database",
            f"the logbook of {folder} is in the database {there.database}, and no database was named",
            "set BRINEHOUSE_DATABASE to its address, as the server of this hall has it",
            database=there.database,
        )


def check(connection: sa.Connection, folder: Path, shown: str) -> bool:
    """Whether this database is this folder's; False where it is nobody's yet; refused where another's."""
    here, there = mark(folder), of_database(connection)
    if there is None:
        if here is not None and not here.claiming:
            raise kept.refused(
                "logbook/hall-lost",
                f"the logbook of {folder} was in {here.database}, and {shown} holds no logbook of it",
                f"name the right database, or bring back its backup; without {MARK} a new logbook is begun",
                database=shown,
            )
        return False
    if here is None or here.hall != there:
        raise kept.refused(
            "logbook/another-hall",
            f"{shown} holds the logbook of another hall than {folder}",
            f"give each hall a database of its own; if this is its own, bring back {MARK} from a backup",
            database=shown,
        )
    if here.claiming:
        _write(folder, Mark(hall=here.hall, database=shown))
    return True


def of_database(connection: sa.Connection) -> str | None:
    """The id of the hall a database belongs to."""
    query = sa.select(_entry.c.details).where(_entry.c.kind == KIND).order_by(_entry.c.seq).limit(1)
    details = connection.execute(query).scalar()
    return None if details is None else str(json.loads(details)["hall"])


def claim(connection: sa.Connection, folder: Path, shown: str, at: int) -> None:
    """Make a database this folder's, inside the caller's transaction; `settle` once it is committed.

    The folder's mark is written first and says that it is only being claimed: a program killed in between
    leaves either nothing in the database, or the id that the folder has too.
    """
    here = mark(folder)
    name = here.hall if here is not None else secrets.token_hex(16)
    _refuse_second(connection, folder, shown)
    _write(folder, Mark(hall=name, database=shown, claiming=True))
    content = canon.internal(KIND, f"hall-{name}", at, None, {"hall": name})
    chain.Chain(connection).add_internal(content, at)


def settle(folder: Path, shown: str) -> None:
    """After the claim is committed: the folder's mark says so."""
    here = mark(folder)
    if here is not None and here.claiming:
        _write(folder, Mark(hall=here.hall, database=shown))


def _refuse_second(connection: sa.Connection, folder: Path, shown: str) -> None:
    """Refuse a database beside a file with entries that the database does not hold."""
    path = folder / database.FILE
    if not path.exists():
        return
    raw = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
    try:
        last = raw.execute("SELECT seq, hash FROM entry ORDER BY seq DESC LIMIT 1").fetchone()
    except sqlite3.DatabaseError:
        last = (0, "")  # whatever it is, it is not ours to leave behind unseen
    finally:
        raw.close()
    if last is None or chain.holds(connection, (last[0], last[1])):
        return
    raise kept.refused(
        "logbook/two-logbooks",
        f"{folder} has a logbook in {database.FILE} that is not in {shown}",
        f"move it there first, or move {database.FILE} out of the folder if it is not wanted",
        seq=last[0],
    )


def _write(folder: Path, made: Mark) -> None:
    """Write the mark whole, and have it on the disk before anything else happens."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / MARK
    fresh = path.with_name(f"{MARK}.{os.getpid()}")
    with fresh.open("w", encoding="utf-8") as page:
        json.dump(asdict(made), page)
        page.write("\n")
        page.flush()
        os.fsync(page.fileno())
    fresh.replace(path)
    if os.name == "posix":
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def adopt(folder: Path, copy: Path, shown: str) -> None:
    """After a copy was brought into a database: the folder carries the hall's id, where the copy has one."""
    engine = database.reading_engine(copy)
    try:
        with engine.connect() as connection:
            there = of_database(connection)
    finally:
        engine.dispose()
    if there is not None:
        _write(folder, Mark(hall=there, database=shown))
