"""Archives that hold a copy of a hall: looked through whole before a single file of them is written."""

from __future__ import annotations

import shutil
import stat
import tarfile
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO

from brinehouse import findings
from brinehouse.workbench import mishaps

MOST_FILES = 2_000_000
SHOWN = 5
BLOCK = 1 << 20
_DRIVE = 2  # "C:" stands before a colon at this place


@dataclass(frozen=True, slots=True)
class _Piece:
    name: str
    size: int
    plain: bool
    """A file or a folder, and not a link or a device."""
    folder: bool


def refuse(code: str, text: str, hint: str) -> mishaps.Refused:
    """A refusal in one sentence and a way out."""
    return mishaps.Refused(findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint))


def unpack(archive: Path, into: Path) -> None:
    """Write every file of a .tar or .zip below a folder; nothing at all where one of them lies elsewhere.

    Raises
    ------
    mishaps.Refused
        Where it is no archive, has paths that climb out, links or devices, or more than there is room for.
    """
    try:
        if zipfile.is_zipfile(archive):
            with zipfile.ZipFile(archive) as opened:
                infos = {one.filename: one for one in opened.infolist()}
                _look(_of_zip(opened.infolist()), into)
                for name, info in infos.items():
                    if not info.is_dir():
                        with opened.open(info) as source:
                            _write(source, into / name, info.file_size)
            return
        with tarfile.open(archive, "r:") as opened_tar:
            _look(_of_tar(opened_tar.getmembers()), into)
            for member in opened_tar.getmembers():
                source = opened_tar.extractfile(member) if member.isfile() else None
                if source is not None:
                    _write(source, into / member.name, member.size)
    except (zipfile.BadZipFile, tarfile.TarError, EOFError, NotImplementedError, RuntimeError) as fault:
        raise refuse(
            "copy/no-archive",
            f"{archive.name} cannot be read as a .tar or .zip to its end",
            "name the copy's folder, its .tar or its .zip",
        ) from fault


def _of_zip(infos: Sequence[zipfile.ZipInfo]) -> Iterator[_Piece]:
    for info in infos:
        kind = stat.S_IFMT(info.external_attr >> 16)
        plain = kind in (0, stat.S_IFREG, stat.S_IFDIR)
        yield _Piece(info.orig_filename, info.file_size, plain, info.is_dir())


def _of_tar(members: Sequence[tarfile.TarInfo]) -> Iterator[_Piece]:
    for member in members:
        yield _Piece(member.name, member.size, member.isfile() or member.isdir(), member.isdir())


def _look(pieces: Iterator[_Piece], into: Path) -> None:
    """Refuse an archive for the first thing about it that is not as it should be."""
    found = list(pieces)
    outside = [one.name for one in found if not one.plain or not is_inside(one.name)]
    if outside:
        shown = ", ".join(ascii(name) for name in outside[:SHOWN])
        more = f" and {len(outside) - SHOWN} more" if len(outside) > SHOWN else ""
        raise refuse(
            "copy/climbs-out",
            f"The archive has entries outside its own folder, or links: {shown}{more}; nothing was unpacked",
            "use a copy that Brinehouse made",
        )
    names = [PurePosixPath(one.name).as_posix() for one in found if not one.folder]
    if len(names) != len(set(names)) or len(found) > MOST_FILES:
        raise refuse(
            "copy/no-archive",
            "The archive holds one name twice, or too many",
            "use a copy that Brinehouse made",
        )
    total, free = sum(one.size for one in found), shutil.disk_usage(into).free
    if total > 0.9 * free:
        raise refuse(
            "copy/no-room",
            f"The archive unpacks to {total / 1e6:.0f} MB, and {free / 1e6:.0f} MB are free",
            "make room, or unpack it on a larger disk",
        )


def is_inside(name: str) -> bool:
    """Whether a path stays below the folder it is unpacked into, on every system.

    >>> [is_inside(name) for name in ("files/ab/cd", "../x", "/etc/x", "a/../../x", "C:/x")]
    [True, False, False, False, False]
    """
    parts = name.split("/")
    return (
        bool(name.strip("/"))
        and not name.startswith("/")
        and ".." not in parts
        and "\\" not in name
        and "\0" not in name
        and name[1:_DRIVE] != ":"
    )


def _write(source: IO[bytes], to: Path, size: int) -> None:
    """Write one file, and no more of it than the archive said beforehand."""
    to.parent.mkdir(parents=True, exist_ok=True)
    left = size
    with to.open("xb") as page:
        while left > 0 and (block := source.read(min(BLOCK, left))):
            page.write(block)
            left -= len(block)
