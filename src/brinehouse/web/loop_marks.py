"""What is drawn of a reach: water, tints, pipe, lines, vessels, machines, animals, readings, flags."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from brinehouse.web import depths, loop_canvas, loop_layout, loop_symbols, loop_words, svg
from brinehouse.workbench import loop

Points = list[tuple[float, float]]
Label = loop_canvas.Label
SEEN = 0.005  # a line that moved less is the same line [m]
ROUND = {"above": "act", "may be": "watch"}


# -- lines ---------------------------------------------------------------------------------------------------


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
        if len(dots := clip(line, piece)) > 1:
            way = points(dots, row, piece)
            canvas.add("lines", svg.tag("path", d=svg.path(way), class_="l-head"))
            canvas.sheet.line(way)
    for line in reach.gas:
        if len(dots := clip(line, piece)) > 1:
            _gas(canvas, row, piece, dots)
    if piece.then is not None:
        _then(canvas, row, piece, piece.then)
    _cuts(canvas, row, piece)


def _then(
    canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, then: loop.Reach
) -> None:
    """The lines of a what-if, where they are others than today's."""
    for kind, today, lines_of in (("head", piece.reach.head, then.head), ("gas", piece.reach.gas, then.gas)):
        for line in lines_of:
            dots = clip(line, piece)
            if len(dots) < 2 or not _moved(dots, today):
                continue
            way = points(dots, row, piece)
            canvas.add("lines", svg.tag("path", d=svg.path(way), class_=f"l-then-{kind}"))
            canvas.sheet.line(way)
            if kind == "gas":
                canvas.add("lines", *(_ring(x, y) for x, y in way[1:-1:2] or way[:1]))


def _ring(x: float, y: float) -> svg.Markup:
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
    at = max(_stretches(row, kind))[1]
    sides = ("over", "over right") if kind == "head" else ("under", "under left", "under right")
    words = canvas.say.t(f"loop.{kind}")
    canvas.want(6, Label(lines=[(words, f"l-name-{kind}")], anchor=at, sides=sides, off=5.0, led=False))


def _stretches(row: loop_layout.Row, kind: str) -> Iterator[tuple[float, tuple[float, float]]]:
    """Pieces of a line between machines by how well a name would stand there."""
    for piece in row.slices:
        for line in getattr(piece.reach, kind):
            for one, two in itertools.pairwise(clip(line, piece)):
                if one.where == "surface" and two.where == "surface":
                    continue
                x0, y0, x1, y1 = piece.x(one.s), row.y(one.z), piece.x(two.s), row.y(two.z)
                if x1 - x0 > 20.0:
                    yield min(x1 - x0, 90.0) - 3 * abs(y1 - y0), ((x0 + x1) / 2, (y0 + y1) / 2)


# -- things --------------------------------------------------------------------------------------------------


def stops(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice) -> None:
    """Everything that stands on the way in one slice."""
    for k in range(piece.first, piece.last + 1):
        stop = piece.reach.stops[k]
        x0, x1 = piece.x(2.0 * k), piece.x(2.0 * k + 1)
        if stop.place:
            _place(canvas, row, stop, x0, x1)
        elif stop.flag:
            _flag(canvas, row, piece, k)
        elif stop.kind == "pumps":
            _pumps(canvas, row, piece, k)
        elif stop.top is not None:
            _column(canvas, row, piece, k)
        else:
            _machine(canvas, row, piece, k)
        _tees(canvas, row, piece, k)
        if stop.returns and not stop.place and not stop.flag:
            _bypass(canvas, row, piece, k)
    _heights(canvas, row, piece)


