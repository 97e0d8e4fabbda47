"""One loop profile in the making: layers of marks, what is taken, and labels that wait for their place."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence

from markupsafe import Markup

from brinehouse.web import letters, loop_labels, loop_words, svg
from brinehouse.workbench import loop

LAYERS = ("grid", "tint", "water", "band", "pipe", "lines", "body", "live", "text")
LINE = 16.0  # from one line of a label to the next [px]
SIZE = {"name": 14.0}
SMALL = 13.0


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Lines of text, each with its class; a shape may stand before the first.

    Attributes
    ----------
    lines : sequence of (text, class)
    anchor : (x, y)
        What it speaks of.
    sides : sequence of str
        Where it stands best: ``under``, ``over``, ``right``, ``left``.
    off : float
        How far from the anchor. [px]
    mark : str
        ``act`` or ``watch``: its shape before the first line of that class.
    align : str
        ``middle`` or ``start``.
    led : bool
        Whether it may get a thin line to its anchor, which ends `reach` [px] before it.
    slide : bool
        Whether it may as well stand a little to either side, as the name of a line may.
    """

    lines: Sequence[tuple[str, str]]
    anchor: tuple[float, float]
    sides: Sequence[str] = ("under",)
    off: float = 8.0
    align: str = "start"
    led: bool = True
    reach: float = 0.0
    slide: bool = False

    @property
    def width(self) -> float:
        """Of the widest line, with its shape. [px]."""
        return max(
            letters.width(text, SIZE.get(kind, SMALL)) + (16.0 if kind in ("act", "watch") else 0.0)
            for text, kind in self.lines
        )

    @property
    def height(self) -> float:
        """Of all lines. [px]."""
        return LINE * len(self.lines) - 3.0

    def spots(self) -> list[tuple[float, float]]:
        """Left upper corners, the best first."""
        x, y = self.anchor
        wide, high, off = self.width, self.height, self.off
        known = {
            "under": (x - wide / 2, y + off),
            "over": (x - wide / 2, y - off - high),
            "right": (x + off, y - high / 2),
            "left": (x - off - wide, y - high / 2),
            "over right": (x + off, y - off - high),
            "under right": (x + off, y + off),
            "over left": (x - off - wide, y - off - high),
            "under left": (x - off - wide, y + off),
        }
        spots = [known[side] for side in self.sides]
        if self.slide:
            left, top = spots[0]
            lower = 8.0 if self.sides[0] == "under" else -8.0
            for down in (0.0, lower, 2 * lower, 4 * lower, 6 * lower, 8 * lower):
                spots += [(left + 8.0 * n, top + down) for n in range(-12, 13)]
        return spots


@dataclasses.dataclass(slots=True)
class Canvas:
    """One picture in the making."""

    profile: loop.Profile
    say: loop_words.Say
    size: str
    sheet: loop_labels.Sheet
    texts: loop_labels.Sheet
    name: str
    then: Mapping[str, loop.Stop] = dataclasses.field(default_factory=dict[str, loop.Stop])
    pressures: Mapping[int, tuple[Sequence[loop.Line], Sequence[loop.Line]]] = dataclasses.field(
        default_factory=dict[int, tuple[Sequence[loop.Line], Sequence[loop.Line]]]
    )
    layers: dict[str, list[Markup]] = dataclasses.field(
        default_factory=lambda: {layer: list[Markup]() for layer in LAYERS}
    )
    wanted: list[tuple[int, Label]] = dataclasses.field(default_factory=list[tuple[int, Label]])

    def add(self, layer: str, *drawn: Markup) -> None:
        """Draw on a layer."""
        self.layers[layer] += drawn

    def want(self, rank: int, label: Label) -> None:
        """A label that looks for its place once all lines are drawn; low ranks choose first."""
        self.wanted.append((rank, label))

    def drawn(self) -> Markup:
        """All layers, the lowest first."""
        groups = ((layer, self.layers[layer]) for layer in LAYERS)
        return svg.joined(svg.tag("g", *marks, class_=f"layer-{layer}") for layer, marks in groups if marks)

    def live(self, target: str, words: str, *drawn: Markup) -> None:
        """A mark that tells its numbers to pointer, keyboard and reader, and leads to its row."""
        mark = svg.tag("title", words), *drawn
        row = f"{self.name}-{target}"
        self.add(
            "live",
            svg.tag("g", *mark, tabindex=0, role="img", aria_label=words, data_row=row, class_="l-mark"),
        )

    def write(self, label: Label) -> float:
        """Find a place for a label and write it; gives how far down it reaches."""
        wanted = loop_labels.Wanted(
            width=label.width,
            height=label.height,
            spots=label.spots(),
            anchor=label.anchor if label.led else None,
            reach=label.reach,
        )
        found = loop_labels.place(self.sheet, wanted, self.texts)
        if found.leader is not None:
            self.add("text", svg.tag("path", d=svg.path(found.leader), class_="l-leader"))
        middle = label.align == "middle"
        for n, (text, kind) in enumerate(label.lines):
            x, y = found.x, found.y + 11.5 + LINE * n
            shift = 0.0
            if kind in ("act", "watch"):
                self.add("text", shape(kind, found.x + 6.0, y - 4.5))
                shift = 16.0
            at = found.x + wanted.width / 2 if middle and not shift else x + shift
            side = " middle" if middle and not shift else ""
            self.add("text", svg.tag("text", text, x=at, y=y, class_=f"l-t {kind}{side}".strip()))
        return found.y + wanted.height


def shape(level: str, x: float, y: float) -> Markup:
    """◆ for act, ▲ for watch, around a point."""
    where = f"{svg.place(x)} {svg.place(y)}"
    if level == "act":
        return svg.tag("path", d=f"M{where}m0 -6l6 6l-6 6l-6 -6z", class_="l-act-fill")
    return svg.tag("path", d=f"M{where}m0 -5.5l6 11h-12z", class_="l-watch-fill")
