"""What is asked again and again and seldom changes: kept in memory while nobody else can write.

Only whoever holds the writer's lock may use it: every change then goes through the same process. While a
change is on its way nothing is kept and nothing kept is given, so that what was changed is never told as it
was before once the change is known to be on the disk.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from typing import Any, TypeVar

T = TypeVar("T")
MOST = 2_000
NOTHING: Any = object()
"""What `Memory.peek` gives where nothing is kept."""


class Memory:
    """Answers by their question, forgotten with every change."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: dict[Hashable, Any] = {}
        self._changes = 0
        self._under_way = 0

    def peek(self, question: Hashable) -> Any:
        """What is kept of a question, or `NOTHING`; asks nobody."""
        with self._lock:
            return NOTHING if self._under_way else self._kept.get(question, NOTHING)

    def ask(self, question: Hashable, read: Callable[[], T]) -> T:
        """What is kept of a question, or what `read` gives, kept from now on."""
        with self._lock:
            if not self._under_way and question in self._kept:
                return self._kept[question]
            before = self._changes
        found = read()
        with self._lock:
            if not self._under_way and self._changes == before:
                if len(self._kept) >= MOST:
                    self._kept.clear()
                self._kept[question] = found
        return found

    def changing(self, begin: Callable[[], Future[T]]) -> Future[T]:
        """Begin a change; everything is forgotten, and nothing kept until it has ended well or badly."""
        with self._lock:
            self._under_way += 1
            self._kept.clear()
        try:
            change = begin()
        except BaseException:
            self._ended()
            raise
        change.add_done_callback(self._ended)
        return change

    def _ended(self, _: object = None) -> None:
        with self._lock:
            self._under_way -= 1
            self._changes += 1
            self._kept.clear()
