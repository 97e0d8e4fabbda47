"""JSON: a list of items, or one item a line; each a flat object that names its own columns."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from typing import Any

from brinehouse.logbook.intake import headings, rows, saying

LARGEST = 16 * 1024 * 1024  # of a list, which is read at once; one item a line has no such limit
DEEPEST = 2  # a list of items of plain values
_LONGEST_LINE = 1_000_000


class _Pairs(list[tuple[str, Any]]):
    """An object as its pairs, so that a key that comes twice is seen."""


def _number(text: str) -> rows.Odd:
    return rows.Odd(text, "number")


_DECODER = json.JSONDecoder(
    object_pairs_hook=_Pairs, parse_float=_number, parse_int=_number, parse_constant=_number
)


def open_list(data: bytes, encoding: str, known: headings.Known) -> rows.Sheet:
    """The items of a JSON list."""
    if len(data) > LARGEST:
        hint = "send one item a line (ndjson), or the list in parts"
        return rows.refused(saying.stop("intake/too-large", "the list is too long to be read at once", hint))
    try:
        found = _DECODER.decode(data.decode(encoding, "surrogateescape"))
    except RecursionError:
        return rows.refused(_too_deep())
    except json.JSONDecodeError as fault:
        return rows.refused(_not_json(fault))
    if isinstance(found, _Pairs) or not isinstance(found, list):
        return rows.refused(
            saying.stop("intake/not-json", "the file is no list of items", "write [{...}, ...]")
        )
    items: list[Any] = found
    if items and all(isinstance(item, list) and not isinstance(item, _Pairs) for item in items):
        return rows.refused(_too_deep())

    def read() -> Iterator[rows.Row]:
        for number, item in enumerate(items, 1):
            yield _item(number, item, known)

    return rows.Sheet(list(known.fields), 0, read, by_item=True, keyed=True)


def open_lines(data: bytes, encoding: str, known: headings.Known) -> rows.Sheet:
    """One item a line; or a single object over several lines."""
    whole = _single(data, encoding)
    if whole is not None:

        def one() -> Iterator[rows.Row]:
            yield _item(1, whole, known)

        return rows.Sheet(list(known.fields), 0, one, by_item=True, keyed=True)

    def read() -> Iterator[rows.Row]:
        stream = io.TextIOWrapper(io.BytesIO(data), encoding, errors="surrogateescape")
        for line, text in enumerate(stream, 1):
            if not text.strip():
                continue
            if len(text) > _LONGEST_LINE:
                said = f"the line has {len(text)} characters; {_LONGEST_LINE} are read"
                yield line, None, (saying.stop("intake/too-large", said, "one item a line"),)
                continue
            try:
                item = _DECODER.decode(text)
            except RecursionError:
                yield line, None, (_too_deep(),)
            except json.JSONDecodeError as fault:
                yield line, None, (_not_json(fault),)
            else:
                yield _item(line, item, known)

    return rows.Sheet(list(known.fields), 0, read, keyed=True)


def _single(data: bytes, encoding: str) -> _Pairs | None:
    """The object, where the whole of a small file is one object over several lines."""
    if len(data) > _LONGEST_LINE or b"\n" not in data.strip():
        return None
    try:
        found = _DECODER.decode(data.decode(encoding, "surrogateescape"))
    except (json.JSONDecodeError, RecursionError):
        return None
    return found if isinstance(found, _Pairs) else None


def _too_deep() -> saying.Fault:
    said = f"the file is nested too deeply: {DEEPEST} levels are read, a list of items of plain values"
    return saying.stop("intake/too-deep", said, 'write [{"time": "...", "value": 24.6, ...}, ...]')


def _not_json(fault: json.JSONDecodeError) -> saying.Fault:
    said = f"this is not JSON, at character {fault.pos + 1}"
    if fault.pos >= len(fault.doc.rstrip()):
        said = "this is not JSON: it ends too early"
    return saying.stop("intake/not-json", said, 'write {"time": "...", "place": "...", "value": 24.6, ...}')


def _item(number: int, item: Any, known: headings.Known) -> rows.Row:
    """One object as cells in the order of the known fields."""
    if not isinstance(item, _Pairs):
        return number, None, (saying.stop("intake/not-json", "the item is no object", "write {...}"),)
    faults: list[saying.Fault] = []
    cells = [""] * len(known.fields)
    seen: set[str] = set()
    for key, value in item:
        name = known.field(key)
        if name is None:
            faults.append(_unknown(key, known))
            continue
        if name in seen:
            said = f"{saying.shown(key)} comes twice in the item"
            faults.append(saying.stop("intake/doubled-key", said, "leave one", name))
            continue
        seen.add(name)
        cells[known.fields.index(name)] = _cell(value)
    return number, None if faults else cells, tuple(faults[:50])


def _unknown(key: str, known: headings.Known) -> saying.Fault:
    near = known.nearest(key)
    hint = f"did you mean '{near}'?" if near else f"keys are {', '.join(known.fields)}"
    return saying.stop(
        "intake/unknown-key", f"{saying.shown(key)} is not a key for a reading", hint, key[:40]
    )


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, rows.Odd):
        return str(value)
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return rows.Odd("true" if value else "false", "boolean")
    return rows.Odd("a list or an object", "nested")
