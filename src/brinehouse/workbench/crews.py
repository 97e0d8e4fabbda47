"""Who works a sweep's pieces: processes on every core of this machine, or the workers of a Dask cluster.

A piece is worked alike by anybody; so it does not matter who works it, when, or how often.
"""

from __future__ import annotations

import importlib
import logging
import multiprocessing
import os
import pickle
import signal
import threading
import time
import uuid
from collections.abc import Callable, Iterator, Sequence
from concurrent import futures
from concurrent.futures import process
from dataclasses import dataclass
from multiprocessing import connection
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinehouse import _version, findings
from brinehouse.workbench import mishaps, pieces

Floats = NDArray[np.float64]
Span = tuple[int, int]
Worked = Iterator[tuple[Span, Floats]]
PATIENCE = 10.0  # s a scheduler or a first worker may take to answer
WITHOUT = 60.0  # s a cluster may be without any worker
AGAIN = 3  # times a piece is given to another worker where one was lost
AHEAD = 4  # pieces with the cluster at once, for each thread of its workers: who comes later has work too
THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


@dataclass(frozen=True, slots=True)
class Task:
    """What is done for each piece.

    Attributes
    ----------
    function : str
        ``module:name`` of what takes `data`, first and last sample and gives an array.
    data : bytes
        The question, packed by `pack`.
    """

    function: str
    data: bytes


def pack(question: object) -> bytes:
    """A question as it goes to a worker; never read from a file."""
    return pickle.dumps(question, protocol=5)


def worked(function: str, data: bytes, span: Span) -> tuple[str, Floats]:
    """One piece, with the digest of the code that worked it. Runs wherever it is sent."""
    module, _, name = function.partition(":")
    call: Callable[[bytes, int, int], Floats] = getattr(importlib.import_module(module), name)
    return pieces.model(), call(data, *span)


# -- on this machine ---------------------------------------------------------------------------------------


def cores() -> int:
    """Cores that this process may use."""
    allowed = getattr(os, "sched_getaffinity", None)
    return len(allowed(0)) if allowed is not None else os.cpu_count() or 1


def local(task: Task, spans: Sequence[Span], workers: int | None = None) -> Worked:
    """Every piece by a process to each core, each with one thread; in the order in which they are ready.

    Raises
    ------
    Refused
        Where processes are killed from outside again and again.
    """
    for name in THREADS:
        os.environ.setdefault(name, "1")
    left, lost = dict.fromkeys(spans), 0
    while left:
        many = max(1, min(workers or cores(), len(left)))
        try:
            for span, values in _by_processes(task, list(left), many):
                del left[span]
                yield span, values
        except process.BrokenProcessPool as fault:
            lost += 1
            if lost > AGAIN:
                raise mishaps.Refused(
                    _stop(
                        "sweep/processes-die",
                        f"a process of the sweep was killed {lost} times: this machine may be out of memory",
                        "give it fewer cores: --cores 1; what is worked out so far is kept",
                    )
                ) from fault


