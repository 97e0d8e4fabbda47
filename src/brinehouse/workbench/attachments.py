"""Photos and papers that belong to entries: taken in, kept under the hash of what is kept, and given out.

A file is on the disk before the logbook says that it is there. It is looked at again each time it is asked
for: one that is no longer what was kept is never shown as if it were.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import secrets
import shutil
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from brinehouse import findings, records
from brinehouse.workbench import clock, hall, mishaps, pictures

FOLDER = "files"
FULL = 0.95
"""A disk as full as this takes no more photos: what is left of it is for readings."""

_SHA = frozenset("0123456789abcdef")
_LONGEST_NAME = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A file as it is kept.

    Attributes
    ----------
    id : str
        The fact that says so.
    sha256 : str
        Of what is kept, which for a picture is not what was sent.
    name, type : str
        A clean name, and what the file is by its content.
    size, width, height : int
        Bytes; points of a picture, 0 for the rest.
    """

    id: str
    sha256: str
    name: str
    type: str
    size: int
    width: int = 0
    height: int = 0
    about: str = ""
    measured: datetime | None = None
    findings: Sequence[findings.Finding] = ()

    @property
    def shown(self) -> bool:
        """Whether a page may show it: only a picture that was made anew here."""
        return self.type in (pictures.JPEG, pictures.PNG)


def keep(
    place: hall.Hall,
    content: bytes,
    name: str,
    *,
    about: str = "",
    person: int | None,
    id: str = "",
    measured: datetime | None = None,
) -> Kept:
    """Take in a photo or a paper, and write down that it is there.

    Parameters
    ----------
    place : Hall
    content : bytes
        As it was sent.
    name : str
        As it was sent; only its words are kept.
    about : str
        The id of the entry it belongs to.
    person : int or None
    id : str
        Of the fact, where it was made elsewhere; the same id again changes nothing.
    measured : datetime, optional
        When it was taken; now where it is not known.

    Raises
    ------
    mishaps.Refused
        Where it is not taken; the finding says why and what would be.
    """
    told = _told(content)
    _room(place.folder)
    picture = None if told == pictures.PDF else pictures.make_anew(content, told)
    kept, kind = (content, told) if picture is None else (picture.content, picture.type)
    sha256 = hashlib.sha256(kept).hexdigest()
    fact_id = id or hashlib.sha256(f"file {sha256} {about}".encode()).hexdigest()[:32]
    made = Kept(
        id=fact_id,
        sha256=sha256,
        name=clean_name(name, pictures.ENDINGS[kind]),
        type=kind,
        size=len(kept),
        width=picture.width if picture else 0,
        height=picture.height if picture else 0,
        about=about,
        findings=picture.findings if picture else (_download_only(),),
    )
    store(place.folder, sha256, kept)
    if not _is_there(place, made):
        _write(place, made, person, measured)
    return made


def _told(content: bytes) -> str:
    """What it is, or why it is not taken."""
    if len(content) > pictures.LARGEST:
        raise pictures.stop(
            "attachment/too-large",
            f"The file has {len(content) / 1e6:.0f} MB; at most {pictures.LARGEST / 1e6:.0f} MB are taken",
            "send a smaller picture, or the pages that matter",
        )
    told = pictures.type_of(content)
    if told in (pictures.JPEG, pictures.PNG, pictures.WEBP, pictures.HEIC, pictures.PDF):
        return told
    if told == "image/svg+xml":
        raise pictures.stop(
            "attachment/drawing",
            "SVG is not accepted for photos: it can hold a script",
            "send it as PNG or PDF",
        )
    if told == "text/html":
        raise pictures.stop(
            "attachment/web-page", "Not a picture: this is a web page, whatever its name says", "send a photo"
        )
    raise pictures.stop(
        "attachment/unknown-kind",
        "Not a picture: the file is none of JPEG, PNG, WebP and PDF" if content else "The file is empty",
        "photos as JPEG, PNG or WebP; papers as PDF",
    )


def _room(folder: Path) -> None:
    usage = shutil.disk_usage(folder)
    if usage.total and usage.free / usage.total <= 1.0 - FULL:
        raise pictures.stop(
            "attachment/disk-full",
            f"The disk is {100 * (1 - usage.free / usage.total):.0f} % full: "
            "photos wait, what is left is for readings",
            "make room on the hall's disk, then send the photo again",
        )


def _download_only() -> findings.Finding:
    return findings.Finding(
        code="attachment/download-only",
        level=findings.Level.NOTE,
        text="The PDF is kept as it came and given out as a download only: it can hold a script",
    )


def clean_name(name: str, ending: str) -> str:
    """A name that is only a name: no folders, no signs that cannot be seen, its ending from what it is.

    >>> clean_name("../../etc/pass" + chr(0x202E) + "wd.svg", "jpg"), clean_name("", "pdf")
    ('passwd.jpg', 'file.pdf')
    """
    last = unicodedata.normalize("NFC", name).replace("\\", "/").rpartition("/")[2]
    seen = "".join(one for one in last if unicodedata.category(one)[0] != "C" and one not in '"<>|:*?')
    stem = seen.rpartition(".")[0] if "." in seen else seen
    return f"{' '.join(stem.split()).strip('. ')[:_LONGEST_NAME] or 'file'}.{ending}"


