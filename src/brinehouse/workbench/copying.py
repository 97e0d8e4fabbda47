"""Copies of the whole hall: made while it is written, tried before they count, old ones let go.

A copy is a folder (or one .tar) that holds the facility file, the logbook of one moment, the photos and
papers, and a list with the hash of each file. It is called a copy only after it was opened again, its chain
walked and each file compared with the list.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import tarfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from brinehouse import _version, findings, records
from brinehouse.facility import copies as asked_for
from brinehouse.workbench import attachments, clock, hall, mishaps, packing_list, settings, unpacking

LOGBOOK = "logbook.sqlite"
PLAIN = (hall.FACILITY_FILE, "demo.txt")
SECRET = ("house.key", "tls")
"""What opens doors: copied only where that is asked for."""

UNFINISHED = ".unfinished-"
_STAMP = "%Y%m%dT%H%M%SZ"


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """A copy that was made and tried.

    Attributes
    ----------
    path : Path
        The folder, or the .tar.
    list : List
        What it holds.
    sha256 : str
        Of the list.
    findings : sequence of Finding
        What a person should know of it; a copy with damaged photos is still a copy of all else.
    removed : sequence of str
        Older copies that were let go.
    seconds : float
        How long making and trying it took.
    """

    path: Path
    list: packing_list.List
    sha256: str = ""
    findings: Sequence[findings.Finding] = ()
    removed: Sequence[str] = ()
    seconds: float = 0.0


def place_for(folder: Path, asked: asked_for.Copies) -> Path:
    """Where the copies of a hall go, as its file says."""
    return folder / Path(asked.to).expanduser()


def make(place: hall.Hall, to: Path, asked: asked_for.Copies | None = None) -> Copy:
    """Make a copy, try it, write down that it was made, and let old ones go.

    Parameters
    ----------
    place : Hall
        May be written meanwhile, by this program or by another.
    to : Path
        The folder for copies; made where its own folder is there.
    asked : Copies, optional
        What of it stays, and in which form.

    Raises
    ------
    mishaps.Refused
        Where there is no room, no such place, or the copy did not pass when it was tried: none is left then.
    """
    begun = clock.now()
    wants = asked or asked_for.Copies(to=str(to))
    try:
        _ready(place.folder, to)
    except OSError as fault:
        raise _no_copy(fault) from fault
    name = _name(place, begun, to)
    work = to / f"{UNFINISHED}{name}"
    try:
        work.mkdir()
        told, lost = _fill(place, work, to, wants, begun)
        sha256 = packing_list.write(work, told)
        packing_list.refuse_all(tried(work, told))
        path = _as_tar(work, to / f"{name}.tar") if wants.one_file else _as_folder(work, to / name)
    except OSError as fault:
        raise _no_copy(fault) from fault
    finally:
        shutil.rmtree(work, ignore_errors=True)
    note(place, "made", path.name, sha256=sha256, size=told.size, head=f"{told.head[0]}:{told.head[1][:12]}")
    removed = let_go(to, told.begins, wants)
    seconds = (clock.now() - begun).total_seconds()
    return Copy(path=path, list=told, sha256=sha256, findings=lost, removed=removed, seconds=seconds)


def _ready(folder: Path, to: Path) -> None:
    """There is a place, outside the hall's folder, with room."""
    if not to.is_dir():
        if not to.parent.is_dir():
            raise unpacking.refuse(
                "copy/not-there",
                f"The place for copies is not there: neither {to.name} nor the folder it would lie in",
                "see that the disk for copies is connected, or make the folder",
            )
        to.mkdir()
    inside = to.resolve()
    if inside == folder.resolve() or folder.resolve() in inside.parents:
        raise unpacking.refuse(
            "copy/inside",
            "The copies would lie inside the hall's own folder, and be lost with it",
            "name a folder on another disk",
        )
    for left in to.glob(f"{UNFINISHED}*"):
        if clock.now().timestamp() - left.stat().st_mtime > 86_400:  # of a copy that was cut short
            shutil.rmtree(left, ignore_errors=True)
    needed, free = _size(folder), shutil.disk_usage(to).free
    if needed > free:
        raise unpacking.refuse(
            "copy/no-room",
            f"A copy needs up to {needed / 1e6:.0f} MB, and {free / 1e6:.0f} MB are free where copies go",
            "make room there, or keep fewer copies",
        )


