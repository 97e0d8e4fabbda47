"""What stands on the way in a loop profile: places, animals, readings, machines, pumps."""

from __future__ import annotations

from markupsafe import Markup

from brinehouse.web import depths, loop_canvas, loop_flags, loop_layout, loop_symbols, loop_words, svg
from brinehouse.workbench import loop

Label = loop_canvas.Label
ROUND = {"above": "act", "may be": "watch"}


def stops(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice) -> None:
    """Everything that stands on the way in one slice."""
    for k in range(piece.first, piece.last + 1):
        stop = piece.reach.stops[k]
        x0, x1 = piece.x(2.0 * k), piece.x(2.0 * k + 1)
        if stop.place:
            _place(canvas, row, stop, x0, x1)
        elif stop.flag:
            loop_flags.flag(canvas, row, piece, k)
        elif stop.kind == "pumps":
            _pumps(canvas, row, piece, k)
        elif stop.top is not None:
            _column(canvas, row, piece, k)
        else:
            _machine(canvas, row, piece, k)
        loop_flags.tees(canvas, row, piece, k)
        if stop.returns and not stop.place and not stop.flag:
            loop_flags.bypass(canvas, row, piece, k)
    _heights(canvas, row, piece)


def _place(canvas: loop_canvas.Canvas, row: loop_layout.Row, stop: loop.Stop, x0: float, x1: float) -> None:
    assert stop.surface is not None
    assert stop.elevation is not None
    top, floor = row.y(stop.surface), row.y(stop.elevation)
    wall = row.y(max(stop.crest or stop.surface, stop.surface)) - loop_layout.RIM
    wall = min(wall, row.y(stop.rim)) if stop.rim is not None else wall
    canvas.add("water", svg.tag("rect", x=x0, y=top, width=x1 - x0, height=floor - top, class_="l-water"))
    if stop.line is not None and stop.line.value < stop.surface:
        deep = min(row.y(stop.line.value), floor)
        canvas.add(
            "water", svg.tag("rect", x=x0, y=top, width=x1 - x0, height=deep - top, class_="l-gas-water")
        )
    if stop.line is not None and not any(
        dot.where == "surface" and dot.part == stop.id
        for reach in canvas.profile.reaches
        for line in reach.gas
        for dot in line
    ):
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
    _reading(canvas, row, stop, x1)
    loop_flags.returns(canvas, stop, x1, row.y(min(stop.crest or stop.surface, stop.surface)))
    canvas.want(
        0,
        Label(
            lines=_about(canvas.say, stop, canvas.then.get(stop.id)),
            anchor=((x0 + x1) / 2, floor),
            sides=("under",),
            off=7.0,
            align="middle",
            led=False,
        ),
    )


def _about(say: loop_words.Say, stop: loop.Stop, then: loop.Stop | None) -> list[tuple[str, str]]:
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
    after = (
        max(
            (one for one in then.animals if one.above is not None),
            key=lambda one: one.above or 0.0,
            default=None,
        )
        if then is not None
        else None
    )
    if (
        after is not None
        and stop.animals
        and say.verdict(after) not in {say.verdict(one) for one in stop.animals}
    ):
        told.append((say.t("loop.then", verdict=say.verdict(after)), "value"))
    return told


def _animals(canvas: loop_canvas.Canvas, row: loop_layout.Row, stop: loop.Stop, x0: float, x1: float) -> None:
    assert stop.surface is not None
    assert stop.elevation is not None
    deep = row.y(stop.elevation) - row.y(stop.surface)
    scale = min(max(deep / 34.0, 0.62), 1.0)
    shown = stop.animals[:3]
    for n, one in enumerate(shown):
        x = x0 + (x1 - x0) * (n + 0.5) / len(shown) if len(shown) > 1 else x0 + 0.5 * (x1 - x0)
        y = row.y(max(stop.surface - one.shallow, stop.elevation))
        colour = ROUND.get(one.state, "")
        kind = f"l-fish l-{colour}" if colour else "l-fish"
        drawn = [
            svg.tag(
                "path",
                d=depths.FISH,
                class_=kind,
                transform=f"translate({svg.place(x)} {svg.place(y)}) scale({svg.place(scale)})",
            )
        ]
        if colour:
            drawn.append(loop_canvas.shape(colour, x + 15.0 * scale + 10.0, y))
        canvas.live(stop.id, f"{stop.name}: {canvas.say.animals(one)}", *drawn)


def _reading(canvas: loop_canvas.Canvas, row: loop_layout.Row, stop: loop.Stop, x1: float) -> None:
    """The measured point on the gas line, with the bar of its interval."""
    if stop.line is None or stop.gas is None or stop.gas.basis != "read":
        return
    x = x1 - 9.0
    canvas.add("body", *whisker(row, stop.line, x))


def whisker(row: loop_layout.Row, line: loop.Height, x: float) -> list[Markup]:
    """A measured point with its bar."""
    low, high, y = row.y(line.low), row.y(line.high), row.y(line.value)
    bar = f"M{svg.place(x - 3)} {svg.place(low)}h6m-3 0V{svg.place(high)}m-3 0h6"
    return [svg.tag("path", d=bar, class_="l-bar"), svg.tag("circle", cx=x, cy=y, r=2.6, class_="l-read")]


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
    canvas.live(
        stop.id,
        canvas.say.machine(stop, _stations(piece, stop.id)),
        loop_symbols.symbol(stop.kind, x, y),
        svg.tag("rect", x=x - 17, y=y - 17, width=34, height=34, class_="l-hit"),
    )
    canvas.want(
        2,
        Label(
            lines=[(stop.tag or stop.name, "")],
            anchor=(x, y),
            sides=("under", "over"),
            off=high + 5,
            align="middle",
            reach=high + 2,
        ),
    )