def _place(canvas: loop_canvas.Canvas, row: loop_layout.Row, stop: loop.Stop, x0: float, x1: float) -> None:
    assert stop.surface is not None and stop.elevation is not None  # noqa: S101 - only such are on the way
    top, floor = row.y(stop.surface), row.y(stop.elevation)
    wall = row.y(max(stop.crest or stop.surface, stop.surface)) - loop_layout.RIM
    canvas.add("water", svg.tag("rect", x=x0, y=top, width=x1 - x0, height=floor - top, class_="l-water"))
    if stop.line is not None and stop.line.value < stop.surface:
        deep = min(row.y(stop.line.value), floor)
        canvas.add(
            "water", svg.tag("rect", x=x0, y=top, width=x1 - x0, height=deep - top, class_="l-gas-water")
        )
    if stop.line is not None and not any(
        dot.where == "surface" and dot.part == stop.id
        for reach in canvas.profile.reaches for line in reach.gas for dot in line
    ):  # fmt: skip
        y = row.y(stop.line.value)
        canvas.add("lines", svg.line(x0, y, x1, y, "l-gas"))
    canvas.add(
        "body",
        svg.tag("path", d=svg.path([(x0, wall), (x0, floor), (x1, floor), (x1, wall)]), class_="l-vessel"),
    )
    canvas.add("lines", svg.line(x0, top, x1, top, "l-surface"))
    mark_x = x0 + 0.5 * (x1 - x0)
    canvas.add(
        "lines",
        svg.tag("path", d=f"M{svg.place(mark_x)} {svg.place(top - 1.5)}l-5 -8.5h10z", class_="l-level"),
    )
    canvas.sheet.take((x0 - 3, min(wall, top - 11), x1 + 3, floor + 3))
    box = svg.tag(
        "rect", x=x0, y=min(top, floor - 24), width=x1 - x0, height=max(floor - top, 24.0), class_="l-hit"
    )
    canvas.live(stop.id, canvas.say.place(stop), box)
    _animals(canvas, row, stop, x0, x1)
    _reading(canvas, row, stop, x0, x1)
    _returns(canvas, stop, x1, row.y(min(stop.crest or stop.surface, stop.surface)))
    canvas.want(0, Label(lines=_about(canvas.say, stop), anchor=((x0 + x1) / 2, floor), sides=("under",), off=7.0,
                         align="middle", led=False))  # fmt: skip


def _about(say: loop_words.Say, stop: loop.Stop) -> list[tuple[str, str]]:
    """What stands under a place: its name, what it holds, and who is too shallow."""
    told = [(stop.name, "name")]
    worst = max(
        (one for one in stop.animals if one.state in ROUND), key=lambda one: one.above or 0.0, default=None
    )
    if worst is not None:
        told.append((say.verdict(worst), ROUND[worst.state]))
    if stop.gas is not None:
        told += [(text, "") for text in say.holds(stop.gas)]
    else:
        told.append((say.t("loop.no_reading"), ""))
    return told


def _animals(canvas: loop_canvas.Canvas, row: loop_layout.Row, stop: loop.Stop, x0: float, x1: float) -> None:
    assert stop.surface is not None and stop.elevation is not None  # noqa: S101
    deep = row.y(stop.elevation) - row.y(stop.surface)
    scale = min(max(deep / 34.0, 0.62), 1.0)
    shown = stop.animals[:3]
    for n, one in enumerate(shown):
        x = x0 + (x1 - x0) * (n + 0.5) / len(shown) if len(shown) > 1 else x0 + 0.5 * (x1 - x0)
        y = row.y(max(stop.surface - one.shallow, stop.elevation))
        colour = ROUND.get(one.state, "")
        kind = f"l-fish l-{colour}" if colour else "l-fish"
        drawn = [svg.tag("path", d=depths.FISH, class_=kind,
                         transform=f"translate({svg.place(x)} {svg.place(y)}) scale({svg.place(scale)})")]  # fmt: skip
        if colour:
            drawn.append(loop_canvas.shape(colour, x + 15.0 * scale + 10.0, y))
        canvas.live(stop.id, f"{stop.name}: {canvas.say.animals(one)}", *drawn)


def _reading(canvas: loop_canvas.Canvas, row: loop_layout.Row, stop: loop.Stop, x0: float, x1: float) -> None:
    """The measured point on the gas line, with the bar of its interval."""
    if stop.line is None or stop.gas is None or stop.gas.basis != "read":
        return
    x = x1 - 9.0
    canvas.add("body", *whisker(row, stop.line, x))


