"""Answers that take longer than a reader waits: begun behind the reader's back, shown when they are there."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable
from typing import Any

KEPT = 8


class Later:
    """One piece of work at a time for each question; an answer is kept until newer ones push it out."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._known: dict[Hashable, tuple[Any, Exception | None]] = {}
        self._running: dict[Hashable, threading.Thread] = {}

    def ask(self, key: Hashable, work: Callable[[], Any]) -> tuple[Any, bool]:
        """The answer where it is known, and whether it is still being worked out.

        What went wrong in the work is raised to the reader who asks next, and forgotten.
        """
        with self._lock:
            if key in self._known:
                value, fault = self._known[key]
                if fault is not None:
                    del self._known[key]
                    raise fault
                return value, False
            if key not in self._running:
                thread = threading.Thread(target=self._do, args=(key, work), daemon=True, name="loop, later")
                self._running[key] = thread
                thread.start()
            return None, True

    def settle(self, key: Hashable) -> None:
        """Wait until the work on a question has ended."""
        with self._lock:
            thread = self._running.get(key)
        if thread is not None:
            thread.join()

    def _do(self, key: Hashable, work: Callable[[], Any]) -> None:
        value: Any = None
        fault: Exception | None = None
        try:
            value = work()
        except Exception as met:  # noqa: BLE001 - it is told to the reader who asks next
            fault = met
        with self._lock:
            self._known[key] = (value, fault)
            while len(self._known) > KEPT:
                self._known.pop(next(iter(self._known)))
            self._running.pop(key, None)
