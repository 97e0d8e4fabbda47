"""The thread of a running server that makes copies when they are due."""

from __future__ import annotations

import threading

from brinehouse.workbench import desk, keeping, mishaps
from brinehouse.workbench import hall as halls

LOOK_EVERY = 30.0
"""How often it looks whether one is due. [s]"""


class Minder:
    """Looks now and then whether a copy is due, and makes it; what goes wrong is written down and told."""

    def __init__(self, table: desk.Desk, every: float = LOOK_EVERY) -> None:
        self._table = table
        self._every = every
        self._end = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin, in a thread that ends with the process."""
        self._thread = threading.Thread(target=self._run, name="copies", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """End; a copy under way is finished or left unfinished, never half called one."""
        self._end.set()
        if self._thread is not None:
            self._thread.join(2.0)

    def look(self) -> bool:
        """Make a copy if one is due; whether one was made."""
        if not self._table.has_hall() or not halls.Hall.has_book(self._table.folder):
            return False
        try:
            return keeping.attempt(self._table.hall()) is not None
        except mishaps.Refused:
            return False  # it is written down, and told on the sheet of what is not as it should be
        except Exception as fault:  # noqa: BLE001 - copies go on being tried whatever happened to one
            if not hasattr(fault, "finding"):
                mishaps.keep(fault)
            return False

    def _run(self) -> None:
        while not self._end.wait(self._every):
            self.look()
