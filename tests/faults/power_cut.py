"""Power cuts without a switch: from a trace of every write and sync, what the disk may hold at any moment.

Three models of a disk at the moment of the cut:

``kill``    everything written so far is there: what kill -9 leaves;
``synced``  only what a sync covered is there;
``torn``    of what no sync covered, a random part of the 512-byte sectors made it, in any order.

A sync that failed covers nothing, and neither does a later one: the pages it lost count as written in memory.
"""

import random
from pathlib import Path

MODELS = ("kill", "synced", "torn")
SECTOR = 512


def read_trace(path, folder):
    """The operations of a trace: (what, file name, offset, data)."""
    found = []
    with Path(path).open("rb") as trace:
        while head := trace.readline():
            what, where, offset, length = head.decode().rstrip("\n").split("\t")
            data = trace.read(int(length)) if what == "write" else b""
            name = "." if where.rstrip("/") == str(folder).rstrip("/") else Path(where).name
            found.append((what, name, int(offset), data))
    return found


def _put(page, offset, data):
    """Write into a page; None cuts it at the offset."""
    if data is None:
        page[:] = page[:offset] + bytes(max(0, offset - len(page)))
        return
    if len(page) < offset:
        page.extend(bytes(offset - len(page)))
    page[offset : offset + len(data)] = data


class Disk:
    """What was written, and what of it is known to be on the disk."""

    SLIP = "acknowledged"
    """The file of what was called saved."""

    def __init__(self):
        self.written, self.durable, self.pending, self.ghosts = {}, {}, {}, {}
        self.acknowledged = set()

    def do(self, what, name, offset, data):
        """One operation of the trace."""
        if name == self.SLIP:
            if what == "write":
                self.acknowledged |= set(data.decode().split())
        elif what in ("write", "cut"):
            change = (offset, data if what == "write" else None)
            _put(self.written.setdefault(name, bytearray()), *change)
            self.pending.setdefault(name, []).append(change)
            self.ghosts.pop(name, None)
        elif what == "sync":
            self.ghosts.clear()  # a journalling file system settles earlier unlinks with any sync
            if name in self.written:
                page = self.durable.setdefault(name, bytearray())
                for change in self.pending.pop(name, []):
                    _put(page, *change)
        elif what == "lost":
            self.pending.pop(name, None)
        elif what == "unlink":
            if name in self.durable:
                self.ghosts[name] = bytes(self.durable[name])
            for book in (self.written, self.durable, self.pending):
                book.pop(name, None)

    def image(self, model, chance):
        """The files the disk may hold if the power goes now."""
        if model == "kill":
            return {name: bytes(page) for name, page in self.written.items()}
        found = {}
        for name in self.written:
            page = bytearray(self.durable.get(name, b""))
            if model == "torn":
                for offset, data in self.pending.get(name, []):
                    for part in [None] if data is None else range(0, len(data), SECTOR):
                        if chance.random() < 0.5:
                            piece = None if part is None else data[part : part + SECTOR]
                            _put(page, offset + (part or 0), piece)
            if name in self.durable or page:
                found[name] = bytes(page)
        whole = model == "synced"
        return found | {name: page for name, page in self.ghosts.items() if whole or chance.random() < 0.5}


def images(operations, model, count, seed):
    """Disks at random moments, in order of time: (moment, files, what was acknowledged by then).

    A quarter of the moments are while the logbook is made, however many writes that takes; the others come
    after something was called saved.
    """
    chance = random.Random(seed)
    said = [number for number, (_, name, _, _) in enumerate(operations, start=1) if name == Disk.SLIP]
    saved = said[0] if said else len(operations)
    spans = [(1, saved)] * (count // 4) + [(saved, len(operations))] * (count - count // 4)
    moments = sorted(chance.randint(*span) for span in spans)
    disk, done = Disk(), 0
    for moment in moments:
        for operation in operations[done:moment]:
            disk.do(*operation)
        done = moment
        yield moment, disk.image(model, chance), set(disk.acknowledged)


def lay_out(files, folder):
    """Put an image into a folder, as the machine finds it when the power is back."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, page in files.items():
        if not name.endswith("-shm") and name.startswith("logbook.sqlite"):
            (folder / name).write_bytes(page)
    return folder
