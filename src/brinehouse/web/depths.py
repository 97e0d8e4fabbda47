"""Gas against depth: a column of water for each tank, and who stands above the gas line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from brinehouse.web import svg

WIDE, DEEP = 104.0, 190.0  # a column, and the height of the deepest water [px]
LEFT, RIGHT, TOP = 26.0, 90.0, 18.0
LEAST = 26.0  # no tank is drawn lower than this
FISH = "M-15 0C-10-6.5 4-6.5 8 0C4 6.5-10 6.5-15 0Z M8 0L15-5V5Z M-10-1V-1.6"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One tank of the picture; depths in metres from the surface.

    Attributes
    ----------
    name : str
        The tank.
    depth : float
        Of the water. [m]
    gas : float or None
        Depth of the gas line; None where it is not known. [m]
    low, high : float or None
        Its 95 % interval. [m]
    shallow, deep : float or None
        The range the animals use; None where no animal is. [m]
    level : str
        ``act`` or ``watch`` where animals stand above the gas line, else empty.
    verdict : str
        What stands beside the mark: ``0.25 m too shallow``.
    value : str
        The reading in words: ``TGP 104.7 ± 0.4 %``.
    gas_words, animal_words : str
        What the gas line and the animals say of themselves, with their numbers.
    href : str
        Where the tank's name leads.
    """

    name: str
    depth: float
    gas: float | None = None
    low: float | None = None
    high: float | None = None
    shallow: float | None = None
    deep: float | None = None
    level: str = ""
    verdict: str = ""
    value: str = ""
    gas_words: str = ""
    animal_words: str = ""
    href: str = ""


def picture(columns: Sequence[Column], unit: str = "m") -> Markup:
    """All columns at one scale, as a list that breaks into rows by itself on a narrow page."""
    if not columns:
        return Markup("")
    deepest = max(column.depth for column in columns)
    return svg.tag("ul", svg.joined(_item(column, deepest, unit) for column in columns), class_="depths")


def key(tint: str, line: str, fish: str) -> Markup:
    """What the tint, the dashed line and the outline mean, in the page's words."""
    rows = (
        (
            svg.tag("rect", x=0, y=1, width=28, height=12, class_="d-gas-water"),
            tint,
        ),
        (svg.line(0, 7, 28, 7, "d-gas"), line),
        (svg.tag("path", d=FISH, class_="d-fish", transform="translate(14 7) scale(0.9)"), fish),
    )
    return svg.tag(
        "ul",
        svg.joined(
            svg.tag(
                "li", svg.tag("svg", drawn, viewBox="0 0 28 14", aria_hidden="true"), svg.tag("span", words)
            )
            for drawn, words in rows
            if words
        ),
        class_="key",
    )


def _item(column: Column, deepest: float, unit: str) -> Markup:
    name = svg.tag("a", column.name, href=column.href) if column.href else svg.tag("span", column.name)
    value = [svg.tag("span", column.value, class_="value")] if column.value else []
    said: list[Markup] = []
    if column.verdict and column.level:
        word = svg.tag("span", column.verdict, class_="word")
        said.append(svg.tag("span", shape(column.level), word, class_=f"mark {column.level}"))
    said.extend(svg.tag("span", words) for words in (column.gas_words, column.animal_words) if words)
    return svg.tag(
        "li",
        svg.tag("div", name, *value, class_="name"),
        _water(column, deepest, unit),
        svg.tag("div", svg.joined(said), class_="said"),
    )


def shape(level: str) -> Markup:
    """The shape of a level: ▲ watch, ◆ act, ■ stop, an open ring for what asks."""
    inner = {
        "watch": svg.tag("path", d="M6 1L11.5 11H0.5Z"),
        "act": svg.tag("path", d="M6 0L12 6L6 12L0 6Z"),
        "stop": svg.tag("path", d="M1 1H11V11H1Z"),
        "ask": svg.tag("circle", cx=6, cy=6, r=4.5, class_="hollow"),
    }.get(level)
    if inner is None:
        return Markup("")
    return svg.tag("svg", inner, viewBox="0 0 12 12", aria_hidden="true", focusable="false")


