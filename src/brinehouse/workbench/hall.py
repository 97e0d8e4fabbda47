"""A hall: one folder with its facility file and its logbook, opened for the faces.

In a notebook::

    with brinehouse.open("highmoor") as hall:
        hall.readings(quantities=["temperature"])["value"].mean()
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self, TypeVar

from brinehouse import findings, records
from brinehouse.facility import model, reading
from brinehouse.logbook import kept
from brinehouse.workbench import clock, handing, mishaps, settings

if TYPE_CHECKING:
    from brinehouse.logbook import store  # loaded on first use: check, words and init need no database

FACILITY_FILE = "facility.toml"
T = TypeVar("T")


def open_hall(folder: str | Path = ".") -> Hall:
    """Open a hall's folder.

    Parameters
    ----------
    folder : str or Path
        The folder that holds ``facility.toml`` and, once something was written, ``logbook.sqlite``.

    Returns
    -------
    Hall

    Raises
    ------
    mishaps.Refused
        Where the folder holds no facility file; the finding names the command that makes one.
    """
    place = Path(folder)
    if not (place / FACILITY_FILE).is_file():
        raise mishaps.Refused(
            findings.Finding(
                code="workbench/no-facility",
                level=findings.Level.STOP,
                text=f"There is no {FACILITY_FILE} in {place}",
                hint=f"write 'brinehouse init {place}' to make one from five questions",
            )
        )
    return Hall(place)


class Hall:
    """The facility as its file says today, and everything that was written down."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._checked: tuple[float, reading.Checked] | None = None
        self._held: tuple[str, datetime] | None = None
        self._book: store.Logbook | None = None

    # -- the facility -------------------------------------------------------------------------------

    @property
    def file(self) -> Path:
        """Where the facility file is."""
        return self.folder / FACILITY_FILE

    @property
    def checked(self) -> reading.Checked:
        """The facility file, read and checked again when it has changed on disk."""
        stamp = self.file.stat().st_mtime_ns
        if self._checked is None or self._checked[0] != stamp:
            self._checked = (stamp, reading.read(self.file.read_bytes(), name=FACILITY_FILE))
        return self._checked[1]

    @property
    def facility(self) -> model.Facility:
        """The checked model; refused with every stopping finding where the file has one."""
        checked = self.checked
        if checked.facility is None:
            raise mishaps.Refused(*checked.findings)
        return checked.facility

    # -- the logbook --------------------------------------------------------------------------------

    @staticmethod
    def has_book(folder: Path) -> bool:
        """Whether anything was ever written down in this folder, or in the database that is its own."""
        return settings.has_logbook(folder)

    @property
    def book(self) -> store.Logbook:
        """The logbook, made where there is none yet."""
        if self._book is None:
            self._book = settings.open_logbook(self.folder)
        return self._book

    def close(self) -> None:
        """Let go of the logbook."""
        if self._book is not None:
            self._book.close()
            self._book = self._held = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def keep_facility(self, person: int | None = None) -> None:
        """Keep the accepted facility file with the time from which it holds, once per text."""
        now = clock.now()
        held = (self.facility.digest, now.replace(second=0, microsecond=0))  # refused where it does not pass
        if self._held == held:  # looked at in this minute: two hundred phones need not ask each time
            return
        text = self.file.read_text("utf-8")
        if self.book.facility_at(now) != text:
            self.book.keep_facility(text, since=now, person=person)
        self._held = held

    def keep_text(self, text: str, *, since: datetime, person: int | None = None) -> None:
        """Keep a facility file that holds from a time on, which may be past."""
        told: dict[str, Any] = {"text": text, "at": since, "person": person}
        self._do(
            lambda: handing.call("facility", **told),
            lambda: self._keep_text(text, since, person),
            lambda _answer: None,
        )

    def _keep_text(self, text: str, since: datetime, person: int | None) -> None:
        self.book.keep_facility(text, since=since, person=person, at=clock.now())

    def readings(self, **wanted: Any) -> Mapping[str, Any]:
        """Columns of effective readings, as NumPy arrays; arguments as `Logbook.readings`."""
        return self.book.columns(**wanted)

    def history(self, **wanted: Any) -> list[records.Reading]:
        """Effective readings as records; arguments as `Logbook.readings`."""
        return self.book.readings(**wanted)

    def facts(self, kinds: Iterable[str] | None = None, **wanted: Any) -> list[records.Fact]:
        """Events, checks, trials and the rest."""
        return self.book.facts(kinds=kinds, **wanted)

    # Writing: by the lock, or handed to the server that has it; no third way --------------------------

    def _do(
        self, body: Callable[[], Mapping[str, Any]], work: Callable[[], T], read: Callable[[Any], T]
    ) -> T:
        """Do it here, or have it done by the running server, whichever holds the writer's lock."""
        server = handing.door(self.folder)
        if server is None:
            try:
                return work()
            except kept.Busy:
                server = handing.door(self.folder)  # one that began just now
                if server is None:
                    raise
        try:
            return read(handing.hand(server, body()))
        except ConnectionRefusedError:
            return work()  # it has just ended

    def write(
        self, facts: Sequence[records.Reading | records.Fact], person: int | None = None
    ) -> list[kept.Outcome]:
        """Append facts in one transaction; the answer comes after they are on disk."""

        def work() -> list[kept.Outcome]:
            self.keep_facility(person)
            return self.book.append(facts, person=person)

        return self._do(lambda: handing.entries(facts, person), work, handing.outcomes)

    def supersede(
        self, id: str, *, reason: str, entered: datetime, person: int | None = None, **changes: Any
    ) -> kept.Outcome:
        """A correction: see `Logbook.supersede`."""
        told: dict[str, Any] = {"reason": reason, "entered": entered, "person": person, **changes}
        return self._do(
            lambda: handing.call("supersede", id=id, **told),
            lambda: self.book.supersede(id, **told),
            lambda answer: kept.Outcome(*answer),
        )

    def withdraw(self, id: str, *, reason: str, entered: datetime, person: int | None = None) -> kept.Outcome:
        """Take back one entry or a whole import: see `Logbook.withdraw`."""
        told: dict[str, Any] = {"reason": reason, "entered": entered, "person": person}
        return self._do(
            lambda: handing.call("withdraw", id=id, **told),
            lambda: self.book.withdraw(id, **told),
            lambda answer: kept.Outcome(*answer),
        )

    def person(self, name: str) -> int:
        """The number of a person, made where the name is new."""
        for known in self.book.people():
            if known.name == name:
                return known.number
        return self._do(
            lambda: handing.call("person", name=name),
            lambda: self.book.add_person(name),
            lambda answer: int(answer),
        )

    def blank_person(self, number: int, reason: str, *, at: datetime, person: int | None = None) -> None:
        """Take a name out for good, with all that lets its person in: see `Logbook.blank_person`."""
        told: dict[str, Any] = {"number": number, "reason": reason, "at": at, "person": person}
        self._do(
            lambda: handing.call("blank", **told),
            lambda: self.book.blank_person(**told),
            lambda _answer: None,
        )

    def house(self, acts: Sequence[Any], event: Mapping[str, Any] | None = None) -> list[Any]:
        """Change who may come in: see `logbook.house.do`; the answer comes after it is on disk."""
        told: dict[str, Any] = {"acts": list(acts), "event": event}
        return self._do(
            lambda: handing.call("house", **told),
            lambda: self.book.house_later(told["acts"], event).result(),
            lambda answer: list(answer),
        )

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
        """Take in a file with its rows, all or none: see `Logbook.keep_import`."""
        rows = facts

        def body() -> Mapping[str, Any]:
            nonlocal rows
            rows = list(rows)  # they may come one at a time, and be needed again here
            return handing.import_file(id, name, content, rows, at=at, person=person)

        def work() -> list[kept.Outcome]:
            self.keep_facility(person)
            return self.book.keep_import(id, name, content, rows, at=at, person=person)

        return self._do(body, work, handing.outcomes)

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
        rows = facts

        def body() -> Mapping[str, Any]:
            nonlocal rows
            rows = list(rows)
            return handing.import_file(id, name, content, rows, at=at, person=person)

        def work() -> kept.Tally:
            self.keep_facility(person)
            return self.book.take_import(id, name, content, rows, at=at, person=person)

        return self._do(body, work, lambda answer: kept.tally(handing.outcomes(answer)))

    def remember(
        self,
        source: str,
        question: str,
        answer: str,
        *,
        at: datetime | None = None,
        person: int | None = None,
    ) -> None:
        """Keep the answer to a question about a source of files: see `Logbook.remember`."""
        told: dict[str, Any] = {
            "source": source,
            "question": question,
            "answer": answer,
            "at": at,
            "person": person,
        }
        self._do(
            lambda: handing.call("remember", **told), lambda: self.book.remember(**told), lambda _answer: None
        )


def new_id() -> str:
    """A new id for a fact, 32 hex digits."""
    return uuid.uuid4().hex


def newest(readings: Sequence[records.Reading]) -> datetime | None:
    """When the newest of some readings was taken."""
    return max((reading.measured for reading in readings), default=None)
