"""The lines of a loop profile: pipe, tints, static head and gas line, and those of a what-if."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from markupsafe import Markup

from brinehouse.web import loop_canvas, loop_layout, loop_overlay, loop_symbols, svg
from brinehouse.workbench import loop

Points = list[tuple[float, float]]
Label = loop_canvas.Label
SEEN = 0.005  # a line that moved less is the same line [m]


def clip(line: loop.Line, piece: loop_layout.Slice) -> list[loop.Dot]:
    """The part of a line that lies in a slice."""
    low, high = piece.span
    kept: list[loop.Dot] = []
    for one, two in itertools.pairwise(line):
        if two.s < low - 1e-9 or one.s > high + 1e-9:
            continue
        for dot in (_held(one, two, low, high), _held(two, one, low, high)):
            if not kept or (dot.s, dot.z) != (kept[-1].s, kept[-1].z):
                kept.append(dot)
    return kept


def _held(dot: loop.Dot, other: loop.Dot, low: float, high: float) -> loop.Dot:
    s = min(max(dot.s, low), high)
    if s == dot.s or other.s == dot.s:
        return dot
    share = (s - dot.s) / (other.s - dot.s)
    z, down, up = (
        a + (b - a) * share for a, b in ((dot.z, other.z), (dot.low, other.low), (dot.high, other.high))
    )
    return loop.Dot(s=s, z=z, low=down, high=up)


def shown(dots: Sequence[loop.Dot], row: loop_layout.Row) -> list[list[loop.Dot]]:
    """The stretches of a line under the upper edge of a row; all of it where nothing is cut off."""
    if row.clipped is None:
        return [list(dots)] if len(dots) > 1 else []
    parts: list[list[loop.Dot]] = [[]]
    for one, two in itertools.pairwise(dots):
        ends = sorted((one, two), key=lambda dot: dot.z)
        if ends[0].z >= row.clipped:
            parts.append([])
            continue
        low, high = one, two
        if ends[1].z > row.clipped:
            share = (row.clipped - one.z) / (two.z - one.z)
            s = one.s + (two.s - one.s) * share
            edge = loop.Dot(s=s, z=row.clipped, low=row.clipped, high=row.clipped)
            low, high = (one, edge) if one.z < two.z else (edge, two)
        if parts[-1] and parts[-1][-1] is low:
            parts[-1].append(high)
        else:
            parts.append([low, high])
    return [part for part in parts if len(part) > 1]


def _cut_off(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice) -> None:
    """Where static head is cut off: how high it goes, in words at the upper edge."""
    if row.clipped is None:
        return
    dots = [dot for line in piece.reach.head for dot in clip(line, piece)]
    if not dots or max(dot.z for dot in dots) <= row.clipped:
        return
    top = max(dot.z for dot in dots)
    left = [line for one in piece.reach.head for line in shown(clip(one, piece), row)]
    edges = [line[k].s for line in left for k in (0, -1) if line[k].z == row.clipped]
    s = edges[0] if edges else max(dots, key=lambda dot: dot.z).s
    x, y = piece.x(s), row.y(row.clipped)
    words = canvas.say.t("loop.higher", metres=canvas.say.metres(top, 1))
    canvas.add("lines", svg.tag("path", d=f"M{svg.place(x)} {svg.place(y)}m-4 5l4 -6l4 6", class_="l-head"))
    canvas.sheet.take((x - 5, y - 2, x + 5, y + 6))
    label = Label(
        lines=[(words, "l-name-head")], anchor=(x, y), sides=("over", "right", "left"), off=5.0, led=False
    )
    canvas.want(5, label)


def points(dots: Sequence[loop.Dot], row: loop_layout.Row, piece: loop_layout.Slice) -> Points:
    """On the sheet."""
    return [(piece.x(dot.s), row.y(dot.z)) for dot in dots]


def lines(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice) -> None:
    """Pipe, static head and gas line of one slice, with tint and band; all of it taken for labels."""
    reach = piece.reach
    for line in reach.tinted:
        if len(dots := clip(line, piece)) > 1:
            canvas.add("tint", svg.tag("path", d=svg.path(points(dots, row, piece)), class_="l-tint"))
    for line in reach.pipe:
        if len(dots := clip(line, piece)) > 1:
            way = points(dots, row, piece)
            canvas.add(
                "pipe", svg.tag("path", d=svg.path(way), class_="l-pipe l-new" if piece.new else "l-pipe")
            )
            canvas.sheet.line(way, 5.0)
    for line in reach.head:
        for dots in shown(clip(line, piece), row):
            way = points(dots, row, piece)
            canvas.add("lines", svg.tag("path", d=svg.path(way), class_="l-head"))
            canvas.sheet.line(way)
    for line in reach.gas:
        for dots in shown(clip(line, piece), row):
            _gas(canvas, row, piece, dots)
    _cut_off(canvas, row, piece)
    if piece.then is not None:
        _then(canvas, row, piece, piece.then)
    _cuts(canvas, row, piece)


def _then(
    canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, then: loop.Reach
) -> None:
    """The lines of a what-if, where they are others than today's."""
    for line in then.pipe:
        dots = clip(line, piece)
        if len(dots) > 1 and _moved(dots, piece.reach.pipe):
            way = points(dots, row, piece)
            canvas.add("lines", svg.tag("path", d=svg.path(way), class_="l-then-pipe"))
            canvas.sheet.line(way)
    _things(canvas, row, piece, then)
    for kind, today, lines_of in (("head", piece.reach.head, then.head), ("gas", piece.reach.gas, then.gas)):
        for line in lines_of:
            if not _moved(clip(line, piece), today):
                continue
            for dots in shown(clip(line, piece), row):
                way = points(dots, row, piece)
                canvas.add("lines", svg.tag("path", d=svg.path(way), class_=f"l-then-{kind}"))
                canvas.sheet.line(way)
                if kind == "gas":
                    canvas.add("lines", *(_ring(x, y) for x, y in way[1:-1:2] or way[:1]))


