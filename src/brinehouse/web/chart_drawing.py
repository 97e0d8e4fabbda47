"""Charts of what was read, drawn on the server: the same picture on paper and without a script."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from markupsafe import Markup

from brinehouse.web import catalogue, svg

KINDS = 4  # ways of drawing a line that can be told apart without colour
STEPS = (1, 3, 6, 12, 24, 48, 168, 336, 744, 2208, 4416, 8784)  # hours from one mark of the axis to the next
HOUR = timedelta(hours=1)
Box = tuple[float, float, float, float]


def panel(charts: Any, one: Any, zone: str, t: catalogue.Words) -> Markup:
    """One unit's chart, wide and narrow."""
    label = t("charts.label", what=one.quantity, unit=one.unit)
    wide = _panel(charts, one, zone, (760.0, 250.0), label, "wide")
    narrow = _panel(charts, one, zone, (340.0, 230.0), label, "narrow")
    return svg.tag("div", wide, narrow, class_="drawn chart-drawn")


def key(index: int, *, sensor: bool) -> Markup:
    """How a line is drawn, for the words beside it."""
    kind = index % KINDS
    parts = [svg.line(0, 7, 34, 7, f"c-line c{kind}")]
    if not sensor:
        parts = [svg.line(0, 7, 34, 7, f"c-thin c{kind}"), mark(kind, 17.0, 7.0)]
    return svg.tag("svg", *parts, class_="chart-key", viewBox="0 0 34 14", aria_hidden="true")


def mark(kind: int, x: float, y: float, *, hollow: bool = False) -> Markup:
    """A reading taken by hand: a circle, square, triangle or diamond; hollow where it is doubtful."""
    at, up = svg.place(x), svg.place(y)
    paths = (
        "",
        f"M{at} {up}m-3.2 -3.2h6.4v6.4h-6.4z",
        f"M{at} {up}m0 -4.2l4 7h-8z",
        f"M{at} {up}m0 -4.4l4.4 4.4l-4.4 4.4l-4.4 -4.4z",
    )
    look = f"c-mark c{kind}{' hollow' if hollow else ''}"
    if not paths[kind]:
        return svg.tag("circle", cx=x, cy=y, r=3.4, class_=look)
    return svg.tag("path", d=paths[kind], class_=look)


def _panel(charts: Any, one: Any, zone: str, size: tuple[float, float], label: str, kind: str) -> Markup:
    box = (52.0, size[0] - 8.0, 10.0, size[1] - 26.0)
    left, right, top, floor = box
    lines = [line for series in one.series for line in series.lines]
    values = [float(edge) for line in lines for edge in (line.low.min(), line.high.max())]
    edges = [edge for band in one.bands for edge in (band.low, band.high) if edge is not None]
    low, high = svg.bounds(values, edges, share=0.8) if values or edges else (0.0, 1.0)
    y = svg.scale(low, high, floor, top)
    since, until = charts.wanted.since, charts.wanted.until
    x = svg.scale(since.timestamp(), until.timestamp(), left, right)
    parts = [*_bands(one.bands, y, box), *_axes(x, y, box, zone, 7 if kind == "wide" else 4)]
    parts += [
        svg.tag("path", d=f"M{svg.place(x(event.at.timestamp()))} {svg.place(floor)}v-9", class_="c-event")
        for event in charts.events
    ]
    for index, series in enumerate(one.series):
        for line in series.lines:
            parts += _line(line, index % KINDS, x, y)
    return svg.tag(
        "svg", *parts, class_=kind, viewBox=f"0 0 {svg.place(size[0])} {svg.place(size[1])}", role="img",
        aria_label=label,
    )  # fmt: skip


def _bands(bands: Sequence[Any], y: svg.Scale, box: Box) -> Iterator[Markup]:
    """The aim as a tint; where watch and act begin, lines with their word's shape at the end."""
    left, right, top, floor = box
    for band in bands:
        if band.level == "aim":
            upper = y.within(band.high) if band.high is not None else top
            lower = y.within(band.low) if band.low is not None else floor
            yield svg.tag(
                "rect", x=left, y=upper, width=right - left, height=max(lower - upper, 0.5), class_="d-aim"
            )
            continue
        for edge in (band.low, band.high):
            if edge is not None and min(y.low, y.high) <= edge <= max(y.low, y.high):
                at = y(edge)
                yield svg.line(left, at, right, at, f"c-limit {band.level}")
                yield _shape(band.level, right - 7.0, at)


