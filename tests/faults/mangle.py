"""A logbook's files with one block of 512 bytes spoilt: mangle.py IMAGES SEED; prints what became of each.

The files are those of a server that was killed: entries in the main file, more in its log. A spoilt image
must open as it was, or say what is wrong; what it says is checked against the head that was printed.
"""

import json
import random
import shutil
import sys
import tempfile
from pathlib import Path

import harness

from brinehouse.logbook import database, kept, store

BLOCK = 512
WAYS = ("zeroed", "cut", "flipped")


def made(folder):
    """A logbook as a killed server leaves it, its head, and its readings."""
    live = folder / "live"
    with store.open_logbook(live, create=True) as book:
        book.append([harness.reading(number) for number in range(300)])
    with store.open_logbook(live) as book:
        book.hold()
        for number in range(300, 360):
            book.append([harness.reading(number)])
        head, readings = book.head(), book.readings()
        left = folder / "left"
        left.mkdir()
        for name in (database.FILE, f"{database.FILE}-wal"):
            shutil.copy(live / name, left / name)
    return left, head, readings


def spoil(path, block, way, draw):
    content = bytearray(path.read_bytes())
    begin = block * BLOCK
    if way == "zeroed":
        content[begin : begin + BLOCK] = bytes(len(content[begin : begin + BLOCK]))
    elif way == "cut":
        del content[begin:]
    else:
        content[min(begin + draw.randrange(BLOCK), len(content) - 1)] ^= 1 << draw.randrange(8)
    path.write_bytes(content)


def outcome(folder, head, readings):
    """`right`, what was said, or `wrong` where other readings are served and nothing is said."""
    try:
        with store.open_logbook(folder) as book:
            found = book.verify(head)
            if found:
                return found[0].code
            return "right" if book.readings() == readings and book.head() == head else "wrong"
    except kept.Refused as refusal:
        return refusal.finding.code


def main(images, seed):
    draw = random.Random(int(seed))
    told = []
    with tempfile.TemporaryDirectory(prefix="mangle-") as root:
        left, head, readings = made(Path(root))
        blocks = [
            (path.name, block, way)
            for path in sorted(left.iterdir())
            for block in range(path.stat().st_size // BLOCK)
            for way in WAYS
        ]
        chosen = draw.sample(blocks, min(int(images), len(blocks)))
        for name, block, way in [("", 0, "none"), *chosen]:
            folder = Path(root) / "image"
            shutil.copytree(left, folder)
            if name:
                spoil(folder / name, block, way, draw)
            told.append([name, block, way, outcome(folder, head, readings)])
            shutil.rmtree(folder)
    print(json.dumps(told))


if __name__ == "__main__":
    main(*sys.argv[1:])
