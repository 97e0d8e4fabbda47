"""The facility file on disk: read with its form, and put back whole or not at all.

Somebody may have it open in a text editor. What is written goes to a new file beside it first, is on the disk
before it takes the old one's place, and takes it only if the old one is still the text it was made from.
"""

from __future__ import annotations

import contextlib
import ctypes
import hashlib
import os
import secrets
import stat
import sys
import time
from collections.abc import Generator
from dataclasses import dataclass
from pathlib import Path

from brinehouse import findings
from brinehouse.workbench import mishaps

if sys.platform == "win32":  # pragma: no cover - the other half of the world
    import msvcrt
else:
    import fcntl

LOCK = "facility.lock"
PAUSE = 0.01
_HERE, _EXCHANGE = -100, 2  # of renameat2: names as they stand, and both at once
_MARK = "\ufeff"


class Moved(Exception):  # noqa: N818 - not an error of the program
    """The file is not the one the change was made from; nothing was written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Filed:
    """A text file as it is: `text` with plain line ends, and what else its form needs.

    Attributes
    ----------
    digest : str
        SHA-256 of its bytes: what a form that was made from it carries.
    kept : str
        As the logbook keeps it.
    """

    text: str
    digest: str
    kept: str
    returns: bool = False
    mark: bool = False

    def bytes_of(self, text: str) -> bytes:
        """Another text in the same form."""
        ended = text.replace("\n", "\r\n") if self.returns else text
        return ((_MARK if self.mark else "") + ended).encode("utf-8")


def read(path: Path) -> Filed:
    """The file as it is now; refused where it is not UTF-8."""
    content = path.read_bytes()
    try:
        whole = content.decode("utf-8")
    except UnicodeDecodeError:
        said = f"{path.name} is not UTF-8; nothing is written into it"
        raise mishaps.Refused(_stop("plant/not-text", said, "save it as UTF-8 in the editor")) from None
    kept = whole.replace("\r\n", "\n")
    return Filed(
        text=kept.removeprefix(_MARK),
        digest=hashlib.sha256(content).hexdigest(),
        kept=kept,
        returns="\r\n" in whole,
        mark=whole.startswith(_MARK),
    )


@contextlib.contextmanager
def held(folder: Path, wait: float = 5.0) -> Generator[None]:
    """One form at a time writes the file of a folder; refused where another does so for `wait` [s]."""
    descriptor = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0), 0o644)
    try:
        end = time.monotonic() + wait
        while not _lock(descriptor):
            if time.monotonic() >= end:
                said = "the facility file is being written by somebody else"
                raise mishaps.Refused(_stop("plant/being-written", said, "try again in a moment"))
            time.sleep(PAUSE)
        yield
    finally:
        os.close(descriptor)


def _lock(descriptor: int) -> bool:
    try:
        if sys.platform == "win32":  # pragma: no cover
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def replace(path: Path, content: bytes, digest: str) -> str:
    """Put new content in a file's place if the file still has this digest; the digest it then has.

    Raises
    ------
    Moved
        It is another file by now; it was left as it is.
    """
    target = path.resolve()  # a link stays one
    fresh = target.with_name(f".{target.name}.{secrets.token_hex(8)}")
    mode = stat.S_IMODE(target.stat().st_mode)
    descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        try:
            _write(descriptor, content)
            os.fchmod(descriptor, mode)
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
        if _digest(target) != digest:
            raise Moved
        _put(fresh, target, digest)
    finally:
        fresh.unlink(missing_ok=True)
    _sync(target.parent)
    return hashlib.sha256(content).hexdigest()


def _write(descriptor: int, content: bytes) -> None:
    left = memoryview(content)
    while left:
        left = left[os.write(descriptor, left) :]


def _put(fresh: Path, target: Path, digest: str) -> None:
    """The new file in the old one's place.

    Where both can change places at once, the old one is looked at again: what somebody saved in the last
    moment is put back, not lost.
    """
    if not _swap(fresh, target):
        fresh.replace(target)
        return
    if _digest(fresh) != digest:
        _swap(fresh, target)
        raise Moved


def _swap(one: Path, other: Path) -> bool:
    """Let two files change places in one step, where the system can."""
    if not sys.platform.startswith("linux"):
        return False
    exchange = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if exchange is None:
        return False
    return exchange(_HERE, os.fsencode(one), _HERE, os.fsencode(other), _EXCHANGE) == 0


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _sync(folder: Path) -> None:
    with contextlib.suppress(OSError):  # not every system syncs a folder
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _stop(code: str, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint)
