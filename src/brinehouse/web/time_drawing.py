"""Time in hand, drawn: a dimension line for each failure, and the course of one quantity at one place.

A draughtsman gives a length by a line between two ticks with its figure. Here the length is time: from the
failure, past the hatched part that passes before anybody stands at the plant, to the first limit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from brinehouse.web import svg

WIDE, TALL = 320.0, 28.0
LEFT, RIGHT = 4.0, WIDE - 8.0
MARKS = (0.0, 1.0, 4.0, 12.0, 24.0, 72.0)
LONGEST = 72.0
SOON = 0.5  # hours at which the scale turns from even to ever denser


def at(hours: float, longest: float = LONGEST) -> float:
    """Where an hour stands along the line: the first hours take the room, the last day little.

    >>> at(0.0), round(at(1.0)), at(72.0), at(500.0)
    (4.0, 72, 312.0, 312.0)
    """
    share = math.log1p(min(max(hours, 0.0), longest) / SOON) / math.log1p(longest / SOON)
    return LEFT + share * (RIGHT - LEFT)


def line(
    hours: float | None,
    *,
    low: float | None = None,
    high: float | None = None,
    lost: float = 0.0,
    level: str = "",
    label: str,
    longest: float = LONGEST,
) -> Markup:
    """Time in hand as a dimension line.

    Parameters
    ----------
    hours : float or None
        Until the first limit; None where none is reached.
    low, high : float or None
        Its 95 % interval, None while it is being worked out.
    lost : float
        Hours that pass before anybody stands at the plant, hatched.
    level : str
        ``act`` or ``watch`` where the mark is abnormal.
    label : str
        What it says, for those who hear it.
    """
    middle = TALL / 2.0
    parts: list[Markup] = [svg.tag("title", label), svg.line(LEFT, middle, RIGHT, middle, "d-rule")]
    end = at(hours if hours is not None else longest, longest)
    gone = min(at(lost, longest), end) if lost > 0.0 else LEFT
    if gone > LEFT:
        parts += _hatched(LEFT, gone, middle)
    if hours is None:
        parts.append(svg.line(gone, middle, RIGHT, middle, "d-ink t-open"))
        parts.append(svg.tag("path", d=f"M{svg.place(RIGHT - 7)} {middle - 4}l7 4l-7 4", class_="d-ink"))
    else:
        if low is not None:
            parts.append(_reach(at(low, longest), at(high if high is not None else longest, longest), middle))
        parts.append(svg.line(gone, middle, end, middle, "d-ink"))
        parts += [_tick(LEFT, middle), _limit(end, middle, level)]
    return svg.tag(
        "svg", *parts, class_="in-hand", viewBox=f"0 0 {svg.place(WIDE)} {svg.place(TALL)}", role="img",
        aria_label=label,
    )  # fmt: skip


def _hatched(left: float, right: float, middle: float) -> list[Markup]:
    """Strokes at 45 degrees in a box: time that is gone before anybody is there."""
    top, floor = middle - 6.0, middle + 6.0
    strokes: list[str] = []
    x = left - (floor - top) + 3.0
    while x < right:
        x1, y1 = (x, floor) if x >= left else (left, floor - (left - x))
        x2, y2 = (x + 12.0, top) if x + 12.0 <= right else (right, floor - (right - x))
        if x2 > x1:
            strokes.append(f"M{svg.place(x1)} {svg.place(y1)}L{svg.place(x2)} {svg.place(y2)}")
        x += 4.0
    box = svg.tag("rect", x=left, y=top, width=right - left, height=12.0, class_="t-gone")
    return [box, svg.tag("path", d="".join(strokes), class_="t-hatch")]


def _reach(left: float, right: float, middle: float) -> Markup:
    return svg.tag("rect", x=left, y=middle - 4.0, width=max(right - left, 1.0), height=8.0, class_="t-reach")


def _tick(x: float, middle: float) -> Markup:
    return svg.line(x, middle - 7.0, x, middle + 7.0, "d-ink")


def _limit(x: float, middle: float, level: str) -> Markup:
    """The end of the line: the draughtsman's tick; where it is abnormal, the shape of its level."""
    place = f"{svg.place(x)} {svg.place(middle)}"
    if level == "act":
        return svg.tag("path", d=f"M{place}m0 -7l7 7l-7 7l-7 -7z", class_="d-act-fill")
    if level == "watch":
        return svg.tag("path", d=f"M{place}m0 -7l7 12h-14z", class_="d-watch-fill")
    return svg.tag("path", d=f"M{place}m0 -7v14m4 -11l-8 8", class_="d-ink t-end")


