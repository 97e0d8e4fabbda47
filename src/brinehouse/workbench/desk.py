"""What the pages hold on to between requests: one folder, with a hall in it or not yet."""

from __future__ import annotations

import threading
from pathlib import Path

from brinehouse import findings
from brinehouse.facility import model
from brinehouse.workbench import hall as halls
from brinehouse.workbench import handing, mishaps

DEMO_MARK = "demo.txt"  # a folder made by `brinehouse demo` holds this file


class Desk:
    """A folder under one lock: the hall is opened on first use and kept open."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.door: tuple[str, int] | None = None
        """Where a server takes batches: its writer's lock is held from the first use of the hall on."""
        self.token = ""
        self._hall: halls.Hall | None = None
        self._lock = threading.RLock()

    def hall(self) -> halls.Hall:
        """The hall; refused where the folder has no facility file yet."""
        with self._lock:
            if self._hall is None:
                made = halls.open_hall(self.folder)
                if self.door is not None:
                    self.token = _hold(made, *self.door)
                self._hall = made
            return self._hall

    @property
    def opened(self) -> halls.Hall | None:
        """The hall, where it is open already; nobody waits for it."""
        return self._hall

    def has_hall(self) -> bool:
        """Whether there is a facility file."""
        return (self.folder / halls.FACILITY_FILE).is_file()

    def facility_or_none(self) -> model.Facility | None:
        """The facility where there is one that passes check."""
        if not self.has_hall():
            return None
        try:
            return self.hall().facility
        except mishaps.Refused:
            return None

    def language(self) -> str:
        """The facility's language, English without one."""
        facility = self.facility_or_none()
        return facility.language if facility else "en"

    def is_demo(self) -> bool:
        """Whether this is the invented hall."""
        return (self.folder / DEMO_MARK).is_file()

    def revision(self) -> str:
        """The logbook's head, short: what the title block prints."""
        if not self.has_hall() or not halls.Hall.has_book(self.folder):
            return "0"
        seq, digest = self.hall().book.head()
        return f"{seq}/{digest[:8]}"

    def close(self) -> None:
        """Let go of the hall."""
        with self._lock:
            if self._hall is not None:
                self._hall.close()
                self._hall = None


def _hold(made: halls.Hall, address: str, port: int) -> str:
    """Hold the writer's lock; the token that asks for an open door."""
    try:
        if (other := handing.door(made.folder)) is not None:
            raise mishaps.Refused(
                findings.Finding(
                    code="serve/already",
                    level=findings.Level.STOP,
                    text=f"This hall is served already, by process {other.pid}",
                    hint=f"open http://{other.address}:{other.port}/, or end that process first",
                )
            )
        return made.book.hold(address, port)
    except BaseException:
        made.close()
        raise
