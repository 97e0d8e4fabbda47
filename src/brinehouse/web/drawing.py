"""Marks, figures and small charts, drawn on the server: plain numbers in, escaped SVG or HTML out.

Nothing here chooses words: labels come from the page. Colours come from the style sheet by class.
"""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from markupsafe import Markup

from brinehouse.web import depths, svg

Column = depths.Column
gas_depths = depths.picture
gas_key = depths.key
shape = depths.shape
digits = svg.digits


def figure(value: Any, decimals: int | None = None, *, large: bool = False) -> Markup:
    """A number with its ± and unit; an interval that is not even on both sides is written out.

    Parameters
    ----------
    value : Value or mapping or number
        Anything with ``value``, ``unit``, ``u``, ``low``, ``high``, ``text``.
    decimals : int, optional
        Else as many as the interval supports.

    >>> from brinehouse import answers
    >>> print(figure(answers.Value(value=104.68, unit="%", u=0.2)).striptags())
    104.7 ± 0.4 %
    >>> print(figure(answers.Value(value=2.0, unit="mmHg", low=0.5, high=9.0)).striptags())
    2 (0 … 9) mmHg
    >>> print(figure(answers.Value(value=None, unit="%", text="not measured")).striptags())
    not measured
    """
    number = _part(value, "value") if not isinstance(value, (int, float)) else value
    text = str(_part(value, "text") or "")
    if number is None or (isinstance(number, float) and math.isnan(number)):
        return svg.tag("span", text or "–", class_="figure")
    interval = _interval(value)
    places = decimals if decimals is not None else _decimals(interval)
    parts = [svg.tag("span", svg.digits(number, places), class_="number")]
    spread = _spread(float(number), interval, places)
    if spread:
        parts.append(svg.tag("span", spread, class_="spread"))
    unit = str(_part(value, "unit") or "")
    if unit and unit != "1":
        parts.append(svg.tag("span", unit, class_="unit"))
    return svg.tag("span", Markup(" ").join(parts), class_="figure large" if large else "figure")


def cell(value: Any, decimals: int | None = None) -> Markup:
    """A cell of a table whose column already says the unit."""
    if value is None or isinstance(value, (str, bool)):
        return Markup.escape("" if value is None else value)
    if isinstance(value, (int, float)):
        return Markup.escape(svg.digits(value, decimals if isinstance(value, float) else None))
    number = _part(value, "value")
    bare = {name: _part(value, name) for name in ("value", "u", "low", "high", "text")}
    return figure(bare, decimals if number is not None else None)


def spark(
    trace: Sequence[tuple[float, float | None]],
    aim: tuple[float | None, float | None] | None = None,
    *,
    label: str,
    stale: bool = False,
    level: Any = None,
    span: tuple[float, float] | None = None,
) -> Markup:
    """A day's line over the aim; gaps stay gaps, and the newest reading is a dot.

    Parameters
    ----------
    trace : sequence of (time, value)
        Times in any one unit; a value of None is a gap.
    aim : (low, high), optional
        Either may be None: then the aim is open on that side.
    label : str
        What it is, for those who hear it; the least and the most are added.
    stale : bool
        Drawn broken.
    level : str, optional
        ``watch`` or ``act`` colours the last dot.
    span : (start, end), optional
        The time that the width stands for; else that of the trace.
    """
    wide, high = 150.0, 20.0
    known = [(at, value) for at, value in trace if value is not None and math.isfinite(value)]
    values = [value for _, value in known]
    edges = [edge for edge in (aim or ()) if edge is not None]
    said = f"{label}: {svg.digits(min(values))} … {svg.digits(max(values))}" if values else f"{label}: –"
    parts: list[Markup] = [svg.tag("title", said)]
    bottom, top = _range(values, edges)
    y = svg.scale(bottom, top, high - 2, 2.0)
    if aim is not None:
        upper = y.within(aim[1]) if aim[1] is not None else 0.0
        lower = y.within(aim[0]) if aim[0] is not None else high
        parts.append(
            svg.tag("rect", x=0, y=upper, width=wide, height=max(lower - upper, 1.0), class_="d-aim")
        )
    if known:
        start, end = span or (known[0][0], known[-1][0])
        x = svg.scale(start, end, 2.0, wide - 4)
        kind = "d-trace d-old" if stale else "d-trace"
        parts.extend(
            svg.tag("path", d=svg.path((x(at), y(value)) for at, value in run), class_=kind)
            for run in _runs(trace)
            if len(run) > 1
        )
        word = getattr(level, "value", level)
        fill = f"d-{word}-fill" if word in ("watch", "act") else "d-dot"
        parts.append(svg.tag("circle", cx=x(known[-1][0]), cy=y(known[-1][1]), r=2.5, class_=fill))
    return svg.tag("svg", *parts, class_="spark", viewBox="0 0 150 20", role="img", aria_label=said)


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
    bottom, ceiling = _range([v for _, v in points] + [v for _, v in curve], ends, share=2.5)
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
    places = _decimals((low, high) if low is not None and high is not None else None)
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
    number = figure({"unit": unit, **row})
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


