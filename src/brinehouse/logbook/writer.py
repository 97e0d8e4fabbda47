"""The one thread that writes: batches that wait share a commit, and nobody hears "saved" before it."""

from __future__ import annotations

import contextlib
import queue
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import sqlalchemy as sa
from sqlalchemy import exc

from brinehouse.logbook import arrival, database, kept, lock, remote
from brinehouse.logbook import chain as chains

T = TypeVar("T")

GROUP = 500
LINGER = 0.02
ASK = 3.0
PAUSE = 0.05


Told = list[tuple["Job", Any, BaseException | None]]


@dataclass(frozen=True, slots=True)
class Job:
    """A batch that waits: what to do with the chain, and whom to tell."""

    work: Callable[[chains.Chain], Any]
    future: Future[Any]


class Writer:
    """Takes jobs from any thread, commits them in groups.

    Parameters
    ----------
    engine : Engine
        From `database.writing_engine`.
    folder : Path or None
        Where the writer's lock is; None for a database without a folder.
    wait : float
        How long to wait for another program that writes. [s]
    where : str
        The database, as it may be shown; empty for a file. A database has a lock of its own as well.
    """

    def __init__(self, engine: sa.Engine, folder: Path | None, *, wait: float = 5.0, where: str = "") -> None:
        self._engine = engine
        self._folder = folder
        self._wait = wait
        self._where = where
        self._last: chains.Head | None = None
        self._asked: tuple[Told, chains.Head] | None = None
        self._jobs: queue.Queue[Job | None] = queue.Queue()
        self._start = threading.Lock()
        self._thread: threading.Thread | None = None
        self._keep = False
        self._held: lock.Held | None = None
        self._connection: sa.Connection | None = None
        self._doubt: set[chains.Head] | None = None
        self._closed = False
        self._settled = False
        self._wrote = False
        self._noted = False

    def submit(self, work: Callable[[chains.Chain], T]) -> Future[T]:
        """Queue a job; the future resolves after its commit."""
        future: Future[T] = Future()
        with self._start:
            if self._closed:
                raise RuntimeError("the logbook is closed")
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="logbook-writer", daemon=True)
                self._thread.start()
            self._jobs.put(Job(work, future))
        return future

    def hold(self, address: str = "", port: int = 0) -> str:
        """Take the writer's lock and keep it until `close`; the token is for those who hand over."""
        self._keep = True
        try:
            self.submit(_nothing).result()
        except kept.Refused:
            self._keep = False
            raise
        try:
            return self._held.announce(address, port) if self._held else ""
        except OSError as error:
            raise kept.Refused(database.unreadable(error, str(self._folder))) from error

    @property
    def alone(self) -> bool:
        """Whether nothing can change but through this writer: it keeps the lock of a file."""
        return self._keep and self._held is not None and not self._where and not self._closed

    @property
    def last(self) -> chains.Head | None:
        """Where the chain ends, as far as that is known without looking."""
        return self._last if self.alone and self._doubt is None else None

    def close(self) -> None:
        """Finish what waits, close the connection, let go of the lock."""
        with self._start:
            self._closed = True
            if self._thread is not None:
                self._jobs.put(None)
        if self._thread is not None:
            self._thread.join()
        self._engine.dispose()

    # The thread ------------------------------------------------------------------------------------------

    def _run(self) -> None:
        open_door = True
        while open_door:
            first = self._next(None)
            if first is None:
                break
            open_door = self._session(first)
        if self._wrote:
            with contextlib.suppress(Exception):
                self._ready()
        self._let_go()

    def _next(self, timeout: float | None) -> Job | None:
        return self._jobs.get(timeout=timeout)

    def _session(self, first: Job) -> bool:
        """Take the lock, write groups until nothing waits, let go; False when told to end."""
        job: Job | None = first
        while job is not None:
            group, ended = self._gather(job)
            self._write(group)
            if ended:
                return False
            if self._keep:
                return True
            try:
                job = self._next(LINGER)
            except queue.Empty:
                self._let_go()
                return True
        return False

    def _gather(self, first: Job) -> tuple[list[Job], bool]:
        """Everything that waits, up to `GROUP` jobs."""
        group = [first]
        while len(group) < GROUP:
            try:
                job = self._jobs.get_nowait()
            except queue.Empty:
                break
            if job is None:
                return group, True
            group.append(job)
        return group, False

    def _write(self, group: list[Job]) -> None:
        """One transaction for the whole group."""
        try:
            told = self._commit(group)
        except kept.Refused as refusal:
            told = [(job, None, refusal) for job in group]
        except (exc.DBAPIError, exc.InvalidRequestError, OSError) as error:
            self._drop()
            told = self._ask_again() if self._where else None
            told = told or [(job, None, self._refusal(error)) for job in group]
        except BaseException as error:  # noqa: BLE001 - whoever waits must hear of it
            self._drop()
            told = [(job, None, error) for job in group]
        for job, result, error in told:
            if error is None:
                job.future.set_result(result)
            else:
                job.future.set_exception(error)

    def _ask_again(self) -> Told | None:
        """What a commit did whose answer was lost with its connection; None where it did not happen.

        A database may have committed and gone before it could say so. COMMIT is never sent again: the
        chain is asked, under the lock, whether it ends where this group left it.
        """
        asked, self._asked = self._asked, None
        if asked is None:
            return None
        end = time.monotonic() + ASK
        while True:
            try:
                connection = self._ready()
                with connection.begin():
                    there = chains.holds(connection, asked[1])
            except (exc.DBAPIError, exc.InvalidRequestError, kept.Refused):
                self._drop()
                if time.monotonic() >= end:
                    return [(job, None, error or _unconfirmed(self._where)) for job, _, error in asked[0]]
                time.sleep(PAUSE)
                continue
            self._last = asked[1] if there else self._last
            return asked[0] if there else None

    def _refusal(self, error: BaseException) -> kept.NotSaved:
        return _database_gone(error, self._where) if self._where else _not_saved(error)

    def _commit(self, group: list[Job]) -> Told:
        connection = self._ready()
        told: Told = []
        with connection.begin():
            chain = chains.Chain(connection)
            before = (chain.seq, chain.hash)
            for job in group:
                mark = (chain.seq, chain.hash)
                try:
                    with connection.begin_nested():
                        result = job.work(chain)
                    told.append((job, result, None))
                except (exc.OperationalError, exc.InvalidRequestError, exc.ResourceClosedError):
                    raise  # the disk, not the batch: nothing of this group is known to be kept
                except Exception as error:  # noqa: BLE001 - the batch's own fault: the others go on
                    chain.seq, chain.hash = mark
                    chain.people = None
                    told.append((job, None, error))
            after = (chain.seq, chain.hash)
            self._doubt, self._asked = {before, after}, (told, after)
        self._doubt = self._asked = None
        self._last = after
        self._wrote = True
        if self._keep and not self._noted and self._folder is not None and not self._where:
            arrival.settle(self._folder, writing=True)
            self._noted = True
        return told

    def _ready(self) -> sa.Connection:
        """The writing connection, under the lock; after a failed write only once the store is whole."""
        if self._folder is not None and self._held is None:
            self._held = lock.take(self._folder, wait=self._wait)
        if self._connection is None:
            in_file = self._folder is not None and not self._where
            if in_file and self._folder is not None and (self._doubt is not None or not self._settled):
                database.rewrite_log(self._folder)
            connection = self._engine.connect()
            try:
                if self._where:
                    remote.take(connection, wait=self._wait, where=self._where)
                    _reaches(connection, self._last)
                elif self._doubt is not None:
                    _settle(connection, self._doubt)
            except BaseException:
                connection.invalidate()
                connection.close()
                raise
            self._doubt, self._settled = None, True
            self._connection = connection
        return self._connection

    def _drop(self) -> None:
        """Close a connection whose last write failed: its handle is not asked to commit again."""
        if self._doubt is None:
            self._doubt = set()
        connection, self._connection = self._connection, None
        if connection is not None:
            with contextlib.suppress(exc.SQLAlchemyError):
                connection.invalidate()
            with contextlib.suppress(exc.SQLAlchemyError):
                connection.close()

    def _let_go(self) -> None:
        """Close the connection before the lock, so that its last checkpoint is under the lock too."""
        if self._doubt is not None:
            with contextlib.suppress(Exception):
                self._ready()
        if self._doubt is not None:
            self._doubt = set()  # others may add entries until this one writes again
        connection, self._connection = self._connection, None
        if connection is not None:
            with contextlib.suppress(exc.SQLAlchemyError):
                if self._where:
                    remote.release(connection)
                elif self._folder is not None and self._doubt is None:
                    arrival.settle(self._folder, writing=False)
                connection.close()
        held, self._held = self._held, None
        if held is not None:
            held.release()


