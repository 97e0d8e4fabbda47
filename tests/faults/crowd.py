"""One of several programs that write one logbook: crowd.py FOLDER WHO WRITES WAIT; prints what it met."""

import json
import sys
import time
from pathlib import Path

import harness

from brinehouse.logbook import kept, store


def main(folder, who, writes, wait):
    waits, busy, saved = [], 0, []
    with store.open_logbook(Path(folder), wait=float(wait)) as book:
        for count in range(int(writes)):
            begun = time.monotonic()
            try:
                saved += [one.id for one in book.append([harness.reading(int(who) * 100_000 + count)])]
            except kept.Busy:
                busy += 1
            waits.append(time.monotonic() - begun)
    print(json.dumps({"saved": saved, "busy": busy, "waits": waits}))


if __name__ == "__main__":
    main(*sys.argv[1:])
