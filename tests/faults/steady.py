"""The writer of the power-cut runs: steady.py FOLDER COMMITS SYNCHRONOUS [FAULT-AT [KIND]].

One to three readings a commit; what was acknowledged before is not sent again. With FAULT-AT, that sync
after the first commit fails once, as KIND says, and what was not saved is sent again. Prints how often it was
not saved.
"""

import ctypes
import sys
from pathlib import Path

import harness

from brinehouse.logbook import kept, store


def main(folder, commits, synchronous, fault_at="0", kind="fsync"):
    acknowledged = harness.Acknowledged(Path(folder) / "acknowledged").open()
    before, number, refused = acknowledged.ids(), 0, 0
    with store.open_logbook(folder, create=True, synchronous=synchronous) as book:
        for commit in range(int(commits)):
            if int(fault_at) and commit == 1:
                ctypes.CDLL(None).fault_plan(kind.encode(), ctypes.c_long(int(fault_at)), ctypes.c_long(1))
            batch = [harness.reading(n) for n in range(number, number + commit % 3 + 1)]
            number += len(batch)
            while not before >= {reading.id for reading in batch}:
                try:
                    acknowledged.say(book.append(batch))
                    break
                except kept.NotSaved:
                    refused += 1
    print(refused)


if __name__ == "__main__":
    main(*sys.argv[1:])
