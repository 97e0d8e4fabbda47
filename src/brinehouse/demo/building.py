"""The demo hall in a folder: the generator's history written through the same door as anybody's."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from brinehouse import findings
from brinehouse.demo import generator
from brinehouse.workbench import clock, hall, mishaps, times

MARK = "demo.txt"
STALE = timedelta(days=1)
TOLD = (
    "Highmoor Sea Hall is invented: the hall, its people and every reading in this folder.\n"
    "It was made by 'brinehouse demo' with seed {seed} and may be deleted at any time.\n"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """What was made."""

    folder: Path
    readings: int
    facts: int
    again: bool
    newest: datetime | None = None

    @property
    def sentence(self) -> str:
        """One line for the terminal."""
        what = "is here already" if self.again else "built"
        counts = f"{self.readings} readings, {self.facts} other entries"
        told = f"Highmoor Sea Hall {what} in {self.folder} (invented): {counts}."
        if self.again and self.newest is not None and clock.now() - self.newest > STALE:
            days = (clock.now() - self.newest).days
            told += f"\nIts newest reading is {days} days old: delete the folder for a fresh history."
        return told


def build(folder: Path, *, seed: int = 1, days: int = 90, end: str | None = None) -> Built:
    """Make the demo hall; where this folder holds it already, it is left as it is.

    Raises
    ------
    mishaps.Refused
        Where the folder holds a hall that is not the demo: it is never mixed in.
    """
    mark = folder / MARK
    if (folder / hall.FACILITY_FILE).exists():
        if not mark.exists():
            raise mishaps.Refused(
                findings.Finding(
                    code="demo/other-hall",
                    level=findings.Level.STOP,
                    text=f"{folder} holds a hall that is not the demo",
                    hint="name another folder: the demo is never mixed in",
                )
            )
        return _again(folder)
    until = times.local(end, "Europe/London") if end else _present()
    history = generator.generate(seed, days=days, end=until)
    folder.mkdir(parents=True, exist_ok=True)
    mark.write_text(TOLD.format(seed=seed), encoding="utf-8")
    (folder / hall.FACILITY_FILE).write_text(history.facility_text, encoding="utf-8")
    write_history(folder, history, until - timedelta(days=days))
    return Built(folder=folder, readings=len(history.readings), facts=len(history.facts), again=False)


def write_history(folder: Path, history: generator.History, since: datetime) -> None:
    """Write a generated history into a folder's logbook, in the order in which it was entered."""
    with hall.open_hall(folder) as made:
        for name in history.people:
            made.person(name)
        made.book.keep_facility(history.facility_text, since=since, person=None)
        entries = sorted([*history.readings, *history.facts], key=lambda one: one.entered)
        made.book.append(entries)


def _present() -> datetime:
    now = clock.now()
    return now - timedelta(minutes=now.minute % 10, seconds=now.second, microseconds=now.microsecond)


def _again(folder: Path) -> Built:
    with hall.open_hall(folder) as made:
        history = made.history()
        facts = len(made.facts())
    return Built(folder=folder, readings=len(history), facts=facts, again=True, newest=hall.newest(history))
