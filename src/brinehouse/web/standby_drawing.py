"""How often something happens, drawn on a line of years that widens tenfold from mark to mark."""

from __future__ import annotations

import math

from markupsafe import Markup

from brinehouse import answers
from brinehouse.web import svg

WIDE, HIGH, EDGE = 240.0, 24.0, 8.0
LEAST, MOST = 0.1, 1000.0  # years at the ends


def line(years: answers.Value, alone: float | None, *, label: str) -> Markup:
    """Mean time until it first happens, its interval, and a ring where it would be without shared causes."""
    parts: list[Markup] = [svg.tag("title", label), svg.line(EDGE, 12, WIDE - EDGE, 12, "d-axis")]
    span = years.interval()
    if span is not None:
        left, right = at(span[0]), at(span[1])
        parts.append(svg.tag("rect", x=left, y=3, width=max(right - left, 2.0), height=18, class_="d-aim"))
    if alone is not None:
        parts.append(_alone(alone))
    if years.value is not None:
        parts.append(svg.tag("circle", cx=at(years.value), cy=12, r=4.5, class_="d-dot"))
    return svg.tag("svg", *parts, class_="often", viewBox=_box(HIGH), role="img", aria_label=label)


def _alone(value: float) -> Markup:
    """A ring; beyond the end of the line an arrow that leaves it."""
    if value <= MOST:
        return svg.tag("circle", cx=at(value), cy=12, r=4.5, class_="d-ring")
    x = WIDE - EDGE
    return svg.tag("path", d=f"M{svg.place(x - 9)} 6l9 6l-9 6", class_="d-ink")


def scale(words: str) -> Markup:
    """The marks over the column: 0.1, 1, 10, 100 and 1000 years."""
    parts = [svg.line(EDGE, 21, WIDE - EDGE, 21, "d-axis")]
    for power in range(-1, 4):
        x = at(10.0**power)
        anchor = "end" if power == 3 else "middle" if power > -1 else None
        parts.append(svg.line(x, 17, x, 21, "d-axis"))
        kind = f"{anchor} spare" if power == 2 else anchor  # it gives way where there is little room
        parts.append(svg.tag("text", svg.digits(10.0**power), x=x, y=13, class_=kind))
    return svg.tag("svg", *parts, class_="often", viewBox=_box(22.0), role="img", aria_label=words)


def at(years: float) -> float:
    """Where a number of years stands; what lies beyond the line stands at its end.

    >>> at(0.1), at(10.0), at(1e9)
    (8.0, 120.0, 232.0)
    """
    held = min(max(years, LEAST), MOST) if math.isfinite(years) else MOST
    return EDGE + (math.log10(held) + 1.0) / 4.0 * (WIDE - 2.0 * EDGE)


def _box(high: float) -> str:
    return f"0 0 {svg.place(WIDE)} {svg.place(high)}"
