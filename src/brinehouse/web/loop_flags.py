"""Where the way of a loop profile goes on: flags, tees, ways back."""

from __future__ import annotations

from brinehouse.web import loop_canvas, loop_layout, loop_words, svg
from brinehouse.workbench import loop

Label = loop_canvas.Label


def returns(canvas: loop_canvas.Canvas, stop: loop.Stop, x: float, y: float) -> None:
    """A short arrow for each way back that is drawn elsewhere."""
    if not stop.returns:
        return
    told = "; ".join(_return(canvas, one) for one in stop.returns)
    arrow = f"M{svg.place(x)} {svg.place(y + 3)}h9v14m-4 -5l4 6l4 -6"
    canvas.add("body", svg.tag("path", d=arrow, class_="l-small-pipe"))
    hit = svg.tag("rect", x=x - 2, y=y - 2, width=24, height=26, class_="l-hit")
    canvas.live(stop.id, f"{stop.name}: {told}", hit)
    canvas.sheet.take((x, y, x + 15, y + 23))


def bypass(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int) -> None:
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
    canvas.want(
        4,
        Label(
            lines=[(words, "")],
            anchor=(x, y + 22),
            sides=("under", "under right", "under left"),
            off=4.0,
            reach=4.0,
        ),
    )


def _return(canvas: loop_canvas.Canvas, one: loop.Return) -> str:
    names = canvas.profile.names
    over = ", ".join(names.get(part, part) for part in one.over)
    key = "loop.say_back_over" if over else "loop.say_back"
    flow = canvas.say.flow(one.flow)
    told = canvas.say.t(key, target=names.get(one.target, one.target), over=over)
    return f"{told} {flow}".strip()


def tees(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int) -> None:
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
    canvas.live(
        target,
        words,
        outline,
        svg.tag("text", shown, x=x, y=y + 4.5, class_="l-in"),
        svg.tag(
            "rect", x=x - max(half, 12.0), y=y - 12, width=max(2 * half, 24.0), height=24, class_="l-hit"
        ),
    )
    canvas.sheet.take((x - half - 2, y - 11, x + half + 2, y + 11))


def flag(canvas: loop_canvas.Canvas, row: loop_layout.Row, piece: loop_layout.Slice, k: int) -> None:
    """Where the way comes from or goes on to: an arrow with its letter, and words beside it."""
    stop, say = piece.reach.stops[k], canvas.say
    x0, x1, y = piece.x(2.0 * k), piece.x(2.0 * k + 1), row.y(stop.elevation or 0.0)
    begins = k == 0
    letter = stop.letters[0] if stop.letters else ""
    neck = svg.place(x1 - 8)
    left, point = svg.place(x0), f"{svg.place(x1)} {svg.place(y)}"
    shape = f"M{left} {svg.place(y - 10)}H{neck}L{point}L{neck} {svg.place(y + 10)}H{left}Z"
    drawn = [svg.tag("path", d=shape, class_="l-body")]
    if letter:
        drawn.append(svg.tag("text", letter, x=(x0 + x1) / 2 - 3, y=y + 4.5, class_="l-in"))
    words = _flag_words(say, stop, begins, canvas.profile)
    target = f"branch-{letter}" if letter else stop.id or "outside"
    canvas.live(
        target, words, *drawn, svg.tag("rect", x=x0, y=y - 13, width=x1 - x0, height=26, class_="l-hit")
    )
    canvas.sheet.take((x0 - 2, y - 12, x1 + 2, y + 12))
    sides = ("under", "over", "over right") if begins else ("under", "over", "right")
    canvas.want(4, Label(lines=[(words, "")], anchor=((x0 + x1) / 2, y), sides=sides, off=14.0, reach=13.0))


def _flag_words(say: loop_words.Say, stop: loop.Stop, begins: bool, profile: loop.Profile) -> str:
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
