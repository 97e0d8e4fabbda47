"""Changes as they are typed: one a line, without quotes.

::

    set m-supply flow = 40 m3/h; high = 8 m
    set m-side without flow
    add equipment column-2; kind = packed column; into = m-estuary; after = uv-m
    add run bypass from sump-m through return-m to estuary; flow = 4 m3/h
    remove column-m
    reroute m-side from mangrove to sump-m
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any

from brinehouse import findings
from brinehouse.facility import alike, change_list, hidden, words

_NAME = r'"[^"]+"|\S+'
_HEAD = re.compile(r"(?P<verb>[A-Za-z-]+)\s*(?P<rest>.*)")
_ADD_LISTED = re.compile(r"(?P<table>animals|limit|source)\s*;?\s*(?P<rest>.*)")
_ADD = re.compile(rf"(?P<table>[A-Za-z.]+)\s+(?P<id>(?:{_NAME}))\s*;?\s*(?P<rest>.*)")
_LISTED = re.compile(r"(?P<what>(?:animals|limit|source) \d+)(?!\S)\s*;?\s*(?P<rest>.*)")
_WHAT = re.compile(rf"(?P<what>(?:{_NAME}))\s*;?\s*(?P<rest>.*)")
_WAY = re.compile(r"(?:^|\s)(from|through|to)(?:\s*=\s*|\s+)")
_PAIR = re.compile(r"(?P<word>[A-Za-z_]+)\s*=\s*(?P<value>.*)")
_HINTS = {
    "set": "write: set m-supply flow = 40 m3/h",
    "add": "write: add equipment column-2; kind = packed column; into = m-estuary; after = uv-m",
    "remove": "write: remove column-m",
    "reroute": "write: reroute m-side from mangrove to sump-m",
}


def read(text: str, name: str = "what-if") -> change_list.Changes:
    """A change list typed with one change a line; ``#`` begins a note."""
    found: list[findings.Finding] = []
    items: list[change_list.Change] = []
    for number, line in enumerate(text.replace("\r\n", "\n").split("\n"), 1):
        bare = re.sub(r"(?:^|\s)#.*$", "", line).strip()
        if bare:
            column = len(line) - len(line.lstrip()) + 1
            spot = findings.Spot(file=name, line=number, column=column)
            made = _line(bare, spot, found)
            items += [made] if made is not None else []
    return change_list.Changes(items=tuple(items), findings=tuple(found), name=name, text=text)


def _line(line: str, spot: findings.Spot, found: list[findings.Finding]) -> change_list.Change | None:
    head = _HEAD.fullmatch(line)
    verb = head["verb"].lower() if head is not None else ""
    if head is None or verb not in change_list.VERBS:
        first = line.split()[0]
        near = alike.meant(first, change_list.VERBS)
        hint = alike.offer(near) or "begin a line with set, add, remove or reroute"
        text = f"'{hidden.visible(first)}' is not something a change list does"
        found.append(change_list.stop("changing/unknown-verb", text, hint, spot, near=near))
        return None
    entry, left = _named(verb, head["rest"])
    faults = _words(verb, left, entry) if entry else [f"'{verb}' of what?"]
    if faults:
        found += [change_list.stop("changing/line", fault, _HINTS[verb], spot) for fault in faults]
        return None
    return change_list.make(verb, entry, {"": spot} | dict.fromkeys(entry, spot), found)


def _named(verb: str, rest: str) -> tuple[dict[str, Any], str]:
    """What a line is about, and what is left of it."""
    if verb == "add":
        hit = _ADD_LISTED.fullmatch(rest) or _ADD.fullmatch(rest)
    else:
        hit = _LISTED.fullmatch(rest) or _WHAT.fullmatch(rest)
    if hit is None:
        return {}, rest
    named = hit.groupdict()
    left = named.pop("rest")
    for word in ("id", "what"):
        if word in named:
            named[word] = named[word].rstrip(";").strip('"')
    return dict(named), left


def _words(verb: str, left: str, entry: dict[str, Any]) -> list[str]:
    """The words of a line into its entry; gives back what was not understood."""
    faults: list[str] = []
    for piece in [part.strip() for part in left.split(";") if part.strip()]:
        ways = list(_WAY.finditer(piece))
        routed = verb == "reroute" or (verb == "add" and entry["table"] == "run")
        if routed and ways and ways[0].start() == 0:
            _way(piece, ways, entry)
        elif piece.startswith("without "):
            entry["without"] = [word.strip() for word in piece[8:].split(",") if word.strip()]
        elif (hit := _PAIR.fullmatch(piece)) is not None and hit["value"].strip():
            entry[hit["word"]] = value(hit["word"], hit["value"].strip(), _table(verb, entry))
        else:
            faults.append(f"'{hidden.visible(piece)}' is not understood: a word, '=' and a value are wanted")
    return faults


def _way(piece: str, ways: list[re.Match[str]], entry: dict[str, Any]) -> None:
    """``from A through B, C to D``."""
    ends = [*(way.start() for way in ways[1:]), len(piece)]
    for way, end in zip(ways, ends, strict=True):
        told = piece[way.end() : end].strip()
        if way[1] == "through":
            entry["through"] = [] if told == "nothing" else _ids(told)
        else:
            entry[way[1]] = told.strip('"')


def _ids(told: str) -> list[str]:
    return [item.strip().strip('"') for item in told.split(",") if item.strip()]


def _table(verb: str, entry: Mapping[str, Any]) -> str:
    return str(entry.get("table", "")) if verb == "add" else ""


def value(word: str, told: str, table: str = "") -> Any:
    """What was typed behind a word, as the facility file would hold it.

    >>> value("flow", "40 m3/h"), value("keep", "2"), value("depth", "0.2 m to 0.4 m", "animals")
    ('40 m3/h', 2, ['0.2 m', '0.4 m'])
    """
    if told[0] in '["{':
        try:
            return tomllib.loads(f"it = {told}")["it"]
        except tomllib.TOMLDecodeError:
            return told
    kinds = _kinds(word, table)
    if "bool" in kinds and told in ("true", "false"):
        return told == "true"
    if "whole" in kinds and re.fullmatch(r"\d{1,9}", told):
        return int(told)
    if "number" in kinds and re.fullmatch(r"-?\d{1,9}(\.\d{1,9})?", told):
        return float(told)
    if any(kind.startswith("list ") for kind in kinds):
        return _ids(told)
    if any(kind.startswith(("range", "span")) for kind in kinds) and " to " in told:
        return [end.strip() for end in told.split(" to ", 1)]
    return told


def _kinds(word: str, table: str) -> set[str]:
    """The kinds a word has in the table, or in every table where that is not known."""
    known = words.tables()
    tables = [known[table]] if table in known else list(known.values())
    return {each[word].kind for each in tables if word in each}
