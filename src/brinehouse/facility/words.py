"""The words of the facility file: one table that checker, ``init``, ``words`` and the manual read."""

from __future__ import annotations

import functools
import importlib.resources
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

SCHEMA = 1  # the newest schema this version knows


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """One word of a table: what may stand after the ``=``."""

    name: str
    kind: str
    meaning: str
    example: str
    required: bool = False
    choices: tuple[str, ...] = ()

    @property
    def expects(self) -> str:
        """What it expects, as one would say it."""
        return kind_in_words(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table of the file: ``form`` is single, named, list or inner."""

    name: str
    form: str
    meaning: str
    words: Mapping[str, Word]
    required: bool = False

    @property
    def heading(self) -> str:
        """The heading as a person writes it.

        >>> catalogue()["tank"].heading, catalogue()["animals"].heading
        ('[tank.ID]', '[[animals]]')
        """
        if self.form == "inner" and catalogue()[self.name.partition(".")[0]].form == "named":
            return "[[{}.ID.{}]]".format(*self.name.split("."))
        return {"single": f"[{self.name}]", "named": f"[{self.name}.ID]"}.get(self.form, f"[[{self.name}]]")


def tables() -> Mapping[str, Mapping[str, Word]]:
    """Every table's words, by name.

    >>> tables()["tank"]["volume"].required
    True
    """
    return {name: table.words for name, table in catalogue().items()}


@functools.cache
def catalogue() -> Mapping[str, Table]:
    """Every table by name, in the order in which a file is best written."""
    page = importlib.resources.files("brinehouse.facility").joinpath("words.toml")
    raw: dict[str, dict[str, Any]] = tomllib.loads(page.read_text("utf-8"))
    found: dict[str, Table] = {}
    for name, entry in raw.items():
        words = raw[entry["same_as"]]["words"] if "same_as" in entry else entry["words"]
        found[name] = Table(
            name=name,
            form=entry["form"],
            meaning=entry["meaning"],
            required=entry.get("required", False),
            words={word: _word(word, told) for word, told in words.items()},
        )
    return found


def _word(name: str, told: Mapping[str, Any]) -> Word:
    return Word(
        name=name,
        kind=told["kind"],
        meaning=told["meaning"],
        example=told["example"],
        required=told.get("required", False),
        choices=tuple(told.get("choices", ())),
    )


_KINDS = {
    "text": "text in quotes",
    "allowance": "text with a percentage",
    "whole": "a whole number",
    "number": "a number",
    "bool": "true or false",
    "date": "a date",
    "zone": "a time zone",
    "quantity": "a quantity of the glossary",
    "list quantity": "a list of quantities of the glossary",
    "unit": "a unit",
    "units": "quantities and their units in braces",
    "band": "text: 'above 101 %', 'below 7.8' or '24 °C to 26 °C'",
    "curve": "a list of pairs, each a flow and a head",
    "loss": "a number, a flow and a head in a list, or a list of such pairs",
    "fittings": "a list of texts, each a number and a fitting",
    "texts": "a list of texts",
    "times of day": "a list of times of the day, each '07:00'",
    "chance": "text: '3e-5 1/h', 'once in 33000 h', '0.5 %' or 'once in 200 starts'",
    "overflow": "text: 'weir 0.6 m', 'notch 90°' or 'standpipe 110 mm'",
    "accuracies": "a list of amounts, one for each quantity it measures",
    "span": "a list of two amounts, low and high",
    "secret": "text: 'env:NAME' or 'file:PATH'",
    "width": "text with an amount of the quantity: how wide",
    "span of day": "text: two times of the day, '22:00 to 06:30'",
    "days": "a list of days of the week",
    "inner": "tables of its own",
}
_AMOUNTS = {
    "length": "a length",
    "area": "an area",
    "volume": "a volume",
    "flow": "a flow",
    "power": "a power",
    "time": "a time",
    "mass": "a mass",
    "mass rate": "a mass per time",
    "temperature": "a temperature",
    "salinity": "a salinity",
}
IDS = {
    "place": "a tank, sump or vessel",
    "machine": "a pump, duty group or equipment",
    "part": "a place or a machine",
    "run end": 'a place, a machine or "outside"',
    "tap": "a place, a machine or a run",
    "scope": "a place, a point or a system",
    "pump": "a pump",
    "point": "a point",
    "system": "a system",
    "instrument": "an instrument",
    "board": "an electrical board",
    "zone": "a zone",
    "stop": "a test point, a place or a run",
    "thing": "a place, a machine, a run or an electrical board",
    "asset": "a place, a machine, a run, an electrical board or an instrument",
}


def kind_in_words(word: Word) -> str:
    """What a word expects, as one would say it.

    >>> kind_in_words(tables()["tank"]["volume"])
    'text with a volume and its unit'
    >>> kind_in_words(tables()["run"]["through"])
    'a list of ids, each of a pump, duty group or equipment'
    """
    kind, _, what = word.kind.partition(":")
    if kind == "amount":
        return f"text with {_AMOUNTS[what]} and its unit"
    if kind == "range":
        return f"a list of two texts, each {_AMOUNTS[what]} with its unit, the smaller first"
    if kind == "id":
        return f"text: the id of {IDS[what]}"
    if kind == "list id":
        return f"a list of ids, each of {IDS[what]}"
    if kind == "list choice":
        return "a list of " + ", ".join(f"'{choice}'" for choice in word.choices)
    if kind == "choice":
        return "one of " + ", ".join(f"'{choice}'" for choice in word.choices)
    return _KINDS[kind]


def reference() -> str:
    """Every table and word as Markdown, for the manual."""
    parts: list[str] = []
    for table in catalogue().values():
        need = " Needed." if table.required else ""
        parts.append(f"### `{table.heading}`\n\n{table.meaning}{need}\n")
        parts.append("| word | expects | meaning | example |\n|---|---|---|---|")
        for word in table.words.values():
            name = f"`{word.name}`" + (" (needed)" if word.required else "")
            cells = (name, kind_in_words(word), word.meaning, f"`{word.example}`")
            parts.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
        parts.append("")
    return "\n".join(parts)