def whisker(row: loop_layout.Row, line: loop.Height, x: float) -> list[svg.Markup]:
    """A measured point with its bar."""
    low, high, y = row.y(line.low), row.y(line.high), row.y(line.value)
    bar = f"M{svg.place(x - 3)} {svg.place(low)}h6m-3 0V{svg.place(high)}m-3 0h6"
    return [svg.tag("path", d=bar, class_="l-bar"), svg.tag("circle", cx=x, cy=y, r=2.6, class_="l-read")]


def _returns(canvas: loop_canvas.Canvas, stop: loop.Stop, x: float, y: float) -> None:
    """A short arrow for each way back that is drawn elsewhere."""
    if not stop.returns:
        return
    told = "; ".join(_return(canvas, one) for one in stop.returns)
    arrow = f"M{svg.place(x)} {svg.place(y + 3)}h9v14m-4 -5l4 6l4 -6"
    canvas.add("body", svg.tag("path", d=arrow, class_="l-small-pipe"))
    hit = svg.tag("rect", x=x - 2, y=y - 2, width=24, height=26, class_="l-hit")
    canvas.live(stop.id, f"{stop.name}: {told}", hit)
    canvas.sheet.take((x, y, x + 15, y + 23))


def _bypass(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int) -> None:
    """A way back that leaves the pipe after a machine."""
    stop = piece.reach.stops[k]
    s = 2 * k + 1 + (0.62 if piece.holds(2 * k + 1.7) else 0.0)
    x, y = piece.x(s), row.y(stop.elevation or 0.0)
    if not piece.holds(2 * k + 1.7) or any(
        one.where == "high" and 2 * k + 1 < one.s < 2 * k + 2 for one in piece.reach.stations
    ):
        x = piece.x(2 * k + 1.0) + 8.0
    told = "; ".join(_return(canvas, one) for one in stop.returns)
    arrow = f"M{svg.place(x)} {svg.place(y)}v18m-4 -5l4 6l4 -6"
    canvas.add("body", svg.tag("path", d=arrow, class_="l-small-pipe"))
    hit = svg.tag("rect", x=x - 12, y=y, width=24, height=24, class_="l-hit")
    canvas.live(stop.id, f"{stop.name}: {told}", hit)
    canvas.sheet.take((x - 6, y, x + 6, y + 22))
    names = canvas.profile.names
    words = canvas.say.t("loop.back_to", name=names.get(stop.returns[0].target, stop.returns[0].target))
    canvas.want(4, Label(lines=[(words, "")], anchor=(x, y + 22), sides=("under", "under right", "under left"), off=4.0,
                         reach=4.0))  # fmt: skip


def _return(canvas: loop_canvas.Canvas, one: loop.Return) -> str:
    names = canvas.profile.names
    over = ", ".join(names.get(part, part) for part in one.over)
    key = "loop.say_back_over" if over else "loop.say_back"
    flow = canvas.say.flow(one.flow)
    told = canvas.say.t(key, target=names.get(one.target, one.target), over=over)
    return f"{told} {flow}".strip()


def _stations(piece: loop_layout.Slice, part: str) -> list[loop.Station]:
    return [one for one in piece.reach.stations if one.part == part]


def _machine(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int) -> None:
    stop = piece.reach.stops[k]
    x0, x1 = piece.x(2.0 * k), piece.x(2.0 * k + 1)
    x, y = (x0 + x1) / 2, row.y(stop.elevation or 0.0)
    wide, high = loop_symbols.reach(stop.kind)
    canvas.add("pipe", svg.line(x0, y, x1, y, "l-pipe"))
    canvas.sheet.take((x - wide - 2, y - high - 2, x + wide + 2, y + high + 2))
    canvas.sheet.line([(x0, y), (x1, y)], 3.0)
    canvas.live(stop.id, canvas.say.machine(stop, _stations(piece, stop.id)), loop_symbols.symbol(stop.kind, x, y),
                svg.tag("rect", x=x - 17, y=y - 17, width=34, height=34, class_="l-hit"))  # fmt: skip
    canvas.want(2, Label(lines=[(stop.tag or stop.name, "")], anchor=(x, y), sides=("under", "over"), off=high + 5,
                         align="middle", reach=high + 2))  # fmt: skip