def ruler(label: str, longest: float = LONGEST) -> Markup:
    """The hours below (or above) the lines, to the same scale."""
    parts = [svg.line(LEFT, 4, RIGHT, 4, "d-axis")]
    for mark in [one for one in MARKS if one <= longest]:
        x = at(mark, longest)
        kind = "end" if mark == longest else "middle" if mark else None
        parts.append(svg.line(x, 1, x, 7, "d-axis"))
        parts.append(
            svg.tag("text", svg.digits(mark), x=x + (3 if mark == longest else 0), y=20, class_=kind)
        )
    return svg.tag(
        "svg", *parts, class_="in-hand", viewBox=f"0 0 {svg.place(WIDE)} 22", role="img", aria_label=label
    )


# -- the course of one quantity ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """A limit on a chart: where it lies, whether more is worse, and its level."""

    value: float
    upper: bool
    level: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """One quantity at one place over the hours after a failure."""

    hours: Sequence[float]
    values: Sequence[float]
    edges: Sequence[Edge] = ()
    crossed: float | None = None
    lost: float = 0.0
    clock: float | None = None
    """Hour of the day at which the failure begins; None draws no night."""
    night: tuple[float, float] = (20.0, 8.0)
    label: str = ""
    over: str = ""
    """What stands over the axis: quantity and unit."""
    below: str = ""
    level: str = ""


def course(one: Course) -> Markup:
    """A chart in two widths; the page shows the one that fits."""
    if len(one.hours) < 2:
        return Markup("")
    wide = _course(one, (560.0, 230.0), "wide", 9)
    narrow = _course(one, (320.0, 220.0), "narrow", 4)
    return svg.tag("div", wide, narrow, class_="drawn")


def _course(one: Course, size: tuple[float, float], kind: str, across: int) -> Markup:
    left, right, top, floor = 52.0, size[0] - 8.0, 26.0, size[1] - 40.0
    low, high = svg.bounds(list(one.values), [edge.value for edge in one.edges], share=0.75)
    y, x = svg.scale(low, high, floor, top), svg.scale(0.0, max(one.hours), left, right)
    box = (left, right, top, floor)
    parts = [svg.tag("title", one.label), svg.tag("text", one.over, x=0.0, y=13.0)]
    parts += _nights(one, x, (top, floor))
    parts += _edges(one.edges, y, box)
    if one.lost > 0.0:
        parts += _hatch_column(x(0.0), x(min(one.lost, max(one.hours))), floor)
    parts += _scales(x, y, box, across)
    parts.append(svg.tag("text", one.below, x=right, y=size[1] - 4.0, class_="end"))
    drawn = ((x(t), y.within(v)) for t, v in zip(one.hours, one.values, strict=True) if math.isfinite(v))
    parts.append(svg.tag("path", d=svg.path(drawn), class_="d-curve"))
    if one.crossed is not None:
        parts += _crossing(one, x, y, box)
    return svg.tag(
        "svg", *parts, class_=kind, viewBox=f"0 0 {svg.place(size[0])} {svg.place(size[1])}", role="img",
        aria_label=one.label,
    )  # fmt: skip