def bar(share: float, *, label: str, first: bool = False) -> Markup:
    """A share of one as a bar: how much an explanation weighs among the rest."""
    held = min(max(share, 0.0), 1.0)
    said = f"{label}: {svg.digits(100 * held, 0)} %"
    return svg.tag(
        "svg",
        svg.tag("title", said),
        svg.line(0.5, 0, 0.5, 12, "d-axis"),
        svg.tag(
            "rect", x=1, y=2, width=max(118 * held, 0.5), height=8, class_="d-bar first" if first else "d-bar"
        ),
        class_="weight",
        viewBox="0 0 120 12",
        role="img",
        aria_label=said,
    )


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


def _part(value: Any, name: str) -> Any:
    if isinstance(value, Mapping):
        held: Mapping[str, Any] = value
        return held.get(name)
    return getattr(value, name, None)


def _interval(value: Any) -> tuple[float, float] | None:
    if isinstance(value, (int, float)):
        return None
    ask: Callable[[], tuple[float, float] | None] | None = getattr(value, "interval", None)
    if ask is not None:
        return ask()
    low, high, u, number = (_part(value, name) for name in ("low", "high", "u", "value"))
    if low is not None and high is not None:
        return float(low), float(high)
    if u is None or number is None:
        return None
    half = 1.959963984540054 * float(u)  # 95 % of a normal distribution
    return float(number) - half, float(number) + half


def _decimals(interval: tuple[float, float] | None) -> int | None:
    """Decimals that a 95 % interval supports: its half-width keeps one figure, two where it begins with 1.

    >>> _decimals((104.3, 105.1)), _decimals((10.0, 13.0)), _decimals((0.0, 400.0))
    (1, 1, 0)
    """
    if interval is None:
        return None
    half = (interval[1] - interval[0]) / 2
    if not math.isfinite(half) or half <= 0.0:
        return None
    power = math.floor(math.log10(half) + 1e-9)
    if half / 10.0**power < 1.95:
        power -= 1
    return min(max(-power, 0), 6)


def _spread(number: float, interval: tuple[float, float] | None, places: int | None) -> str:
    if interval is None:
        return ""
    low, high = interval
    if not (math.isfinite(low) and math.isfinite(high)):
        return f"({svg.digits(low, places)} … {svg.digits(high, places)})"
    half = (high - low) / 2
    if abs((low + high) / 2 - number) <= 0.15 * half:
        return f"± {svg.digits(half, places)}"
    return f"({svg.digits(low, places)} … {svg.digits(high, places)})"


def _range(values: Sequence[float], edges: Sequence[float], share: float = 1.0) -> tuple[float, float]:
    """Bounds that hold the values, and the edges as far as they do not press the values flat."""
    if not values:
        return (min(edges), max(edges)) if len(edges) > 1 else (0.0, 1.0)
    low, high = min(values), max(values)
    room = (high - low or abs(high) * 0.01 or 1.0) * share
    low = min([low, *(max(edge, low - 2 * room) for edge in edges)])
    high = max([high, *(min(edge, high + 2 * room) for edge in edges)])
    if low == high:
        low, high = low - room, high + room
    spare = 0.04 * (high - low)
    return low - spare, high + spare


def _runs(trace: Sequence[tuple[float, float | None]]) -> list[list[tuple[float, float]]]:
    """The stretches without a gap: a missing value, or four times the usual step, ends one."""
    steps = [b[0] - a[0] for a, b in itertools.pairwise(trace)]
    longest = 4 * statistics.median(steps) if steps else 0.0
    runs: list[list[tuple[float, float]]] = [[]]
    before: float | None = None
    for at, value in trace:
        if value is None or not math.isfinite(value):
            runs.append([])
            before = None
            continue
        if before is not None and longest and at - before > longest:
            runs.append([])
        runs[-1].append((at, value))
        before = at
    return runs
