"""What-ifs as text: a short list of things to set, add, remove and reroute, read with their places.

A list is TOML, or typed with one change a line::

    [[set]]                         set m-supply flow = 40 m3/h
    what = "m-supply"               remove column-m
    flow = "40 m3/h"                reroute m-side to sump-m
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from brinehouse import findings
from brinehouse.facility import alike, hidden, positions, syntax, values, words

VERBS = ("set", "add", "remove", "reroute")
"""What can be done, in the order in which a list is carried out but for removing, which comes last."""

OWN: Mapping[str, Mapping[str, str]] = {
    "set": {"what": "the id of the thing to change", "without": "words to leave out, as a list"},
    "add": {
        "table": "what it is: tank, run, equipment ...",
        "id": "its new id",
        "into": "the run that shall pass it",
        "after": "the machine of that run behind which it stands",
        "before": "the machine of that run before which it stands",
    },
    "remove": {"what": "the id of the thing to take out"},
    "reroute": {
        "what": "the id of a run",
        "from": "where it shall begin",
        "through": "the machines it shall pass, as a list",
        "to": "where it shall end",
    },
}
"""By verb: the words of a change itself; beside them stand words of the facility file."""

_EXAMPLES = {
    "set": 'what = "m-supply" and flow = "40 m3/h"',
    "add": 'table = "equipment", id = "column-2" and kind = "packed column"',
    "remove": 'what = "column-m"',
    "reroute": 'what = "m-side" and to = "sump-m"',
}
_LISTS = ("without", "through")


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change.

    Attributes
    ----------
    verb : str
        ``set``, ``add``, ``remove`` or ``reroute``.
    what : str
        Id of the thing; for things without an id as messages call them (``limit 2``), or ``facility``.
    table : str
        For ``add``: its table.
    values : mapping
        Words of the facility file and what shall stand there.
    without : tuple of str
        Words to leave out.
    into, after, before : str
        For ``add``: the run that passes it, and where.
    spots : mapping
        Word to where the change list says it; the empty word is the change itself.
    """

    verb: str
    what: str
    table: str = ""
    values: Mapping[str, Any] = field(default_factory=dict[str, Any])
    without: tuple[str, ...] = ()
    into: str = ""
    after: str = ""
    before: str = ""
    spots: Mapping[str, findings.Spot] = field(default_factory=dict[str, findings.Spot])

    @property
    def spot(self) -> findings.Spot:
        """Where the change stands."""
        return self.spots.get("", findings.Spot())

    def at(self, word: str) -> findings.Spot:
        """Where a word of it stands; the change itself where that word does not."""
        return self.spots.get(word, self.spot)

    def __str__(self) -> str:
        """As one types it in one line.

        >>> str(Change(verb="set", what="m-supply", values={"flow": "40 m3/h"}))
        'set m-supply flow = 40 m3/h'
        """
        head = f"{self.verb} {self.table} {_quoted(self.what)}" if self.table else ""
        parts = [head or f"{self.verb} {_quoted(self.what)}"]
        pairs = [f"{word} = {written(value)}" for word, value in self.values.items()]
        places = (("into", self.into), ("after", self.after), ("before", self.before))
        pairs += [f"{word} = {value}" for word, value in places if value]
        if self.without:
            pairs.append("without " + ", ".join(self.without))
        return " ".join([*parts, "; ".join(pairs)]).strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """A change list as read: what was understood, and what is to be said about the rest."""

    items: tuple[Change, ...] = ()
    findings: tuple[findings.Finding, ...] = ()
    name: str = "what-if"
    text: str = ""

    @property
    def digest(self) -> str:
        """SHA-256 of the text."""
        return hashlib.sha256(self.text.encode("utf-8", "surrogatepass")).hexdigest()

    @property
    def title(self) -> str:
        """The changes in one line, as one types them."""
        return "; ".join(str(item) for item in self.items)


def _quoted(name: str) -> str:
    return f'"{name}"' if " " in name else name


