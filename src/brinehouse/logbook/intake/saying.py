"""What intake says: text from a file made safe to show, and findings counted so that a million stay few."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from brinehouse import findings, units

SHOWN = 40  # characters of a file's own text in a message
KEPT = 10_000  # findings of one code that are kept; more are only counted


class Fault(NamedTuple):
    """A finding before it has its place."""

    code: str
    level: findings.Level
    text: str
    hint: str = ""
    field: str = ""
    data: Mapping[str, Any] = {}


def stop(code: str, text: str, hint: str, field: str = "", **data: Any) -> Fault:
    """A fault that refuses its row or file."""
    return Fault(code, findings.Level.STOP, text, hint, field, data)


def note(code: str, text: str, hint: str = "", field: str = "", **data: Any) -> Fault:
    """A remark."""
    return Fault(code, findings.Level.NOTE, text, hint, field, data)


def ask(
    code: str, text: str, key: str, choices: tuple[str, ...], field: str = "", hint: str = "", **data: Any
) -> Fault:
    """A question; `key` is what an answer names."""
    if not hint:
        options = " or ".join(f"'{key}={choice}'" for choice in choices) or f"'{key}=...'"
        hint = f"answer {options}"
    return Fault(
        code, findings.Level.ASK, text, hint, field, {"answer": key, "choices": list(choices), **data}
    )


def refusal(fault: units.NotUnderstood, field: str, level: findings.Level = findings.Level.STOP) -> Fault:
    """What the units or the glossary refused, said of a field."""
    text = f"{field} {shown(fault.found)} {fault.why}" if fault.found.strip() else f"{field}: {fault.why}"
    return Fault(fault.code, level, text, fault.hint, field, {"found": shown(fault.found)})


def shown(text: str, longest: int = SHOWN) -> str:
    r"""A file's own text in quotes: shortened, and with what does not show made visible.

    >>> print(shown("ok" + chr(27) + "[2J"), shown("x" * 100_000, 5))
    'ok\x1b[2J' 'xxxxx…' (100000 characters)
    """
    head = text[:longest]
    safe = "".join(sign if visible(sign) else _escaped(sign) for sign in head)
    if len(text) > longest:
        return f"'{safe}…' ({len(text)} characters)"
    return f"'{safe}'"


def visible(sign: str) -> bool:
    """Whether a character shows as itself."""
    return sign.isprintable() and unicodedata.category(sign)[0] != "C"


def _escaped(sign: str) -> str:
    code = ord(sign)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


@dataclass(slots=True)
class Said:
    """Findings as they come: each with its file and line or item, the first `KEPT` of each code kept."""

    file: str
    by_item: bool = False
    found: list[findings.Finding] = field(default_factory=list[findings.Finding])
    counts: dict[str, int] = field(default_factory=dict[str, int])
    levels: set[findings.Level] = field(default_factory=set[findings.Level])

    def add(self, fault: Fault, line: int | None = None) -> None:
        """Keep a fault as a finding."""
        if fault.data.get("answer") == "value@LINE":
            key = f"value@{line}"
            hint = fault.hint.replace("value@LINE", key)
            fault = fault._replace(hint=hint, data={**fault.data, "answer": key})
        count = self.counts.get(fault.code, 0) + 1
        self.counts[fault.code] = count
        self.levels.add(fault.level)
        if count > KEPT:
            return
        spot = findings.Spot(
            file=self.file,
            line=None if self.by_item else line,
            item=line if self.by_item else None,
            field=fault.field,
        )
        self.found.append(
            findings.Finding(
                code=fault.code,
                level=fault.level,
                text=fault.text,
                hint=fault.hint,
                spot=spot,
                data=fault.data,
            )
        )

    def ordered(self) -> tuple[findings.Finding, ...]:
        """By place in the file; what is about the whole file first."""
        return tuple(sorted(self.found, key=lambda one: one.spot.line or one.spot.item or 0))


class Once:
    """Says each fault of a row once: the columns of a wide table share their row's time and person."""

    def __init__(self, said: Said, *, alone: bool) -> None:
        self._said = said
        self._alone = alone
        self._told: set[tuple[str, str, str]] = set()

    def begin(self) -> None:
        """A new row."""
        self._told.clear()

    def tell(self, fault: Fault, line: int) -> None:
        """Keep a fault, unless this row said it."""
        if not self._alone:
            mark = (fault.code, fault.field, fault.text)
            if mark in self._told:
                return
            self._told.add(mark)
        self._said.add(fault, line)
