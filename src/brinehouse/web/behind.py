"""One thread that works behind the readers' backs, and does not keep the program from ending."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from concurrent import futures
from typing import Any, TypeVar

T = TypeVar("T")

Job = tuple[futures.Future[Any], Callable[..., Any], tuple[Any, ...]]


class Worker:
    """Does one piece of work after the other; a pool's threads would be waited for by whoever ends."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._jobs: queue.SimpleQueue[Job | None] = queue.SimpleQueue()
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._closed = False

    def submit(self, work: Callable[..., T], *given: Any) -> futures.Future[T]:
        """Queue a piece of work; RuntimeError once it is closed."""
        future: futures.Future[T] = futures.Future()
        with self._lock:
            if self._closed:
                raise RuntimeError("nothing more is worked out")
            self._jobs.put((future, work, given))
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name=self._name, daemon=True)
                self._thread.start()
        return future

    def close(self, patience: float | None = None) -> bool:
        """Drop what waits, and wait for what is being done; whether it ended within `patience` [s]."""
        with self._lock:
            self._closed = True
            self._jobs.put(None)
        if self._thread is None:
            return True
        self._thread.join(patience)
        return not self._thread.is_alive()

    def _run(self) -> None:
        while (job := self._jobs.get()) is not None:
            future, work, given = job
            if self._closed:
                future.cancel()
            elif future.set_running_or_notify_cancel():
                try:
                    future.set_result(work(*given))
                except BaseException as fault:  # noqa: BLE001 - whoever asked hears of it
                    future.set_exception(fault)
