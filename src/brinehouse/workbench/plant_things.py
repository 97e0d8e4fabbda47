"""What the facility file has: every thing of every table, and its boxes in a form, made from the words."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from brinehouse import findings
from brinehouse.facility import boxes, differing, editing, hidden, positions, words
from brinehouse.workbench import clock, filing, hall, mishaps

RETIRE = "retired"


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """One word of a thing, as a form shows it."""

    word: words.Word
    value: str
    choices: Sequence[tuple[str, str]] = ()
    many: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """One thing of the file: where it stands, how it is known, what it says."""

    table: str
    key: str
    name: str
    told: str
    retired: str = ""


def tables() -> list[words.Table]:
    """Tables that have forms, in the order of the words."""
    return [table for table in words.catalogue().values() if table.form != "inner"]


def things(place: hall.Hall, table: str) -> list[Thing]:
    """Every thing of a table, as the file on disk has it."""
    known = table_of(table)
    raw = raw_of(place)
    return [
        Thing(
            table=table,
            key=key_of(path),
            name=name_of(known, path, entry),
            told=told_of(known, entry),
            retired=str(entry.get(RETIRE, "")),
        )
        for path, entry in entries(known, raw)
    ]


def counts(place: hall.Hall) -> dict[str, int]:
    """How many things each table has."""
    raw = raw_of(place)
    return {table.name: sum(1 for _ in entries(table, raw)) for table in tables()}


def form(
    place: hall.Hall, table: str, key: str = "", *, new: bool = False
) -> tuple[str, list[Box], Mapping[str, str]]:
    """The boxes of one thing as the file has it now: its name, the boxes, and what each holds.

    Raises
    ------
    mishaps.Refused
        There is no such thing in the file.
    """
    known = table_of(table)
    entry: Mapping[str, Any] = {}
    name = ""
    if not new:
        raw = raw_of(place)
        path = path_of(known, key)
        entry = entry_at(raw, path, known, key)
        name = name_of(known, path, entry)
    was = shown(known, entry)
    return name, boxes_of(place, known, was), was


def boxes_of(place: hall.Hall, table: words.Table, values: Mapping[str, str]) -> list[Box]:
    """The boxes of a table, filled with some values; what is needed first."""
    shelves = _shelves(place)
    made = [
        Box(
            word=word,
            value=values.get(word.name, ""),
            choices=_choices(word, shelves, values.get(word.name, "")),
            many=boxes.several(word),
        )
        for word in table.words.values()
        if word.kind != "inner"
    ]
    return sorted(made, key=lambda box: not box.word.required)


def shown(table: words.Table, entry: Mapping[str, Any]) -> dict[str, str]:
    """What each box of a thing holds; empty ones are left out."""
    known = table.words
    return {
        word: text
        for word, value in entry.items()
        if word in known and known[word].kind != "inner" and (text := boxes.shown(known[word], value).strip())
    }


def _choices(
    word: words.Word, shelves: Mapping[str, Sequence[tuple[str, str]]], value: str
) -> list[tuple[str, str]]:
    """What may be chosen: of a choice, yes or no, or one thing of the facility."""
    if word.kind == "choice":
        found = [(one, one) for one in word.choices]
    elif word.kind == "bool":
        found = [("yes", "yes"), ("no", "no")]
    elif word.kind.startswith("id:"):
        found = list(shelves.get(word.kind.partition(":")[2], ()))
    else:
        return []
    return found if not value or value in [one for one, _ in found] else [*found, (value, value)]


def _shelves(place: hall.Hall) -> dict[str, list[tuple[str, str]]]:
    """For each kind of id, what it may name: things in use, by id and name."""
    facility = place.checked.facility
    if facility is None:
        return {}
    day = clock.now().astimezone(ZoneInfo(facility.timezone)).date().isoformat()
    parts: dict[str, Mapping[str, Any]] = {
        "place": facility.vessels,
        "pump": facility.pumps,
        "duty": facility.duties,
        "equipment": facility.equipment,
        "run": facility.runs,
        "board": facility.boards,
        "point": facility.points,
        "instrument": facility.instruments,
        "system": {name: one for name, one in facility.systems.items() if one.stated},
    }
    named = {
        kind: [
            (id, f"{id}, {one.name}" if one.name not in (id, "") else id)
            for id, one in shelf.items()
            if facility.in_use(id, day)
        ]
        for kind, shelf in parts.items()
    }
    machine = named["pump"] + named["duty"] + named["equipment"]
    part = named["place"] + machine
    thing = part + named["run"] + named["board"]
    return named | {
        "machine": machine,
        "part": part,
        "run end": [*part, ("outside", "outside")],
        "tap": part + named["run"],
        "scope": named["place"] + named["point"] + named["system"],
        "thing": thing,
        "asset": thing + named["instrument"],
    }


def table_of(name: str) -> words.Table:
    """A table by its name; refused where the file has none of that name."""
    table = words.catalogue().get(name)
    if table is None or table.form == "inner":
        raise mishaps.Refused(stop("plant/no-table", f"the file has no table '{hidden.visible(name)}'", ""))
    return table


def raw_of(place: hall.Hall) -> Mapping[str, Any]:
    """The file on disk as TOML has it; refused where it does not pass check."""
    filed = filing.read(place.file)
    _ = place.facility  # refused where the file does not pass check
    return tomllib.loads(filed.text)


def entries(table: words.Table, raw: Mapping[str, Any]) -> Iterator[tuple[positions.Path, Mapping[str, Any]]]:
    """Every thing of a table, and where it stands."""
    content: Any = raw.get(table.name)
    if table.form == "single":
        if isinstance(content, Mapping):
            yield (table.name,), content
    elif table.form == "named":
        for name, entry in (content or {}).items():
            if isinstance(entry, Mapping):
                yield (table.name, name), entry
    else:
        for index, entry in enumerate(content or ()):
            yield (table.name, index), entry


def number_of(key: str) -> int:
    """The number of a thing in a list, by the key in its address; -1 where that is none."""
    return int(key) if key.isdecimal() and len(key) <= 6 else -1


def path_of(table: words.Table, key: str) -> positions.Path:
    """Where a thing stands, by the key in its address."""
    if table.form == "single":
        return (table.name,)
    if table.form == "list":
        return (table.name, number_of(key))
    return (table.name, key)


def key_of(path: positions.Path) -> str:
    """The key of a thing in its address: its id, or its number in a list."""
    return str(path[1]) if len(path) > 1 else ""


def found_at(raw: Any, path: positions.Path) -> Any:
    """What stands at a path, or None."""
    try:
        return editing.at(raw, path)
    except KeyError:
        return None


def entry_at(raw: Mapping[str, Any], path: positions.Path, table: words.Table, key: str) -> Mapping[str, Any]:
    """The thing at a path; refused where there is none."""
    found = found_at(raw, path) if path[-1] != -1 else None
    if not isinstance(found, Mapping):
        raise mishaps.Refused(gone(table, key))
    return found  # pyright: ignore[reportUnknownVariableType]


def name_of(table: words.Table, path: positions.Path, entry: Mapping[str, Any]) -> str:
    """A thing as a keeper knows it."""
    if table.form == "single":
        return "the facility"
    if table.form == "named":
        return f"{table.name} {hidden.visible(str(path[-1]))}"
    return differing.called(table.name, entry, int(path[-1]))


def told_of(table: words.Table, entry: Mapping[str, Any]) -> str:
    """A thing in one line: its name, and the first few words it says."""
    texts = [
        f"{word.replace('_', ' ')} {text}" if word not in ("name", "kind", "species") else text
        for word, text in shown(table, entry).items()
        if "\n" not in text and word != RETIRE
    ]
    return ", ".join(texts[:4])


def stop(code: str, text: str, hint: str, field: str = "") -> findings.Finding:
    """A finding that refuses, at a box where it belongs to one."""
    return findings.Finding(
        code=code, level=findings.Level.STOP, text=text, hint=hint, spot=findings.Spot(field=field)
    )


def gone(table: words.Table, key: str) -> findings.Finding:
    """That a thing is not in the file."""
    said = f"{table.name} {hidden.visible(key)} is not in the file: somebody took it out, or it never was"
    return stop("plant/gone", said, "look at the list of what there is")
