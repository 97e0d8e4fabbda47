"""The plant as a drawing: symbols after ISO 10628, tags after ISA-5.1, laid out the same each time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from brinehouse import units
from brinehouse.web import catalogue, loop_symbols, plant_graph, svg
from brinehouse.workbench import plant

TANKS = plant_graph.VESSELS
HOUR = 3600.0
WIDEST = 12  # hundreds of pixels that a sheet has across; a wider drawing is moved sideways


@dataclass(frozen=True, slots=True)
class Say:
    """Words and units for one drawing."""

    t: catalogue.Words
    display: units.Display = units.Display()  # noqa: RUF009 - frozen, and without parts that change

    def flow(self, value: float | None) -> str:
        """A flow in the units of the house, or nothing."""
        if value is None:
            return ""
        per_hour = value * HOUR
        return f"{svg.digits(per_hour, 1 if abs(per_hour) < 9.95 else 0)} m³/h"


def both(one: plant.Scheme, say: Say) -> Markup:
    """A system across the page and down it; the style sheet shows the one for which there is room."""
    across, wide = _drawn(one, say, down=False)
    down, _ = _drawn(one, say, down=True)
    hundreds = min(max(-(-int(wide) // 100), 3), WIDEST)
    return svg.tag("div", across, down, class_=f"plant-fit fit-{hundreds}")


def ready(look: plant.Plant) -> None:
    """Lay out every system before anyone asks: the layout program takes a second to wake."""
    say = Say(catalogue.Words(), look.display)
    for one in look.schemes:
        both(one, say)


def scheme(one: plant.Scheme, say: Say, *, down: bool = False) -> Markup:
    """One system; every symbol leads to its row of the table below."""
    return _drawn(one, say, down=down)[0]


def _drawn(one: plant.Scheme, say: Say, *, down: bool) -> tuple[Markup, float]:
    """The drawing and how wide it is, in px."""
    labels = _labels(one, say)
    boxes = {part.id: plant_graph.box(part, say.t, say.display, down=down) for part in one.parts}
    placed = plant_graph.laid_out(one, boxes, labels, down=down)
    nodes = {node["id"]: node for node in placed["children"]}
    pipes = {pipe.id: pipe for pipe in one.pipes}
    ends = _ends(one, boxes, nodes, down=down)
    still_first = sorted(placed["edges"], key=lambda edge: not _resting(one, pipes[edge["id"]]))
    drawn = [_pipe(edge, pipes[edge["id"]], one, say, ends) for edge in still_first]
    drawn += [_part(part, boxes[part.id], nodes[part.id], one, say) for part in one.parts]
    drawn += [_flow(edge) for edge in placed["edges"]]
    title = say.t("plant.drawn", name=one.name)
    picture = svg.tag(
        "svg",
        svg.tag("title", title),
        *drawn,
        class_="plant-drawn down" if down else "plant-drawn across",
        viewBox=f"0 0 {svg.place(placed['width'])} {svg.place(placed['height'])}",
        width=svg.place(placed["width"]),
        height=svg.place(placed["height"]),
        role="group",
        aria_label=title,
    )
    return picture, float(placed["width"])


def _labels(one: plant.Scheme, say: Say) -> dict[str, str]:
    """The flow once for each body of water: where it leaves the pumps, and where it divides."""
    sisters = {pump for group in one.groups if len(group.pumps) > 1 for pump in group.pumps}
    told: set[tuple[str, ...]] = set()
    made: dict[str, str] = {}
    for pipe in one.pipes:
        if {pipe.source, pipe.target} & sisters or pipe.runs in told:
            continue
        told.add(pipe.runs)
        made[pipe.id] = say.flow(pipe.flow)
    return made


def _resting(one: plant.Scheme, pipe: plant.Pipe) -> bool:
    return any(part.state == "rests" and part.id in (pipe.source, pipe.target) for part in one.parts)


Ends = Mapping[str, tuple[tuple[float, float], tuple[float, float]]]


def _ends(
    one: plant.Scheme, boxes: Mapping[str, plant_graph.Box], nodes: Mapping[str, Any], *, down: bool
) -> Ends:
    """Where water enters and leaves each symbol, in the drawing."""
    made: dict[str, tuple[tuple[float, float], tuple[float, float]]] = {}
    for part in one.parts:
        x, y = float(nodes[part.id]["x"]), float(nodes[part.id]["y"])
        (ix, iy), (ox, oy) = plant_graph.ports(part, boxes[part.id], down=down)
        made[part.id] = ((x + ix, y + iy), (x + ox, y + oy))
    return made


def _pipe(edge: Mapping[str, Any], pipe: plant.Pipe, one: plant.Scheme, say: Say, ends: Ends) -> Markup:
    kind = "p-pipe p-still" if _resting(one, pipe) else "p-pipe"
    lines: list[Markup] = []
    end = ""
    for section in edge["sections"]:
        points = [section["startPoint"], *section.get("bendPoints", []), section["endPoint"]]
        way = [ends[pipe.source][1], *((float(p["x"]), float(p["y"])) for p in points), ends[pipe.target][0]]
        lines.append(svg.tag("path", d=svg.path(way), class_=kind))
        end = _arrow(way[-2], way[-1])
    lines += [
        svg.tag("circle", cx=float(dot["x"]), cy=float(dot["y"]), r=3.2, class_="p-join")
        for dot in edge.get("junctionPoints", [])
    ]
    if end and not pipe.target.startswith(plant.HEADER):
        lines.append(svg.tag("path", d=end, class_="p-arrow"))
    names = say.t("plant.pipe", source=pipe.source, target=pipe.target)
    told = f"{names}: {say.flow(pipe.flow) or say.t('plant.flow_unknown')}"
    return svg.tag("g", svg.tag("title", told), *lines)


def _arrow(before: tuple[float, float], tip: tuple[float, float]) -> str:
    """A small head at the end of a pipe."""
    x, y = tip
    dx, dy = x - before[0], y - before[1]
    long = abs(dx) + abs(dy)
    if long < 1e-6:
        return ""
    ux, uy = dx / long, dy / long
    back, half = 9.0, 4.0
    return (
        svg.path(
            [
                (x - back * ux + half * uy, y - back * uy - half * ux),
                (x, y),
                (x - back * ux - half * uy, y - back * uy + half * ux),
            ]
        )
        + "Z"
    )


def _flow(edge: Mapping[str, Any]) -> Markup:
    """The words of a pipe's flow, over everything else, on a clear ground."""
    return svg.joined(
        svg.tag("text", label["text"], x=float(label["x"]) + 3.0, y=float(label["y"]) + 11.5, class_="p-flow")
        for label in edge.get("labels", [])
    )


