"""What was said of one flow, drawn beside what agrees with all of them: a line a run, one scale for all."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

from brinehouse.web import svg

WIDE, HIGH, MIDDLE = 240.0, 24.0, 120.0
REACH = 0.25  # share of the flow that half the width stands for
EDGE = 6.0


def beside(row: Mapping[str, Any], *, label: str) -> Markup:
    """Stated, measured and computed flow as shares of the reconciled one, which stands in the middle.

    Parameters
    ----------
    row : mapping
        ``flow``, ``stated``, ``measured``, ``computed``: values with an interval, or None; ``mark``.
    label : str
        What it is, for those who hear it.
    """
    flow = row.get("flow")
    whole = flow.value if flow is not None else None
    parts: list[Markup] = [svg.tag("title", label)]
    if flow is None or not whole:
        return svg.tag("svg", *parts, class_="beside", viewBox=_box(), role="img", aria_label=label)
    low, high = flow.interval() or (whole, whole)
    left, right = _at(low, whole), _at(high, whole)
    parts.append(svg.tag("rect", x=left, y=2, width=max(right - left, 2.0), height=20, class_="d-aim"))
    parts.append(svg.line(MIDDLE, 0, MIDDLE, HIGH, "d-surface"))
    stated, computed = row.get("stated"), row.get("computed")
    if stated is not None and stated.value is not None:
        x = svg.place(_at(stated.value, whole))
        parts.append(svg.tag("path", d=f"M{x} 5v14m-4 -14h8m-8 14h8", class_="d-axis"))
    if computed is not None and computed.value is not None:
        x = _at(computed.value, whole)
        parts.append(svg.tag("rect", x=x - 3.5, y=8.5, width=7, height=7, class_="d-ring"))
    parts += _measured(row, whole)
    return svg.tag("svg", *parts, class_="beside", viewBox=_box(), role="img", aria_label=label)


def scale(words: str) -> Markup:
    """The scale under the column: how far the ends stand from the reconciled flow."""
    ends = [(-REACH, EDGE, None), (0.0, MIDDLE, "middle"), (REACH, WIDE - EDGE, "end")]
    parts = [svg.line(EDGE, 1, WIDE - EDGE, 1, "d-axis")]
    for share, x, anchor in ends:
        said = f"{svg.digits(100.0 * share, 0)} %" if share <= 0 else f"+{svg.digits(100.0 * share, 0)} %"
        parts.append(svg.line(x, 1, x, 5, "d-axis"))
        parts.append(svg.tag("text", "0" if share == 0 else said, x=x, y=18, class_=anchor))
    return svg.tag("svg", *parts, class_="beside", viewBox="0 0 240 22", role="img", aria_label=words)


def key() -> list[tuple[Markup, str]]:
    """The signs, each with the name of its word."""
    signs = {
        "reconciled": svg.tag("rect", x=4, y=2, width=16, height=20, class_="d-aim")
        + svg.line(12, 0, 12, 24, "d-surface"),
        "stated": svg.tag("path", d="M12 5v14m-4 -14h8m-8 14h8", class_="d-axis"),
        "measured": svg.tag("circle", cx=12, cy=12, r=4, class_="d-dot"),
        "computed": svg.tag("rect", x=8.5, y=8.5, width=7, height=7, class_="d-ring"),
    }
    return [
        (svg.tag("svg", sign, class_="sign", viewBox="0 0 24 24", aria_hidden="true"), name)
        for name, sign in signs.items()
    ]


def _measured(row: Mapping[str, Any], whole: float) -> list[Markup]:
    measured = row.get("measured")
    if measured is None or measured.value is None:
        return []
    low, high = measured.interval() or (measured.value, measured.value)
    at = _at(measured.value, whole)
    path = f"M{svg.place(_at(low, whole))} 8v8m0 -4H{svg.place(_at(high, whole))}m0 -4v8"
    drawn = [svg.tag("path", d=path, class_="d-ink")]
    if row.get("mark") in ("suspect", "in set"):
        shape = f"M{svg.place(at)} 5l7 13h-14z"
        drawn.append(svg.tag("path", d=shape, class_="d-watch-fill"))
    else:
        drawn.append(svg.tag("circle", cx=at, cy=12, r=4, class_="d-dot"))
    return drawn


def _at(value: float, whole: float) -> float:
    """Where a flow stands on the line; what lies beyond stands at its end."""
    share = (value - whole) / abs(whole)
    if not math.isfinite(share):
        return MIDDLE
    share = min(max(share / REACH, -1.0), 1.0)
    return MIDDLE + share * (MIDDLE - EDGE)


def _box() -> str:
    return f"0 0 {svg.place(WIDE)} {svg.place(HIGH)}"
