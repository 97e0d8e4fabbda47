"""A change list carried out on a document: set, added, sent another way, taken out with what hangs on it."""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from brinehouse import findings
from brinehouse.facility import alike, change_list, hidden, model, positions, words

Op = tuple[str, positions.Path, Any]
"""``put`` or ``drop`` at a path, or ``new`` table at the end."""


@dataclass(slots=True)
class Touch:
    """What one change has touched: the ids it is about, and the paths it wrote."""

    change: change_list.Change
    ids: set[str] = field(default_factory=set[str])
    paths: dict[positions.Path, str] = field(default_factory=dict[positions.Path, str])


@dataclass(slots=True)
class Bench:
    """The document while it is changed, with everything done to it and said of it."""

    raw: dict[str, Any]
    ops: list[Op] = field(default_factory=list[Op])
    found: list[findings.Finding] = field(default_factory=list[findings.Finding])
    said: list[tuple[int, str]] = field(default_factory=list[tuple[int, str]])
    touched: list[Touch] = field(default_factory=list[Touch])
    doomed: dict[positions.Path, None] = field(default_factory=dict[positions.Path, None])
    written: dict[positions.Path, findings.Spot] = field(default_factory=dict[positions.Path, findings.Spot])

    def put(self, path: positions.Path, value: Any) -> None:
        """Write a value."""
        perform(self.raw, ("put", path, copy.deepcopy(value)))
        self.ops.append(("put", path, value))

    def drop(self, path: positions.Path) -> None:
        """Take a value or a table out."""
        perform(self.raw, ("drop", path, None))
        self.ops.append(("drop", path, None))

    def new(self, path: positions.Path, entry: Mapping[str, Any]) -> None:
        """Add a table of its own at the end."""
        perform(self.raw, ("new", path, copy.deepcopy(dict(entry))))
        self.ops.append(("new", path, dict(entry)))

    def get(self, path: positions.Path) -> Any:
        """What stands at a path, or None."""
        page: Any = self.raw
        for step in path:
            try:
                page = page[step]
            except (KeyError, IndexError, TypeError):
                return None
        return page

    def say(self, change: change_list.Change, text: str) -> None:
        """One sentence of what was done, for the place of its change."""
        self.said.append((change.spot.line or 0, hidden.plain(text)))

    def refuse(
        self, change: change_list.Change, code: str, text: str, hint: str = "", word: str = "", **data: Any
    ) -> None:
        """A change that cannot be made."""
        self.found.append(change_list.stop(code, text, hint, change.at(word), **data))


def perform(page: Any, op: Op, table: Any = dict) -> None:
    """One step on a document, plain or one that keeps its notes."""
    what, path, value = op
    if what == "new" and isinstance(path[-1], int):
        page.setdefault(path[0], []).append(value)
        return
    *way, last = path
    for step in way:
        if not isinstance(step, int) and step not in page:
            page[step] = table()
        page = page[step]
    if what == "drop":
        del page[last]
    else:
        page[last] = value


def carry_out(raw: Mapping[str, Any], items: Sequence[change_list.Change]) -> Bench:
    """Every change of a list that can be made, on a copy of a document.

    What is added comes first and what is taken out last, so that the order of a list does not matter.
    """
    bench = Bench(copy.deepcopy(dict(raw)))
    good = _without_quarrels(bench, items)
    known = index(bench.raw)
    for verb, doer in (
        ("add", _add),
        ("reroute", _set),
        ("add", _put_in),
        ("set", _set),
        ("remove", _remove),
    ):
        for change in good:
            if change.verb == verb:
                doer(bench, change, known)
                known = index(bench.raw) if doer is _add else known
    for path in sorted(bench.doomed, key=lambda path: [-s if isinstance(s, int) else 0 for s in path]):
        bench.drop(path)
    return bench