def _size(folder: Path) -> int:
    logbook = folder / LOGBOOK
    return (2 * logbook.stat().st_size if logbook.exists() else 0) + 1_000_000


def _name(place: hall.Hall, at: datetime, to: Path) -> str:
    words = re.sub(r"[^a-z0-9]+", "-", place.facility.name.lower()).strip("-")[:40] or "hall"
    name = f"{words}-{at.astimezone(UTC).strftime(_STAMP)}"
    taken = {one.name.removesuffix(".tar") for one in to.iterdir()}
    return next(one for one in (name, *(f"{name}-{count}" for count in range(2, 1000))) if one not in taken)


def _fill(
    place: hall.Hall, work: Path, to: Path, wants: asked_for.Copies, at: datetime
) -> tuple[packing_list.List, list[findings.Finding]]:
    """Write all of a copy; the logbook first: a photo is on the disk before the logbook speaks of it."""
    if hall.Hall.has_book(place.folder):
        head = place.book.copy(work / LOGBOOK)
        begins = place.book.begins()
        wanted = place.book.files_kept()
    else:
        head, begins, wanted = (0, "0" * 64), "", {}
    for name in (*PLAIN, *(SECRET if wants.keys else ())):
        _plain(place.folder / name, work / name)
    before = newest_folder(to, begins)
    lost = [found for sha in wanted if (found := _photo(place.folder, work, before, sha, wanted[sha]))]
    return (
        packing_list.List(
            kind="copy",
            hall=place.facility.name,
            made=at,
            version=_version.__version__,
            begins=begins,
            head=head,
            kept_in="postgresql" if settings.database() else "file",
            files=packing_list.listed(work),
        ),
        lost,
    )


def _plain(source: Path, to: Path) -> None:
    if source.is_dir():
        for path in sorted(one for one in source.rglob("*") if one.is_file() and not one.is_symlink()):
            _plain(path, to / path.relative_to(source))
    elif source.is_file():
        to.parent.mkdir(parents=True, exist_ok=True)
        to.write_bytes(source.read_bytes())
        to.chmod(source.stat().st_mode & 0o700)
        sync(to)


def _photo(folder: Path, work: Path, before: Path | None, sha256: str, name: str) -> findings.Finding | None:
    """One kept file: shared with the copy before where that has it whole, else copied."""
    path = attachments.path_of(work, sha256)
    path.parent.mkdir(parents=True, exist_ok=True)
    if before is not None:
        shared = attachments.path_of(before, sha256)
        with contextlib.suppress(OSError):
            if packing_list.sha256_of(shared) == sha256:
                os.link(shared, path)
                return None
    try:
        path.write_bytes(attachments.read(folder, sha256))
    except mishaps.Refused as refusal:
        return findings.Finding(
            code="copy/damaged-file",
            level=findings.Level.ACT,
            text=f"{name} ({sha256[:12]}) is not in the copy: {refusal.findings[0].text}",
            hint="bring it back from an older copy, or send the photo again",
        )
    sync(path)
    return None


