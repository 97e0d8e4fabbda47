"""A hall brought back from a copy, or out of one database into another."""

from __future__ import annotations

import contextlib
import secrets
import shutil
import time
from collections.abc import Generator
from dataclasses import dataclass
from pathlib import Path

from brinehouse import findings
from brinehouse.workbench import clock, copying, hall, packing_list, settings, unpacking


@dataclass(frozen=True, slots=True, kw_only=True)
class Back:
    """What was brought back: from which copy, where its chain ends, and the seconds it took."""

    list: packing_list.List
    head: tuple[int, str]
    seconds: float


def bring_back(copy: Path, folder: Path, *, kind: str = "copy") -> Back:
    """Put a copy into an empty folder, or into the empty database that is set.

    Everything is looked at before anything is put in place: a copy that is not whole leaves the folder as
    it was. Who may come in is as it was in the copy, but nobody is signed in.

    Parameters
    ----------
    copy : Path
        The folder, .tar or .zip.
    folder : Path
        Not there, or empty.
    kind : str
        ``copy`` or ``export``: what is expected.

    Raises
    ------
    mishaps.Refused
        Where the folder is used, the copy damaged or none, or the database not empty.
    """
    begun = time.monotonic()
    _refuse_used(folder)
    folder.parent.mkdir(parents=True, exist_ok=True)
    work = folder.with_name(f"{copying.UNFINISHED}{folder.resolve().name}-{secrets.token_hex(4)}")
    try:
        with _opened(copy, work) as source:
            told = packing_list.read(source)
            _refuse_other(told, kind, copy)
            packing_list.refuse_all(copying.tried(source, told))
            _put(source, work, told)
        _in_place(work, folder)
    finally:
        shutil.rmtree(work, ignore_errors=True)
    head = _ends(folder, told, copy.name)
    return Back(list=told, head=head, seconds=time.monotonic() - begun)


def _refuse_used(folder: Path) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise unpacking.refuse(
            "copy/folder-used",
            f"{folder} holds something already, and nothing is ever written over",
            "name a folder that is not there yet, or an empty one",
        )


def _refuse_other(told: packing_list.List, kind: str, copy: Path) -> None:
    if told.kind != kind:
        verb = "restore" if told.kind == "copy" else "move-in"
        raise unpacking.refuse(
            "copy/other-kind", f"{copy.name} is no {kind}, but a {told.kind}", f"use 'brinehouse {verb}'"
        )


@contextlib.contextmanager
def _opened(copy: Path, work: Path) -> Generator[Path]:
    """The copy as a folder; an archive is unpacked beside the place it is meant for."""
    if copy.is_dir():
        work.mkdir()
        yield copy
        return
    if not copy.is_file():
        raise unpacking.refuse("copy/no-list", f"There is no copy {copy}", "name its folder, .tar or .zip")
    unpacked = work.with_name(f"{work.name}-unpacked")
    try:
        unpacked.mkdir()
        unpacking.unpack(copy, unpacked)
        work.mkdir()
        yield unpacked
    finally:
        shutil.rmtree(unpacked, ignore_errors=True)


def _put(source: Path, work: Path, told: packing_list.List) -> None:
    """The hall's own files out of a copy; what an export adds for readers stays behind."""
    own = (*copying.PLAIN, copying.LOGBOOK, *copying.SECRET)
    for name in told.files:
        if name in own or name.startswith(("files/", "tls/")):
            to = work / name
            to.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(source / name, to)
            to.chmod((source / name).stat().st_mode & 0o700 or 0o600)
            copying.sync(to)
    packing_list.refuse_all(
        packing_list.wrong("copy/file-changed", f"{name} changed while it was brought back")
        for name, (_, sha256) in told.files.items()
        if (work / name).is_file() and packing_list.sha256_of(work / name) != sha256
    )
    if copying.LOGBOOK in told.files:
        from brinehouse.logbook import copies

        copies.end_sessions(work / copying.LOGBOOK, clock.now())
        if settings.database():
            _into_database(work)


def _into_database(work: Path) -> None:
    from brinehouse.logbook import belonging, copies

    address = settings.database()
    copies.bring_into(work / copying.LOGBOOK, address)
    belonging.adopt(work, work / copying.LOGBOOK, copies.shown(address))
    (work / copying.LOGBOOK).unlink()


def _in_place(work: Path, folder: Path) -> None:
    if folder.exists():
        folder.rmdir()  # it is empty; a program that wrote into it just now is not written over
    work.rename(folder)
    copying.sync(folder.parent)


def _ends(folder: Path, told: packing_list.List, name: str) -> tuple[int, str]:
    """Open what was brought back, see that it ends where the copy did, and write down that it was."""
    if not hall.Hall.has_book(folder):
        return told.head
    with hall.open_hall(folder) as place:
        reached = place.book.verify(told.head if told.head[0] else None)
        packing_list.refuse_all(one for one in reached if one.level is findings.Level.STOP)
        head = place.book.head()
        what = "restored" if told.kind == "copy" else "moved in"
        copying.note(place, what, name, head=f"{told.head[0]}:{told.head[1][:12]}")
    return told.head if head[0] >= told.head[0] else head
