"""The thread behind the pages."""

import subprocess
import sys
import threading

import pytest

from brinehouse.web import behind

PROGRAM = """
import sys, time
from concurrent import futures
from brinehouse.web import behind
worker = behind.Worker("slow") if sys.argv[1] == "behind" else futures.ThreadPoolExecutor(1)
worker.submit(time.sleep, 20)
time.sleep(0.2)
"""


def test_what_is_asked_of_it_is_done_in_order_and_what_went_wrong_is_told():
    worker = behind.Worker("one")
    done = []
    first, second = worker.submit(done.append, 1), worker.submit(done.append, 2)
    fault = worker.submit(lambda: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        fault.result(10)
    assert (first.result(0), second.result(0), done) == (None, None, [1, 2])
    assert worker.close()


def test_closing_drops_what_waits_and_does_not_wait_longer_than_it_is_told():
    worker = behind.Worker("one")
    gate, begun = threading.Event(), threading.Event()
    work = worker.submit(lambda: (begun.set(), gate.wait(20)))
    begun.wait(10)
    dropped = worker.submit(int)
    assert not worker.close(0.01)
    gate.set()
    work.result(10)
    assert worker.close(10)
    assert dropped.cancelled()
    with pytest.raises(RuntimeError):
        worker.submit(int)


def test_a_program_ends_while_it_is_still_at_work():
    subprocess.run([sys.executable, "-c", PROGRAM, "behind"], check=True, timeout=15)
    with pytest.raises(subprocess.TimeoutExpired):  # the control: a pool's thread is waited for
        subprocess.run([sys.executable, "-c", PROGRAM, "pool"], check=True, timeout=2)
