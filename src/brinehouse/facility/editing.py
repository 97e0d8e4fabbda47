"""The text of a facility file with one thing changed, added or taken out: notes, order and blanks stay.

Each step is carried out on the text and then proved: what comes out, read again, differs from what went in by
exactly what was asked, or nothing is done at all.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

from brinehouse.facility import changing, positions

Path = positions.Path


def change(text: str, path: Path, values: Mapping[str, Any]) -> str:
    r"""The text with some words of one thing set, or taken out where the value is None.

    Parameters
    ----------
    text : str
        A file that TOML accepts, its lines ended by a line feed.
    path : tuple
        The thing: ``("tank", "reef")``, ``("limit", 0)``, ``("facility",)``.
    values : mapping
        Word to value as TOML has it.

    Raises
    ------
    KeyError
        There is no such thing in the file.
    ValueError
        It cannot be written without touching more than was asked.

    Examples
    --------
    >>> print(change('[tank.reef]\nvolume = "12 m3"  # measured\n\n# next\n', ("tank", "reef"),
    ...     {"volume": "11 m3", "depth": "2 m"}))
    [tank.reef]
    volume = "11 m3"  # measured
    depth = "2 m"
    <BLANKLINE>
    # next
    <BLANKLINE>
    """
    wanted = copy.deepcopy(tomllib.loads(text))
    entry = at(wanted, path)
    fresh = {word: value for word, value in values.items() if value is not None and word not in entry}
    for word, value in values.items():
        if value is not None:
            entry[word] = value
        else:
            entry.pop(word, None)
    kept = {word: value for word, value in values.items() if word not in fresh}
    return _proved(_with_new(_with_set(text, path, kept), path, fresh), wanted)


def add(text: str, path: Path, values: Mapping[str, Any]) -> str:
    """The text with one thing more, after the last of its table; of a list, whatever index is given."""
    wanted: Any = copy.deepcopy(tomllib.loads(text))
    table, key = path[0], path[-1]
    told = {word: value for word, value in values.items() if value is not None}
    if isinstance(key, int):
        wanted.setdefault(table, []).append(told)
    elif key in wanted.setdefault(table, {}):
        raise ValueError(f"{positions.written(path)} is there already")
    else:
        wanted[table][key] = told
    lines = text.split("\n")
    raw = tomllib.loads(text)
    ends = [end for heading, _, end in _blocks(text, raw) if heading[0] == table]
    body = changing.table_text(path, told).rstrip("\n").split("\n")
    if ends:
        lines[max(ends) : max(ends)] = ["", *body]
    else:
        while lines and not lines[-1].strip():
            lines.pop()
        lines += ["", *body, ""]
    return _proved("\n".join(lines), wanted)


def remove(text: str, path: Path) -> str:
    """The text without one thing, and without the notes that stand in it or right above it."""
    raw = tomllib.loads(text)
    wanted: Any = copy.deepcopy(raw)
    at(wanted, path)  # there
    outer = at(wanted, path[:-1])
    del outer[path[-1]]
    if not outer and len(path) == 2:
        del wanted[path[0]]
    lines = text.split("\n")
    doomed = [(start, end) for heading, start, end in _blocks(text, raw) if heading[: len(path)] == path]
    if not doomed:
        raise ValueError(f"{positions.written(path)} is not a table of its own in the file")
    for start, end in reversed(doomed):
        first = start - 1
        while first and lines[first - 1].startswith("#") and not lines[first - 1].startswith("# --"):
            first -= 1
        while end < len(lines) - 1 and not lines[end].strip():
            end += 1
        del lines[first:end]
    return _proved("\n".join(lines), wanted)


def at(raw: Any, path: Path) -> Any:
    """What stands at a path; KeyError where nothing does."""
    for step in path:
        try:
            raw = raw[step]
        except (KeyError, IndexError, TypeError):
            raise KeyError(positions.written(path)) from None
    return raw


def _with_set(text: str, path: Path, values: Mapping[str, Any]) -> str:
    """Words that stand there already, set or taken out."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    if not values:
        return text
    try:
        page: Any = tomlkit.parse(text)
        entry = at(page, path)
        for word, value in values.items():
            if value is not None:
                entry[word] = value
            elif word in entry:
                del entry[word]
        return tomlkit.dumps(page)
    except TOMLKitError as fault:
        raise ValueError(f"{positions.written(path)} cannot be changed here: {fault}") from fault


def _with_new(text: str, path: Path, values: Mapping[str, Any]) -> str:
    """Words that are not there yet, below the last one of their thing."""
    if not values:
        return text
    raw = tomllib.loads(text)
    end = next((end for heading, _, end in _blocks(text, raw) if heading == path), None)
    if end is None:
        raise ValueError(f"{positions.written(path)} is not a table of its own in the file")
    lines = text.split("\n")
    lines[end:end] = [
        f"{changing.key_text(word)} = {changing.value_text(told)}" for word, told in values.items()
    ]
    return "\n".join(lines)


def _blocks(text: str, raw: Any) -> Iterator[tuple[Path, int, int]]:
    """Every table with a heading of its own: its path, its first line, and the line after its last word."""
    lines = text.split("\n")
    heads: dict[int, Path] = {}
    for path, place in positions.scan(text).places.items():
        if lines[place.line - 1].lstrip().startswith("[") and isinstance(_found(raw, path), dict):
            heads[place.line] = path
    starts = sorted(heads)
    for start, following in zip(starts, [*starts[1:], len(lines) + 1], strict=True):
        end = following - 1
        while end > start and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
            end -= 1
        yield heads[start], start, end


def _found(raw: Any, path: Path) -> Any:
    try:
        return at(raw, path)
    except KeyError:
        return None


def _proved(text: str, wanted: Any) -> str:
    """The text, if it says what is wanted and nothing else."""
    try:
        said = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise ValueError(f"the file cannot be written this way: {fault}") from fault
    if said != wanted:
        raise ValueError("more would change than was asked")
    return text
