"""The n-th write or sync fails, once or for ever: disk_faults.py JSON-LIST-OF-[KIND, AT, FOR, EARLY].

Runs under faultio.so. Each fault is a process of its own (forked here, so that nothing is imported twice):
it writes, sends again what was not saved, and must still be able to read. EARLY counts from the opening on.
Then, without faults, the store is opened, checked, and the rest is written.
"""

import ctypes
import json
import os
import shutil
import sys
import tempfile
import traceback
from pathlib import Path

import harness

from brinehouse.logbook import kept, store

WRITES = 20
TRIES = 4


def opened(folder):
    """The logbook, opened in a few tries; None where the disk does not let it."""
    for _ in range(TRIES):
        try:
            return store.open_logbook(folder)
        except kept.Refused as refusal:
            if refusal.finding.code != "logbook/disk":
                raise
    return None


def saved(book, acknowledged, number):
    """Write one reading in a few tries, as a phone sends again what was not saved."""
    for _ in range(TRIES):
        try:
            acknowledged.say(book.append([harness.reading(number)]))
        except kept.NotSaved:
            continue
        return True
    return False


def write(folder, acknowledged, numbers, begin=None):
    """Write what can be written; 0 if all was saved, 10 if some was not, 20 if what was cannot be read."""
    acknowledged.open()
    book = opened(folder)
    if book is None:
        return 10
    with book:
        if begin:
            begin()
        short = [number for number in numbers if not saved(book, acknowledged, number)]
        there = {reading.id for reading in book.readings()}
    if not acknowledged.ids() <= there:
        return 20
    return 10 if short else 0


def suffer(folder, acknowledged, kind, at, lasting, early):
    """The process with the fault; one is added to how it ends where the fault was never reached."""
    end = 30
    try:
        plan = ctypes.CDLL(None)

        def begin():
            plan.fault_plan(kind.encode(), ctypes.c_long(at), ctypes.c_long(lasting))

        if early:
            begin()
        end = write(folder, acknowledged, range(WRITES), None if early else begin)
        end += plan.fault_count(int(kind == "fsync")) < at
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(end)


def one(fresh, kind, at, lasting, early):
    """One fault; returns what was wrong, whether it hit, and whether the writer went on by itself."""
    root = Path(tempfile.mkdtemp(prefix="disk-"))
    folder, acknowledged = root / "hall", harness.Acknowledged(root / "acknowledged")
    shutil.copytree(fresh, folder)
    child = os.fork()
    if child == 0:
        suffer(folder, acknowledged, kind, at, lasting, early)
    ended = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    wrong = [] if ended in (0, 1, 10, 11) else [f"the writer ended with {ended}"]
    before = acknowledged.ids()
    wrong += filter(None, [harness.check(folder, before)])
    wrong += ["it did not recover"] if write(folder, acknowledged, range(WRITES)) else []
    wrong += filter(None, [harness.check(folder, acknowledged.ids())])
    told = {"kind": kind, "at": at, "for": lasting, "early": early, "wrong": wrong, "saved": len(before)}
    return told | {"hit": ended % 10 == 0, "went on": ended in (0, 1)}


if __name__ == "__main__":
    made = Path(tempfile.mkdtemp(prefix="fresh-"))
    store.open_logbook(made, create=True).close()
    print(json.dumps([one(made, *fault) for fault in json.loads(sys.argv[1])]))
