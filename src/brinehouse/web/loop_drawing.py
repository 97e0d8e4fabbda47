"""The loop profile as SVG: one picture a system, in three sizes; the page shows the one that fits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from markupsafe import Markup

from brinehouse.web import (
    depths,
    loop_canvas,
    loop_labels,
    loop_layout,
    loop_lines,
    loop_marks,
    loop_panel,
    loop_words,
    svg,
)
from brinehouse.workbench import loop

SIZES = ("wide", "middle", "narrow")
ROW_GAP = 34.0
HEAD_ROOM = 26.0


def picture(
    profile: loop.Profile,
    say: loop_words.Say,
    size: str = "wide",
    *,
    name: str = "loop",
    then: loop.Profile | None = None,
    barometer: float | None = None,
) -> Markup:
    """The picture of one system in one size, a what-if over it; empty where no way can be drawn."""
    drawn = _rows(profile, say, size, name, then, barometer)
    if not drawn:
        return Markup("")
    return svg.tag(
        "svg",
        *(body for _, _, body in drawn),
        class_=f"loop {size}",
        viewBox=f"0 0 {svg.place(loop_layout.WIDTH[size])} {svg.place(drawn[-1][1])}",
        role="group",
        aria_label=say.t("loop.picture", name=profile.name),
    )


def whole(
    profile: loop.Profile,
    say: loop_words.Say,
    *,
    name: str = "loop",
    then: loop.Profile | None = None,
    barometer: float | None = None,
) -> Markup:
    """All sizes of one picture, of which the page shows one; a row each, so that paper breaks between."""
    sizes: list[Markup] = []
    for size in SIZES:
        drawn = [
            svg.tag(
                "svg",
                body,
                viewBox=f"0 {svg.place(top)} {svg.place(loop_layout.WIDTH[size])} {svg.place(bottom - top)}",
                role="group",
                aria_label=say.t("loop.picture", name=profile.name),
            )
            for top, bottom, body in _rows(profile, say, size, name, then, barometer)
        ]
        sizes.append(svg.tag("div", *drawn, class_=f"loop {size}") if drawn else Markup(""))
    return svg.tag("div", *sizes, class_="loop-drawn") if any(sizes) else Markup("")


def _rows(
    profile: loop.Profile,
    say: loop_words.Say,
    size: str,
    name: str,
    then: loop.Profile | None,
    barometer: float | None,
) -> list[tuple[float, float, Markup]]:
    """The rows of a picture, each with where it begins and ends; with a barometer, pressures under each."""
    pressures = (
        {n: loop.pressures(reach, barometer) for n, reach in enumerate(profile.reaches)} if barometer else {}
    )
    rows = loop_layout.rows(profile, size, then)
    width = loop_layout.WIDTH[size]
    after = {stop.id: stop for stop in then.stops if stop.place} if then is not None else {}
    named = loop_lines.named_in(rows)
    drawn: list[tuple[float, float, Markup]] = []
    at = 0.0
    for n, row in enumerate(rows):
        sheet, texts = (loop_labels.Sheet(width, at) for _ in range(2))
        canvas = loop_canvas.Canvas(profile, say, size, sheet, texts, name, after, pressures)
        row.top = at + HEAD_ROOM + (22.0 if n == 0 else 0.0)
        row.floor = row.top + (row.high - row.low) * row.scale
        kinds = [kind for kind, at_row in named.items() if at_row == n]
        bottom = _row(canvas, row, kinds, first=n == 0) + 6.0
        if pressures:
            bottom = loop_panel.panel(canvas, row, bottom + 6.0)
        drawn.append((at, bottom, canvas.drawn()))
        at = bottom + ROW_GAP - 6.0
    return drawn


def _row(canvas: loop_canvas.Canvas, row: loop_layout.Row, kinds: Sequence[str], *, first: bool) -> float:
    """One row; gives how far down it reaches."""
    canvas.wanted = []
    _grid(canvas, row, first=first)
    for piece in row.slices:
        loop_lines.lines(canvas, row, piece)
    for piece in row.slices:
        loop_marks.stops(canvas, row, piece)
    for kind in kinds:
        loop_lines.line_name(canvas, row, kind)
    if all(piece.new for piece in row.slices):
        words = canvas.say.t("loop.after_change")
        canvas.add("grid", svg.tag("text", words, x=0.0, y=canvas.sheet.top + 12.0, class_="value"))
        canvas.sheet.take(
            (0.0, canvas.sheet.top, loop_layout.text_width(words) + 6.0, canvas.sheet.top + 16.0)
        )
    bottom = row.floor
    for _, label in sorted(canvas.wanted, key=lambda pair: pair[0]):
        bottom = max(bottom, canvas.write(label))
    return max(bottom, canvas.sheet.bottom)


def _grid(canvas: loop_canvas.Canvas, row: loop_layout.Row, *, first: bool) -> None:
    """Heights at the left, and faint rules across."""
    unit = canvas.say.display.show(1.0, "m")[0]
    most = max(2, int((row.floor - row.top) / 30))
    marks = svg.ticks(row.low * unit, row.high * unit, most)
    right = loop_layout.WIDTH[canvas.size]
    for value, word in zip(marks, svg.tick_words(marks), strict=True):
        y = row.y(value / unit)
        canvas.add("grid", svg.line(loop_layout.AXIS - 4, y, right, y, "l-rule"))
        canvas.add("grid", svg.tag("text", word, x=loop_layout.AXIS - 8, y=y + 4.5, class_="end"))
    canvas.sheet.take((0.0, row.top - 10, loop_layout.AXIS - 6, row.floor + 8))
    if first:
        words = canvas.say.t("loop.axis", unit=canvas.say.length_unit)
        canvas.add("grid", svg.tag("text", words, x=0.0, y=13.0))
        canvas.sheet.take((0.0, 0.0, loop_layout.text_width(words) + 6, 18.0))


def strips(stops: Iterable[loop.Stop], say: loop_words.Say) -> Markup:
    """Places each with its own gas line, those that matter first."""
    columns = [(_order(stop), _column(stop, say)) for stop in stops if stop.depth is not None]
    return depths.picture(
        [column for _, column in sorted(columns, key=lambda pair: pair[0])], say.length_unit
    )


def _order(stop: loop.Stop) -> tuple[int, float]:
    states = {one.state for one in stop.animals}
    rank = next((n for n, state in enumerate(("above", "may be", "below")) if state in states), 3)
    return rank, min((one.above is None, -(one.above or 0.0)) for one in stop.animals)[
        1
    ] if stop.animals else 0.0


def _column(stop: loop.Stop, say: loop_words.Say) -> depths.Column:
    weight = stop.density * loop.GRAVITY
    unit = say.display.show(1.0, "m")[0]
    worst = max(
        (one for one in stop.animals if one.above is not None), key=lambda one: one.above or 0.0, default=None
    )
    shallow = min((one.shallow for one in stop.animals), default=None)
    deep = max((one.deep for one in stop.animals), default=None)
    level = {"above": "act", "may be": "watch"}.get(worst.state, "") if worst else ""
    gas = stop.gas
    return depths.Column(
        name=stop.name,
        depth=(stop.depth or 0.0) * unit,
        gas=gas.value / weight * unit if gas else None,
        low=gas.low / weight * unit if gas else None,
        high=gas.high / weight * unit if gas else None,
        shallow=shallow * unit if shallow is not None else None,
        deep=deep * unit if deep is not None else None,
        level=level,
        verdict=say.verdict(worst) if worst and level else "",
        value=", ".join(say.holds(gas)) if gas else "",
        gas_words=say.t("loop.line_deep", metres=say.metres(gas.value / weight))
        if gas
        else say.t("loop.say_no_gas"),
        animal_words=say.t("loop.animals_from", metres=say.metres(shallow)) if shallow is not None else "",
    )
