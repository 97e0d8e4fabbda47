"""Two facility files side by side: line by line, and as a keeper would say it."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from brinehouse.facility import boxes, hidden, words

AROUND = 2  # lines that did not change, shown before and after one that did
_KEYS: Mapping[str, tuple[str, ...]] = {
    "animals": ("id", "species", "at"),
    "limit": ("quantity", "at"),
    "rate": ("of", "mode"),
    "source": ("id",),
    "upkeep": ("of", "what"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of a difference: ``old``, ``new``, ``same``, or a ``gap`` of lines that did not change."""

    kind: Literal["old", "new", "same", "gap"]
    text: str = ""
    old: int | None = None
    new: int | None = None


def lines(before: str, after: str, around: int = AROUND) -> list[Line]:
    r"""What differs, with a few lines around it.

    >>> [(line.kind, line.text) for line in lines("a\nb\nc", "a\nx\nc")]
    [('same', 'a'), ('old', 'b'), ('new', 'x'), ('same', 'c')]
    """
    old, new = before.splitlines(), after.splitlines()
    found: list[Line] = []
    for group in difflib.SequenceMatcher(None, old, new, autojunk=False).get_grouped_opcodes(around):
        if found:
            found.append(Line(kind="gap"))
        for tag, i1, i2, j1, j2 in group:
            if tag == "equal":
                pairs = zip(range(i1, i2), range(j1, j2), strict=True)
                found += [Line(kind="same", text=old[i], old=i + 1, new=j + 1) for i, j in pairs]
                continue
            found += [Line(kind="old", text=old[i], old=i + 1) for i in range(i1, i2)]
            found += [Line(kind="new", text=new[j], new=j + 1) for j in range(j1, j2)]
    return found


def said(before: str, after: str) -> list[str]:
    r"""What differs, in a keeper's words: thing by thing, in the order of the words.

    >>> said('[tank.reef]\nvolume = "12 m3"', '[tank.reef]\nvolume = "11 m3"\n[pump.P-1]')
    ['tank reef: volume is now 11 m3, and was 12 m3', 'pump P-1 is new']
    """
    old, new = tomllib.loads(before), tomllib.loads(after)
    found: list[str] = []
    for table in words.catalogue().values():
        if table.form == "inner":
            continue
        mine, yours = _things(table, old), _things(table, new)
        for name in dict.fromkeys((*mine, *yours)):
            found += _thing(table, name, mine.get(name), yours.get(name))
    return found


def _things(table: words.Table, raw: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    """Every thing of a table under the name by which a keeper knows it."""
    content = raw.get(table.name)
    if table.form == "single":
        return {"the facility": content} if isinstance(content, Mapping) else {}
    if isinstance(content, Mapping):
        return {f"{table.name} {hidden.visible(str(name))}": one for name, one in content.items()}
    named: dict[str, Mapping[str, Any]] = {}
    for index, one in enumerate(content if isinstance(content, list) else []):  # pyright: ignore[reportUnknownArgumentType, reportUnknownVariableType]
        name = called(table.name, one, index)  # pyright: ignore[reportUnknownArgumentType]
        named[name if name not in named else f"{name} ({index + 1})"] = one
    return named


def called(table: str, entry: Mapping[str, Any], index: int) -> str:
    """How a keeper knows one thing of a list.

    >>> called("limit", {"quantity": "oxygen", "at": "reef"}, 3)
    'limit oxygen, reef'
    """
    told = [str(entry[word]) for word in key_words(table) if entry.get(word)]
    return f"{table} " + (", ".join(hidden.visible(one) for one in told) or str(index + 1))


def key_words(table: str) -> tuple[str, ...]:
    """The words by which the things of a list are told apart."""
    if table in _KEYS:
        return _KEYS[table]
    known = words.catalogue()[table].words
    return tuple(word.name for word in known.values() if word.required or word.name == "id")


def _thing(
    table: words.Table, name: str, old: Mapping[str, Any] | None, new: Mapping[str, Any] | None
) -> Iterator[str]:
    if old is None:
        yield f"{name} is new"
        return
    if new is None:
        yield f"{name} is taken out"
        return
    for word in dict.fromkeys((*old, *new)):
        before, after = old.get(word), new.get(word)
        if before == after:
            continue
        if word == "retired" and after is not None:
            yield f"{name} is retired from {after}"
            continue
        known = table.words.get(word)
        was, now = (_short(known, one) for one in (before, after))
        label = word.replace("_", " ")
        if after is None:
            yield f"{name}: {label} is no longer stated, and was {was}"
        elif before is None:
            yield f"{name}: {label} is now stated: {now}"
        else:
            yield f"{name}: {label} is now {now}, and was {was}"


def _short(word: words.Word | None, value: Any) -> str:
    if value is None:
        return ""
    if word is None or word.kind == "inner":
        return f"{len(value)} of them" if isinstance(value, Sequence) else str(value)
    return boxes.shown(word, value).replace("\n", "; ")
