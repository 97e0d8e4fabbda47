"""The writer of the power-cut runs: steady.py FOLDER COMMITS SYNCHRONOUS; one to three readings a commit."""

import ctypes
import sys
from pathlib import Path

import harness

from brinehouse.logbook import kept, store


def main(folder, commits, synchronous, fault_at=0):
    """With `fault_at`, that sync after the first commit fails once; what was not saved is sent again."""
    acknowledged = harness.Acknowledged(Path(folder) / "acknowledged").open()
    with store.open_logbook(folder, create=True, synchronous=synchronous) as book:
        number, refused = 0, 0
        for commit in range(commits):
            if fault_at and commit == 1:
                ctypes.CDLL(None).fault_plan(b"fsync", ctypes.c_long(fault_at), ctypes.c_long(1))
            batch = [harness.reading(n) for n in range(number, number + commit % 3 + 1)]
            while True:
                try:
                    acknowledged.say(book.append(batch))
                    break
                except kept.NotSaved:
                    refused += 1
            number += len(batch)
    print(refused)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), sys.argv[3], *map(int, sys.argv[4:]))