def _ghost(
    canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int, stop: loop.Stop
) -> None:
    """A machine that stands higher or lower after the change."""
    today = piece.reach.stops[k]
    if stop.place or stop.flag or stop.top is not None or stop.elevation is None or today.elevation is None:
        return
    if abs(stop.elevation - today.elevation) < 0.05:
        return
    x, y = (piece.x(2.0 * k) + piece.x(2.0 * k + 1)) / 2, row.y(stop.elevation)
    symbol = loop_symbols.symbol("pump" if stop.kind == "pumps" else stop.kind, x, y)
    canvas.add("body", svg.tag("g", symbol, class_="l-ghost"))
    canvas.sheet.take((x - 17, y - 17, x + 17, y + 17))


def _things(
    canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, then: loop.Reach
) -> None:
    """Machines that a what-if moves, takes out or brings."""
    stands = {stop.id: stop for stop in then.stops}
    for k in range(piece.first, piece.last + 1):
        today_stop = piece.reach.stops[k]
        if today_stop.id in stands:
            _ghost(canvas, row, piece, k, stands[today_stop.id])
        elif not today_stop.flag and not today_stop.place:
            x, y = (piece.x(2.0 * k) + piece.x(2.0 * k + 1)) / 2, row.y(today_stop.elevation or 0.0)
            gone = Label(
                lines=[(canvas.say.t("loop.then_gone"), "value")],
                anchor=(x, y),
                sides=("under",),
                off=24.0,
                align="middle",
                reach=18.0,
            )
            canvas.want(4, gone)
    for stop, s in loop_overlay.added(piece.reach, then):
        if piece.holds(s) and stop.elevation is not None:
            _new(canvas, row, piece.x(s), stop)


def _new(canvas: loop_canvas.Canvas, row: loop_layout.Row, x: float, stop: loop.Stop) -> None:
    """A machine that the change would bring."""
    y = row.y(stop.elevation or 0.0)
    symbol = loop_symbols.symbol("pump" if stop.kind == "pumps" else stop.kind, x, y)
    canvas.add("body", svg.tag("g", symbol, class_="l-ghost"))
    canvas.sheet.take((x - 17, y - 20, x + 17, y + 20))
    words = canvas.say.t("loop.then_new", name=stop.tag or stop.name)
    canvas.want(
        4,
        Label(
            lines=[(words, "value")],
            anchor=(x, y),
            sides=("under", "over"),
            off=22.0,
            align="middle",
            reach=18.0,
        ),
    )


