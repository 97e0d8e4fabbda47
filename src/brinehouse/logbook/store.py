"""The logbook: open it, add to it, ask it."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Generator, Hashable, Iterable, Iterator, Mapping
from concurrent.futures import Future
from datetime import datetime, timedelta
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

import sqlalchemy as sa
from numpy.typing import NDArray
from sqlalchemy import exc

from brinehouse import findings, records
from brinehouse.logbook import (
    appending,
    arrival,
    attached,
    belonging,
    beside,
    canon,
    chain,
    copies,
    database,
    house,
    kept,
    lock,
    memory,
    paging,
    proof,
    queries,
    remote,
    shape,
    writer,
)

T = TypeVar("T")


def open_logbook(
    where: Path | str,
    *,
    create: bool = False,
    wait: float = 5.0,
    synchronous: str = "FULL",
    folder: Path | None = None,
    at: datetime = canon.EPOCH,
) -> Logbook:
    """Open the logbook of a folder, or of a PostgreSQL database by its address.

    Parameters
    ----------
    where : Path or str
        The folder that holds ``logbook.sqlite``, or an address such as ``postgresql://host/name``.
    create : bool
        Make it where it is not there yet.
    wait : float
        How long a write waits for another program that writes. [s]
    synchronous : str
        For the durability tests only.
    folder : Path or None
        With an address: the hall's folder. The database must be that hall's, or nobody's yet; the lock of
        the folder is taken beside the database's own.
    at : datetime
        With an address: when it became this hall's, where it does so now.

    Raises
    ------
    kept.Refused
        Where it is not there, not a logbook, newer than this program, on a network disk, or another hall's.
    """
    if isinstance(where, str) and "://" in where:
        address = remote.normal(where)
        reading, writing = remote.open_database(
            address, folder, create=create, wait=wait, at=canon.microseconds(at)
        )
        shown = remote.shown(address)
        return Logbook(reading, writer.Writer(writing, folder, wait=wait, where=shown), where=shown)
    return _open_folder(Path(where), create=create, wait=wait, synchronous=synchronous)


def _open_folder(folder: Path, *, create: bool, wait: float, synchronous: str) -> Logbook:
    path = folder / database.FILE
    if create:
        folder.mkdir(parents=True, exist_ok=True)
    belonging.refuse_elsewhere(folder)
    if not path.exists() and not create:
        raise _not_there(folder)
    database.refuse_network(folder)
    arrival.look(folder)
    # Its first connection stays open: while the disk fails, what is stored can still be read through it.
    reading = database.reading_engine(path)
    try:
        if not _is_ready(path, reading):
            _bring_up(folder, path, wait, create=create)
    except BaseException:
        reading.dispose()
        raise
    writing = database.writing_engine(path, synchronous=synchronous)
    return Logbook(reading, writer.Writer(writing, folder, wait=wait))


def _not_there(where: object) -> kept.Refused:
    return kept.refused(
        "logbook/not-there",
        f"there is no logbook in {where}",
        "make one with the init command, or name another folder",
    )


def _is_ready(path: Path, reading: sa.Engine) -> bool:
    """Whether the file has the newest shape; asked without the right to write."""
    # A journal beside it is of a first write that was cut short: only a writer can roll it back.
    if not path.exists() or path.with_name(f"{database.FILE}-journal").exists():
        return False
    try:
        with reading.connect() as connection:
            return shape.known(shape.revision(connection))
    except exc.DatabaseError as error:
        raise kept.Refused(database.unreadable(error, str(path))) from error


def _bring_up(folder: Path, path: Path, wait: float, *, create: bool) -> None:
    """Make the tables, or bring an older shape up to date with a copy kept of the old one."""
    try:
        held = lock.take(folder, wait=wait)
    except OSError as error:
        raise kept.Refused(database.unreadable(error, str(folder))) from error
    engine = database.writing_engine(path)
    try:
        with engine.connect() as connection:
            with connection.begin():
                found = shape.revision(connection)
            if shape.known(found):
                return
            if found is None and not create:
                raise _not_there(folder)
            if found is not None:
                shape.back_up(connection, folder / shape.copy_name(found))
            with connection.begin():
                shape.upgrade(connection)
                connection.exec_driver_sql(f"PRAGMA user_version = {copies.generation()}")
    except exc.DatabaseError as error:
        raise kept.Refused(database.unreadable(error, str(path))) from error
    finally:
        engine.dispose()
        held.release()


class Logbook:
    """What happened, kept. Safe to use from several threads; close it, or use it in a ``with`` block."""

    def __init__(self, reading: sa.Engine, writing: writer.Writer, where: str = "") -> None:
        self._reading = reading
        self._writer = writing
        self._where = where
        self._memory = memory.Memory()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Finish what waits and let go of everything."""
        self._reading.dispose()
        self._writer.close()  # last, so that its connection moves the log into the main file

    def hold(self, address: str = "", port: int = 0) -> str:
        """Keep the writer's lock until closed, as a server does, and say where batches are taken.

        Returns the token by which a command of the same user shows that it may hand over a batch.
        """
        return self._writer.hold(address, port)

    # Writing -----------------------------------------------------------------------------------------------

    def _write(self, work: Callable[[chain.Chain], T]) -> T:
        return self._memory.changing(lambda: self._writer.submit(work)).result()

    def append(
        self, facts: Iterable[records.Reading | records.Fact], *, person: int | None = None
    ) -> list[kept.Outcome]:
        """Add facts, all or none; returns when they are safe on the disk.

        An id that is stored already with the same content is ``same``; with other content it is a
        ``conflict``: what is stored stays, what was offered is kept aside.

        Raises
        ------
        kept.Refused
            Nothing was added; the finding names the fact and the reason.
        kept.NotSaved
            The disk did not confirm; sending the same again is safe.
        kept.Busy
            Another program is writing.
        """
        return self.append_later(facts, person=person).result()

    def append_later(
        self,
        facts: Iterable[records.Reading | records.Fact],
        *,
        person: int | None = None,
        steady: timedelta = timedelta(0),
    ) -> Future[list[kept.Outcome]]:
        """As `append`, without waiting: the future resolves once the facts are safe on the disk.

        A fact whose id is stored already, at a time no further off than `steady`, keeps that time: it was
        sent again by a clock that was set in between.
        """
        return self._writer.submit(lambda end: appending.append(end, facts, person, steady=steady))

    def supersede(
        self,
        id: str,
        *,
        reason: str,
        entered: datetime,
        person: int | None = None,
        **changes: Any,
    ) -> kept.Outcome:
        """Correct a fact: a new version with the changed fields, under an id made from its content.

        `changes` are fields of `records.Reading` or `records.Fact`: value, text, place, measured and so on;
        ``taken_by`` corrects the person who took it, while `person` is who writes the correction.
        """

        def work(end: chain.Chain) -> kept.Outcome:
            row = queries.by_id(end.connection, id)
            if row is None:
                raise appending.unknown(id)
            fact = appending.corrected(canon.record(row), reason, entered, changes)
            return appending.append(end, [fact], person)[0]

        return self._write(work)

    def withdraw(
        self, target: str, *, reason: str, entered: datetime, person: int | None = None
    ) -> kept.Outcome:
        """Take back a fact; or, given the id of a withdrawal, bring back what it took."""
        name = canon.digest_of(f"withdrawal {target} {canon.microseconds(entered)}")[:32]
        fact = records.Fact(
            id=name, kind="withdrawal", measured=entered, entered=entered, person=person, reason=reason,
            details={"target": target},
        )  # fmt: skip
        return self.append([fact])[0]

    def withdraw_import(
        self,
        id: str,
        *,
        reason: str,
        entered: datetime,
        person: int | None = None,
    ) -> kept.Outcome:
        """Take back every row of an import."""
        return self.withdraw(id, reason=reason, entered=entered, person=person)

    # Reading -----------------------------------------------------------------------------------------------

    @contextlib.contextmanager
    def _looking(self) -> Generator[sa.Connection]:
        try:
            with self._reading.connect() as connection, connection.begin():
                yield connection
        except exc.DatabaseError as error:
            if type(error) not in (exc.DatabaseError, exc.OperationalError):
                raise
            told = remote.away(error, self._where) if self._where else database.unreadable(error)
            raise kept.Refused(told) from error

    def readings(
        self,
        *,
        places: Iterable[str] | None = None,
        quantities: Iterable[str] | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
        instruments: Iterable[str] | None = None,
        sittings: Iterable[str] | None = None,
        superseded: bool = False,
        limit: int | None = None,
        newest_first: bool = False,
    ) -> list[records.Reading]:
        """Readings that stand, in order of time; with `superseded` also those replaced or taken back.

        `since` counts in, `until` does not.
        """
        wanted = queries.Wanted(
            kinds=("reading",), places=places, quantities=quantities, since=since, until=until,
            instruments=instruments, sittings=sittings, superseded=superseded, limit=limit,
            newest_first=newest_first,
        )  # fmt: skip
        with self._looking() as connection:
            found = paging.rows(connection, wanted)
        return [canon.reading(row) for row in found]

    def columns(
        self,
        *,
        places: Iterable[str] | None = None,
        quantities: Iterable[str] | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
        instruments: Iterable[str] | None = None,
        superseded: bool = False,
    ) -> dict[str, NDArray[Any]]:
        """Readings as arrays, in order of time: see `queries.columns`."""
        wanted = queries.Wanted(
            kinds=("reading",), places=places, quantities=quantities, since=since, until=until,
            instruments=instruments, superseded=superseded,
        )  # fmt: skip
        with self._looking() as connection:
            return queries.columns(connection, wanted)

    def facts(
        self,
        kinds: Iterable[str] | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
        *,
        places: Iterable[str] | None = None,
        superseded: bool = False,
        limit: int | None = None,
        newest_first: bool = False,
    ) -> list[records.Fact]:
        """Facts other than readings that stand, in order of time."""
        wanted = queries.Wanted(
            kinds=queries.FACTS if kinds is None else kinds, places=places, since=since, until=until,
            superseded=superseded, limit=limit, newest_first=newest_first,
        )  # fmt: skip
        with self._looking() as connection:
            found = paging.rows(connection, wanted)
        return [canon.fact(row) for row in found]

    def after(self, head: chain.Head, most: int = 20_000) -> list[records.Reading | records.Fact] | None:
        """What was written down after a head, in that order, replaced or not; None where it is not known.

        Parameters
        ----------
        head : Head
            As `head` gave it earlier.
        most : int
            More entries than this are not given: whoever asks reads anew.
        """
        with self._looking() as connection:
            if not chain.holds(connection, head) or chain.head(connection)[0] - head[0] > most:
                return None
            return [canon.record(row) for row in queries.after(connection, head[0])]

    def ids(self, first: str) -> list[str]:
        """Ids that begin with some hex digits; a handful at most."""
        with self._looking() as connection:
            return queries.ids(connection, first)

    def get(self, id: str) -> records.Reading | records.Fact | None:
        """The reading or fact with this id as it was written, or None."""
        with self._looking() as connection:
            row = queries.by_id(connection, id)
        return None if row is None else canon.record(row)

    def trail(self, id: str) -> list[kept.Version]:
        """Every version of a fact, and what took it back, oldest first; by any of their ids."""
        with self._looking() as connection:
            return queries.trail(connection, id)

    def head(self) -> chain.Head:
        """Number and hash of the last entry, as printed on hand-overs; (0, zeros) while empty."""
        if (known := self._writer.last) is not None:
            return known
        with self._looking() as connection:
            return chain.head(connection)

    def verify(self, against: chain.Head | str | None = None) -> list[findings.Finding]:
        """Walk the whole chain; empty when every entry is as it was written.

        `against` is a head printed earlier, ``(seq, hash)`` or ``"seq:hash"``; the first 12 digits of the
        hash are enough.
        """
        return proof.verify(self._reading, against)

    # Beside the entries ------------------------------------------------------------------------------------

    def people(self) -> list[kept.Person]:
        """Everyone, by number."""
        return list(self.remembered_of("people", beside.people))

    def add_person(self, name: str) -> int:
        """The number of a person; the same name again keeps its number."""
        return self._write(lambda end: beside.add_person(end, name))

    def blank_person(self, number: int, reason: str, *, at: datetime, person: int | None = None) -> None:
        """Take a name out for good; the rows keep the number and the chain stays whole."""
        self._write(lambda end: beside.blank_person(end, number, reason, person, at))

    def house(self, ask: Callable[[sa.Connection], T]) -> T:
        """Ask about accounts, phones and sessions: `ask` is given a connection that can only read."""
        with self._looking() as connection:
            return ask(connection)

    def remembered_of(self, question: Hashable, ask: Callable[[sa.Connection], T]) -> T:
        """As `house`, from memory where this process holds the writer's lock; it is not to be changed."""
        if not self._writer.alone:
            return self.house(ask)
        return self._memory.ask(question, lambda: self.house(ask))

    def peek(self, question: Hashable) -> Any:
        """What `remembered_of` would give at once, without the disk; `memory.NOTHING` where it would ask."""
        return self._memory.peek(question) if self._writer.alone else memory.NOTHING

    def house_later(self, acts: list[Any], event: Mapping[str, Any] | None = None) -> Future[list[Any]]:
        """Change accounts, phones and sessions in one transaction: see `house.do`; not waited for."""
        return self._memory.changing(
            lambda: self._writer.submit(lambda end: house.do(end.connection, acts, event))
        )

    def house_aside(self, acts: list[Any]) -> None:
        """As `house_later`, for what changes nothing that is remembered: that somebody was here."""
        self._writer.submit(lambda end: house.do(end.connection, acts, None))

    def keep_import(
        self,
        id: str,
        name: str,
        content: bytes,
        facts: Iterable[records.Reading | records.Fact],
        *,
        at: datetime,
        person: int | None = None,
    ) -> list[kept.Outcome]:
        """Take in a file with its rows, all or none; `id` is the part before ':' in each row's ``origin``."""
        return self._write(lambda end: beside.keep_import(end, id, name, content, facts, person, at))

    def take_import(
        self,
        id: str,
        name: str,
        content: bytes,
        facts: Iterable[records.Reading | records.Fact],
        *,
        at: datetime,
        person: int | None = None,
    ) -> kept.Tally:
        """As `keep_import`, with the outcomes only counted: for files of a million rows."""
        return self._write(lambda end: beside.take_import(end, id, name, content, facts, person, at))

    def imports(self) -> list[kept.ImportFile]:
        """Every file taken in, oldest first."""
        with self._looking() as connection:
            return beside.imports(connection)

    def import_content(self, id: str) -> bytes:
        """An imported file as it came."""
        with self._looking() as connection:
            return beside.import_content(connection, id)

    def keep_facility(
        self, text: str, since: datetime, person: int | None = None, *, at: datetime | None = None
    ) -> bool:
        """Keep an accepted facility file and from when it holds; False where that one holds already."""
        return self._write(lambda end: beside.keep_facility(end, text, since, person, at or since))

    def facility_at(self, time: datetime | None = None) -> str | None:
        """The facility file that held at a time (by default the newest), or None before the first."""
        with self._looking() as connection:
            return beside.facility_at(connection, time)

    def facility_texts(self) -> list[kept.FacilityText]:
        """Every facility file kept, by the time from which it holds."""
        with self._looking() as connection:
            return beside.facility_texts(connection)

    def facility_texts_since(self, since: datetime) -> list[kept.FacilityText]:
        """Facility files that hold from a time on or later."""
        with self._looking() as connection:
            return beside.facility_texts(connection, since)

    def remember(
        self,
        source: str,
        question: str,
        answer: str,
        *,
        at: datetime | None = None,
        person: int | None = None,
    ) -> None:
        """Keep the answer to a question about a source of files; the newest counts, none is lost."""
        self._write(lambda end: beside.remember(end, source, question, answer, person, at))

    def remembered(self, source: str) -> dict[str, str]:
        """Question to newest answer."""
        with self._looking() as connection:
            return beside.remembered(connection, source)

    def copy(self, to: Path, *, without: Iterable[str] = ()) -> chain.Head:
        """Copy all of it into a new SQLite file while others write: see `copies.take`."""
        return copies.take(self._reading, to, without=tuple(without))

    def last_entered(self) -> datetime | None:
        """When the last entry was written down; None while there is none."""
        with self._looking() as connection:
            return copies.last_entered(connection)

    def begins(self) -> str:
        """The hash of the first entry, by which a logbook is known; empty while there is none."""
        with self._looking() as connection:
            return copies.begins(connection)

    def files_kept(self) -> dict[str, str]:
        """Hash to name of every photo and paper that was ever kept."""
        with self._looking() as connection:
            return attached.every(connection)

    def everything(self) -> Iterator[tuple[int, records.Reading | records.Fact, bool]]:
        """Every reading and fact in the order of the chain, with its number, and whether it stands.

        As of the moment it is begun, however long the caller takes and whatever is written meanwhile.
        """
        return queries.everything(self._looking)

    def contents(self) -> dict[str, tuple[int, str]]:
        """Rows and a hash over them for each table of the chain: see `copies.contents`."""
        with self._looking() as connection:
            return copies.contents(connection)

    def asides(self) -> list[kept.Aside]:
        """Conflicts: what was offered under an id that holds something else."""
        with self._looking() as connection:
            return beside.asides(connection)