def written(value: Any) -> str:
    """A value as a keeper writes it.

    >>> written(["return-m", "uv-m"]), written(True), written("40 m3/h")
    ('return-m, uv-m', 'true', '40 m3/h')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        parts: list[Any] = list(value)
        if any(isinstance(part, list) for part in parts):
            return "; ".join(" at ".join(written(item) for item in part) for part in parts)
        return ", ".join(written(part) for part in parts)
    return hidden.visible(str(value))


def stop(
    code: str, text: str, hint: str = "", spot: findings.Spot | None = None, **data: Any
) -> findings.Finding:
    """A finding that refuses a change."""
    return findings.Finding(
        code=code,
        level=findings.Level.STOP,
        text=hidden.plain(text),
        hint=hidden.plain(hint),
        spot=spot or findings.Spot(),
        data=data,
    )


def read(text: str, name: str = "what-if") -> Changes:
    """A change list in TOML."""
    raw, faults = syntax.parse(text, name)
    if raw is None:
        told = [stop("changing/not-toml", fault.text, fault.hint, fault.spot) for fault in faults]
        return Changes(findings=tuple(told), name=name, text=text)
    places = positions.scan(text.replace("\r\n", "\n"), name)
    found: list[findings.Finding] = []
    items: list[Change] = []
    for verb, content in raw.items():
        if verb not in VERBS:
            found.append(_not_a_verb(verb, places))
        elif not isinstance(content, list) or not all(isinstance(item, dict) for item in content):
            hint = f"write [[{verb}]], with two pairs of brackets"
            spot = places.spot((verb,), key=True)
            found.append(stop("changing/wrong-kind", f"'{verb}' is not a list of changes", hint, spot))
        else:
            for index, entry in enumerate(content):
                made = _change(verb, entry, places, (verb, index), found)
                items += [made] if made is not None else []
    items.sort(key=lambda item: item.spot.line or 0)
    return Changes(items=tuple(items), findings=tuple(found), name=name, text=text)


def _not_a_verb(verb: str, places: positions.Positions) -> findings.Finding:
    near = alike.meant(verb, VERBS)
    hint = (
        alike.offer([f"[[{one}]]" for one in near])
        or "a change list has [[set]], [[add]], [[remove]], [[reroute]]"
    )
    text = f"'{hidden.visible(verb)}' is not something a change list does"
    return stop(
        "changing/unknown-verb",
        text,
        hint,
        places.spot((verb,), key=True),
        found=hidden.visible(verb),
        near=near,
    )


def _change(
    verb: str,
    entry: Mapping[str, Any],
    places: positions.Positions,
    path: positions.Path,
    found: list[findings.Finding],
) -> Change | None:
    """One table of a list; None where it does not say what it is about."""
    spots = {"": places.spot(path, key=True)}
    spots |= {word: places.spot((*path, word)) for word in entry}
    return make(verb, entry, spots, found)


def make(
    verb: str,
    entry: Mapping[str, Any],
    spots: Mapping[str, findings.Spot],
    found: list[findings.Finding],
) -> Change | None:
    """A change from its words; what is wrong with them is added to `found`."""
    before = len(found)
    own = OWN[verb]
    needed = _needed(verb, entry)
    for word in needed:
        if word not in entry:
            text = f"a change in [[{verb}]] does not say '{word}': {own[word]}"
            found.append(stop("changing/missing", text, f"write {_EXAMPLES[verb]}", spots[""], missing=word))
    taken: dict[str, Any] = {}
    for word, value in entry.items():
        fault = _fault(verb, word, value)
        if fault is not None:
            found.append(stop(*fault, spots.get(word, spots[""]), word=hidden.visible(word)))
        elif word in own and word not in ("from", "through", "to"):
            taken[word] = value
    if len(found) > before:
        return None
    values = {word: value for word, value in entry.items() if word not in taken}
    what = entry.get("id", "") if verb == "add" else entry["what"]
    made = Change(
        verb=verb,
        what=what,
        table=taken.get("table", ""),
        values=values,
        without=tuple(taken.get("without", ())),
        into=taken.get("into", ""),
        after=taken.get("after", ""),
        before=taken.get("before", ""),
        spots=spots,
    )
    if verb in ("set", "reroute") and not values and not made.without:
        text = f"'{verb} {hidden.visible(what)}' says nothing that is to be different"
        found.append(stop("changing/no-change", text, f"write {_EXAMPLES[verb]}", spots[""]))
        return None
    return made


def _needed(verb: str, entry: Mapping[str, Any]) -> tuple[str, ...]:
    """The words without which a change says nothing; animals, limits and sources need no id."""
    if verb != "add":
        return ("what",)
    table = words.catalogue().get(str(entry.get("table", "")))
    return ("table",) if table is not None and table.form == "list" else ("table", "id")


def _fault(verb: str, word: str, value: Any) -> tuple[str, str, str] | None:
    """What is wrong with a word of a change; words of the facility file are judged when it is read again."""
    own = OWN[verb]
    if word not in own:
        if verb in ("set", "add"):
            return None
        near = alike.meant(word, own)
        hint = alike.offer(near) or f"its words are: {', '.join(own)}"
        if verb == "reroute" and any(word in table for table in words.tables().values()):
            hint = "use 'set' for that"
        return "changing/unknown-word", f"'{hidden.visible(word)}' is not a word of [[{verb}]]", hint
    if word in _LISTS:
        if isinstance(value, list) and all(isinstance(item, str) for item in value):
            return None
        return (
            "wrong-kind",
            f"'{word}' is {values.found(value)}, not a list of names",
            f'write {word} = ["..."]',
        )
    if isinstance(value, str) and value.strip():
        return None
    shown = "empty" if isinstance(value, str) else values.found(value)
    return (
        "changing/wrong-kind",
        f"'{word}' is {shown}: {own[word]} is wanted, in quotes",
        f"write {_EXAMPLES[verb]}",
    )