def index(raw: Mapping[str, Any]) -> dict[str, positions.Path]:
    """Every name by which a change may speak of a thing, and where the thing stands."""
    known: dict[str, positions.Path] = {"facility": ("facility",)}
    for name, table in words.catalogue().items():
        content = raw.get(name)
        if table.form == "named" and isinstance(content, Mapping):
            known |= {id: (name, id) for id in content}
        elif table.form == "list" and isinstance(content, Sequence):
            for number, entry in enumerate(content):
                known[f"{name} {number + 1}"] = (name, number)
                if isinstance(entry.get("id"), str):
                    known[entry["id"]] = (name, number)
    return known


def named(path: positions.Path) -> str:
    """A thing as messages call it: ``tank reef``, ``limit 2``.

    >>> named(("tank", "reef")), named(("limit", 1)), named(("facility",))
    ('tank reef', 'limit 2', 'the facility')
    """
    table, *inner = path
    if not inner:
        return "the facility"
    shown = str(inner[0] + 1) if isinstance(inner[0], int) else hidden.visible(inner[0])
    part = "effect" if table == "failure" else "address"
    extra = f", {part} {int(inner[-1]) + 1}" if len(inner) > 1 else ""
    return f"{table} {shown}{extra}"


def _without_quarrels(bench: Bench, items: Sequence[change_list.Change]) -> list[change_list.Change]:
    """The changes but those that another of the list makes impossible."""
    removed = {item.what for item in items if item.verb == "remove"}
    done: dict[tuple[str, str], change_list.Change] = {}
    good: list[change_list.Change] = []
    for item in items:
        shown = hidden.visible(item.what)
        if item.verb != "remove" and item.what in removed:
            text = f"'{shown}' is {item.verb} and removed in one list"
            bench.refuse(
                item, "changing/at-odds", text, "keep one of the two; to renew a thing, set its words"
            )
            continue
        wanted = [*item.values, *item.without] if item.verb in ("set", "reroute") else [item.verb]
        twice = next((word for word in wanted if (item.what, word) in done), None)
        if twice is not None and not (item.verb == "add" and not item.what):
            line = done[item.what, twice].spot.line
            verb = (
                f"'{twice}' of '{shown}' is changed" if item.verb in ("set", "reroute") else f"'{shown}' is"
            )
            bench.refuse(
                item, "changing/twice", f"{verb} twice: in line {line} too", "keep one of the two", twice
            )
            continue
        done |= {(item.what, word): item for word in wanted}
        good.append(item)
    return good


def _find(
    bench: Bench, change: change_list.Change, known: Mapping[str, positions.Path], name: str, word: str
) -> positions.Path | None:
    """Where a thing stands; refused with the nearest names where there is none."""
    if name in known:
        return known[name]
    near = alike.meant(name, known)
    hint = alike.offer(near) or "'brinehouse hall' lists every id of the hall"
    text = (
        f"the facility has no '{hidden.visible(name)}' to {change.verb if word == 'what' else 'put it into'}"
    )
    bench.refuse(change, "changing/no-such-thing", text, hint, word, named=hidden.visible(name), near=near)
    return None


# -- add ------------------------------------------------------------------------------------------------


def _add(bench: Bench, change: change_list.Change, known: Mapping[str, positions.Path]) -> None:
    table = words.catalogue().get(change.table)
    if table is None or table.form not in ("named", "list"):
        tables = [name for name, each in words.catalogue().items() if each.form in ("named", "list")]
        hint = alike.offer(alike.meant(change.table, tables)) or "its tables are: " + ", ".join(tables)
        text = f"'{hidden.visible(change.table)}' is not a table that can be added"
        bench.refuse(change, "changing/no-such-thing", text, hint, "table")
        return
    if change.what and change.what in known:
        text = f"the id '{hidden.visible(change.what)}' is taken: {named(known[change.what])} has it"
        bench.refuse(
            change, "changing/exists", text, "choose another id, or set what is to be different", "id"
        )
        return
    if table.form == "named":
        path: positions.Path = (change.table, change.what)
        entry = dict(change.values)
    else:
        path = (change.table, len(bench.raw.get(change.table, ())))
        entry = ({"id": change.what} if change.what else {}) | dict(change.values)
    bench.new(path, entry)
    ids = {change.what} | _ids_in(change.values)
    bench.touched.append(Touch(change, ids, {path: ""} | {(*path, word): word for word in change.values}))
    bench.say(change, f"{named(path)} is new{_told(entry)}")


