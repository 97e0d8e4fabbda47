"""Gas against depth: a column of water for each tank, and who stands above the gas line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from brinehouse.web import svg

WIDE, DEEP = 104.0, 150.0  # a column, and the water it shows at scale [px]
BREAK, FLOOR = 10.0, 22.0  # a break, and the floor drawn below it [px]
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
    """All columns at one scale of depth, as a list that breaks into rows by itself on a narrow page."""
    if not columns:
        return Markup("")
    window = _window(columns)
    return svg.tag("ul", svg.joined(_item(column, window, unit) for column in columns), class_="depths")


def _window(columns: Sequence[Column]) -> float:
    """How deep the picture goes: past every gas line, and past the animals that swim near one, in metres.

    Deeper water is cut away by a break, so that the shallow tanks, which gas harms first, stay legible.
    """
    lines = [edge for column in columns for edge in (column.gas, column.high) if edge and math.isfinite(edge)]
    line = max(lines, default=0.0)
    near = [column.shallow for column in columns if column.shallow and column.shallow <= max(3 * line, 0.6)]
    wanted = max(0.6, 1.5 * max([line, *near]))
    return min(wanted, max(column.depth for column in columns)) or 1.0


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


def _item(column: Column, window: float, unit: str) -> Markup:
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
        _water(column, window, unit),
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


def _water(column: Column, window: float, unit: str) -> Markup:
    """One tank: its upper water at scale, and, where it is deeper than the picture, a break and its floor."""
    y = _Depths(column.depth, window)
    walls = _walls(y)
    label = ", ".join(words for words in (column.name, column.value, column.verdict) if words)
    return svg.tag(
        "svg",
        svg.tag("rect", x=LEFT, y=TOP, width=RIGHT - LEFT, height=y.floor - TOP, class_="d-water"),
        *_gas(column, y),
        svg.tag(
            "path", d=f"M{svg.place(LEFT - 6)} {svg.place(TOP)}H{svg.place(RIGHT + 6)}", class_="d-surface"
        ),
        *walls,
        svg.tag("path", d=f"M76 {svg.place(TOP - 2)}l-4.5 -8h9z", class_="d-surface"),
        *_ticks(column, y, unit),
        *_animals(column, y),
        viewBox=f"0 0 {svg.place(WIDE)} {svg.place(y.floor + 4)}",
        role="group",
        aria_label=label,
        class_="tank",
    )


class _Depths:
    """Depth to drawing units: straight down to the break, and what lies deeper stands near the floor."""

    def __init__(self, depth: float, window: float) -> None:
        self.depth = depth
        self.broken = depth > window * 1.02
        self.shown = min(depth, window)
        self.cut = TOP + max(DEEP * self.shown / window, LEAST)
        self.floor = self.cut + (BREAK + FLOOR if self.broken else 0.0)

    def __call__(self, depth: float) -> float:
        if self.broken and depth > self.shown:
            return self.floor - FLOOR / 2
        held = min(max(depth, 0.0), self.shown)
        return TOP + held / self.shown * (self.cut - TOP) if self.shown else TOP


def _walls(y: _Depths) -> list[Markup]:
    top = TOP - 8
    if not y.broken:
        corners = [(LEFT, top), (LEFT, y.floor), (RIGHT, y.floor), (RIGHT, top)]
        return [svg.tag("path", d=svg.path(corners), class_="d-vessel")]
    low = y.cut + BREAK
    middle = y.cut + BREAK / 2
    upper = [
        (LEFT - 5, y.cut + 2),
        (50.0, y.cut + 2),
        (54.0, y.cut - 4),
        (62.0, y.cut + 8),
        (66.0, y.cut + 2),
        (RIGHT + 5, y.cut + 2),
    ]
    lower = [(x, height + BREAK - 4) for x, height in upper]
    gap = svg.tag("path", d=svg.path([*upper, *reversed(lower)]) + "Z", class_="d-blank")
    lines = [svg.tag("path", d=svg.path(edge), class_="d-axis") for edge in (upper, lower)]
    sides = (
        [(LEFT, top), (LEFT, middle - 3)],
        [(RIGHT, top), (RIGHT, middle - 3)],
        [(LEFT, low), (LEFT, y.floor), (RIGHT, y.floor), (RIGHT, low)],
    )
    return [*(svg.tag("path", d=svg.path(side), class_="d-vessel") for side in sides), gap, *lines]


def _ticks(column: Column, y: _Depths, unit: str) -> list[Markup]:
    marks = svg.ticks(0.0, y.shown, max(int((y.cut - TOP) / 32), 1))
    drawn = [svg.tag("text", f"0 {unit}", x=LEFT - 4, y=TOP - 6, class_="end")]
    for at, word in zip(marks, svg.tick_words(marks), strict=True):
        if at == 0.0 or (y.broken and y.cut - y(at) < 14):
            continue
        drawn.append(svg.line(LEFT, y(at), LEFT + 5, y(at), "d-axis"))
        drawn.append(svg.tag("text", word, x=LEFT - 5, y=y(at) + 4.5, class_="end"))
    if y.broken:
        drawn.append(svg.tag("text", svg.digits(column.depth, 1), x=LEFT - 5, y=y.floor, class_="end"))
    return drawn


def _gas(column: Column, y: _Depths) -> list[Markup]:
    if column.gas is None or not math.isfinite(column.gas):
        return []
    at = y(column.gas)
    drawn: list[Markup] = []
    if at > TOP:
        box = {"x": LEFT, "y": TOP, "width": RIGHT - LEFT, "height": at - TOP}
        drawn.append(svg.tag("rect", class_="d-gas-water", **box))
    words = column.gas_words or svg.digits(column.gas, 2)
    marks = [svg.tag("title", words), svg.line(LEFT, at, RIGHT, at, "d-gas")]
    if column.low is not None and column.high is not None:
        x = RIGHT + 8
        ends = f"M{svg.place(x - 3)} {svg.place(y(column.low))}h6m-3 0V{svg.place(y(column.high))}m-3 0h6"
        marks.append(svg.tag("path", d=ends, class_="d-gas-band"))
    drawn.append(svg.tag("g", *marks, tabindex=0, role="img", aria_label=words))
    return drawn


def _animals(column: Column, y: _Depths) -> list[Markup]:
    if column.shallow is None:
        return []
    at = y(column.shallow)
    words = column.animal_words or svg.digits(column.shallow, 2)
    colour = f" d-{column.level}" if column.level else ""
    marks = [svg.tag("title", words)]
    if column.deep is not None and column.deep > column.shallow and y(column.deep) - at > 8:
        reach = f"M50 {svg.place(at)}V{svg.place(y(column.deep) - 3)}m-4 0h8"
        marks.append(svg.tag("path", d=reach, class_="d-range" + colour))
    marks.append(
        svg.tag("path", d=FISH, class_="d-fish" + colour, transform=f"translate(50 {svg.place(at)})")
    )
    if column.level == "act":
        diamond = f"M79.5 {svg.place(at)}l-5.5 -5.5l-5.5 5.5l5.5 5.5z"
        marks.append(svg.tag("path", d=diamond, class_="d-act-fill"))
    elif column.level == "watch":
        triangle = f"M74 {svg.place(at - 5.5)}l6 11h-12z"
        marks.append(svg.tag("path", d=triangle, class_="d-watch-fill"))
    return [svg.tag("g", *marks, tabindex=0, role="img", aria_label=words)]
