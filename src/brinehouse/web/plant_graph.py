"""A scheme as a graph to be laid out: how large each symbol with its words is, where its pipes meet it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from brinehouse.web import catalogue, letters, loop_symbols, svg
from brinehouse.web.elk import layout
from brinehouse.workbench import plant

LETTER = 13.0  # of a tag [px]
SMALL = 12.0  # nothing in a drawing is smaller
LINE = 15.0
BUBBLE = 15.0  # radius of an instrument
VESSEL = (96.0, 58.0)
VESSELS = ("tank", "sump", "vessel")
DOT = 8.0
THUMB = 46.0  # what is touched is at least so wide and high [px]

SETTINGS: Mapping[str, str] = {
    "elk.layered.spacing.nodeNodeBetweenLayers": "16",
    "elk.layered.spacing.edgeNodeBetweenLayers": "12",
    "elk.spacing.nodeNode": "14",
    "elk.spacing.edgeNode": "14",
    "elk.spacing.edgeEdge": "10",
    "elk.spacing.edgeLabel": "3",
    "elk.layered.feedbackEdges": "true",
    "elk.layered.nodePlacement.strategy": "NETWORK_SIMPLEX",
    "elk.layered.nodePlacement.favorStraightEdges": "true",
    "elk.layered.considerModelOrder.strategy": "NODES_AND_EDGES",
    "elk.layered.crossingMinimization.forceNodeModelOrder": "false",
    "elk.edgeLabels.placement": "CENTER",
    "elk.padding": "[top=8,left=8,bottom=8,right=8]",
}


@dataclass(frozen=True, slots=True)
class Box:
    """Room of a part: whole size, centre and reach of its symbol, where its words and instruments begin."""

    width: float
    height: float
    x: float
    y: float
    reach: tuple[float, float]
    words: tuple[tuple[str, str], ...] = ()  # (text, class)
    words_at: tuple[float, float] = (0.0, 0.0)
    anchor: str = "middle"
    bubbles_at: tuple[float, float] = (0.0, 0.0)  # centre of the first one


def box(part: plant.Part, t: catalogue.Words, shown: Any, *, down: bool = False) -> Box:
    """How much room a part takes with its words: below it, or beside it where the water runs down."""
    if part.kind == plant.HEADER:
        return Box(DOT, DOT, DOT / 2, DOT / 2, (0.0, 0.0))
    if part.kind in VESSELS:
        return _vessel(part, shown, down=down)
    reach = (13.0, 8.0) if part.kind in (plant.INLET, plant.OUTLET) else loop_symbols.reach(part.kind)
    words = _words(part, t)
    wide = max(letters.width(text, size(kind)) for text, kind in words) + 4
    row = (2 * BUBBLE + 6.0) * len(part.tags)
    x, y = reach
    if down:
        tall = max(2 * y + 4, LINE * len(words), THUMB)
        first = tall / 2 - LINE * len(words) / 2 + 11.5
        return Box(2 * x + 6 + wide + row, tall, x + 2, tall / 2, reach, words, (2 * x + 8, first), "start",
                   (2 * x + 6 + wide + BUBBLE, tall / 2))  # fmt: skip
    above = 2 * BUBBLE + 12.0 if part.tags else 0.0
    whole = max(2 * x + 4, wide, row, THUMB)
    return Box(whole, above + 2 * y + 6 + LINE * len(words), whole / 2, above + y, reach, words,
               (whole / 2, above + 2 * y + LINE), "middle", (_first(whole, part), BUBBLE + 1.0))  # fmt: skip


def _words(part: plant.Part, t: catalogue.Words) -> tuple[tuple[str, str], ...]:
    """A tag, and below it what it is or whether it runs."""
    if part.kind in (plant.INLET, plant.OUTLET):
        return ((part.name, "p-tag"), (t(f"plant.{part.kind.replace(' ', '_')}"), "p-soft"))
    return ((part.tag, "p-tag"), (t(f"plant.{part.state}") if part.state else part.kind, "p-soft"))


def _first(whole: float, part: plant.Part) -> float:
    return whole / 2 - (len(part.tags) - 1) * (BUBBLE + 4.0)


def _vessel(part: plant.Part, shown: Any, *, down: bool) -> Box:
    words = [(part.name, "p-name")]
    if part.volume is not None:
        value, unit = shown.show(part.volume, "m³")
        words.append((f"{svg.digits(value)} {unit}", "p-soft"))
    wide = max([VESSEL[0], *(letters.width(text, size(kind)) + 22 for text, kind in words)])
    tall = VESSEL[1]
    reach = (wide / 2 - 1, tall / 2)
    if down:
        row = (2 * BUBBLE + 8.0) * len(part.tags)
        return Box(wide + row, tall + 2, wide / 2, tall / 2 + 1, reach, tuple(words),
                   (wide / 2, tall / 2 + 9), "middle", (wide + 8 + BUBBLE, BUBBLE + 1.0))  # fmt: skip
    above = 2 * BUBBLE + 12.0 if part.tags else 6.0
    return Box(wide, above + tall + 2, wide / 2, above + tall / 2, reach, tuple(words),
               (wide / 2, above + tall / 2 + 8), "middle", (_first(wide, part), BUBBLE + 1.0))  # fmt: skip


def size(kind: str) -> float:
    """Size of a kind of words, in px."""
    return SMALL if kind == "p-soft" else 14.0 if kind == "p-name" else LETTER


def ports(part: plant.Part, room: Box, *, down: bool) -> tuple[tuple[float, float], tuple[float, float]]:
    """Where water enters the symbol and where it leaves: a vessel takes it high and gives it low."""
    x, y = room.reach
    aside = 0.45 if part.kind in VESSELS else 0.0
    if down:
        return (room.x - aside * x, room.y - y), (room.x + aside * x, room.y + y)
    return (room.x - x, room.y - aside * y), (room.x + x, room.y + aside * y)


def laid_out(
    scheme: plant.Scheme, boxes: Mapping[str, Box], labels: Mapping[str, str], *, down: bool = False
) -> dict[str, Any]:
    """Where everything stands; `down` lets the water run down the page, for narrow ones."""
    return layout.laid_out(
        {
            "id": scheme.id,
            "layoutOptions": {**SETTINGS, "elk.direction": "DOWN" if down else "RIGHT"},
            "children": [_node(part, boxes[part.id], down) for part in scheme.parts],
            "edges": [_edge(pipe, labels.get(pipe.id, "")) for pipe in scheme.pipes],
        }
    )


def _node(part: plant.Part, room: Box, down: bool) -> dict[str, Any]:
    """Pipes meet the edge of a part's room; the drawing carries them on to its symbol."""
    (ix, iy), (ox, oy) = ports(part, room, down=down)
    ends = ((ix, 0.0), (ox, room.height)) if down else ((0.0, iy), (room.width, oy))
    options = {"elk.portConstraints": "FIXED_POS"}
    if part.kind == "sump":
        options["elk.layered.layering.layerConstraint"] = "FIRST"
    sides = ("NORTH", "SOUTH") if down else ("WEST", "EAST")
    return {
        "id": part.id,
        "width": room.width,
        "height": room.height,
        "layoutOptions": options,
        "ports": [
            {"id": f"{part.id}|{name}", "x": x, "y": y, "width": 0, "height": 0,
             "layoutOptions": {"elk.port.side": side}}
            for name, (x, y), side in zip(("in", "out"), ends, sides, strict=True)
        ],
    }  # fmt: skip


def _edge(pipe: plant.Pipe, label: str) -> dict[str, Any]:
    made: dict[str, Any] = {
        "id": pipe.id,
        "sources": [f"{pipe.source}|out"],
        "targets": [f"{pipe.target}|in"],
    }
    if label:
        made["labels"] = [
            {
                "id": f"{pipe.id}|label",
                "text": label,
                "width": letters.width(label, SMALL) + 6,
                "height": LINE,
            }
        ]
    return made
