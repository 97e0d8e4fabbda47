"""kill -9 at random moments while sixteen threads write: kills.py WRITES KILLS SEED; prints JSON.

After each kill: open, check what was acknowledged (and the whole chain every fifth time), and go on with what
was never acknowledged, and three that were, as a phone sends again what it did not hear back about.
"""

import json
import os
import random
import signal
import sys
import tempfile
import threading
import time
from pathlib import Path

import harness

from brinehouse.logbook import store

LINE = 9  # bytes of one acknowledgement


def write(folder, acknowledged, numbers):
    """The process that will be killed."""
    acknowledged.open()
    with store.open_logbook(folder, create=True) as book:

        def work(mine):
            for number in mine:
                outcomes = book.append([harness.reading(number)])
                if outcomes[0].state == "conflict":
                    os._exit(3)
                acknowledged.say(outcomes)

        threads = [threading.Thread(target=work, args=(numbers[k::16],)) for k in range(16)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()


def wait_for(path, more):
    """Until `more` bytes were added to the acknowledgements, thirty seconds at most."""

    def size():
        return path.stat().st_size if path.exists() else 0

    enough, end = size() + more, time.monotonic() + 30
    while size() < enough and time.monotonic() < end:
        time.sleep(0.001)


def main(writes, kills, seed):
    chance = random.Random(seed)
    root = Path(tempfile.mkdtemp(prefix="kills-"))
    folder, acknowledged = root / "hall", harness.Acknowledged(root / "acknowledged")
    done, wrong, slowest = 0, [], 0.0
    while done < kills or len(acknowledged.ids()) < writes:
        before = acknowledged.ids()
        todo = [n for n in range(writes + 40 * kills) if harness.name(n) not in before]
        again = [int(text[1:]) for text in chance.sample(sorted(before), min(3, len(before)))]
        child = os.fork()
        if child == 0:
            try:
                write(folder, acknowledged, again + todo)
            finally:
                os._exit(0)
        if chance.random() < 0.2:  # while it opens
            time.sleep(chance.uniform(0.0, 0.1))
        else:
            wait_for(acknowledged.path, LINE * chance.randrange(1, 2 * writes // kills))
            time.sleep(chance.uniform(0.0, 0.01))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        done += os.WIFSIGNALED(status)
        if os.WIFEXITED(status) and os.WEXITSTATUS(status):
            wrong.append("a reading sent again was taken for another")
        clock = time.perf_counter()
        with store.open_logbook(folder, create=True) as book:
            book.readings(limit=1)
        slowest = max(slowest, time.perf_counter() - clock)
        if fault := harness.check(folder, acknowledged.ids(), whole=done % 5 == 0):
            wrong.append(fault)
    if fault := harness.check(folder, acknowledged.ids()):
        wrong.append(fault)
    with store.open_logbook(folder) as book:
        stored = book.head()[0]
    told = {"kills": done, "acknowledged": len(acknowledged.ids()), "stored": stored}
    print(json.dumps(told | {"wrong": wrong, "restart": round(slowest, 3), "seed": seed}))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:4]))