def _nights(one: Course, x: svg.Scale, span: tuple[float, float]) -> list[Markup]:
    """Shade for the hours without light."""
    if one.clock is None:
        return []
    dusk, dawn = one.night
    length = (dawn - dusk) % 24.0
    drawn: list[Markup] = []
    begin = (dusk - one.clock) % 24.0 - 24.0
    while begin < x.high:
        first, last = max(begin, 0.0), min(begin + length, x.high)
        if last > first:
            drawn.append(
                svg.tag("rect", x=x(first), y=span[0], width=x(last) - x(first), height=span[1] - span[0],
                        class_="t-night")
            )  # fmt: skip
        begin += 24.0
    return drawn


def _edges(edges: Sequence[Edge], y: svg.Scale, box: tuple[float, float, float, float]) -> list[Markup]:
    """Limits: a line at each, short strokes on its wrong side, as ground is drawn in a section."""
    left, right, top, floor = box
    drawn: list[Markup] = []
    for edge in edges:
        if not y.low <= edge.value <= y.high:
            continue
        at_y, side = y(edge.value), -5.0 if edge.upper else 5.0
        level = edge.level if edge.level in ("watch", "act") else ""
        strokes = "".join(f"M{svg.place(left + n * 9.0 + 4.0)} {svg.place(at_y)}l5 {svg.place(side)}"
                          for n in range(int((right - left) // 9.0)))  # fmt: skip
        if top + 5.0 <= at_y + side <= floor or top <= at_y + side:
            drawn.append(svg.tag("path", d=strokes, class_=f"t-wrong {level}".strip()))
        drawn.append(svg.line(left, at_y, right, at_y, f"t-edge {level}".strip()))
    return drawn


def _hatch_column(left: float, right: float, floor: float) -> list[Markup]:
    """The time that is gone before anybody is there, along the foot of the chart."""
    return _hatched(left, max(right, left + 2.0), floor - 6.0)


def _scales(x: svg.Scale, y: svg.Scale, box: tuple[float, float, float, float], across: int) -> list[Markup]:
    left, right, top, floor = box
    drawn = [svg.tag("path", d=svg.path([(left, top), (left, floor), (right, floor)]), class_="d-axis")]
    heights = svg.ticks(y.low, y.high, 4)
    for value, word in zip(heights, svg.tick_words(heights), strict=True):
        drawn.append(svg.line(left - 4, y(value), left, y(value), "d-axis"))
        drawn.append(svg.tag("text", word, x=left - 8, y=y(value) + 4.5, class_="end"))
    step = next(n for n in (0.25, 0.5, 1.0, 2.0, 4.0, 6.0, 8.0, 12.0, 24.0, 1e9) if x.high / n <= across)
    for n in range(int(x.high / step + 1e-9) + 1):
        drawn.append(svg.line(x(n * step), floor, x(n * step), floor + 4, "d-axis"))
        drawn.append(svg.tag("text", svg.digits(n * step), x=x(n * step), y=floor + 17, class_="middle"))
    return drawn


def _crossing(
    one: Course, x: svg.Scale, y: svg.Scale, box: tuple[float, float, float, float]
) -> list[Markup]:
    """Where the first limit is reached: a mark on the curve and a line down to the hours."""
    when = one.crossed if one.crossed is not None else 0.0
    value = _between(one.hours, one.values, when)
    px, py = x.within(when), y.within(value)
    shape = {"act": "m0 -7l7 7l-7 7l-7 -7z", "watch": "m0 -7l7 12h-14z"}.get(one.level, "")
    mark = (
        svg.tag("path", d=f"M{svg.place(px)} {svg.place(py)}{shape}", class_=f"d-{one.level}-fill")
        if shape
        else svg.tag("circle", cx=px, cy=py, r=4.0, class_="d-dot")
    )
    return [svg.line(px, py, px, box[3], "d-range"), mark]


def _between(hours: Sequence[float], values: Sequence[float], when: float) -> float:
    """The value at an hour, in a straight line between those known.

    >>> _between([0.0, 2.0], [10.0, 6.0], 1.0)
    8.0
    """
    for i in range(1, len(hours)):
        if hours[i] >= when:
            span = hours[i] - hours[i - 1]
            share = (when - hours[i - 1]) / span if span > 0 else 0.0
            return values[i - 1] + share * (values[i] - values[i - 1])
    return values[-1]
