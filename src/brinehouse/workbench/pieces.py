"""What a sweep has worked out, piece by piece, in the hall's folder: each whole with its hash, or not there.

A folder of pieces belongs to one question: plant, water, failures and the code that answers. Another reading
or another version is another question, so nothing old is ever taken for new.
"""

from __future__ import annotations

import dataclasses
import enum
import functools
import hashlib
import importlib.metadata
import importlib.resources
import json
import math
import os
import platform
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinehouse import _version

Floats = NDArray[np.float64]
Span = tuple[int, int]
FOLDER = "sweeps"
SHEET = "sweep.json"
SIZE = 5  # samples in a piece: about a second of one core for a hall of a dozen tanks
MOST = 1 << 30  # bytes of a piece
LETTERS = 20  # of a question's digest that name its folder
RESTS_ON = ("units", "science", "facility", "network", "engines/time_in_hand")
LEANS_ON = ("numpy", "scipy", "numba", "llvmlite")


class Altered(Exception):  # noqa: N818 - it is worked anew, not a fault of the program
    """A piece is there, but not as it was written."""


# -- what a question is ------------------------------------------------------------------------------------


def digest(thing: object) -> str:
    """The same letters for the same content, in any process.

    >>> digest({"a": 1.0, "b": (2,)}) == digest({"b": [2], "a": 1.0})
    True
    """
    hashed = hashlib.sha256()
    for part in _parts(thing):
        hashed.update(part.encode("utf-8", "surrogatepass") + b"\x00")
    return hashed.hexdigest()


def _parts(thing: object) -> Iterator[str]:
    if thing is None or isinstance(thing, str | bool | int | float | enum.Enum):
        yield f"{type(thing).__name__} {thing.hex() if isinstance(thing, float) else thing}"
    elif isinstance(thing, np.ndarray | np.generic):
        yield f"array {thing.shape} {thing.dtype.str} {hashlib.sha256(thing.tobytes()).hexdigest()}"
    elif isinstance(thing, Mapping):
        yield f"mapping {len(thing)}"
        for key, value in sorted((digest(key), value) for key, value in thing.items()):
            yield key
            yield from _parts(value)
    elif isinstance(thing, AbstractSet):
        yield f"set {sorted(digest(one) for one in thing)}"
    elif dataclasses.is_dataclass(thing):
        yield f"record {type(thing).__name__}"
        for one in dataclasses.fields(thing):
            yield one.name
            yield from _parts(getattr(thing, one.name))
    elif isinstance(thing, Sequence):
        yield f"sequence {len(thing)}"
        for value in thing:
            yield from _parts(value)
    else:
        raise TypeError(f"{type(thing).__name__} has no content that can be told apart")


@functools.cache
def model() -> str:
    """The digest of the code that answers, of what it leans on, and of the kind of machine."""
    versions = {name: _of_package(name) for name in LEANS_ON}
    sources: dict[str, str] = {}
    root = importlib.resources.files("brinehouse")
    for name in RESTS_ON:
        for path, file in _files(root.joinpath(name), name):
            sources[path] = hashlib.sha256(file.read_bytes()).hexdigest()
    return digest((_version.__version__, platform.machine(), versions, sources))


def _of_package(name: str) -> str:
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return ""


def _files(at: Traversable, path: str) -> Iterator[tuple[str, Traversable]]:
    for one in at.iterdir():
        here = f"{path}/{one.name}"
        if one.is_dir():
            yield from _files(one, here)
        elif one.name.endswith((".py", ".toml")):
            yield here, one


# -- what is kept of it ------------------------------------------------------------------------------------


