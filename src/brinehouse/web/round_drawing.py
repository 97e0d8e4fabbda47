"""The line of one week at a stop: where readings were, what is expected, where a new one would lie."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup

from brinehouse.web import svg

WIDTH, HEIGHT = 320.0, 96.0
LEFT, RIGHT, TOP, FLOOR = 4.0, 258.0, 12.0, 72.0
WEEK = 168.0  # hours
GAP = 40.0  # hours without a reading part the line


def week(
    ask: Mapping[str, Any], *, label: str, days: str, value: float | None = None, level: str = ""
) -> Markup:
    """Seven days of one quantity, over the band that is expected.

    Parameters
    ----------
    ask : mapping
        As a round's plan has it: ``trace``, ``expected``, ``decimals``.
    label : str
        What the picture says, for who cannot see it.
    days : str
        What stands under its beginning: seven days ago.
    value : float, optional
        What was typed, drawn at the end with the shape of its `level`.
    """
    points = [(float(hours), float(one)) for hours, one in ask.get("trace", ())]
    edges = [float(edge) for edge in ask["expected"]]
    values = [one for _, one in points] + ([] if value is None else [value])
    low, high = svg.bounds(values, edges)
    y = svg.scale(low, high, FLOOR, TOP)
    x = svg.scale(-WEEK, 0.0, LEFT, RIGHT)
    band = (y.within(edges[1]), y.within(edges[0]))
    parts = [
        svg.tag(
            "rect", x=LEFT, y=band[0], width=RIGHT - LEFT, height=max(band[1] - band[0], 1.5), class_="d-aim"
        ),
        svg.line(LEFT, FLOOR + 4, RIGHT, FLOOR + 4, "d-axis"),
        svg.tag("text", days, x=LEFT, y=FLOOR + 20),
    ]
    runs = [run for run in _runs(points, x, y) if len(run) > 1]
    parts += [svg.tag("path", d=svg.path(run), class_="d-trace") for run in runs]
    parts += [svg.tag("circle", cx=x(-hours), cy=y(one), r=2.5, class_="d-dot") for hours, one in points]
    parts += _edges(edges, y)
    if value is not None:
        parts += _mark(y.within(value), level)
    box = f"0 0 {WIDTH:g} {HEIGHT:g}"
    return svg.tag("svg", *parts, class_="week", viewBox=box, role="img", aria_label=label)


def _runs(
    points: Sequence[tuple[float, float]], x: svg.Scale, y: svg.Scale
) -> list[list[tuple[float, float]]]:
    """The line, parted where nothing was read for long: a gap stays a gap."""
    runs: list[list[tuple[float, float]]] = []
    before: float | None = None
    for hours, one in points:
        if before is None or before - hours > GAP:
            runs.append([])
        runs[-1].append((x(-hours), y(one)))
        before = hours
    return runs


def _edges(edges: Sequence[float], y: svg.Scale) -> list[Markup]:
    """The ends of the band that lie in the picture, as numbers beside it."""
    shown = [edge for edge in edges if y.low <= edge <= y.high]
    heights = svg.apart([y(edge) + 4.5 for edge in shown], TOP, HEIGHT - 4)
    return [
        svg.tag("text", svg.digits(edge), x=RIGHT + 14, y=height)
        for edge, height in zip(shown, heights, strict=True)
    ]


def _mark(height: float, level: str) -> list[Markup]:
    at, fill = svg.place(RIGHT), f"d-{level}-fill" if level in ("watch", "act") else "d-ink-fill"
    high = svg.place(height)
    above = svg.place(height - 7)
    head = {"act": f"M{at} {above}l7 7l-7 7l-7 -7z", "watch": f"M{at} {above}l7 12h-14z"}
    path = head.get(level, f"M{at} {high}m-5 0a5 5 0 1 0 10 0a5 5 0 1 0 -10 0z")
    return [svg.tag("path", d=path, class_=fill)]
