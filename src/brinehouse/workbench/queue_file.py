"""A phone's queue as a file, handed in on another machine: the same entries by the same rules, each once."""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from brinehouse import findings
from brinehouse.workbench import hall, mishaps, people, queue_in, queue_photo

MOST = 10_000  # entries or pictures of one file


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What became of a file: of each entry and of each picture, in their order."""

    entries: Sequence[dict[str, str]]
    pictures: Sequence[dict[str, str]]

    def count(self, *states: str) -> int:
        """How many of both are in one of these states."""
        return sum(one["state"] in states for one in (*self.entries, *self.pictures))

    @property
    def told(self) -> list[dict[str, str]]:
        """Those that somebody has to look at."""
        return [one for one in (*self.entries, *self.pictures) if one["state"] not in ("stored", "same")]


def take(place: hall.Hall, content: bytes, who: people.Who) -> Taken:
    """Take in a file; when the phone wrote it does not matter, when each entry was made does.

    Raises
    ------
    mishaps.Refused
        Where it is no queue of a phone.
    """
    told = _read(content)
    entries = _rows(told, "entries")
    taken: list[dict[str, str]] = []
    for start in range(0, len(entries), queue_in.MOST):
        batch = {"device": told.get("device"), "entries": entries[start : start + queue_in.MOST]}
        taken += queue_in.take(place, json.dumps(batch).encode(), who)["entries"]
    pictures = [one for row in _rows(told, "photos") for one in _picture(place, row, who)]
    return Taken(entries=taken, pictures=pictures)


def _read(content: bytes) -> dict[str, Any]:
    try:
        told = json.loads(content.decode("utf-8"), object_pairs_hook=_once)
    except (ValueError, RecursionError):
        told = None
    if not isinstance(told, dict) or "entries" not in told:
        raise _no_queue("This file is no queue of a phone", "on the phone: on this phone, save as a file")
    return told  # pyright: ignore[reportUnknownVariableType]


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) != len(pairs):
        raise ValueError("a key stands twice")
    return made


def _rows(told: dict[str, Any], name: str) -> list[Any]:
    rows = told.get(name, [])
    if not isinstance(rows, list) or len(rows) > MOST:  # pyright: ignore[reportUnknownArgumentType]
        raise _no_queue(f"Its {name} are no list of at most {MOST}", "save the file on the phone again")
    return rows  # pyright: ignore[reportUnknownVariableType]


def _picture(place: hall.Hall, row: Any, who: people.Who) -> Iterator[dict[str, str]]:
    told: dict[str, Any] = row if isinstance(row, dict) else {}  # pyright: ignore[reportUnknownVariableType]
    id, about, made = (str(told.get(name) or "") for name in ("id", "about", "made"))
    try:
        content = base64.b64decode(str(told.get("base64") or ""), validate=True)
    except (binascii.Error, ValueError):
        content = b""
    yield from queue_photo.take(place, content, who, id=id, about=about, made=made)["entries"]


def _no_queue(text: str, hint: str) -> mishaps.Refused:
    return mishaps.Refused(
        findings.Finding(code="round/no-batch", level=findings.Level.STOP, text=text, hint=hint)
    )