def sync(path: Path) -> None:
    """Have a file or folder on the disk."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _as_folder(work: Path, path: Path) -> Path:
    work.rename(path)
    sync(path.parent)
    return path


def _as_tar(work: Path, path: Path) -> Path:
    """All of it as one file, read again before it gets its name."""
    fresh = path.with_name(f"{UNFINISHED}{path.name}")
    try:
        with tarfile.open(fresh, "w:") as page:
            for one in sorted(work.rglob("*")):
                if one.is_file():
                    page.add(one, one.relative_to(work).as_posix())
        sync(fresh)
        packing_list.refuse_all(_tar_holds(fresh, packing_list.read(work)))
        fresh.replace(path)
    finally:
        fresh.unlink(missing_ok=True)
    sync(path.parent)
    return path


def _tar_holds(path: Path, told: packing_list.List) -> Iterator[findings.Finding]:
    import hashlib

    with tarfile.open(path, "r:") as page:
        for name, (size, sha256) in told.files.items():
            source = page.extractfile(name)
            digest = hashlib.sha256()
            while source and (block := source.read(packing_list.BLOCK)):
                digest.update(block)
            if digest.hexdigest() != sha256:
                yield packing_list.wrong(
                    "copy/file-changed", f"{name} ({size} bytes) is not as it was copied"
                )


def tried(folder: Path, told: packing_list.List) -> list[findings.Finding]:
    """Open a copy as if it were needed: every hash, the chain, and where it ends."""
    from brinehouse.logbook import copies

    found = packing_list.compare(folder, told)
    if not found and LOGBOOK in told.files:
        found = copies.examine(folder / LOGBOOK, told.head)
    return found


def note(place: hall.Hall, what: str, where: str, **details: object) -> None:
    """Write down that a copy was made, tried or brought back, or why none was made."""
    if not hall.Hall.has_book(place.folder):
        return
    now = clock.now()
    fact = records.Fact(
        id=hall.new_id(),
        kind="backup",
        measured=now,
        entered=now,
        details={"what": what, "where": where, **details},
    )
    place.write([fact])


def _no_copy(fault: OSError) -> mishaps.Refused:
    return unpacking.refuse(
        "copy/failed",
        f"No copy could be made: {(fault.strerror or type(fault).__name__).lower()}",
        "see that the disk for copies is there, not full, and may be written to",
    )


# What is there, and what of it stays ------------------------------------------------------------------


def all_in(to: Path, begins: str = "") -> list[Copy]:
    """The copies in a folder, newest first; of one hall alone where the hash of its first entry is given."""
    found: list[Copy] = []
    for path in to.iterdir() if to.is_dir() else ():
        if path.name.startswith("."):
            continue
        with contextlib.suppress(mishaps.Refused, OSError):
            told = list_of(path)
            if told.kind == "copy" and begins in ("", told.begins):
                found.append(Copy(path=path, list=told))
    return sorted(found, key=lambda one: (one.list.made, one.path.name), reverse=True)


def list_of(path: Path) -> packing_list.List:
    """The list of a copy, in its folder or its .tar."""
    import json

    if path.is_dir():
        return packing_list.read(path)
    try:
        with tarfile.open(path, "r:") as page:
            source = page.extractfile(packing_list.NAME)
            return packing_list.understood(json.loads(source.read() if source else b""))
    except (tarfile.TarError, KeyError, ValueError, TypeError, AttributeError) as fault:
        raise unpacking.refuse("copy/no-list", f"{path.name} is no copy of a hall", "name a copy") from fault


def newest_folder(to: Path, begins: str) -> Path | None:
    """The newest copy that is a folder, from which unchanged photos are shared."""
    return next((one.path for one in all_in(to, begins) if begins and one.path.is_dir()), None)


def staying(made: Iterable[datetime], wants: asked_for.Copies) -> set[datetime]:
    """Which of some copies stay: the newest, and the last of so many days and weeks.

    >>> from datetime import UTC
    >>> times = [datetime(2026, 3, day, hour, tzinfo=UTC) for day in (2, 9, 10) for hour in (1, 13)]
    >>> wants = asked_for.Copies(to="x", newest=1, daily=2, weekly=2)
    >>> sorted((one.day, one.hour) for one in staying(times, wants))
    [(2, 13), (9, 13), (10, 13)]
    """
    ordered = sorted(set(made), reverse=True)
    days: dict[object, datetime] = {}
    weeks: dict[object, datetime] = {}
    for one in ordered:
        days.setdefault(one.date(), one)
        weeks.setdefault(one.isocalendar()[:2], one)
    return {
        *ordered[: max(wants.newest, 1)],
        *list(days.values())[: wants.daily],
        *list(weeks.values())[: wants.weekly],
    }


def let_go(to: Path, begins: str, wants: asked_for.Copies) -> list[str]:
    """Remove copies of this hall that are not to stay; their names."""
    if not begins:
        return []
    there = all_in(to, begins)
    stay = staying((one.list.made for one in there), wants)
    removed: list[str] = []
    for one in there:
        if one.list.made in stay:
            continue
        with contextlib.suppress(OSError):
            if one.path.is_dir():
                gone = one.path.with_name(f"{UNFINISHED}{one.path.name}")
                one.path.rename(gone)  # what is half removed is no copy any more
                shutil.rmtree(gone)
            else:
                one.path.unlink()
            removed.append(one.path.name)
    return removed


def age(made: datetime) -> timedelta:
    """How old a copy is."""
    return clock.now() - made