def _column(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int) -> None:
    """A column with packing at its true height: water falls through it, and stands in its pool."""
    stop = piece.reach.stops[k]
    x0, x1 = piece.x(2.0 * k), piece.x(2.0 * k + 1)
    inlet = stop.top if stop.top is not None else (stop.elevation or 0.0) + 1.0
    pool = stop.pool if stop.pool is not None else inlet - 2.0
    ends = [
        one.elevation for one in _stations(piece, stop.id) if one.where == "out" and one.elevation is not None
    ]
    foot = min([pool - 0.4, *(end - 0.15 for end in ends)])
    top, floor, water = row.y(inlet - 0.25), row.y(foot), row.y(pool)
    lower = row.y(pool + max(0.25, 16.0 / row.scale))
    upper = lower - stop.packing * row.scale if stop.packing else row.y(inlet) + 22.0
    upper = max(upper, row.y(inlet) + 12.0)
    canvas.add("water", svg.tag("rect", x=x0, y=water, width=x1 - x0, height=floor - water, class_="l-water"))
    walls = svg.tag("path", d=svg.path([(x0, top), (x0, floor), (x1, floor), (x1, top)]), class_="l-vessel")
    left, right, over, under = (svg.place(one) for one in (x0, x1, upper, lower))
    cross = f"M{left} {over}H{right}L{left} {under}H{right}L{left} {over}"
    mark = svg.tag(
        "path", d=f"M{svg.place((x0 + x1) / 2)} {svg.place(water - 1)}l-4.5 -8h9z", class_="l-level"
    )
    into = svg.line(x0, row.y(inlet), (x0 + x1) / 2, row.y(inlet), "l-pipe")
    drop = svg.line((x0 + x1) / 2, row.y(inlet), (x0 + x1) / 2, top + 4.0, "l-pipe")
    canvas.add("pipe", into, drop)
    canvas.add("lines", svg.line(x0, water, x1, water, "l-surface"), mark)
    canvas.sheet.take((x0 - 3, top - 14, x1 + 3, floor + 3))
    hit = svg.tag("rect", x=x0, y=top, width=x1 - x0, height=floor - top, class_="l-hit")
    canvas.live(
        stop.id,
        canvas.say.machine(stop, _stations(piece, stop.id)),
        walls,
        svg.tag("path", d=cross, class_="l-thin"),
        hit,
    )
    lines_of = [(stop.tag, ""), (stop.kind, "")] if stop.tag else [(stop.name, "")]
    canvas.want(3, Label(lines=lines_of, anchor=(x1, (top + floor) / 2), sides=("right",), off=9.0))


def _pumps(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int) -> None:
    """Pumps, those at one height as one symbol; each height has its own branch between two risers."""
    stop = piece.reach.stops[k]
    groups = loop_layout.levels(stop)
    x0, x1 = piece.x(2.0 * k), piece.x(2.0 * k + 1)
    ys = [
        row.y(group[0].elevation if group and group[0].elevation is not None else stop.elevation or 0.0)
        for group in groups
    ]
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
        canvas.live(
            stop.id,
            told,
            loop_symbols.symbol("pump", x, y),
            svg.tag("rect", x=x - 17, y=y - 17, width=34, height=34, class_="l-hit"),
        )
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
    canvas: loop_canvas.Canvas,
    row: loop_layout.Row,
    piece: loop_layout.Slice,
    k: int,
    groups: list[list[loop.Member]],
) -> None:
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
        canvas.live(
            piece.reach.stops[k].id,
            " ".join(told),
            loop_canvas.shape(level, x, y),
            svg.tag("rect", x=x - 12, y=y - 12, width=24, height=24, class_="l-hit"),
        )
        canvas.sheet.take((x - 7, y - 7, x + 7, y + 7))
        canvas.want(
            1,
            Label(
                lines=[(text, "value") for text in told],
                anchor=(x, y),
                reach=8.0,
                sides=("right", "under right", "under"),
                off=14.0,
            ),
        )


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
        canvas.live(
            f"{one.run}-{one.where}",
            canvas.say.station(one),
            svg.tag("circle", cx=x, cy=y, r=3.0, class_=kind),
            svg.tag("rect", x=x - 12, y=y - 12, width=24, height=24, class_="l-hit"),
        )
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
    name, where = canvas.profile.names.get(one.run, one.run), canvas.say.t("loop.where_tap")
    told = f"{name}, {where}: {', '.join(canvas.say.holds(one.gas))}"
    canvas.live(
        one.part or f"{one.run}-tap",
        told,
        *whisker(row, height, x),
        svg.tag("rect", x=x - 12, y=row.y(one.line) - 12, width=24, height=24, class_="l-hit"),
    )
    canvas.sheet.take((x - 5, row.y(height.high) - 3, x + 5, row.y(height.low) + 3))
    canvas.want(
        5,
        Label(
            lines=[(text, "") for text in canvas.say.holds(one.gas)],
            anchor=(x, row.y(one.line)),
            sides=("under", "under left", "under right"),
            off=9.0,
            reach=4.0,
        ),
    )
