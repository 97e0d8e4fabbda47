"""Marks, figures and small charts, drawn on the server: plain numbers in, escaped SVG or HTML out.

Nothing here chooses words: labels come from the page. Colours come from the style sheet by class. The pages
reach every drawing through this module.
"""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Sequence
from typing import Any

from markupsafe import Markup

from brinehouse.web import charts, depths, figures, svg

Column = depths.Column
gas_depths = depths.picture
gas_key = depths.key
shape = depths.shape
digits = svg.digits
figure = figures.figure
cell = figures.cell
decimals_of = figures.decimals_of
settling = charts.settling
intervals = charts.intervals
whisker = charts.whisker
among = charts.among


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
    bottom, top = svg.bounds(values, edges)
    y = svg.scale(bottom, top, high - 2, 2.0)
    parts.extend(_aim(aim, y, wide, high))
    if known:
        start, end = span or (known[0][0], known[-1][0])
        x = (
            svg.scale(start, end, 2.0, wide - 4)
            if end > start
            else svg.scale(start - 1.0, start, 2.0, wide - 4)
        )
        kind = "d-trace d-old" if stale else "d-trace"
        parts.extend(
            svg.tag("path", d=svg.path((x(at), y(value)) for at, value in run), class_=kind)
            if len(run) > 1
            else svg.tag("circle", cx=x(run[0][0]), cy=y(run[0][1]), r=1.5, class_="d-dot")
            for run in _runs(trace)
            if run
        )
        word = getattr(level, "value", level)
        fill = f"d-{word}-fill" if word in ("watch", "act") else "d-dot"
        parts.append(svg.tag("circle", cx=x(known[-1][0]), cy=y(known[-1][1]), r=2.5, class_=fill))
    return svg.tag("svg", *parts, class_="spark", viewBox="0 0 150 20", role="img", aria_label=said)


def _aim(
    aim: tuple[float | None, float | None] | None, y: svg.Scale, wide: float, high: float
) -> list[Markup]:
    if aim is None:
        return []
    upper = y.within(aim[1]) if aim[1] is not None else 0.0
    lower = y.within(aim[0]) if aim[0] is not None else high
    return [svg.tag("rect", x=0, y=upper, width=wide, height=max(lower - upper, 1.0), class_="d-aim")]


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
