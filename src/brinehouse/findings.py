"""What checks and engines say: a permanent code, a level, a place, and a way out."""

from __future__ import annotations

import enum
import functools
import importlib.resources
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any


class Level(enum.StrEnum):
    """How much a finding weighs, lightest first.

    ``note`` says what was assumed; ``watch`` and ``act`` are about water and animals;
    ``ask`` needs an answer from a person before the thing in doubt is used;
    ``stop`` refuses the thing (a row, a file, a facility) outright.
    """

    NOTE = "note"
    WATCH = "watch"
    ACT = "act"
    ASK = "ask"
    STOP = "stop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where a finding is: any part that is known; lines, columns and items count from one."""

    file: str = ""
    line: int | None = None
    column: int | None = None
    item: int | None = None
    field: str = ""
    thing: str = ""

    def __str__(self) -> str:
        """``facility.toml:14:3`` as far as it is known."""
        parts = [self.file] if self.file else []
        if self.line is not None:
            parts.append(str(self.line))
            if self.column is not None:
                parts.append(str(self.column))
        elif self.item is not None:
            parts.append(f"item {self.item}")
        return ":".join(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing worth saying.

    Attributes
    ----------
    code : str
        Permanent id, listed with its meaning in ``codes/``; never reused, never translated.
    level : Level
        How much it weighs.
    text : str
        One sentence: the thing by its name, and what is not as it should be.
    hint : str
        What would be right, or the way out. Empty only where there is none.
    spot : Spot
        Where.
    data : mapping
        The numbers and names behind the sentence, for ``--json`` and for tests.
    """

    code: str
    level: Level
    text: str
    hint: str = ""
    spot: Spot = Spot()
    data: Mapping[str, Any] = field(default_factory=dict[str, Any])

    def __str__(self) -> str:
        """Two lines, as the terminal shows them."""
        where = str(self.spot)
        head = f"{where}: {self.text}" if where else self.text
        tail = f"    try: {self.hint}  [{self.code}]" if self.hint else f"    [{self.code}]"
        return f"{head}\n{tail}"

    def as_json(self) -> dict[str, Any]:
        """Plain data, keys in a fixed order."""
        spot = {
            name: value
            for name in ("file", "line", "column", "item", "field", "thing")
            if (value := getattr(self.spot, name)) not in (None, "")
        }
        return {
            "code": self.code,
            "level": self.level.value,
            "text": self.text,
            "hint": self.hint,
            "spot": spot,
            "data": dict(self.data),
        }


@functools.cache
def codes() -> Mapping[str, str]:
    """Every finding code and what it means: ``codes/FAMILY.toml`` holds ``name = "meaning"``.

    >>> "facility/unknown-word" in codes()
    True
    """
    folder = importlib.resources.files("brinehouse").joinpath("codes")
    found: dict[str, str] = {}
    for page in sorted(folder.iterdir(), key=lambda entry: entry.name):
        family = page.name.removesuffix(".toml")
        for name, meaning in tomllib.loads(page.read_text("utf-8")).items():
            found[f"{family}/{name}"] = meaning
    return found


def worst(findings: Iterable[Finding]) -> Level | None:
    """The heaviest level among findings, or None where there are none.

    >>> worst([]) is None
    True
    """
    order = list(Level)
    return max((finding.level for finding in findings), key=order.index, default=None)