def path_of(folder: Path, sha256: str) -> Path:
    """Where a file lies; refused for what is no hash."""
    if len(sha256) != 64 or not set(sha256) <= _SHA:
        raise _unknown()
    return folder / FOLDER / sha256[:2] / sha256


def store(folder: Path, sha256: str, content: bytes) -> None:
    """Have it on the disk under its hash; returns when the disk has it; puts a damaged one right."""
    path = path_of(folder, sha256)
    with contextlib.suppress(OSError):
        if hashlib.sha256(path.read_bytes()).hexdigest() == sha256:
            return
    new = not path.parent.parent.is_dir()
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = folder / FOLDER / f".{sha256[:16]}-{secrets.token_hex(4)}"
    try:
        with fresh.open("wb") as page:
            page.write(content)
            page.flush()
            os.fsync(page.fileno())
        fresh.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            fresh.unlink()
        raise
    for one in (path.parent, path.parent.parent, *((folder,) if new else ())):
        _sync_folder(one)


def _sync_folder(folder: Path) -> None:
    if os.name != "posix":  # pragma: no cover - elsewhere a folder cannot be synced
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _is_there(place: hall.Hall, made: Kept) -> bool:
    """Whether the logbook says so already, under this id."""
    if not hall.Hall.has_book(place.folder):
        return False
    found = place.book.get(made.id)
    return (
        isinstance(found, records.Fact)
        and found.kind == "file"
        and (found.details.get("sha256"), found.details.get("about", "")) == (made.sha256, made.about)
    )


def _write(place: hall.Hall, made: Kept, person: int | None, measured: datetime | None) -> None:
    now = clock.now()
    belongs = place.book.get(made.about) if made.about and hall.Hall.has_book(place.folder) else None
    details = {"sha256": made.sha256, "name": made.name, "type": made.type, "size": made.size}
    if made.width:
        details |= {"width": made.width, "height": made.height}
    fact = records.Fact(
        id=made.id,
        kind="file",
        measured=measured or now,
        entered=now,
        place=belongs.place if belongs is not None else "",
        details=details | ({"about": made.about} if made.about else {}),
        person=person,
    )
    place.write([fact], person=person)


def _unknown() -> mishaps.Refused:
    return pictures.stop("attachment/unknown", "There is no such file here", "open it from its entry")


def read(folder: Path, sha256: str) -> bytes:
    """A kept file, its hash looked at; refused where it is damaged or gone."""
    path = path_of(folder, sha256)
    try:
        content = path.read_bytes()
    except FileNotFoundError as fault:
        raise _unknown() from fault
    if hashlib.sha256(content).hexdigest() != sha256:
        raise pictures.stop(
            "attachment/damaged",
            f"The file {sha256[:12]} is damaged: it is not what was kept, and is not shown",
            "bring it back from a copy, or send the photo again",
        )
    return content


def name_of(place: hall.Hall, sha256: str) -> str:
    """The name a file was kept under; empty where the logbook does not know it."""
    known = kept_of(place, [sha256])
    return known[-1].name if known else ""


def kept_of(place: hall.Hall, ids: Iterable[str]) -> list[Kept]:
    """The files that belong to entries, by the ids of any of their versions; or by their own hash."""
    from brinehouse.logbook import attached

    wanted = list(ids)
    if not hall.Hall.has_book(place.folder):
        return []
    return [_kept(fact) for fact in place.book.house(lambda connection: attached.of(connection, wanted))]


def _kept(fact: records.Fact) -> Kept:
    told = fact.details
    return Kept(
        id=fact.id,
        sha256=str(told.get("sha256", "")),
        name=str(told.get("name", "")),
        type=str(told.get("type", "")),
        size=int(told.get("size", 0)),
        width=int(told.get("width", 0)),
        height=int(told.get("height", 0)),
        about=str(told.get("about", "")),
        measured=fact.measured,
    )


def look_over(place: hall.Hall) -> list[findings.Finding]:
    """Every file the logbook speaks of, against what is on the disk."""
    from brinehouse.logbook import attached

    if not hall.Hall.has_book(place.folder):
        return []
    found: list[findings.Finding] = []
    for sha256, name in place.book.house(attached.every).items():
        try:
            read(place.folder, sha256)
        except mishaps.Refused as refusal:
            gone = refusal.findings[0].code == "attachment/unknown"
            found.append(_lost(sha256, name) if gone else refusal.findings[0])
    return found


def _lost(sha256: str, name: str) -> findings.Finding:
    return findings.Finding(
        code="attachment/lost",
        level=findings.Level.ACT,
        text=f"The file {name} ({sha256[:12]}) belongs to an entry and is not there",
        hint="bring it back from a copy, or send the photo again",
    )