def _told(entry: Mapping[str, Any]) -> str:
    told = [f"{word} {change_list.written(value)}" for word, value in entry.items()]
    return ": " + ", ".join(told) if told else ""


def _ids_in(values: Mapping[str, Any]) -> set[str]:
    """Names that values hold."""
    got: set[str] = set()
    for value in values.values():
        for item in value if isinstance(value, list) else [value]:
            if isinstance(item, str) and item != model.OUTSIDE:
                got.add(item)
    return got


def _put_in(bench: Bench, change: change_list.Change, known: Mapping[str, positions.Path]) -> None:
    """A new machine put into the way of a run."""
    if not change.into:
        if change.after or change.before:
            text = f"'{hidden.visible(change.what)}' is to stand beside a machine, and no run is named"
            bench.refuse(
                change, "changing/missing", text, "say the run: into", "after" if change.after else "before"
            )
        return
    path = _find(bench, change, known, change.into, "into")
    if path is None or (change.table, change.what) not in known.values():
        return
    if path[0] != "run":
        text = f"'{hidden.visible(change.into)}' is a {path[0]}, not a run"
        bench.refuse(change, "changing/not-run", text, "name a run", "into")
        return
    way = [*(bench.get((*path, "through")) or ())]
    beside = change.after or change.before
    if beside and beside not in way:
        near = alike.meant(beside, way)
        hint = alike.offer(near) or (f"it passes {', '.join(way)}" if way else "it passes no machine")
        word = "after" if change.after else "before"
        text = f"{named(path)} does not pass '{hidden.visible(beside)}'"
        bench.refuse(change, "changing/not-in-run", text, hint, word, near=near)
        return
    at = len(way) if not beside else way.index(beside) + (1 if change.after else 0)
    way.insert(at, change.what)
    bench.put((*path, "through"), way)
    bench.touched.append(Touch(change, {change.into, change.what}, {(*path, "through"): "into"}))
    bench.say(change, f"{named(path)} now passes {_row(way)}")


def _row(names: Sequence[str]) -> str:
    shown = [hidden.visible(name) for name in names]
    if not shown:
        return "no machine"
    return shown[0] if len(shown) == 1 else ", ".join(shown[:-1]) + " and " + shown[-1]


# -- set and reroute ------------------------------------------------------------------------------------

_SAID = {"from": "begins at", "to": "goes to", "through": "passes"}


def _set(bench: Bench, change: change_list.Change, known: Mapping[str, positions.Path]) -> None:
    path = _find(bench, change, known, change.what, "what")
    if path is None:
        return
    if change.verb == "reroute" and path[0] != "run":
        text = f"'{hidden.visible(change.what)}' is a {path[0]}, not a run: only runs have a way"
        runs = [name for name, where in known.items() if where[0] == "run"]
        bench.refuse(
            change, "changing/not-run", text, f"the runs are: {', '.join(runs)}" if runs else "", "what"
        )
        return
    touch = Touch(change, {change.what})
    bench.touched.append(touch)
    for word, value in change.values.items():
        old = bench.get((*path, word))
        touch.ids |= _ids_in({"old": old, "new": value})
        touch.paths[*path, word] = word
        bench.say(change, _difference(path, word, old, value))
        if old != value or type(old) is not type(value):
            bench.put((*path, word), value)
    for word in change.without:
        touch.paths[*path, word] = "without"
        old = bench.get((*path, word))
        if old is None:
            text = f"{named(path)} has no '{hidden.visible(word)}' to leave out"
            bench.refuse(change, "changing/no-such-thing", text, "take the line out of the list", "without")
            continue
        bench.drop((*path, word))
        bench.say(change, f"{named(path)}: its {word} ({change_list.written(old)}) is left open")


def _difference(path: positions.Path, word: str, old: Any, new: Any) -> str:
    """What setting one word does, in a sentence."""
    was = "" if old is None else f" instead of {change_list.written(old) or 'nothing'}"
    now = change_list.written(new) or "nothing"
    if old == new:
        return f"{named(path)}: {word} is {now} already"
    if path[0] == "run" and word in _SAID:
        return f"{named(path)} {_SAID[word]} {now}{was}"
    return f"{named(path)}: {word} {now}{was}"


