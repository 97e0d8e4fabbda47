"""Where the gas comes from, as its sheet shows it: a part for each place, worst first, bars to one scale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from brinehouse import answers, findings
from brinehouse.facility import model
from brinehouse.web import svg

WIDE, TALL = 180.0, 16.0
VERDICTS: Mapping[str, tuple[str, str]] = {
    "too shallow": ("act", "sources.too_shallow"),
    "may be too shallow": ("watch", "sources.may_be"),
    "deep enough": ("", "sources.deep_enough"),
}
"""What the engine says of animals, to its level and its words on the sheet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line: what it is, how much, how that is known, and its bar; ``kind`` source, sum or removal."""

    kind: str
    words: str
    size: answers.Value
    how: str
    drawn: Markup | str = ""
    level: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One place: its sources, removals and what-ifs, and its animals against the gas line."""

    id: str
    name: str
    delta_p: answers.Value | None
    rows: tuple[Row, ...]
    what_ifs: tuple[Mapping[str, Any], ...]
    animals: float | None
    level: str


def table(answer: answers.Answer, name: str) -> Sequence[Mapping[str, Any]]:
    """The rows of a table of an answer, none where it has none."""
    return next((one.rows for one in answer.tables if one.name == name), ())


def places(answer: answers.Answer, facility: model.Facility) -> list[Place]:
    """Every place, those whose animals stand highest above the gas line first."""
    levels = {str(row["place"]): row["delta_p"] for row in table(answer, "levels")}
    made = [_place(answer, facility, place, value) for place, value in levels.items()]
    return sorted(made, key=lambda one: -_excess(one))


def _excess(one: Place) -> float:
    value = one.delta_p.value if one.delta_p and one.delta_p.value is not None else 0.0
    return value - 75.0 * one.animals if one.animals is not None else value - 1000.0


def _place(answer: answers.Answer, facility: model.Facility, id: str, value: answers.Value) -> Place:
    sources = [row for row in table(answer, "sources") if row["place"] == id]
    removals = [row for row in table(answer, "removals") if row["place"] == id]
    spans = [row["size"].interval() or (0.0, 0.0) for row in [*sources, *removals]]
    low, high = min([0.0, *(span[0] for span in spans)]), max([1.0, *(span[1] for span in spans)])
    rows = [_row(row, "source", low, high) for row in sources]
    rows += [_row(row, "removal", low, high) for row in removals]
    what_ifs = tuple(
        {**row, **dict(zip(("level", "said"), VERDICTS.get(str(row.get("verdict")), ("", "")), strict=True))}
        for row in table(answer, "what_ifs")
        if row["place"] == id
    )
    vessel = facility.vessels.get(id)
    animals = facility.shallow_end(id)
    return Place(
        id=id,
        name=vessel.name or id if vessel else id,
        delta_p=value,
        rows=tuple(rows),
        what_ifs=what_ifs,
        animals=animals,
        level="act" if animals is not None and (value.interval() or (0.0,))[0] > 75.0 * animals else "",
    )


def _row(row: Mapping[str, Any], kind: str, low: float, high: float) -> Row:
    kind = str(row.get("kind", kind))
    words = str(row.get("source") or row.get("removal"))
    return Row(
        kind=kind,
        words=words,
        size=row["size"],
        how=str(row["how"]),
        drawn=bar(row["size"], low, high, words, kind),
        level="" if row.get("closes", True) else "watch",
    )


def bar(value: answers.Value, low: float, high: float, label: str, kind: str = "source") -> Markup:
    """A signed bar from nought with its interval as a whisker; all bars of a place share one scale."""
    x = svg.scale(low, high, 3.0, WIDE - 3.0)
    at, middle = x(value.value or 0.0), TALL / 2.0
    begin, end = (x(side) for side in value.interval() or (0.0, 0.0))
    said = f"{label}: {svg.digits(value.value or 0.0, 0)} {value.unit}"
    left, right = min(x(0.0), at), max(x(0.0), at)
    whisker = f"M{svg.place(begin)} {svg.place(middle)}H{svg.place(end)}"
    whisker += f"M{svg.place(begin)} {svg.place(middle - 3)}v6M{svg.place(end)} {svg.place(middle - 3)}v6"
    return svg.tag(
        "svg",
        svg.tag("title", said),
        svg.tag("rect", x=left, y=4, width=max(right - left, 0.5), height=8, class_=f"d-part {kind}"),
        svg.line(x(0.0), 0, x(0.0), TALL, "d-axis"),
        svg.tag("path", d=whisker, class_="d-reach"),
        class_="part",
        viewBox=f"0 0 {svg.place(WIDE)} {svg.place(TALL)}",
        role="img",
        aria_label=said,
    )


def weights(answer: answers.Answer) -> list[Mapping[str, Any]]:
    """Pumps that could be named, heaviest first."""
    return sorted(table(answer, "pumps"), key=lambda row: -float(row["weight"]))


def told(answer: answers.Answer) -> tuple[list[findings.Finding], list[findings.Finding]]:
    """What needs a person, and what was assumed."""
    heavy = [one for one in answer.findings if one.level is not findings.Level.NOTE]
    return heavy, [one for one in answer.findings if one.level is findings.Level.NOTE]