def _ring(x: float, y: float) -> Markup:
    """The shape that the second gas line carries, so that it is told apart without colour."""
    return svg.tag("circle", cx=x, cy=y, r=2.8, class_="l-then-dot")


def _moved(dots: Sequence[loop.Dot], today: Sequence[loop.Line]) -> bool:
    """Whether any corner of a line lies elsewhere than today's line."""
    for dot in dots:
        here = [one for line in today for one in line if abs(one.s - dot.s) < 1e-6]
        if not here or min(abs(one.z - dot.z) for one in here) > SEEN:
            return True
    return False


def _gas(
    canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, dots: list[loop.Dot]
) -> None:
    way = points(dots, row, piece)
    upper = [(piece.x(dot.s), row.y(dot.high)) for dot in dots]
    lower = [(piece.x(dot.s), row.y(dot.low)) for dot in reversed(dots)]
    canvas.add("band", svg.tag("path", d=svg.path([*upper, *lower]) + "Z", class_="l-band"))
    canvas.add("lines", svg.tag("path", d=svg.path(way), class_="l-gas"))
    canvas.sheet.line(way)


def _cuts(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice) -> None:
    """Where a long reach goes on in the next row: the same number at both ends."""
    for number, s in ((piece.cut_before, piece.values[0]), (piece.cut_after, piece.values[-1])):
        if not number:
            continue
        ends = [dot.z for line in piece.reach.pipe for dot in clip(line, piece) if abs(dot.s - s) < 1e-6]
        if not ends:
            continue
        x, y = piece.x(s), row.y(ends[0])
        x += 10.0 if number == piece.cut_after else -10.0
        canvas.add(
            "body",
            svg.tag("circle", cx=x, cy=y, r=10.0, class_="l-body"),
            svg.tag("text", str(number), x=x, y=y + 4.5, class_="l-in"),
        )
        canvas.sheet.take((x - 12, y - 12, x + 12, y + 12))


def named_in(rows: Sequence[loop_layout.Row]) -> dict[str, int]:
    """In which row each of the two lines has its name: where that stands best."""
    best = {
        kind: max(
            ((flat, -n) for n, row in enumerate(rows) for flat, _ in _stretches(row, kind)), default=None
        )
        for kind in ("head", "gas")
    }
    return {kind: -pair[1] for kind, pair in best.items() if pair is not None}


def line_name(canvas: loop_canvas.Canvas, row: loop_layout.Row, kind: str) -> None:
    """The name of a line, beside it."""
    at = max(_stretches(row, kind), key=lambda pair: (pair[0], -pair[1][0]))[1]
    sides = ("over", "over right") if kind == "head" else ("under", "under left", "under right")
    words = canvas.say.t("loop.head" if kind == "head" else "loop.gas")
    canvas.want(
        6, Label(lines=[(words, f"l-name-{kind}")], anchor=at, sides=sides, off=5.0, led=False, slide=True)
    )


def _stretches(row: loop_layout.Row, kind: str) -> Iterator[tuple[float, tuple[float, float]]]:
    """Pieces of a line between machines by how well a name would stand there."""
    for piece in row.slices:
        for line in getattr(piece.reach, kind):
            for one, two in (
                pair for part in shown(clip(line, piece), row) for pair in itertools.pairwise(part)
            ):
                if one.where == "surface" and two.where == "surface":
                    continue
                x0, y0, x1, y1 = piece.x(one.s), row.y(one.z), piece.x(two.s), row.y(two.z)
                if x1 - x0 > 20.0:
                    yield min(min(x1 - x0, 90.0) - 3 * abs(y1 - y0), 30.0), ((x0 + x1) / 2, (y0 + y1) / 2)