# -- remove ---------------------------------------------------------------------------------------------


def _remove(bench: Bench, change: change_list.Change, known: Mapping[str, positions.Path]) -> None:
    path = _find(bench, change, known, change.what, "what")
    if path is None:
        return
    if path == ("facility",):
        bench.refuse(
            change,
            "changing/no-such-thing",
            "the facility itself cannot be removed",
            "name a part of it",
            "what",
        )
        return
    if bench.get(path) is None or path in bench.doomed:
        bench.say(change, f"{named(path)} has gone with another thing")
        return
    touch = Touch(change, {change.what})
    bench.touched.append(touch)
    gone: list[positions.Path] = []
    told: list[str] = []
    queue = [path]
    while queue:
        at = queue.pop(0)
        if bench.get(at) is None or at in bench.doomed:
            continue
        gone.append(at)
        queue += _take_out(bench, at, touch, told)
    bench.say(change, f"{named(path)} is taken out")
    if gone[1:]:
        bench.say(change, f"with {named(path)} go {_row([named(one) for one in gone[1:]])}")
    for sentence in dict.fromkeys(told):
        bench.say(change, sentence)


def _take_out(bench: Bench, at: positions.Path, touch: Touch, told: list[str]) -> list[positions.Path]:
    """One thing out of the document and out of every list; gives back what must go with it."""
    entry = bench.get(at)
    touch.ids |= _ids_in({word: entry[word] for word in ("from", "to", "at") if word in entry})
    touch.paths[at] = "what"
    name = at[1] if isinstance(at[1], str) else entry.get("id", "")
    if isinstance(at[-1], int):
        bench.doomed[at] = None
    else:
        bench.drop(at)
    if not isinstance(name, str) or not name:
        return []
    touch.ids.add(name)
    follow: list[positions.Path] = []
    for where, word, value in list(_references(bench.raw)):
        if where in bench.doomed or (name not in value if isinstance(value, list) else name != value):
            continue
        left = [item for item in value if item != name] if isinstance(value, list) else []
        if not left and (word.required or (where[0] in ("limit", "failure") and word.name in ("at", "part"))):
            follow.append(where[:2] if where[0] == "failure" else where)
            continue
        touch.ids.add(str(where[1]))
        touch.paths[*where, word.name] = "what"
        if isinstance(value, list):
            if left or word.name == "through":
                bench.put((*where, word.name), left)
            else:
                bench.drop((*where, word.name))  # as a list that was never written
            verb = "now passes" if word.name == "through" else f"now has {word.name}"
            told.append(
                f"{named(where)} {verb} {_row(left) if left or word.name == 'through' else 'nothing'}"
            )
        else:
            bench.drop((*where, word.name))
            told.append(f"{named(where)}: its '{word.name}' is left open")
    return follow


def _references(raw: Mapping[str, Any]) -> Iterator[tuple[positions.Path, words.Word, Any]]:
    """Every word that names another thing, with the thing it stands in."""
    for name, table in words.catalogue().items():
        naming = [w for w in table.words.values() if w.kind.partition(":")[0] in ("id", "list id")]
        for path, entry in _entries(raw, name, table.form):
            for word in naming:
                if word.name in entry:
                    yield path, word, entry[word.name]


def _entries(
    raw: Mapping[str, Any], name: str, form: str
) -> Iterator[tuple[positions.Path, Mapping[str, Any]]]:
    if form == "inner":
        outer, _, inner = name.partition(".")
        holder = raw.get(outer, ())
        for key, entry in holder.items() if isinstance(holder, Mapping) else enumerate(holder):
            for place, one in enumerate(entry.get(inner, ())):
                yield (outer, key, inner, place), one
    elif form == "named":
        for id, entry in raw.get(name, {}).items():
            yield (name, id), entry
    elif form == "list":
        for number, entry in enumerate(raw.get(name, ())):
            yield (name, number), entry