def _nothing(_chain: chains.Chain) -> None:
    """A job that only makes sure the writer can write."""


def _settle(connection: sa.Connection, expected: set[chains.Head]) -> None:
    """After a failed write: see that the chain ends where it may."""
    with connection.begin():
        found = chains.head(connection)
    if expected and found not in expected:
        raise kept.refused(
            "logbook/damaged",
            f"after a failed write the chain ends at entry {found[0]}, which is not where it may end",
            "stop writing, copy the folder, and run the verify command",
            seq=found[0],
        )


def _reaches(connection: sa.Connection, last: chains.Head | None) -> None:
    """After a lost connection others may have written; but what was called saved must still be there."""
    if last is None:
        return
    with connection.begin():
        there = chains.holds(connection, last)
    if not there:
        raise kept.refused(
            "logbook/damaged",
            f"the database no longer holds entry {last[0]}, which was called saved: another one was put in",
            "stop writing, bring back the right database, and run the verify command",
            seq=last[0],
        )


def _unconfirmed(where: str) -> kept.NotSaved:
    return kept.NotSaved(
        kept.stop(
            "logbook/unconfirmed",
            f"{where} went away before it answered: this may be stored, or not",
            "send the same again once it is back: what did arrive is not stored twice",
        )
    )


def _database_gone(error: BaseException, where: str) -> kept.NotSaved:
    cause = database.cause_of(error)
    return kept.NotSaved(
        kept.stop(
            "logbook/not-saved",
            f"{where} did not take the write ({cause}): it is not saved",
            "see that the database runs, then send the same again: what did arrive is not stored twice",
            cause=cause,
        )
    )


def _not_saved(error: BaseException) -> kept.NotSaved:
    cause = str(getattr(error, "orig", None) or error)
    return kept.NotSaved(
        kept.stop(
            "logbook/not-saved",
            f"the disk did not confirm the write ({cause}): it is not saved",
            "see that the disk is not full, then send the same again: what did arrive is not stored twice",
            cause=cause,
        )
    )
