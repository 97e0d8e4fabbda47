"""Small parts of a drawing: escaped tags, coordinates, scales and ticks."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from markupsafe import Markup, escape

MINUS = "−"
APART = 15.0  # the least distance between two lines of text, in drawing units


def tag(name: str, *inside: str | Markup, **attributes: object) -> Markup:
    """One element; text inside is escaped, attribute names take ``_`` for ``-`` and a last ``_`` away.

    >>> print(tag("text", "a < b", x=1.50, class_="value"))
    <text x="1.5" class="value">a &lt; b</text>
    >>> print(tag("path", d="M0 0", hidden=None))
    <path d="M0 0"/>
    """
    parts = [name]
    for key, value in attributes.items():
        if value is None:
            continue
        shown = place(value) if isinstance(value, float) else value
        parts.append(f'{key.rstrip("_").replace("_", "-")}="{escape(shown)}"')
    head = " ".join(parts)
    if not inside:
        return Markup(f"<{head}/>")  # noqa: S704  # every value in it was escaped above
    body = "".join(escape(piece) for piece in inside)
    return Markup(f"<{head}>{body}</{name}>")  # noqa: S704  # and every piece here


def joined(pieces: Iterable[Markup]) -> Markup:
    """Pieces one after the other."""
    return Markup("").join(pieces)


def place(value: float) -> str:
    """A coordinate, to a hundredth, as short as it can be.

    >>> place(12.0), place(0.126), place(-0.001)
    ('12', '0.13', '0')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def path(points: Iterable[tuple[float, float]]) -> str:
    """Straight lines through points.

    >>> path([(0, 0), (10, 5.5)])
    'M0 0L10 5.5'
    """
    return "".join(f"{'L' if i else 'M'}{place(x)} {place(y)}" for i, (x, y) in enumerate(points))


def line(x1: float, y1: float, x2: float, y2: float, kind: str) -> Markup:
    """A straight line of a kind that the style sheet knows."""
    return tag("path", d=path([(x1, y1), (x2, y2)]), class_=kind)


def digits(value: object, decimals: int | None = None) -> str:
    """A number as a person reads it: a true minus, and four figures that mean something unless told.

    >>> digits(1234567.0), digits(0.0123456), digits(-0.5), digits(2.0, 2), digits("35 ppt")
    ('1234567', '0.01235', '−0.5', '2.00', '35 ppt')
    >>> digits(float("inf")), digits(None), digits(1e-9)
    ('∞', '–', '1e−09')
    """
    if value is None:
        return "–"
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return str(value)
    if math.isnan(value):
        return "–"
    if math.isinf(value):
        return "∞" if value > 0 else MINUS + "∞"
    if decimals is not None:
        text = f"{value:.{decimals}f}"
        text = text.lstrip("-") if float(text) == 0.0 else text
    elif value and abs(value) < 1e-4:
        text = f"{value:.3g}"
    else:
        left = 4 - (math.floor(math.log10(abs(value))) + 1 if value else 1)
        text = f"{value:.{max(left, 0)}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    return text.replace("-", MINUS)


def ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Round numbers between two bounds, at most so many.

    >>> ticks(0.0, 26.0), ticks(103.1, 105.2, 4)
    ([0.0, 5.0, 10.0, 15.0, 20.0, 25.0], [104.0, 105.0])
    """
    if not high > low:
        return [low]
    raw = (high - low) / max(most, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(n * power for n in (1.0, 2.0, 5.0, 10.0, 20.0) if n * power * (1 + 1e-9) >= raw)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [round(n * step, 12) for n in range(first, last + 1)]


def tick_words(values: Sequence[float]) -> list[str]:
    """Ticks written with the same decimals.

    >>> tick_words([0.0, 0.5, 1.0])
    ['0.0', '0.5', '1.0']
    """
    if len(values) < 2:
        return [digits(value) for value in values]
    step = abs(values[1] - values[0])
    decimals = max(0, -math.floor(math.log10(step) + 1e-9)) if step else 0
    return [digits(value, decimals) for value in values]


def apart(wanted: Sequence[float], low: float, high: float, least: float = APART) -> list[float]:
    """Heights for labels near where they are wanted, none nearer to another than `least`.

    >>> apart([50.0, 52.0, 90.0], 0.0, 100.0)
    [50.0, 65.0, 90.0]
    >>> apart([98.0, 99.0], 0.0, 100.0)
    [85.0, 100.0]
    """
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    placed = [0.0] * len(wanted)
    before = -math.inf
    for i in order:
        placed[i] = max(wanted[i], before + least, low)
        before = placed[i]
    after = math.inf
    for i in reversed(order):
        placed[i] = min(placed[i], after - least, high)
        after = placed[i]
    return placed


def scale(low: float, high: float, start: float, end: float) -> Scale:
    """A straight scale from quantities to drawing units."""
    return Scale(low, high, start, end)


class Scale:
    """Quantities to drawing units, in a straight line."""

    def __init__(self, low: float, high: float, start: float, end: float) -> None:
        self.low, self.high, self.start, self.end = low, high, start, end

    def __call__(self, value: float) -> float:
        """Where a quantity lies; outside the scale it lies outside."""
        if self.high == self.low:
            return (self.start + self.end) / 2
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def within(self, value: float) -> float:
        """Where a quantity lies, held to the ends of the scale."""
        return self(min(max(value, min(self.low, self.high)), max(self.low, self.high)))


def bounds(values: Sequence[float], edges: Sequence[float], share: float = 1.0) -> tuple[float, float]:
    """Bounds that hold the values, and the edges as far as they do not press the values flat."""
    if not values:
        return (min(edges), max(edges)) if len(edges) > 1 else (0.0, 1.0)
    low, high = min(values), max(values)
    room = (high - low or abs(high) * 0.01 or 1.0) * share
    low = min([low, *(max(edge, low - 2 * room) for edge in edges)])
    high = max([high, *(min(edge, high + 2 * room) for edge in edges)])
    if low == high:
        low, high = low - room, high + room
    spare = 0.04 * (high - low)
    return low - spare, high + spare
