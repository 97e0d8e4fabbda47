"""A hall: one folder with its facility file and its logbook, opened for the faces.

>>> hall = open_hall(demo_folder)                                      # doctest: +SKIP
>>> hall.readings(quantities=["temperature"])["value"].mean()          # doctest: +SKIP
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, Self

from brinehouse import findings, records
from brinehouse.facility import model, reading
from brinehouse.logbook import store
from brinehouse.workbench import clock, mishaps

FACILITY_FILE = "facility.toml"


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
        """Whether anything was ever written down in this folder."""
        return (folder / "logbook.sqlite").is_file()

    @property
    def book(self) -> store.Logbook:
        """The logbook, made where there is none yet."""
        if self._book is None:
            self._book = store.open_logbook(self.folder, create=True)
        return self._book

    def close(self) -> None:
        """Let go of the logbook."""
        if self._book is not None:
            self._book.close()
            self._book = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def keep_facility(self, person: int | None = None) -> None:
        """Keep the accepted facility file with the time from which it holds, once per text."""
        facility = self.facility
        text = self.file.read_text("utf-8")
        if self.book.facility_at(clock.now()) != text:
            self.book.keep_facility(text, since=clock.now(), person=person)
        del facility

    def readings(self, **wanted: Any) -> Mapping[str, Any]:
        """Columns of effective readings, as NumPy arrays; arguments as `Logbook.readings`."""
        return self.book.columns(**wanted)

    def history(self, **wanted: Any) -> list[records.Reading]:
        """Effective readings as records; arguments as `Logbook.readings`."""
        return self.book.readings(**wanted)

    def facts(self, kinds: Iterable[str] | None = None, **wanted: Any) -> list[records.Fact]:
        """Events, checks, trials and the rest."""
        return self.book.facts(kinds=kinds, **wanted)

    def write(self, facts: Sequence[records.Reading | records.Fact], person: int | None = None) -> list[Any]:
        """Append facts in one transaction; the answer comes after they are on disk."""
        self.keep_facility(person)
        return self.book.append(facts, person=person)

    def supersede(self, id: str, **changes: Any) -> Any:
        """A correction: see `Logbook.supersede`."""
        return self.book.supersede(id, **changes)

    def withdraw(self, id: str, **told: Any) -> Any:
        """Take back one entry: see `Logbook.withdraw`."""
        return self.book.withdraw(id, **told)

    def person(self, name: str) -> int:
        """The number of a person, made where the name is new."""
        for known in self.book.people():
            if known.name == name:
                return known.number
        return self.book.add_person(name)


def new_id() -> str:
    """A new id for a fact, 32 hex digits."""
    return uuid.uuid4().hex


def newest(readings: Sequence[records.Reading]) -> datetime | None:
    """When the newest of some readings was taken."""
    return max((reading.measured for reading in readings), default=None)