def _water(column: Column, deepest: float, unit: str) -> Markup:
    bottom = TOP + max(DEEP * column.depth / deepest if deepest else LEAST, LEAST)
    y = svg.scale(0.0, column.depth, TOP, bottom)
    parts = [
        svg.tag("rect", x=LEFT, y=TOP, width=RIGHT - LEFT, height=bottom - TOP, class_="d-water"),
        *_gas(column, y),
        svg.tag(
            "path", d=f"M{svg.place(LEFT - 6)} {svg.place(TOP)}H{svg.place(RIGHT + 6)}", class_="d-surface"
        ),
        svg.tag(
            "path",
            d=svg.path([(LEFT, TOP - 8), (LEFT, bottom), (RIGHT, bottom), (RIGHT, TOP - 8)]),
            class_="d-vessel",
        ),
        svg.tag("path", d=f"M{svg.place(76.0)} {svg.place(TOP - 2)}l-4.5 -8h9z", class_="d-surface"),
        *_ticks(column, y, bottom, unit),
        *_animals(column, y),
    ]
    label = ", ".join(words for words in (column.name, column.value, column.verdict) if words)
    return svg.tag(
        "svg",
        *parts,
        viewBox=f"0 0 {svg.place(WIDE)} {svg.place(bottom + 4)}",
        role="group",
        aria_label=label,
        class_="tank",
    )


def _ticks(column: Column, y: svg.Scale, bottom: float, unit: str) -> list[Markup]:
    most = max(int((bottom - TOP) / 34), 1)
    marks = svg.ticks(0.0, column.depth, most)
    words = svg.tick_words(marks)
    drawn: list[Markup] = []
    for at, word in zip(marks, words, strict=True):
        text = f"{word} {unit}" if at == 0 else word
        if at == 0:
            drawn.append(svg.tag("text", text.replace(word, "0", 1), x=LEFT - 4, y=TOP - 6, class_="end"))
            continue
        drawn.append(svg.line(LEFT, y(at), LEFT + 5, y(at), "d-axis"))
        drawn.append(svg.tag("text", word, x=LEFT - 5, y=y(at) + 4.5, class_="end"))
    return drawn


def _gas(column: Column, y: svg.Scale) -> list[Markup]:
    if column.gas is None or not math.isfinite(column.gas):
        return []
    at = y.within(column.gas)
    drawn: list[Markup] = []
    if at > TOP:
        drawn.append(
            svg.tag("rect", x=LEFT, y=TOP, width=RIGHT - LEFT, height=at - TOP, class_="d-gas-water")
        )
    title = svg.tag("title", column.gas_words or svg.digits(column.gas, 2))
    marks = [title, svg.line(LEFT, at, RIGHT, at, "d-gas")]
    if column.low is not None and column.high is not None:
        low, high = y.within(column.low), y.within(column.high)
        x = RIGHT + 7
        marks.append(
            svg.tag(
                "path",
                d=f"M{svg.place(x - 3)} {svg.place(low)}h6m-3 0V{svg.place(high)}m-3 0h6",
                class_="d-gas-band",
            )
        )
    drawn.append(
        svg.tag("g", *marks, tabindex=0, role="img", aria_label=column.gas_words or svg.digits(column.gas, 2))
    )
    return drawn


def _animals(column: Column, y: svg.Scale) -> list[Markup]:
    if column.shallow is None:
        return []
    at = y.within(column.shallow)
    kind = f"d-fish d-{column.level}" if column.level else "d-fish"
    marks = [svg.tag("title", column.animal_words or svg.digits(column.shallow, 2))]
    if column.deep is not None and column.deep > column.shallow:
        end = y.within(column.deep)
        line = f"d-range d-{column.level}" if column.level else "d-range"
        marks.append(svg.tag("path", d=f"M50 {svg.place(at)}V{svg.place(end - 3)}m-4 0h8", class_=line))
    marks.append(svg.tag("path", d=FISH, class_=kind, transform=f"translate(50 {svg.place(at)})"))
    if column.level == "act":
        marks.append(
            svg.tag("path", d=f"M79 {svg.place(at)}l-5.5 -5.5l-5.5 5.5l5.5 5.5z", class_="d-act-fill")
        )
    elif column.level == "watch":
        marks.append(svg.tag("path", d=f"M73.5 {svg.place(at - 5.5)}l6 11h-12z", class_="d-watch-fill"))
    words = column.animal_words or svg.digits(column.shallow, 2)
    return [svg.tag("g", *marks, tabindex=0, role="img", aria_label=words)]
