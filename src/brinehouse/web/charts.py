"""Charts of one answer: a gas trial settling, intervals side by side, where a reading falls."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup

from brinehouse.web import figures, svg


def settling(
    points: Sequence[tuple[float, float]],
    curve: Sequence[tuple[float, float]] = (),
    *,
    plateau: float | None = None,
    low: float | None = None,
    high: float | None = None,
    label: str,
    x_label: str,
    y_label: str,
) -> Markup:
    """A gas trial: readings against minutes, the fitted approach, and the interval of where it settles."""
    if not points:
        return Markup("")
    wide = _settling(points, curve, (plateau, low, high), (label, x_label, y_label), (640.0, 280.0), "wide")
    narrow = _settling(
        points, curve, (plateau, low, high), (label, x_label, y_label), (288.0, 250.0), "narrow"
    )
    return svg.tag("div", wide, narrow, class_="drawn")


def _settling(
    points: Sequence[tuple[float, float]],
    curve: Sequence[tuple[float, float]],
    settles: tuple[float | None, float | None, float | None],
    words: tuple[str, str, str],
    size: tuple[float, float],
    kind: str,
) -> Markup:
    label, x_label, y_label = words
    left, right, top, floor = 50.0, size[0] - 62, 30.0, size[1] - 42
    ends = [edge for edge in settles if edge is not None and math.isfinite(edge)]
    bottom, ceiling = svg.bounds([v for _, v in points] + [v for _, v in curve], ends, share=2.5)
    y = svg.scale(bottom, ceiling, floor, top)
    last = max([t for t, _ in points] + [t for t, _ in curve])
    x = svg.scale(0.0, last or 1.0, left + 8, right)
    parts = [svg.tag("text", y_label, x=0.0, y=13.0)]
    parts += _band(settles, y, left, right, top, floor)
    parts += _axes(x, y, (left, right, top, floor), 8 if kind == "wide" else 4)
    parts.append(svg.tag("text", x_label, x=right, y=size[1] - 4, class_="end"))
    if curve:
        parts.append(svg.tag("path", d=svg.path((x(t), y.within(v)) for t, v in curve), class_="d-curve"))
    for t, v in points:
        said = f"{svg.digits(t)} {x_label}: {svg.digits(v)}"
        parts.append(
            svg.tag(
                "circle",
                svg.tag("title", said),
                cx=x(t),
                cy=y.within(v),
                r=3.5,
                class_="d-ring",
                tabindex=0,
                role="img",
                aria_label=said,
            )
        )
    parts += _beside(settles, y, right, (top, floor))
    return svg.tag(
        "svg",
        *parts,
        class_=kind,
        viewBox=f"0 0 {svg.place(size[0])} {svg.place(size[1])}",
        role="group",
        aria_label=label,
    )


def _band(
    settles: tuple[float | None, float | None, float | None],
    y: svg.Scale,
    left: float,
    right: float,
    top: float,
    floor: float,
) -> list[Markup]:
    plateau, low, high = settles
    drawn: list[Markup] = []
    if low is not None or high is not None:
        upper = y.within(high) if high is not None and math.isfinite(high) else top
        lower = y.within(low) if low is not None and math.isfinite(low) else floor
        drawn.append(
            svg.tag(
                "rect",
                x=left,
                y=upper,
                width=right - left,
                height=max(lower - upper, 1.5),
                class_="d-gas-water",
            )
        )
    if plateau is not None and math.isfinite(plateau):
        drawn.append(svg.line(left, y.within(plateau), right, y.within(plateau), "d-gas"))
    return drawn


def _axes(x: svg.Scale, y: svg.Scale, box: tuple[float, float, float, float], across: int) -> list[Markup]:
    left, right, top, floor = box
    drawn = [svg.tag("path", d=svg.path([(left, top), (left, floor), (right, floor)]), class_="d-axis")]
    heights = svg.ticks(y.low, y.high, 5)
    for at, word in zip(heights, svg.tick_words(heights), strict=True):
        drawn.append(svg.line(left - 4, y(at), left, y(at), "d-axis"))
        drawn.append(svg.tag("text", word, x=left - 8, y=y(at) + 4.5, class_="end"))
    times = svg.ticks(0.0, x.high, across)
    for at, word in zip(times, svg.tick_words(times), strict=True):
        drawn.append(svg.line(x(at), floor, x(at), floor + 4, "d-axis"))
        drawn.append(svg.tag("text", word, x=x(at), y=floor + 18, class_="middle"))
    return drawn


def _beside(
    settles: tuple[float | None, float | None, float | None],
    y: svg.Scale,
    right: float,
    room: tuple[float, float],
) -> list[Markup]:
    """Numbers of the plateau and its interval, beside the plot, never over one another."""
    plateau, low, high = settles
    shown = [
        (value, kind)
        for value, kind in ((high, ""), (plateau, "name"), (low, ""))
        if value is not None and math.isfinite(value)
    ]
    if not shown:
        return []
    places = figures.decimals_of((low, high) if low is not None and high is not None else None)
    heights = svg.apart([y.within(value) + 4.5 for value, _ in shown], room[0] + 4, room[1] + 4)
    return [
        svg.tag(
            "text",
            svg.digits(value, places),
            x=right + 8,
            y=height,
            class_=kind or None,
        )
        for (value, kind), height in zip(shown, heights, strict=True)
    ]


def intervals(
    rows: Sequence[Mapping[str, Any]],
    *,
    heads: tuple[str, str, str],
    zero: float | None = None,
    unit: str = "",
) -> Markup:
    """Dots with their 95 % whiskers at one scale, each beside its name and its number.

    Parameters
    ----------
    rows : sequence of mapping
        ``label``, ``value``, ``low``, ``high``; ``level`` and ``note`` where there is one.
    heads : (str, str, str)
        What stands over the names, the numbers and the picture.
    zero : float, optional
        A line to compare with.
    """
    bounds = [
        edge for row in rows for edge in (row["value"], row.get("low"), row.get("high")) if edge is not None
    ]
    bounds = [edge for edge in [*bounds, *([] if zero is None else [zero])] if math.isfinite(edge)]
    if not bounds:
        return Markup("")
    spare = (max(bounds) - min(bounds) or abs(bounds[0]) or 1.0) * 0.06
    x = svg.scale(min(bounds) - spare, max(bounds) + spare, 4.0, 236.0)
    noted = any(row.get("note") for row in rows)
    body = svg.joined(_interval_row(row, x, zero, heads, unit, noted=noted) for row in rows)
    head = svg.joined(
        svg.tag("th", word, role="columnheader", scope="col", class_="number" if i == 1 else None)
        for i, word in enumerate(heads)
    ) + (svg.tag("td", "", role="cell") if noted else "")
    axis = svg.tag(
        "tr",
        svg.tag("td", "", role="cell"),
        svg.tag("td", "", role="cell"),
        svg.tag("td", _scale_below(x), role="cell", class_="drawn-cell"),
        *([svg.tag("td", "", role="cell")] if noted else []),
        role="row",
        class_="scale",
    )
    return svg.tag(
        "table",
        svg.tag("thead", svg.tag("tr", head, role="row"), role="rowgroup"),
        svg.tag("tbody", body, axis, role="rowgroup"),
        class_="stack intervals",
        role="table",
    )


def _interval_row(
    row: Mapping[str, Any],
    x: svg.Scale,
    zero: float | None,
    heads: tuple[str, str, str],
    unit: str,
    *,
    noted: bool,
) -> Markup:
    level = str(getattr(row.get("level"), "value", row.get("level") or ""))
    number = figures.figure({"unit": unit, **row})
    said = f"{row['label']}: {number.striptags()}"
    cells = [
        svg.tag("th", str(row["label"]), role="rowheader", scope="row"),
        svg.tag(
            "td", svg.tag("span", number, class_="cell"), role="cell", class_="number", data_label=heads[1]
        ),
        svg.tag(
            "td",
            whisker(row["value"], row.get("low"), row.get("high"), x, label=said, zero=zero, level=level),
            role="cell",
            class_="drawn-cell",
        ),
    ]
    if noted:
        cells.append(svg.tag("td", svg.tag("span", str(row.get("note") or ""), class_="cell"), role="cell"))
    return svg.tag("tr", *cells, role="row")


def whisker(
    value: float | None,
    low: float | None,
    high: float | None,
    x: svg.Scale,
    *,
    label: str,
    zero: float | None = None,
    level: str = "",
) -> Markup:
    """One dot with its interval on a given scale."""
    parts: list[Markup] = [svg.tag("title", label)]
    if zero is not None:
        parts.append(svg.line(x(zero), -8, x(zero), 28, "d-rule"))
    if low is not None and high is not None:
        parts.append(
            svg.tag(
                "path",
                d=f"M{svg.place(x.within(low))} 6v8m0 -4H{svg.place(x.within(high))}m0 -4v8",
                class_="d-ink",
            )
        )
    if value is not None and math.isfinite(value):
        kind = f"d-{level}-fill" if level in ("watch", "act") else "d-dot"
        if level == "act":
            parts.append(svg.tag("path", d=f"M{svg.place(x(value))} 4l6 6l-6 6l-6 -6z", class_=kind))
        elif level == "watch":
            parts.append(svg.tag("path", d=f"M{svg.place(x(value))} 4l6 11h-12z", class_=kind))
        else:
            parts.append(svg.tag("circle", cx=x(value), cy=10, r=4, class_=kind))
    return svg.tag("svg", *parts, class_="whisker", viewBox="0 0 240 20", role="img", aria_label=label)


def _scale_below(x: svg.Scale) -> Markup:
    marks = svg.ticks(x.low, x.high, 4)
    parts: list[Markup] = [svg.line(x.start, 1, x.end, 1, "d-axis")]
    for at, word in zip(marks, svg.tick_words(marks), strict=True):
        parts.append(svg.line(x(at), 1, x(at), 5, "d-axis"))
        parts.append(svg.tag("text", word, x=x(at), y=18, class_="middle"))
    return svg.tag("svg", *parts, class_="whisker", viewBox="0 0 240 20", aria_hidden="true")


def among(
    value: float | None,
    before: Sequence[float],
    aim: tuple[float | None, float | None] | None = None,
    *,
    label: str,
    level: str = "",
) -> Markup:
    """Where a reading falls among the last ones and the aim, for the page where it is typed."""
    edges = [edge for edge in (aim or ()) if edge is not None]
    everything = [*before, *edges, *([] if value is None else [value])]
    if not everything:
        return Markup("")
    spare = (max(everything) - min(everything) or abs(everything[0]) or 1.0) * 0.08
    x = svg.scale(min(everything) - spare, max(everything) + spare, 14.0, 306.0)
    parts: list[Markup] = []
    if aim is not None:
        start = x(aim[0]) if aim[0] is not None else 0.0
        end = x(aim[1]) if aim[1] is not None else 320.0
        parts.append(svg.tag("rect", x=start, y=14, width=end - start, height=16, class_="d-aim"))
    parts.append(svg.line(0, 22, 320, 22, "d-rule"))
    parts.extend(svg.line(x(one), 16, x(one), 28, "d-axis") for one in before)
    parts.extend(
        svg.tag("text", svg.digits(edge), x=x(edge), y=46, class_="middle")
        for edge in _clear(edges, value, x)
    )
    if value is not None:
        at = svg.place(x(value))
        fill = f"d-{level}-fill" if level in ("watch", "act") else "d-ink-fill"
        head = {"act": f"M{at} 0l7 7l-7 7l-7 -7z", "watch": f"M{at} 1l7 12h-14z"}.get(
            level, f"M{at} 14l-6 -9h12z"
        )
        parts += [svg.line(x(value), 12, x(value), 32, "d-ink"), svg.tag("path", d=head, class_=fill)]
        parts.append(
            svg.tag("text", svg.digits(value), x=min(max(x(value), 22.0), 298.0), y=46, class_="name middle")
        )
    return svg.tag("svg", *parts, class_="among", viewBox="0 0 320 50", role="img", aria_label=label)


def _clear(edges: Sequence[float], value: float | None, x: svg.Scale) -> list[float]:
    """The edges whose numbers do not run into the reading's own, or into each other's."""
    taken = [] if value is None else [x(value)]
    kept: list[float] = []
    for edge in edges:
        if all(abs(x(edge) - other) >= 44 for other in taken):
            kept.append(edge)
            taken.append(x(edge))
    return kept
