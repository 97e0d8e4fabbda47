"""Whether the file in a folder is the one that was written there: a copy put in its place by hand is seen.

SQLite keeps what was last written in a log beside its file. Files copied one by one while they are written,
a log left behind, or a log that belongs to another file can each give a logbook that opens and is wrong. So
the file carries a number, a note beside it says which number and which file on the disk it was, and a file
that is not that one is walked to its end before anybody reads from it.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from brinehouse import findings
from brinehouse.logbook import copies, database, kept

NOTE = "logbook.generation"
_NUMBER_AT = 60  # where a SQLite file holds its user_version, four bytes
_HINT = "bring the hall back from a copy with 'brinehouse restore'; keep this folder as it is until then"


@dataclass(frozen=True, slots=True)
class Seen:
    """What the note says: the file's number, the file on the disk, and whether a program was writing."""

    number: int
    inode: int
    writing: bool = False


def note_of(folder: Path) -> Seen | None:
    """The note beside a logbook; None where there is none that can be read."""
    try:
        told: Any = json.loads((folder / NOTE).read_text("utf-8"))
        return Seen(int(told["number"]), int(told["inode"]), told.get("writing") is True)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def number_of(path: Path) -> int:
    """The number a file carries, read from its bytes: opening it would already mix it with its log."""
    with path.open("rb") as page:
        head = page.read(_NUMBER_AT + 4)
    return int.from_bytes(head[_NUMBER_AT:], "big") if len(head) == _NUMBER_AT + 4 else 0


def look(folder: Path) -> None:
    """Before a logbook is opened: refuse one that was put together wrongly by hand.

    Raises
    ------
    kept.Refused
        Where the log beside the file belongs to another file or is missing, or a file that came from
        elsewhere is not whole.
    """
    path = folder / database.FILE
    if not path.exists():
        return
    seen = note_of(folder)
    if seen is None:
        return  # written by an older program: the next one that writes notes it
    log = path.with_name(f"{database.FILE}-wal")
    has_log = log.exists() and log.stat().st_size > 0
    number, same = number_of(path), seen.inode == path.stat().st_ino
    if seen.number != number and has_log:
        raise _refuse(
            "logbook/mixed",
            f"{database.FILE} is another file than the one that {log.name} belongs to: "
            "together they would be a logbook that never was",
            f"move {log.name} and {database.FILE}-shm out of the folder to open the file alone, or {_HINT}",
        )
    if seen.writing and not has_log:
        raise _refuse(
            "logbook/log-missing",
            f"{database.FILE} stands here without {log.name}, which held what was written last",
            f"put {log.name} back beside it, or {_HINT}; without {NOTE} it is opened as it is",
        )
    if not same and has_log:
        _walk(path)


def _walk(path: Path) -> None:
    """A file that came from elsewhere is whole, or is refused."""
    found = [one for one in copies.examine(path) if one.level is findings.Level.STOP]
    if found:
        raise kept.Refused(
            findings.Finding(
                code="logbook/arrived-broken",
                level=findings.Level.STOP,
                text=f"{path.name} was put there by hand and is not whole: {found[0].text}",
                hint=_HINT,
                data=found[0].data,
            )
        )


def _refuse(code: str, text: str, hint: str) -> kept.Refused:
    return kept.refused(code, text, hint)


def settle(folder: Path, *, writing: bool) -> None:
    """Note which file this is, and whether a server is writing it; under the writer's lock."""
    path = folder / database.FILE
    with contextlib.suppress(OSError, sqlite3.Error):
        now = Seen(number_of(path), path.stat().st_ino, writing)
        if now == note_of(folder):
            return
        fresh = folder / f"{NOTE}.{os.getpid()}"
        told = {"number": now.number, "inode": now.inode, "writing": now.writing}
        with fresh.open("w", encoding="utf-8") as page:
            json.dump(told, page)
            page.flush()
            os.fsync(page.fileno())
        fresh.replace(folder / NOTE)
