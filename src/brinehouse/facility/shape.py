"""The document against the words: unknown, wrong and missing ones, all at once; values made SI."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from brinehouse import findings
from brinehouse.facility import alike, hidden, positions, values, words

Path = positions.Path
SECRET_WORD = re.compile(r"(?i)passw|pwd|passphrase|secret|token|api_?-?key|credential|private_?-?key")
HAZEN_WORD = re.compile(r"(?i)c|hazen.*|hw|(?:hw|c)[_-]?(?:factor|value|coefficient)|.*hazen.*williams.*")
LONGEST_ID = 60
_OF_QUANTITY = ("unit", "span", "band", "width")  # kinds that wait for the quantity of their table


@dataclass(frozen=True, slots=True)
class Entry:
    """One table of the file: its path, how a person calls it, and its values as understood."""

    table: str
    id: str
    path: Path
    values: dict[str, Any]

    @property
    def thing(self) -> str:
        """The thing as the keeper named it."""
        return thing(self.table, self.id, self.path)


@dataclass(slots=True)
class Draft:
    """What was understood of a document, and what is to be said about it."""

    places: positions.Positions
    entries: dict[str, list[Entry]] = field(default_factory=dict[str, list[Entry]])
    said: list[findings.Finding] = field(default_factory=list[findings.Finding])
    ghosts: set[str] = field(default_factory=set[str])
    """Ids that stand in tables whose heading was not understood: they are not reported missing as well."""

    def say(
        self,
        code: str,
        path: Path,
        text: str,
        hint: str = "",
        *,
        key: bool = False,
        level: findings.Level = findings.Level.STOP,
        about: str = "",
        **data: Any,
    ) -> None:
        """Add a finding about a path."""
        spot = self.places.spot(path, about, key=key)
        text, hint = hidden.plain(text), hidden.plain(hint)
        data = {name: _plain(value) for name, value in data.items()}
        found = findings.Finding(code=code, level=level, text=text, hint=hint, spot=spot, data=data)
        self.said.append(found)

    def of(self, *tables: str) -> list[Entry]:
        """Every entry of some tables, in the order of the tables."""
        return [entry for table in tables for entry in self.entries.get(table, [])]


def _plain(value: Any) -> Any:
    """A name or a list of names without hidden characters."""
    if isinstance(value, list):
        return [_plain(item) for item in value]
    return hidden.visible(value) if isinstance(value, str) else value


def thing(table: str, name: str, path: Path) -> str:
    """How a person calls an entry.

    >>> thing("tank", "T-1", ("tank", "T-1")), thing("limit", "", ("limit", 1))
    ('tank T-1', 'limit 2')
    """
    if table == "facility":
        return "the facility"
    if table == "source.map":
        return f"address {int(path[-1]) + 1} of source {int(path[1]) + 1}"
    if table == "round.stop":
        return f"stop {int(path[-1]) + 1} of round {hidden.visible(str(path[1]))}"
    if table == "failure.does":
        return f"effect {int(path[-1]) + 1} of failure {hidden.visible(str(path[1]))}"
    if name:
        return f"{table} {hidden.visible(name)}"
    return f"{table} {int(path[-1]) + 1}" if path and isinstance(path[-1], int) else table


def take(raw: Mapping[str, Any], places: positions.Positions) -> Draft:
    """Every table of a document, checked word by word."""
    draft = Draft(places)
    known = words.catalogue()
    for name, content in raw.items():
        if name == "schema":
            continue
        if name in known and known[name].form != "inner":
            _TAKERS[known[name].form](draft, known[name], content)
        else:
            _unknown_table(draft, name, content)
    for name, table in known.items():
        if table.required and name not in raw and name not in draft.entries:
            _missing_table(draft, table)
    return draft


# -- tables ---------------------------------------------------------------------------------------------


def _unknown_table(draft: Draft, name: str, content: Any) -> None:
    tables = [key for key, table in words.catalogue().items() if table.form != "inner"]
    near = next(iter(alike.meant(name, [*tables, "schema"])), "")
    draft.ghosts |= _ids_within(content)
    shown = hidden.visible(name)
    if SECRET_WORD.search(name) and not isinstance(content, dict | list):
        _secret(draft, (name,), "the file")
        return
    what = "table" if isinstance(content, dict | list) else "word"
    if near:
        table = words.catalogue().get(near)
        if table is not None:  # the word 'schema' is no table
            draft.entries.setdefault(near, [])
        heading = table.heading if table is not None else near
        hint = f"write '{heading}'"
    else:
        hint = "the tables are: " + ", ".join(tables)
    draft.say(
        "facility/unknown-word",
        (name,),
        f"the file has the {what} '{shown}', which is not a word for it",
        hint,
        key=True,
        found=shown,
        near=near,
    )


def _ids_within(content: Any) -> set[str]:
    if isinstance(content, dict):
        return {key for key, value in content.items() if isinstance(value, dict)}
    if isinstance(content, list):
        return {str(item["id"]) for item in content if isinstance(item, dict) and "id" in item}
    return set()


def _missing_table(draft: Draft, table: words.Table) -> None:
    draft.say(
        "facility/missing",
        (table.name,),
        f"the file has no {table.heading}: {table.meaning[0].lower()}{table.meaning[1:]}",
        "write one, e.g.\n" + _sample(table),
        missing=table.name,
    )


def _sample(table: words.Table) -> str:
    heading = table.heading.replace("ID", "mangrove")
    lines = [f"{word.name} = {word.example}" for word in table.words.values() if word.required]
    return "\n".join("        " + line for line in (heading, *lines))


def _take_single(draft: Draft, table: words.Table, content: Any) -> None:
    if not isinstance(content, dict):
        found = "a list of tables" if isinstance(content, list) else values.found(content)
        draft.say(
            "facility/wrong-kind",
            (table.name,),
            f"'{table.name}' is {found}, not one table",
            f"write {table.heading} once, with one pair of brackets",
            key=True,
        )
        draft.entries.setdefault(table.name, [])
        return
    _take_entry(draft, table, "", (table.name,), content)


def _take_named(draft: Draft, table: words.Table, content: Any) -> None:
    draft.entries.setdefault(table.name, [])
    sample = table.heading.replace("ID", "mangrove" if table.name == "tank" else f"{table.name}-1")
    if not isinstance(content, dict):
        draft.ghosts |= _ids_within(content)
        found = "a list of tables" if isinstance(content, list) else values.found(content)
        draft.say(
            "facility/wrong-kind",
            (table.name,),
            f"'{table.name}' is {found}; each {table.name} has a heading with its id",
            f"write {sample}",
            key=True,
        )
        return
    stray = [word for word, value in content.items() if not isinstance(value, dict)]
    if stray:
        line = draft.places.spot((table.name,), key=True).line
        draft.say(
            "facility/no-id",
            (table.name,),
            f"the {table.name} in line {line} has no id, and others cannot speak of it",
            f"write {sample}",
            key=True,
            words=stray,
        )
    for name, inside in content.items():
        if isinstance(inside, dict) and _is_id(draft, table, name):
            _take_entry(draft, table, name, (table.name, name), inside)


def _is_id(draft: Draft, table: words.Table, name: str) -> bool:
    path = (table.name, name)
    signs = hidden.hidden(name)
    if not hidden.bare(name):
        line = draft.places.spot(path, key=True).line
        draft.say(
            "facility/no-id",
            path,
            f"the {table.name} in line {line} has an empty id",
            f"write {table.heading}",
            key=True,
        )
        return False
    if signs:
        draft.say(
            "facility/hidden-character",
            path,
            f"the id '{hidden.visible(name)}' holds {', '.join(signs)}",
            f"write '{hidden.bare(name)}'",
            key=True,
            characters=signs,
        )
    elif name != name.strip() or len(name) > LONGEST_ID or "/" in name:
        draft.say(
            "facility/bad-id",
            path,
            f"the id '{hidden.visible(name)}' will not fit on a label",
            f"use at most {LONGEST_ID} characters, no '/', no blank at its ends",
            key=True,
        )
    elif name == "outside":
        draft.say(
            "facility/bad-id",
            path,
            "the id 'outside' is kept for water that enters or leaves the drawing",
            "choose another id",
            key=True,
        )
    return True


def _take_list(draft: Draft, table: words.Table, content: Any) -> None:
    draft.entries.setdefault(table.name, [])
    if not isinstance(content, list) or not all(isinstance(item, dict) for item in content):
        found = "one table" if isinstance(content, dict) else values.found(content)
        draft.ghosts |= _ids_within([content])
        draft.say(
            "facility/wrong-kind",
            (table.name,),
            f"'{table.name}' is {found}; there may be several",
            f"write {table.heading}, with two pairs of brackets",
            key=True,
        )
        return
    for index, item in enumerate(content):
        name = item.get("id", "")
        _take_entry(draft, table, name if isinstance(name, str) else "", (table.name, index), item)


_TAKERS = {"single": _take_single, "named": _take_named, "list": _take_list}


# -- words ----------------------------------------------------------------------------------------------


def _take_entry(draft: Draft, table: words.Table, name: str, path: Path, content: Mapping[str, Any]) -> None:
    entry = Entry(table.name, name, path, {})
    draft.entries.setdefault(table.name, []).append(entry)
    meant: set[str] = set()
    for word, value in content.items():
        known = table.words.get(word)
        if known is None:
            meant.add(_unknown_word(draft, table, entry, word))
        elif known.kind == "inner":
            _take_inner(draft, entry, word, value)
        else:
            _take_value(draft, entry, known, value)
    _drop_waiting(entry, table, content, draft, meant)
    for word in table.words.values():
        if word.required and word.name not in content and word.name not in meant:
            _missing_word(draft, entry, word)


def _drop_waiting(
    entry: Entry, table: words.Table, content: Mapping[str, Any], draft: Draft, meant: set[str]
) -> None:
    """Words that waited in vain for a quantity: it is missed where nothing stands in its place."""
    waiting = [name for name, value in entry.values.items() if isinstance(value, values.Later)]
    for name in waiting:
        del entry.values[name]
    quantity = table.words.get("quantity")
    told = "quantity" in content or "quantity" in meant
    if waiting and not told and quantity is not None and not quantity.required:
        _missing_word(draft, entry, quantity)


def _take_inner(draft: Draft, outer: Entry, word: str, content: Any) -> None:
    table = words.catalogue()[f"{outer.table}.{word}"]
    if not isinstance(content, list) or not all(isinstance(item, dict) for item in content):
        draft.say(
            "facility/wrong-kind",
            (*outer.path, word),
            f"{outer.thing}: '{word}' is {values.found(content)}",
            f"write {table.heading} for each",
            key=True,
            about=outer.thing,
        )
        return
    for index, item in enumerate(content):
        _take_entry(draft, table, "", (*outer.path, word, index), item)


def _unknown_word(draft: Draft, table: words.Table, entry: Entry, word: str) -> str:
    """Report a word; gives back the word that was meant, as far as one can tell."""
    path = (*entry.path, word)
    if SECRET_WORD.search(word):
        _secret(draft, path, entry.thing)
        return ""
    if HAZEN_WORD.fullmatch(word) and table.name in ("run", "pump", "equipment", "facility"):
        _hazen(draft, path, entry.thing)
        return ""
    near = next(iter(alike.meant(word, table.words)), "")
    shown = hidden.visible(word)
    if near:
        hint = f"write '{near}'"
    elif word == "id" and table.form == "named":
        hint = f"the id stands in the heading: {table.heading}"
    else:
        others = [other.heading for other in words.catalogue().values() if word in other.words]
        hint = f"it is a word of {' and '.join(others)}; " if others else ""
        hint += f"the words of {table.heading} are: {', '.join(table.words)}"
    draft.say(
        "facility/unknown-word",
        path,
        f"{entry.thing} has '{shown}', which is not a word for it",
        hint,
        key=True,
        about=entry.thing,
        found=shown,
        near=near,
    )
    return near


def _hazen(draft: Draft, path: Path, owner: str) -> None:
    draft.say(
        "facility/hazen-williams",
        path,
        f"{owner} has a Hazen-Williams coefficient under '{hidden.visible(str(path[-1]))}': that formula "
        "knows neither viscosity nor density, so it does not hold for sea water, nor for small or slow pipes",
        'take it out and write what the pipe is made of, e.g. material = "plastic", or roughness = "0.05 mm"',
        key=True,
        about=owner,
    )


def _secret(draft: Draft, path: Path, owner: str) -> None:
    draft.say(
        "facility/secret-in-file",
        path,
        f"{owner} has a secret in plain sight under '{hidden.visible(str(path[-1]))}'",
        'take it out and name where it is kept: secret = "env:NAME" or secret = "file:PATH"; '
        "then change it, for this file may have been copied",
        key=True,
        about=owner,
    )


def _missing_word(draft: Draft, entry: Entry, word: words.Word) -> None:
    draft.say(
        "facility/missing",
        (*entry.path, word.name),
        f"{entry.thing} has no '{word.name}': {_lower(word.meaning)}",
        f"write {word.name} = {word.example}",
        about=entry.thing,
        missing=word.name,
    )


def _lower(sentence: str) -> str:
    return sentence[0].lower() + sentence[1:].rstrip(".")


def _take_value(draft: Draft, entry: Entry, word: words.Word, value: Any) -> None:
    path = (*entry.path, word.name)
    _look_for_hidden(draft, entry, word.name, path, value)
    quantity = entry.values.get("quantity", "")
    if word.kind in _OF_QUANTITY and not quantity and entry.table in ("point", "limit", "upkeep"):
        entry.values[word.name] = values.Later(value, word)
        return
    _convert(draft, entry, word, value, path)
    if word.name in ("quantity", "measures"):
        _settle(draft, entry)


def _settle(draft: Draft, entry: Entry) -> None:
    """Words that came before the quantity they need."""
    for name, waiting in list(entry.values.items()):
        if isinstance(waiting, values.Later):
            del entry.values[name]
            _convert(draft, entry, waiting.word, waiting.value, (*entry.path, name))


def _convert(draft: Draft, entry: Entry, word: words.Word, value: Any, path: Path) -> None:
    got, faults = values.take(word, value, entry.values)
    for step, fault in faults:
        text = f"{entry.thing}: '{word.name}' {fault.why}"
        draft.say(fault.code, (*path, *step), text, fault.hint, about=entry.thing, word=word.name)
    if got is not None:
        entry.values[word.name] = got


def _look_for_hidden(draft: Draft, entry: Entry, word: str, path: Path, value: Any) -> None:
    """Hidden characters in a text, or in the texts of a list."""
    if isinstance(value, list):
        for index, item in enumerate(value):
            _look_for_hidden(draft, entry, word, (*path, index), item)
        return
    if not isinstance(value, str):
        return
    signs = hidden.hidden(value)
    if not signs:
        return
    bare = hidden.bare(value)
    if bare:
        text = f"the {word} of {entry.thing} holds hidden characters: {', '.join(signs)}"
        hint = f"write '{hidden.visible(bare)}', typed anew"
    else:
        text = f"the {word} of {entry.thing} is empty: it holds nothing but {', '.join(signs)}"
        hint = f"type a {word} that can be read"
    draft.say(
        "facility/hidden-character",
        path,
        text,
        hint,
        about=entry.thing,
        characters=signs,
        shown=hidden.visible(value),
    )