def _column(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int) -> None:
    """A column with packing at its true height: water falls through it, and stands in its pool."""
    stop = piece.reach.stops[k]
    x0, x1 = piece.x(2.0 * k), piece.x(2.0 * k + 1)
    heads = {one.where: one.head for one in _stations(piece, stop.id)}
    foot = stop.elevation or 0.0
    pool = heads.get("pool") or heads.get("out") or foot + 0.3
    top = row.y((stop.top or foot + 1.0) - 0.3)
    floor, water = row.y(min(foot, pool - 0.05)), row.y(pool)
    upper, lower = top + 12.0, min(row.y(pool) - 12.0, floor - 16.0)
    canvas.add("water", svg.tag("rect", x=x0, y=water, width=x1 - x0, height=floor - water, class_="l-water"))
    walls = svg.tag("path", d=svg.path([(x0, top), (x0, floor), (x1, floor), (x1, top)]), class_="l-vessel")
    cross = (
        f"M{svg.place(x0)} {svg.place(upper)}H{svg.place(x1)}L{svg.place(x0)} {svg.place(lower)}H{svg.place(x1)}"
        f"L{svg.place(x0)} {svg.place(upper)}"
    )
    mark = svg.tag(
        "path", d=f"M{svg.place((x0 + x1) / 2)} {svg.place(water - 1)}l-4.5 -8h9z", class_="l-level"
    )
    into = svg.line(x0, row.y(stop.top or foot), (x0 + x1) / 2, row.y(stop.top or foot), "l-pipe")
    drop = svg.line((x0 + x1) / 2, row.y(stop.top or foot), (x0 + x1) / 2, top + 4.0, "l-pipe")
    canvas.add("pipe", into, drop)
    canvas.add("lines", svg.line(x0, water, x1, water, "l-surface"), mark)
    canvas.sheet.take((x0 - 3, top - 14, x1 + 3, floor + 3))
    hit = svg.tag("rect", x=x0, y=top, width=x1 - x0, height=floor - top, class_="l-hit")
    canvas.live(stop.id, canvas.say.machine(stop, _stations(piece, stop.id)), walls,
                svg.tag("path", d=cross, class_="l-thin"), hit)  # fmt: skip
    lines_of = [(stop.tag, ""), (stop.kind, "")] if stop.tag else [(stop.name, "")]
    canvas.want(3, Label(lines=lines_of, anchor=(x1, (top + floor) / 2), sides=("right",), off=9.0))


def _pumps(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int) -> None:
    """Pumps, those at one height as one symbol; each height has its own branch between two risers."""
    stop = piece.reach.stops[k]
    groups = loop_layout.levels(stop)
    x0, x1 = piece.x(2.0 * k), piece.x(2.0 * k + 1)
    ys = [row.y(group[0].elevation if group and group[0].elevation is not None else stop.elevation or 0.0)
          for group in groups]  # fmt: skip
    middle = row.y(stop.elevation or 0.0)
    if len(groups) > 1:
        for x in (x0, x1):
            canvas.add("pipe", svg.line(x, min([*ys, middle]), x, max([*ys, middle]), "l-pipe"))
            canvas.sheet.line([(x, min([*ys, middle])), (x, max([*ys, middle]))], 4.0)
    for n, (group, y) in enumerate(zip(groups, ys, strict=True)):
        x = (x0 + x1) / 2 if len(groups) == 1 else x0 + 20.0 + (x1 - x0 - 40.0) * n / (len(groups) - 1)
        canvas.add("pipe", svg.line(x0, y, x1, y, "l-pipe"))
        canvas.sheet.take((x - 17, y - 17, x + 17, y + 17))
        canvas.sheet.line([(x0, y), (x1, y)], 3.0)
        told = (
            canvas.say.pumps(stop) if len(groups) == 1 else "; ".join(canvas.say.member(one) for one in group)
        )
        canvas.live(stop.id, told, loop_symbols.symbol("pump", x, y),
                    svg.tag("rect", x=x - 17, y=y - 17, width=34, height=34, class_="l-hit"))  # fmt: skip
        lines_of = [(text, "") for text in _group(canvas, stop, group, len(groups))]
        canvas.want(
            2,
            Label(
                lines=lines_of,
                anchor=(x, y),
                sides=("over", "under", "over left", "right"),
                off=22.0,
                reach=17.0,
            ),
        )
    _strainers(canvas, row, piece, k)
    _suction(canvas, row, piece, k, groups)


