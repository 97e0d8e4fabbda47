"""The writer's lock: one program at a time writes a logbook, and says who it is."""

from __future__ import annotations

import contextlib
import json
import os
import secrets
import sys
import time
from collections.abc import Generator
from dataclasses import asdict, dataclass
from pathlib import Path

from brinehouse.logbook import kept

if sys.platform == "win32":  # pragma: no cover - the other half of the world
    import msvcrt
else:
    import fcntl

NAME = "logbook.lock"
OWNER = "logbook.owner"
TOKEN = "logbook.token"  # noqa: S105 - a file's name
PAUSE = 0.004


@dataclass(frozen=True, slots=True)
class Owner:
    """Who writes the logbook now.

    Attributes
    ----------
    pid : int
        The program's process number (0 where it did not say).
    address, port : str, int
        Where it takes batches from other programs; empty and 0 where it does not.
    token : str
        Proves to it that the asker may read this folder; empty where the file cannot be read.
    """

    pid: int
    address: str = ""
    port: int = 0
    token: str = ""


def _try(descriptor: int, *, shared: bool = False) -> bool:
    """Take the lock if it is free."""
    try:
        if sys.platform == "win32":  # pragma: no cover
            os.lseek(descriptor, 0, os.SEEK_SET)
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(descriptor, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _open(folder: Path) -> int:
    return os.open(folder / NAME, os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0), 0o644)


class Held:
    """The lock, held until `release`."""

    def __init__(self, folder: Path, descriptor: int) -> None:
        self.folder = folder
        self._descriptor: int | None = descriptor
        self._announced = False

    def announce(self, address: str = "", port: int = 0) -> str:
        """Say who holds it and where batches are taken; returns the token that asks for an open door."""
        token = secrets.token_urlsafe(32) if address else ""
        if token:
            _write(self.folder / TOKEN, token, 0o600)
        _write(self.folder / OWNER, json.dumps({"pid": os.getpid(), "address": address, "port": port}), 0o644)
        self._announced = True
        return token

    def release(self) -> None:
        """Let the next writer in."""
        if self._descriptor is None:
            return
        if self._announced:
            for name in (TOKEN, OWNER):
                with contextlib.suppress(OSError):
                    (self.folder / name).unlink()
        os.close(self._descriptor)
        self._descriptor = None


def _write(path: Path, text: str, mode: int) -> None:
    """Write a small file whole, readable only by whom `mode` lets."""
    fresh = path.with_name(f"{path.name}.{os.getpid()}")
    descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, mode)
    try:
        os.write(descriptor, text.encode())
    finally:
        os.close(descriptor)
    fresh.replace(path)


def take(folder: Path, *, wait: float = 5.0) -> Held:
    """Take the writer's lock, waiting at most `wait` seconds; `kept.Busy` names the one who has it."""
    descriptor = _open(folder)
    end = time.monotonic() + wait
    while not _try(descriptor):
        if time.monotonic() >= end:
            os.close(descriptor)
            raise _busy(folder)
        time.sleep(PAUSE)
    return Held(folder, descriptor)


def _busy(folder: Path) -> kept.Busy:
    who = _read(folder)
    name = f"process {who.pid}" if who.pid else "another program"
    door = f" and takes batches at {who.address}:{who.port}" if who.address else ""
    return kept.Busy(
        kept.stop(
            "logbook/being-written",
            f"the logbook in {folder} is being written by {name}{door}",
            "hand the batch to it, or wait until it is done",
            **{name: value for name, value in asdict(who).items() if name != "token"},
        )
    )


def _read(folder: Path) -> Owner:
    """What the holder said about itself."""
    try:
        said = json.loads((folder / OWNER).read_text("utf-8"))
        pid, address, port = int(said["pid"]), str(said["address"]), int(said["port"])
    except (OSError, ValueError, KeyError, TypeError):
        return Owner(pid=0)
    token = ""
    if address:
        with contextlib.suppress(OSError):
            token = (folder / TOKEN).read_text("utf-8")
    return Owner(pid, address, port, token)


def owner(folder: Path | str) -> Owner | None:
    """Who holds the writer's lock now, or None where nobody does."""
    folder = Path(folder)
    if not (folder / NAME).exists():
        return None
    with _probe(folder) as free:
        return None if free else _read(folder)


@contextlib.contextmanager
def _probe(folder: Path) -> Generator[bool]:
    descriptor = _open(folder)
    try:
        yield _try(descriptor, shared=True)
    finally:
        os.close(descriptor)
