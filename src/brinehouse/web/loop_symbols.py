"""Symbols of machines, our own drawing after ISO 10628: each around (0, 0), water from left to right."""

from __future__ import annotations

from markupsafe import Markup

from brinehouse.web import svg

REACH = 16.0  # half the width of a symbol [px]
_CIRCLE = "M-15 0a15 15 0 1 0 30 0a15 15 0 1 0-30 0Z"
_BOX = "M-15-15H15V15H-15Z"
_TALL = "M-11-19H11V19H-11Z"

_SHAPES: dict[str, tuple[str, str]] = {
    "pump": (_CIRCLE, "M-6.5-13.5L15 0L-6.5 13.5"),
    "heat exchanger": (_CIRCLE, "M-15 0H-8L-4-7L4 7L8 0H15"),
    "screen": (_BOX, "M-15 15L15-15M-9 15V9M-3 15V3M3 15V-3M9 15V-9"),
    "filter": (_BOX, "M0-15V-9M0-6V0M0 3V9M0 12V15"),
    "bed": (_TALL, "M-11-9H11M-11 9H11M-5-4h.01M4-3h.01M-1 1h.01M-6 4h.01M6 4h.01"),
    "column": (_TALL, "M-11-12H11M-11 12H11M-11-12L11 12M11-12L-11 12"),
    "fractionator": (
        "M-11 19V-10L-6-14V-19H6V-14L11-10V19Z",
        "M-5 11a2 2 0 1 0 4 0a2 2 0 1 0-4 0M1 3a2.5 2.5 0 1 0 5 0a2.5 2.5 0 1 0-5 0"
        "M-7-2a2 2 0 1 0 4 0a2 2 0 1 0-4 0",
    ),
    "membrane": (_BOX, "M-15 0H-10M-7 0H-2M2 0H7M10 0H15M-8-15L0-7L8-15"),
    "valve": ("M-13-8L13 8V-8L-13 8Z", ""),
    "strainer": ("M-9-6H9V6H-9Z", "M-9-6L-5-3.3M-3-2L3 2M5 3.3L9 6M9-6L5-3.3M3-2L-3 2M-5 3.3L-9 6"),
    "box": (_BOX, ""),
}
_KINDS = (
    ("chiller", "heat exchanger"),
    ("heater", "heat exchanger"),
    ("heat", "heat exchanger"),
    ("cool", "heat exchanger"),
    ("screen", "screen"),
    ("sieve", "screen"),
    ("drum", "screen"),
    ("fraction", "fractionator"),
    ("skim", "fractionator"),
    ("column", "column"),
    ("tower", "column"),
    ("degas", "column"),
    ("membrane", "membrane"),
    ("contactor", "membrane"),
    ("bio", "bed"),
    ("sand", "bed"),
    ("carbon", "bed"),
    ("reactor", "bed"),
    ("valve", "valve"),
    ("strainer", "strainer"),
    ("filter", "filter"),
    ("bag", "filter"),
    ("pump", "pump"),
)
_LETTERS = (("uv", "UV"), ("ultraviolet", "UV"), ("ozone", "O₃"), ("oxygen", "O₂"), ("heater", ""))


def of(kind: str) -> str:
    """Which symbol stands for a kind of machine.

    >>> of("chiller"), of("packed column"), of("drum screen"), of("uv")
    ('heat exchanger', 'column', 'screen', 'box')
    """
    return next((shape for word, shape in _KINDS if word in kind.lower()), "box")


def letters(kind: str) -> str:
    """What stands in a box without a symbol of its own.

    >>> letters("uv"), letters("protein reactor"), letters("settling cone")
    ('UV', 'PR', 'SC')
    """
    told = next((text for word, text in _LETTERS if kind.lower().startswith(word)), None)
    return "".join(word[0] for word in kind.split()[:2]).upper() if told is None else told


def symbol(kind: str, x: float, y: float, scale: float = 1.0) -> Markup:
    """A symbol at its place."""
    shape = of(kind) if kind not in _SHAPES else kind
    outline, inside = _SHAPES[shape]
    drawn = [svg.tag("path", d=outline, class_="l-body")]
    if inside:
        drawn.append(svg.tag("path", d=inside, class_="l-thin"))
    if shape == "box":
        drawn.append(svg.tag("text", letters(kind), x=0.0, y=4.5, class_="l-in"))
    turn = f" scale({svg.place(scale)})" if scale != 1.0 else ""
    return svg.tag("g", *drawn, transform=f"translate({svg.place(x)} {svg.place(y)}){turn}")


def reach(kind: str) -> tuple[float, float]:
    """Half the width and half the height of a symbol. [px]."""
    shape = of(kind) if kind not in _SHAPES else kind
    if shape in ("bed", "column", "fractionator"):
        return 11.0, 19.0
    return {"valve": (13.0, 8.0), "strainer": (9.0, 6.0)}.get(shape, (15.0, 15.0))