def _group(canvas: loop_canvas.Canvas, stop: loop.Stop, group: list[loop.Member], count: int) -> list[str]:
    if count == 1:
        return canvas.say.group(stop)
    ids = loop_words.row_of([one.id for one in group], canvas.say.t("loop.to"))
    return [ids] if any(one.running for one in group) else [f"{ids} {canvas.say.t('loop.rests')}"]


def _strainers(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int) -> None:
    stop = piece.reach.stops[k]
    s = 2 * k - 0.26
    if not any(one.strainer for one in stop.members) or not piece.holds(s - 0.3):
        return
    x, y = piece.x(s), row.y(stop.elevation or 0.0)
    canvas.add("body", loop_symbols.symbol("strainer", x, y, 0.85))
    canvas.sheet.take((x - 10, y - 8, x + 10, y + 8))


def _suction(
    canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int, groups: list[list[loop.Member]]
) -> None:  # fmt: skip
    for group in groups:
        blamed = canvas.profile.blamed
        told = canvas.say.suction(group, blamed)
        if not told:
            continue
        low = loop_words.low_suctions(group)
        head = next((one.suction for one in low if one.id == blamed), None) or min(
            one.suction or 0.0 for one in low
        )
        level = "act" if any(one.id == blamed for one in low) else "watch"
        x, y = piece.x(2.0 * k), row.y(head)
        canvas.live(piece.reach.stops[k].id, " ".join(told), loop_canvas.shape(level, x, y),
                    svg.tag("rect", x=x - 12, y=y - 12, width=24, height=24, class_="l-hit"))  # fmt: skip
        canvas.sheet.take((x - 7, y - 7, x + 7, y + 7))
        canvas.want(1, Label(lines=[(text, "value") for text in told], anchor=(x, y), reach=8.0,
                             sides=("right", "under right", "under"), off=14.0))  # fmt: skip


def _tees(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int) -> None:
    """The letters of branches that leave after a stop; each says where it goes."""
    stop = piece.reach.stops[k]
    if stop.flag or not stop.letters:
        return
    ends = {
        reach.stops[0].letters[0]: reach
        for reach in canvas.profile.reaches
        if reach.stops[0].letters and reach.stops[0].flag
    }
    y = row.y((stop.surface if stop.place else stop.elevation) or 0.0)
    s = 2 * k + 1.22 if piece.holds(2 * k + 1.3) else 2 * k + 1.0
    x = piece.x(s)
    said = [
        canvas.say.t("loop.branch", letter=letter, target=_goes(ends.get(letter))) for letter in stop.letters
    ]
    if len(stop.letters) <= 2:
        for n, (letter, words) in enumerate(zip(stop.letters, said, strict=True)):
            _tee(canvas, f"branch-{letter}", words, letter, x + 24.0 * n, y)
    else:
        shown = f"{stop.letters[0]} … {stop.letters[-1]}"
        _tee(canvas, f"branch-{stop.letters[0]}", "; ".join(said), shown, x + 12.0, y)


def _goes(reach: loop.Reach | None) -> str:
    """Where a branch leads: its first place, else its end."""
    if reach is None:
        return ""
    return next((one.name for one in reach.stops[1:] if one.place), reach.stops[-1].name)


def _tee(canvas: loop_canvas.Canvas, target: str, words: str, shown: str, x: float, y: float) -> None:
    half = max(9.5, loop_layout.text_width(shown) / 2 + 7.0)
    outline = svg.tag("rect", x=x - half, y=y - 9.5, width=2 * half, height=19, rx=9.5, class_="l-body")
    canvas.live(target, words, outline, svg.tag("text", shown, x=x, y=y + 4.5, class_="l-in"),
                svg.tag("rect", x=x - max(half, 12.0), y=y - 12, width=max(2 * half, 24.0), height=24, class_="l-hit"))  # fmt: skip
    canvas.sheet.take((x - half - 2, y - 11, x + half + 2, y + 11))


