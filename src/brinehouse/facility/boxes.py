"""A value of the facility file as one box of a form holds it, and back: by the kind of its word."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping
from typing import Any

from brinehouse.facility import words

_WHOLE = re.compile(r"[+-]?\d{1,15}")
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?")
_PAIR = re.compile(r"\s*;\s*|\s*,\s+")
_TO = re.compile(r"\s+to\s+|\s*\n\s*")
_COMMAS = re.compile(r"\s*[,\n]\s*")


def kind(word: words.Word) -> str:
    """The kind of a word without what it is about.

    >>> kind(words.tables()["tank"]["volume"]), kind(words.tables()["duty"]["pumps"])
    ('amount', 'list id')
    """
    return word.kind.partition(":")[0]


def several(word: words.Word) -> bool:
    """Whether its box holds one thing a line.

    >>> several(words.tables()["duty"]["pumps"]), several(words.tables()["animals"]["depth"])
    (True, False)
    """
    listed = word.example.startswith(("[", "{")) and kind(word) not in ("range", "span", "inner")
    return listed or kind(word) == "loss"


def shown(word: words.Word, value: Any) -> str:
    r"""A value of the file as its box shows it.

    >>> shown(words.tables()["animals"]["depth"], ["0.6 m", "2.2 m"])
    '0.6 m to 2.2 m'
    >>> shown(words.tables()["pump"]["curve"], [["0 m3/h", "19 m"], ["60 m3/h", "8 m"]])
    '0 m3/h, 19 m\n60 m3/h, 8 m'
    """
    if value is None:
        return ""
    if isinstance(value, list) and kind(word) in ("range", "span") and len(value) == 2:  # pyright: ignore[reportUnknownArgumentType]
        return " to ".join(_plain(item) for item in value)  # pyright: ignore[reportUnknownVariableType]
    if kind(word) == "loss" and isinstance(value, list) and all(isinstance(item, str) for item in value):  # pyright: ignore[reportUnknownVariableType]
        return ", ".join(value)  # pyright: ignore[reportUnknownArgumentType]
    return _plain(value)


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.15g}"
    if isinstance(value, dt.date | dt.datetime):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "\n".join(f"{name} = {_plain(told)}" for name, told in value.items())  # pyright: ignore[reportUnknownVariableType]
    if isinstance(value, list):
        return "\n".join(_row(item) for item in value)  # pyright: ignore[reportUnknownVariableType]
    return str(value)


def _row(item: Any) -> str:
    return ", ".join(_plain(one) for one in item) if isinstance(item, list) else _plain(item)  # pyright: ignore[reportUnknownVariableType]


def read(word: words.Word, text: str) -> Any:
    """What a box says, as the file holds it: None where it is empty, its text where it is not understood.

    What is not understood is left for the checks, which say what would be right.

    >>> read(words.tables()["animals"]["depth"], "0.6 m to 2.2 m")
    ['0.6 m', '2.2 m']
    >>> read(words.tables()["duty"]["keep"], "3"), read(words.tables()["duty"]["keep"], "three")
    (3, 'three')
    """
    text = text.strip()
    if not text:
        return None
    reader = _READ.get(kind(word)) or (_lines if several(word) else None)
    return reader(text) if reader is not None else text


def _bool(text: str) -> Any:
    return {"yes": True, "no": False, "true": True, "false": False}.get(text.lower(), text)


def _whole(text: str) -> Any:
    return int(text) if _WHOLE.fullmatch(text) else text


def _number(text: str) -> Any:
    if _WHOLE.fullmatch(text):
        return int(text)
    return float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else text


def _date(text: str) -> Any:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return text


def _lines(text: str) -> Any:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _names(text: str) -> Any:
    return [name for name in _COMMAS.split(text) if name]


def _ends(text: str) -> Any:
    return _TO.split(text)


def _pairs(text: str) -> Any:
    return [_PAIR.split(line) for line in _lines(text)]


def _loss(text: str) -> Any:
    number = _number(text)
    if not isinstance(number, str):
        return number
    rows = _pairs(text)
    return rows[0] if len(rows) == 1 else rows


def _units(text: str) -> Any:
    rows = (line.partition("=") for line in _lines(text))
    return {name.strip(): unit.strip() for name, _, unit in rows}


_READ: Mapping[str, Callable[[str], Any]] = {
    "bool": _bool,
    "whole": _whole,
    "number": _number,
    "date": _date,
    "texts": _lines,
    "fittings": _lines,
    "accuracies": _lines,
    "list id": _names,
    "list quantity": _names,
    "range": _ends,
    "span": _ends,
    "curve": _pairs,
    "loss": _loss,
    "units": _units,
}