def _part(
    part: plant.Part, room: plant_graph.Box, node: Mapping[str, Any], one: plant.Scheme, say: Say
) -> Markup:
    x, y = float(node["x"]) + room.x, float(node["y"]) + room.y
    if part.kind == plant.HEADER:
        return svg.tag("circle", cx=x, cy=y, r=3.2, class_="p-join")
    drawn: list[Markup] = []
    if part.kind in TANKS:
        drawn += _tank(x, y, room)
    elif part.kind in (plant.INLET, plant.OUTLET):
        flag = ((-13, -8), (6, -8), (13, 0), (6, 8), (-13, 8))
        drawn.append(svg.tag("path", d=svg.path((x + i, y + j) for i, j in flag) + "Z", class_="p-body"))
    else:
        drawn.append(loop_symbols.symbol(part.kind, x, y))
        if part.state == "runs":
            full = ((-6.5, -13.5), (15, 0), (-6.5, 13.5))
            drawn.append(svg.tag("path", d=svg.path((x + i, y + j) for i, j in full) + "Z", class_="p-runs"))
    drawn += _words(room, float(node["x"]), float(node["y"]))
    drawn += _bubbles(part, room, float(node["x"]), float(node["y"]))
    drawn.append(
        svg.tag(
            "rect",
            x=float(node["x"]),
            y=float(node["y"]),
            width=room.width,
            height=room.height,
            class_="p-hit",
        )
    )
    state = say.t(f"plant.{part.state}") if part.state else ""
    tag = part.tag if part.tag != part.name else ""
    told = ", ".join(text for text in (part.name, tag, state, say.flow(part.flow)) if text)
    mark = svg.tag("g", svg.tag("title", told), *drawn, role="img", aria_label=told)
    return svg.tag("a", mark, href=f"#plant-{one.id}-{part.id}", class_="p-mark")


def _tank(x: float, y: float, room: plant_graph.Box) -> list[Markup]:
    """An open vessel with its water and the mark of its level."""
    half, tall = room.reach
    level = y - tall + 12.0
    walls = [(x - half, y - tall), (x - half, y + tall), (x + half, y + tall), (x + half, y - tall)]
    mark = [(x + half - 22, level - 8), (x + half - 12, level - 8), (x + half - 17, level)]
    return [
        svg.tag("rect", x=x - half, y=level, width=2 * half, height=y + tall - level, class_="l-water"),
        svg.line(x - half, level, x + half, level, "l-surface"),
        svg.tag("path", d=svg.path(walls), class_="l-vessel"),
        svg.tag("path", d=svg.path(mark) + "Z", class_="l-level"),
    ]


def _words(room: plant_graph.Box, left: float, top: float) -> list[Markup]:
    x, y = left + room.words_at[0], top + room.words_at[1]
    return [
        svg.tag("text", text, x=x, y=y + plant_graph.LINE * row, class_=f"p-t {kind} {room.anchor}")
        for row, (text, kind) in enumerate(room.words)
    ]


def _bubbles(part: plant.Part, room: plant_graph.Box, left: float, top: float) -> list[Markup]:
    """The instruments of a part, joined to it by a thin line."""
    r = plant_graph.BUBBLE
    first, cy = left + room.bubbles_at[0], top + room.bubbles_at[1]
    beside = room.bubbles_at[0] > room.x + room.reach[0]
    edge, surface = (
        left + room.x + room.reach[0],
        top + room.y - room.reach[1] + (12.0 if part.kind in TANKS else 0.0),
    )
    drawn: list[Markup] = [svg.line(edge, cy, first - r, cy, "p-signal")] if beside and part.tags else []
    for place, tag in enumerate(part.tags):
        cx = first + place * (2 * r + 8.0)
        if not beside:
            drawn.append(svg.line(cx, cy + r, cx, surface, "p-signal"))
        elif place:
            drawn.append(svg.line(cx - r - 8.0, cy, cx - r, cy, "p-signal"))
        drawn.append(svg.tag("circle", cx=cx, cy=cy, r=r, class_="p-body"))
        drawn.append(svg.tag("text", tag.letters, x=cx, y=cy + 4.2, class_="p-t p-in middle"))
    return drawn
