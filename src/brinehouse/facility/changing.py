"""What if: a facility file with a short list of changes carried out, and every check run on it again.

The file itself is never touched: text and list go in, a new text comes out, with what was done in a keeper's
words and with everything that is wrong with it, each finding at the line of the list that caused it.
"""

from __future__ import annotations

import dataclasses
import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from brinehouse import findings
from brinehouse.facility import change_lines, change_list, change_making, model, positions, reading

Change = change_list.Change
Changes = change_list.Changes
VERBS = change_list.VERBS

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_HEADING = re.compile(r"\s*(?:\[|schema\s*=)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """What came of a list of changes.

    Attributes
    ----------
    text : str
        The facility file as it would then be; notes are kept.
    checked : reading.Checked
        That text read again. Its facility is None where anything of list or file stops it.
    findings : tuple of Finding
        What the changes bring: faults of the list, and what the checks find that they did not find before.
    said : tuple of str
        What is different, in the order of the list.
    changes : Changes
        The list.
    """

    text: str
    checked: reading.Checked
    findings: tuple[findings.Finding, ...] = ()
    said: tuple[str, ...] = ()
    changes: change_list.Changes = dataclasses.field(default_factory=change_list.Changes)

    @property
    def facility(self) -> model.Facility | None:
        """The facility as it would be, or None where it may not be worked with."""
        return self.checked.facility

    @property
    def stopped(self) -> bool:
        """Whether nothing can be worked out for it."""
        return self.checked.facility is None


def parse(text: str, name: str = "what-if") -> change_list.Changes:
    r"""A change list, in TOML or typed with one change a line.

    Parameters
    ----------
    text : str
    name : str
        What messages call it: the name of the file, or of the box.

    Examples
    --------
    >>> parse("remove column-m").items[0].what
    'column-m'
    >>> parse('[[set]]\nwhat = "m-supply"\nflow = "40 m3/h"').title
    'set m-supply flow = 40 m3/h'
    """
    lines = (line for line in text.split("\n") if line.strip() and not line.lstrip().startswith("#"))
    first = next(lines, "")
    return (change_list if _HEADING.match(first) else change_lines).read(text, name)


def apply(
    facility_text: str,
    changes: change_list.Changes,
    name: str = "facility.toml",
    *,
    base: reading.Checked | None = None,
) -> Changed:
    """A facility file with a list of changes carried out and checked.

    Parameters
    ----------
    facility_text : str
        The file as it is.
    changes : Changes
        From `parse`.
    name : str
        What messages call the facility file.
    base : reading.Checked, optional
        The text as read before, where that is at hand.

    Returns
    -------
    Changed
        Every change that could be made is made, so that everything wrong is said at once.
    """
    base = base or reading.read(facility_text, name)
    if base.facility is None:
        return Changed(text=facility_text, checked=base, findings=base.findings, changes=changes)
    if not changes.items:
        checked = dataclasses.replace(base, facility=None) if _stops(changes.findings) else base
        return Changed(text=facility_text, checked=checked, findings=changes.findings, changes=changes)
    raw = tomllib.loads(facility_text.lstrip("\ufeff"))
    bench = change_making.carry_out(raw, changes.items)
    text, unwritten = _rewritten(facility_text, bench, changes)
    checked = reading.read(text, name)
    found = (*changes.findings, *bench.found, *unwritten, *_new(base, checked, bench, changes))
    if _stops(found):
        checked = dataclasses.replace(checked, facility=None)
    said = tuple(sentence for _, sentence in sorted(bench.said, key=lambda pair: pair[0]))
    ordered = tuple(sorted(found, key=lambda one: (one.spot.file != changes.name, one.spot.line or 0)))
    return Changed(text=text, checked=checked, findings=ordered, said=said, changes=changes)


def _stops(found: Sequence[findings.Finding]) -> bool:
    return findings.worst(found) is findings.Level.STOP


# -- the text -------------------------------------------------------------------------------------------


def _rewritten(
    text: str, bench: change_making.Bench, changes: change_list.Changes
) -> tuple[str, list[findings.Finding]]:
    """The text with every step done, notes kept; unchanged and refused where that cannot be had exactly."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    tail: list[str] = []
    try:
        page = tomlkit.parse(text.lstrip("\ufeff"))
        for op in bench.ops:
            what, path, value = op
            if what == "new":
                tail.append(table_text(path, value))
            elif not _in_tail(path, bench):
                change_making.perform(page, op, tomlkit.table)
        new = tomlkit.dumps(page)
        if tail:
            tail = [table_text(path, bench.get(path) or {}) for path in _added(bench)]
            new = new.rstrip("\n") + "\n" + "".join("\n" + table for table in tail)
        if _filled(tomllib.loads(new)) == _filled(bench.raw):
            return new, []
        why = "more would change than was asked"
    except (TOMLKitError, tomllib.TOMLDecodeError, KeyError, IndexError, TypeError, ValueError) as fault:
        why = str(fault)
    spot = changes.items[0].spot
    hint = "write the tables of the facility file one by one, as 'brinehouse init' does"
    return text, [
        change_list.stop("changing/not-written", f"the changes cannot be written: {why}", hint, spot)
    ]


def _filled(page: Any) -> Any:
    """A document without tables and lists in which nothing is left."""
    if isinstance(page, dict):
        inside = {name: _filled(value) for name, value in page.items()}  # pyright: ignore[reportUnknownVariableType]
        return {name: value for name, value in inside.items() if value not in ({}, [])}
    return [_filled(item) for item in page] if isinstance(page, list) else page  # pyright: ignore[reportUnknownVariableType]


def _added(bench: change_making.Bench) -> list[positions.Path]:
    return [path for what, path, _ in bench.ops if what == "new" and bench.get(path) is not None]


def _in_tail(path: positions.Path, bench: change_making.Bench) -> bool:
    """Whether a path lies in a table that is added at the end."""
    return any(what == "new" and path[: len(new)] == new for what, new, _ in bench.ops)


def table_text(path: positions.Path, entry: Mapping[str, Any]) -> str:
    """A table as text."""
    if isinstance(path[-1], int):
        heading = f"[[{path[0]}]]"
    else:
        heading = "[" + ".".join(key_text(str(step)) for step in path) + "]"
    return (
        "\n".join([heading, *(f"{key_text(word)} = {value_text(value)}" for word, value in entry.items())])
        + "\n"
    )


def key_text(name: str) -> str:
    """A key as TOML writes it."""
    return name if _BARE.fullmatch(name) else json.dumps(name, ensure_ascii=False)


def value_text(value: Any) -> str:
    """A value as TOML writes it, on one line."""
    import tomlkit

    if isinstance(value, dict):
        return (
            "{ " + ", ".join(f"{key_text(word)} = {value_text(told)}" for word, told in value.items()) + " }"
        )
    if isinstance(value, list) and any(isinstance(item, dict) for item in value):
        return "[" + ", ".join(value_text(item) for item in value) + "]"
    return tomlkit.item(value).as_string()


# -- what the checks say --------------------------------------------------------------------------------


def _new(
    base: reading.Checked,
    checked: reading.Checked,
    bench: change_making.Bench,
    changes: change_list.Changes,
) -> list[findings.Finding]:
    """What the checks find now and did not find before, each at the change that brought it."""
    known = {(one.code, one.spot.field, one.text) for one in base.findings}
    fresh = [one for one in checked.findings if (one.code, one.spot.field, one.text) not in known]
    return [_placed(one, base, bench, changes) for one in fresh]


def _placed(
    found: findings.Finding,
    base: reading.Checked,
    bench: change_making.Bench,
    changes: change_list.Changes,
) -> findings.Finding:
    """A finding moved to the line of the list that caused it, with the line of the file it collides with."""
    spot = _cause(found, bench) or (changes.items[0].spot if len(changes.items) == 1 else None)
    there = _line_before(found, base)
    data = dict(found.data) | ({"facility_line": there} if there is not None else {})
    if spot is None:
        return dataclasses.replace(
            found, spot=dataclasses.replace(found.spot, line=there, column=None), data=data
        )
    where = dataclasses.replace(spot, field=found.spot.field, thing=found.spot.thing)
    text = found.text
    if there is not None and not any(_within(found.spot.field, path) for path in _words_set(bench)):
        text += f" (line {there} of {found.spot.file})"
    return dataclasses.replace(found, spot=where, text=text, data=data)


def _words_set(bench: change_making.Bench) -> list[positions.Path]:
    return [path for touch in bench.touched for path, word in touch.paths.items() if word != "what"]


def _within(field: str, path: positions.Path) -> bool:
    start = positions.written(path)
    return field == start or field.startswith((f"{start}.", f"{start}["))


def _cause(found: findings.Finding, bench: change_making.Bench) -> findings.Spot | None:
    """The change that wrote the place of a finding, else one about a thing that the finding names."""
    best: tuple[int, findings.Spot] | None = None
    for touch in bench.touched:
        for path, word in touch.paths.items():
            if _within(found.spot.field, path) and (best is None or len(path) > best[0]):
                best = (len(path), touch.change.at(word))
    if best is not None:
        return best[1]
    ids = _named_by(found)
    for touch in sorted(bench.touched, key=lambda touch: -len(ids & touch.ids)):
        if ids & touch.ids:
            return touch.change.spot
    return None


def _named_by(found: findings.Finding) -> set[str]:
    """Ids that a finding is about."""
    ids: set[str] = {step for step in re.split(r"[.\[\]]", found.spot.field) if step}
    for value in found.data.values():
        for item in value if isinstance(value, list | tuple) else [value]:
            if isinstance(item, str):
                ids.add(item)
    return ids


def _line_before(found: findings.Finding, base: reading.Checked) -> int | None:
    """The line of the file as it is on which the thing of a finding stands, if it stands there."""
    for path, place in base.positions.places.items():
        if positions.written(path) == found.spot.field:
            return place.value_line
    return None