def _by_processes(task: Task, spans: Sequence[Span], many: int) -> Worked:
    spawn = multiprocessing.get_context("spawn")
    pool = futures.ProcessPoolExecutor(many, mp_context=spawn, initializer=_begin)
    try:
        waiting = {pool.submit(worked, task.function, task.data, span): span for span in spans}
        for future in futures.as_completed(waiting):
            yield waiting.pop(future), future.result()[1]
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _begin() -> None:
    """A process of ours lets its parent hear Ctrl-C, and ends when its parent is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_until_gone, args=(parent.sentinel,), daemon=True).start()


def _until_gone(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)


# -- on a cluster ------------------------------------------------------------------------------------------


def cluster(
    at: str, task: Task, spans: Sequence[Span], *, patience: float = PATIENCE, without: float = WITHOUT
) -> Worked:
    """Every piece by the workers of a Dask cluster; pieces of a lost worker go to another.

    Raises
    ------
    Refused
        Where Dask is not installed here, the scheduler cannot be reached, there are no workers, or one has
        another version.
    """
    dask = _dask()
    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what matters is said by findings
    client = _client(dask, at, patience)
    try:
        _alike(client, at, patience)
        yield from _by_cluster(dask, client, task, spans, without)
    finally:
        client.close(timeout=patience)


def _dask() -> Any:
    try:
        return importlib.import_module("distributed")
    except ImportError as fault:
        raise mishaps.Refused(
            _stop(
                "sweep/no-cluster-library",
                "sweeping on a cluster needs the library Dask, which is not installed here",
                "pip install brinehouse[cluster]",
            )
        ) from fault


def _client(dask: Any, at: str, patience: float) -> Any:
    try:
        return dask.Client(at, timeout=patience, set_as_default=False)
    except (OSError, ValueError, TypeError) as fault:
        raise mishaps.Refused(
            _stop(
                "sweep/no-scheduler",
                f"no scheduler answers at {at} within {patience:.0f} s",
                "see that it runs and that this machine may reach it; the address is tcp://HOST:PORT",
            )
        ) from fault


def identity() -> dict[str, str]:
    """What a worker must have in common with us."""
    return {"version": _version.__version__, "model": pieces.model()}


def _alike(client: Any, at: str, patience: float) -> None:
    try:
        client.wait_for_workers(1, timeout=patience)
    except (OSError, TimeoutError) as fault:
        raise mishaps.Refused(
            _stop(
                "sweep/no-workers",
                f"the scheduler at {at} has no workers",
                f"start some where Brinehouse is installed: dask worker {at}",
            )
        ) from fault
    wanted = identity()
    for worker, said in client.run(identity, on_error="return").items():
        if said != wanted:
            has = said["version"] if isinstance(said, dict) else "none"
            raise mishaps.Refused(_other(worker, has))


def _other(worker: str, has: str) -> findings.Finding:
    mine = _version.__version__
    same = " with other code or libraries" if has == mine else ""
    return _stop(
        "sweep/other-version",
        f"the worker {worker} has Brinehouse {has}{same}, this machine has {mine}: they may not answer alike",
        "install the same version and the same lock file on every machine and start the workers again",
    )


def _by_cluster(dask: Any, client: Any, task: Task, spans: Sequence[Span], without: float) -> Worked:
    name = f"sweep-{uuid.uuid4().hex}"
    # the question is a task, not scattered: a lost worker takes it along, and it is then made again
    data = client.submit(bytes, task.data, key=f"{name}-question")
    rest = iter(spans)
    waiting: dict[Any, Span] = {}
    alone = time.monotonic()
    while True:
        threads = _threads(client)
        while len(waiting) < AHEAD * max(threads, 1) and (span := next(rest, None)) is not None:
            made = client.submit(worked, task.function, data, span, key=f"{name}-{span[0]}", retries=AGAIN)
            waiting[made] = span
        if not waiting:
            return
        for future in _ready(waiting):
            span = waiting.pop(future)
            yield span, _given(dask, future)
        if client.status == "running" and threads:
            alone = time.monotonic()
        elif time.monotonic() - alone > without:
            raise mishaps.Refused(_gone(f"no worker has been there for {without:.0f} s"))


def _threads(client: Any) -> int:
    """Threads of all workers that the scheduler knows of."""
    told = client.scheduler_info()
    some = sum(int(one["nthreads"]) for one in told["workers"].values())
    return max(some, int(told.get("total_threads", 0)))


def _ready(waiting: dict[Any, Span]) -> list[Any]:
    """What has come to its end; looked for during a second, no longer."""
    for _ in range(50):
        if done := [future for future in waiting if future.done()]:
            return done
        time.sleep(0.02)
    return []


def _given(dask: Any, future: Any) -> Floats:
    try:
        code, values = future.result()
    except (futures.CancelledError, dask.KilledWorker) as fault:
        raise mishaps.Refused(_gone("workers were lost again and again on the same piece")) from fault
    if code != pieces.model():
        raise mishaps.Refused(_other("that came last", "of another build"))
    return values


def _gone(why: str) -> findings.Finding:
    return _stop(
        "sweep/cluster-lost", f"the cluster does not go on: {why}",
        "see after its workers and write the same command again: what is worked out so far is kept",
    )  # fmt: skip


def _stop(code: str, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint)