@dataclasses.dataclass(frozen=True, slots=True)
class Kept:
    """The pieces of one question.

    Attributes
    ----------
    folder : Path
    key : str
        Digest of the question.
    """

    folder: Path
    key: str

    def spans(self, samples: int) -> list[Span]:
        """The pieces that so many samples come in."""
        return [(begin, min(begin + SIZE, samples)) for begin in range(0, samples, SIZE)]

    def file(self, span: Span) -> Path:
        """Where a piece is."""
        return self.folder / f"{span[0]:07d}-{span[1]:07d}.piece"

    def write(self, span: Span, values: Floats) -> None:
        """Keep a piece: whole, or not at all."""
        body = np.ascontiguousarray(values, dtype="<f8")
        head = {"question": self.key, "begin": span[0], "end": span[1], "shape": list(body.shape)}
        told = json.dumps({**head, "sha256": _sum(head, body.tobytes())})
        whole(self.file(span), told.encode("ascii") + b"\n" + zlib.compress(body.tobytes(), 1))

    def read(self, span: Span) -> Floats | None:
        """A piece as it was written; None where it is not there.

        Raises
        ------
        Altered
            Where it is there but its hash is another.
        """
        try:
            content = self.file(span).read_bytes()
        except FileNotFoundError:
            return None
        told, _, packed = content.partition(b"\n")
        try:
            head: dict[str, Any] = json.loads(told)
            said = head.pop("sha256")
            shape = tuple(int(one) for one in head["shape"])
            mine = (head["question"], head["begin"], head["end"]) == (self.key, *span)
            body = _unpacked(packed, 8 * math.prod(shape))
        except (ValueError, TypeError, KeyError, AttributeError, zlib.error) as fault:
            raise Altered from fault
        if not mine or said != _sum(head, body):
            raise Altered
        return np.frombuffer(body, dtype="<f8").reshape(shape).astype(np.float64)

    def sheet(self) -> dict[str, Any]:
        """What is written down about the sweep; empty where nothing can be read."""
        try:
            told = json.loads((self.folder / SHEET).read_text("utf-8"))
        except (OSError, ValueError):
            return {}
        return told if isinstance(told, dict) and told.get("question") == self.key else {}

    def note(self, **told: Any) -> None:
        """Write down about the sweep."""
        self.folder.mkdir(parents=True, exist_ok=True)
        text = json.dumps({**self.sheet(), "question": self.key, **told}, indent=1, ensure_ascii=False)
        whole(self.folder / SHEET, text.encode("utf-8"))


def _unpacked(packed: bytes, size: int) -> bytes:
    """As many bytes as there should be, never more: a file may say anything."""
    if not 0 <= size <= MOST:
        raise ValueError
    unpack = zlib.decompressobj()
    body = unpack.decompress(packed, size + 1)
    if len(body) != size or not unpack.eof or unpack.unused_data:
        raise ValueError
    return body


def _sum(head: Mapping[str, Any], body: bytes) -> str:
    return hashlib.sha256(json.dumps(head, sort_keys=True).encode("ascii") + b"\n" + body).hexdigest()


def whole(file: Path, content: bytes) -> None:
    """A file with this content, or the one that was there before."""
    fresh = file.with_name(f".{file.name}.{os.getpid()}.part")
    try:
        with fresh.open("wb") as page:
            page.write(content)
            page.flush()
            os.fsync(page.fileno())
        fresh.replace(file)
    finally:
        fresh.unlink(missing_ok=True)


def folder_of(hall: Path, key: str) -> Path:
    """Where the pieces of a question are, in a hall's folder."""
    return hall / FOLDER / key[:LETTERS]


def gather(kept: Kept, samples: int, altered: Callable[[Span], None] | None = None) -> dict[Span, Floats]:
    """Every piece that is there and as it was written; the others are told of where asked for."""
    found: dict[Span, Floats] = {}
    for span in kept.spans(samples):
        try:
            values = kept.read(span)
        except Altered:
            if altered is not None:
                altered(span)
            continue
        if values is not None:
            found[span] = values
    return found


def joined(found: Mapping[Span, Floats]) -> Floats:
    """Pieces put together in the order of their samples, whatever order they came in."""
    return np.concatenate([found[span] for span in sorted(found)])