def _shape(level: str, x: float, y: float) -> Markup:
    at, up = svg.place(x), svg.place(y)
    d = f"M{at} {up}m0 -5l5 5l-5 5l-5 -5z" if level == "act" else f"M{at} {up}m0 -5l5.5 9h-11z"
    return svg.tag("path", d=d, class_=f"d-{level}-fill")


def _axes(x: svg.Scale, y: svg.Scale, box: Box, zone: str, across: int) -> Iterator[Markup]:
    left, right, top, floor = box
    yield svg.tag("path", d=svg.path([(left, top), (left, floor), (right, floor)]), class_="d-axis")
    heights = svg.ticks(y.low, y.high, 5)
    for at, word in zip(heights, svg.tick_words(heights), strict=True):
        yield svg.line(left, y(at), right, y(at), "c-grid")
        yield svg.tag("text", word, x=left - 7, y=y(at) + 4.5, class_="end")
    for moment, word in marks(x.low, x.high, zone, across):
        yield svg.line(x(moment), floor, x(moment), floor + 4, "d-axis")
        yield svg.tag(
            "text", word, x=min(max(x(moment), left + 14), right - 16), y=floor + 18, class_="middle"
        )


def marks(low: float, high: float, zone: str, most: int) -> list[tuple[float, str]]:
    """Times to write below a chart, at whole hours or days of the hall, and their words.

    >>> noon = datetime(2026, 3, 14, 12, tzinfo=ZoneInfo("UTC")).timestamp()
    >>> [word for _, word in marks(noon, noon + 86400.0, "UTC", 4)]
    ['12:00', '18:00', '15 Mar', '06:00', '12:00']
    """
    here = ZoneInfo(zone)
    hours = (high - low) / 3600.0
    step = next((one for one in STEPS if hours / one <= most + 0.5), STEPS[-1])
    first = datetime.fromtimestamp(low, here)
    at = first.replace(hour=0, minute=0, second=0, microsecond=0)
    if step >= 744:
        at = at.replace(day=1)
    made: list[tuple[float, str]] = []
    while at.timestamp() <= high:
        if at.timestamp() >= low:
            made.append((at.timestamp(), _word(at, step)))
        at = _following(at, step)
    return made


def _following(at: datetime, step: int) -> datetime:
    """The next mark, on the clock of the hall: months are as long as they are."""
    if step < 24:
        moved = at + step * HOUR
        return moved if moved.day == at.day else moved.replace(hour=0)
    if step < 744:
        return (at + step * HOUR).replace(hour=0)
    month = at.month - 1 + round(step / 732)
    return at.replace(year=at.year + month // 12, month=month % 12 + 1, day=1)


def _word(at: datetime, step: int) -> str:
    if step >= 744:
        return f"{at:%b %Y}" if step >= 2208 or at.month == 1 else f"{at:%b}"
    return f"{at:%H:%M}" if at.hour else f"{at.day} {at:%b}"


def _line(line: Any, kind: int, x: svg.Scale, y: svg.Scale) -> Iterator[Markup]:
    """What was read in one way: gaps stay gaps, a stretch of many shows its least and greatest."""
    hollow = line.hollow.tolist()
    points = list(zip(line.times.tolist(), line.values.tolist(), hollow, strict=True))
    if line.thinned:
        ranges = "".join(
            f"M{svg.place(x(at))} {svg.place(y(high))}V{svg.place(y(low))}"
            for at, low, high in zip(line.times.tolist(), line.low.tolist(), line.high.tolist(), strict=True)
        )
        yield svg.tag("path", d=ranges, class_=f"c-range c{kind}")
    path = "".join(
        svg.path((x(at), y(value)) for at, value in part) for part in runs(points, line.gap) if len(part) > 1
    )
    if path:
        yield svg.tag("path", d=path, class_=f"{'c-line' if line.sensor else 'c-thin'} c{kind}")
    for at, value, doubt in points:
        if doubt or not line.sensor:
            yield mark(kind, x(at), y(value), hollow=doubt)


def runs(points: Sequence[tuple[float, float, bool]], gap: float) -> Iterator[list[tuple[float, float]]]:
    """Stretches without a gap; what is doubtful is left out of the line.

    >>> list(runs([(0.0, 1.0, False), (1.0, 2.0, False), (9.0, 3.0, False)], 3.0))
    [[(0.0, 1.0), (1.0, 2.0)], [(9.0, 3.0)]]
    """
    sound = [(at, value) for at, value, doubt in points if not doubt]
    part: list[tuple[float, float]] = []
    for before, now in itertools.pairwise([None, *sound]):
        assert now is not None
        if before is not None and gap > 0.0 and now[0] - before[0] > gap:
            yield part
            part = []
        part.append(now)
    if part:
        yield part