def _flag(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int) -> None:
    """Where the way comes from or goes on to: an arrow with its letter, and words beside it."""
    stop, say = piece.reach.stops[k], canvas.say
    x0, x1, y = piece.x(2.0 * k), piece.x(2.0 * k + 1), row.y(stop.elevation or 0.0)
    begins = k == 0
    letter = stop.letters[0] if stop.letters else ""
    shape = f"M{svg.place(x0)} {svg.place(y - 10)}H{svg.place(x1 - 8)}L{svg.place(x1)} {svg.place(y)}L{svg.place(x1 - 8)} {svg.place(y + 10)}H{svg.place(x0)}Z"
    drawn = [svg.tag("path", d=shape, class_="l-body")]
    if letter:
        drawn.append(svg.tag("text", letter, x=(x0 + x1) / 2 - 3, y=y + 4.5, class_="l-in"))
    words = _flag_words(say, stop, begins, canvas.profile, piece)
    target = f"branch-{letter}" if letter else stop.id or "outside"
    canvas.live(target, words, *drawn,
                svg.tag("rect", x=x0, y=y - 13, width=x1 - x0, height=26, class_="l-hit"))  # fmt: skip
    canvas.sheet.take((x0 - 2, y - 12, x1 + 2, y + 12))
    sides = ("under", "over", "over right") if begins else ("under", "over", "right")
    canvas.want(4, Label(lines=[(words, "")], anchor=((x0 + x1) / 2, y), sides=sides, off=14.0, reach=13.0))


def _flag_words(
    say: loop_words.Say, stop: loop.Stop, begins: bool, profile: loop.Profile, piece: loop_layout.Slice
) -> str:
    name = profile.names.get(stop.id, stop.name) if stop.id else ""
    if stop.flag == "outside":
        named = "" if stop.id in ("", "outside") else name
        if named:
            return say.t("loop.from" if begins else "loop.goes_to", name=named)
        return say.t("loop.from_outside" if begins else "loop.to_outside")
    if begins:
        return say.t("loop.from", name=name)
    home = profile.reaches[0].stops[0].id == stop.id
    return say.t("loop.back_to" if home else "loop.goes_to", name=name)


def _heights(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice) -> None:
    """Points of the pipe that have numbers of their own: the highest, and taps."""
    for one in piece.reach.stations:
        read = one.gas is not None and one.gas.basis == "read" and one.line is not None
        if read and one.where not in ("surface", "pool"):
            _tap(canvas, row, piece, one)
        if (
            one.where not in ("high", "tap")
            or one.head is None
            or one.elevation is None
            or not piece.holds(one.s)
        ):
            continue
        x, y = piece.x(one.s), row.y(one.elevation)
        kind = "l-tap" if one.where == "tap" else "l-high"
        canvas.live(f"{one.run}-{one.where}", canvas.say.station(one), svg.tag("circle", cx=x, cy=y, r=3.0, class_=kind),
                    svg.tag("rect", x=x - 12, y=y - 12, width=24, height=24, class_="l-hit"))  # fmt: skip
        canvas.sheet.take((x - 4, y - 4, x + 4, y + 4))


def _tap(
    canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, one: loop.Station
) -> None:
    """A reading at a tap: its point on the gas line."""
    if not piece.holds(one.s) or one.gas is None or one.line is None:
        return
    weight = 1025.0 * loop.GRAVITY
    half = (one.gas.high - one.gas.low) / 2 / weight
    height = loop.Height(value=one.line, low=one.line - half, high=one.line + half)
    x = piece.x(one.s)
    told = f"{canvas.profile.names.get(one.run, one.run)}, {canvas.say.t('loop.where_tap')}: {', '.join(canvas.say.holds(one.gas))}"
    canvas.live(f"{one.run}-tap", told, *whisker(row, height, x),
                svg.tag("rect", x=x - 12, y=row.y(one.line) - 12, width=24, height=24, class_="l-hit"))  # fmt: skip
    canvas.sheet.take((x - 5, row.y(height.high) - 3, x + 5, row.y(height.low) + 3))
    canvas.want(5, Label(lines=[(text, "") for text in canvas.say.holds(one.gas)], anchor=(x, row.y(one.line)),
                         sides=("under", "under left", "under right"), off=9.0, reach=4.0))  # fmt: skip
