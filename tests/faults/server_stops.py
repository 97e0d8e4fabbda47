"""Writers at a real PostgreSQL server that stops, stands still or comes back; and what must hold after it."""

import signal
import threading
import time

from harness import reading

from brinehouse import records
from brinehouse.logbook import kept, store, writer


class Phone(threading.Thread):
    """Sends one reading after the other; what was not called saved is sent again, under the same id."""

    def __init__(self, book, first):
        super().__init__(daemon=True)
        self.book, self.next = book, first
        self.saved, self.attempted = {}, set()
        self.again = {"new": 0, "same": 0}
        self.fault = None
        self.ended = threading.Event()

    def run(self):
        try:
            while not self.ended.is_set():
                self._send(reading(self.next))
                self.next += 1
        except Exception as fault:
            self.fault = fault

    def _send(self, one: records.Reading):
        self.attempted.add(one.id)
        tries = 0
        while not self.ended.is_set():
            try:
                outcome = self.book.append([one])[0]
            except kept.NotSaved:
                tries += 1
                time.sleep(0.05)
                continue
            self.saved[one.id] = time.monotonic()
            if tries:
                self.again[outcome.state] += 1
            return


def careless(self, group):
    """The control: a commit that failed is tried once more on the same handle, and called good."""
    try:
        told = self._commit(group)
    except Exception:
        self._drop()
        told = [(job, [kept.Outcome("", "new", 0)], None) for job in group]
    for job, result, error in told:
        job.future.set_result(result) if error is None else job.future.set_exception(error)


def disturb(server, how, seconds):
    """Do it to the server; when it answered again."""
    if how == "paused":
        with server.paused():
            time.sleep(seconds)
    else:
        server.stop(signal.SIGQUIT if how == "immediate" else signal.SIGINT)
        time.sleep(seconds)
        server.start()
    server.wait()
    return time.monotonic()


def run(server, database, how, *, times=1, seconds=0.5, phones=4, control=False):
    """Disturb a server under load; what was acknowledged, attempted and found, and how soon it went on."""
    address = server.fresh(database)
    before = writer.Writer._write
    if control:
        writer.Writer._write = careless
    try:
        book = store.open_logbook(address, create=True)
        senders = [Phone(book, 100_000 * number) for number in range(1, phones + 1)]
        for phone in senders:
            phone.start()
        waits = []
        for _ in range(times):
            time.sleep(0.7)
            back = disturb(server, how, seconds)
            waits.append(_went_on(senders, back))
        time.sleep(0.3)
        for phone in senders:
            phone.ended.set()
        for phone in senders:
            phone.join(30)
        book.close()
    finally:
        writer.Writer._write = before
    with server.raw(database) as raw:
        there = [row[0] for row in raw.execute("SELECT id FROM entry").fetchall()]
    with store.open_logbook(address) as again:
        found = again.verify()
    saved = {id for phone in senders for id in phone.saved}
    attempted = {id for phone in senders for id in phone.attempted}
    return {
        "saved": len(saved),
        "lost": len(saved - set(there)),
        "doubled": len(there) - len(set(there)),
        "never sent": len(set(there) - attempted),
        "waits": waits,
        "again": {state: sum(phone.again[state] for phone in senders) for state in ("new", "same")},
        "faults": [repr(phone.fault) for phone in senders if phone.fault],
        "found": [str(finding) for finding in found],
    }


def _went_on(senders, back):
    """How long after the server was back the next reading was called saved. [s]"""
    end = back + 30
    while time.monotonic() < end:
        later = [at for phone in senders for at in list(phone.saved.values())[-3:] if at > back]
        if later:
            return max(0.0, min(later) - back)
        time.sleep(0.02)
    return float("inf")
