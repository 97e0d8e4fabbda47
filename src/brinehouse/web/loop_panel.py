"""The second panel of a loop profile: absolute pressure and gas pressure along the same way."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from brinehouse.web import loop_canvas, loop_layout, loop_lines, svg
from brinehouse.workbench import loop

HIGH = 120.0  # of the plot [px]
Lines = Sequence[loop.Line]


def panel(canvas: loop_canvas.Canvas, row: loop_layout.Row, top: float) -> float:
    """Under a row, in the pressure unit of the house; gives how far down it reaches."""
    known = [
        (piece, *canvas.pressures[piece.index]) for piece in row.slices if piece.index in canvas.pressures
    ]
    shown = [(piece, _clipped(absolute, piece), _clipped(gas, piece)) for piece, absolute, gas in known]
    dots = [dot.z for _, absolute, gas in shown for line in (*absolute, *gas) for dot in line]
    if not dots:
        return top
    unit = canvas.say.display.symbol("Pa", "pressure")
    per = canvas.say.display.show(1.0, "Pa", "pressure")[0]
    low, high = min(dots) * per, max(dots) * per
    floor = top + 26.0 + HIGH
    scale = svg.scale(low, high if high > low else low + 1.0, floor, top + 26.0)
    canvas.add("grid", svg.tag("text", canvas.say.t("loop.panel", unit=unit), x=0.0, y=top + 12.0))
    marks = svg.ticks(low, high, 4)
    for value, word in zip(marks, svg.tick_words(marks), strict=True):
        y = scale(value)
        canvas.add("grid", svg.line(loop_layout.AXIS + 4, y, loop_layout.WIDTH[canvas.size], y, "l-rule"))
        canvas.add("grid", svg.tag("text", word, x=loop_layout.AXIS, y=y + 4.5, class_="end"))
    for piece, absolute, gas in shown:
        for area in _over(absolute, gas):
            edge = [(piece.x(s), scale(z * per)) for s, z in area]
            canvas.add("tint", svg.tag("path", d=svg.path(edge) + "Z", class_="l-gas-water"))
        for kind, lines in (("l-head", absolute), ("l-gas", gas)):
            for line in lines:
                way = [(piece.x(dot.s), scale(dot.z * per)) for dot in line]
                canvas.add("lines", svg.tag("path", d=svg.path(way), class_=kind))
    return floor + 10.0


def _clipped(lines: Lines, piece: loop_layout.Slice) -> list[list[loop.Dot]]:
    return [dots for line in lines if len(dots := loop_lines.clip(line, piece)) > 1]


def _over(
    absolute: Sequence[Sequence[loop.Dot]], gas: Sequence[Sequence[loop.Dot]]
) -> list[list[tuple[float, float]]]:
    """Where the gas presses harder than the water: the areas between the two lines."""
    areas: list[list[tuple[float, float]]] = []
    for water in absolute:
        for one, two in itertools.pairwise(water):
            for line in gas:
                for three, four in itertools.pairwise(line):
                    area = _between(one, two, three, four)
                    if area:
                        areas.append(area)
    return areas


def _between(one: loop.Dot, two: loop.Dot, three: loop.Dot, four: loop.Dot) -> list[tuple[float, float]]:
    low, high = max(one.s, three.s), min(two.s, four.s)
    if high - low < 1e-9:
        return []
    water = [_at(one, two, s) for s in (low, high)]
    gas = [_at(three, four, s) for s in (low, high)]
    over = [gas[0] - water[0], gas[1] - water[1]]
    if max(over) <= 0.0:
        return []
    if min(over) < 0.0:
        cross = low + (high - low) * over[0] / (over[0] - over[1])
        middle = (cross, _at(one, two, cross))
        end = (low, gas[0], water[0]) if over[0] > 0.0 else (high, gas[1], water[1])
        return [(end[0], end[1]), middle, (end[0], end[2])]
    return [(low, gas[0]), (high, gas[1]), (high, water[1]), (low, water[0])]


def _at(one: loop.Dot, two: loop.Dot, s: float) -> float:
    return one.z if two.s - one.s < 1e-9 else one.z + (two.z - one.z) * (s - one.s) / (two.s - one.s)
