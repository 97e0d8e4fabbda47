"""Numbers as a person reads them: value, ±, unit, no more decimals than the interval supports."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from markupsafe import Markup

from brinehouse.web import svg


def figure(value: Any, decimals: int | None = None, *, large: bool = False) -> Markup:
    """A number with its ± and unit; an interval that is not even on both sides is written out.

    Parameters
    ----------
    value : Value or mapping or number
        Anything with ``value``, ``unit``, ``u``, ``low``, ``high``, ``text``.
    decimals : int, optional
        Else as many as the interval supports.

    >>> from brinehouse import answers
    >>> print(figure(answers.Value(value=104.68, unit="%", u=0.2)).striptags())
    104.7 ± 0.4 %
    >>> print(figure(answers.Value(value=2.0, unit="mmHg", low=0.5, high=9.0)).striptags())
    2 (0 … 9) mmHg
    >>> print(figure(answers.Value(value=None, unit="%", text="not measured")).striptags())
    not measured
    """
    number = _part(value, "value") if not isinstance(value, (int, float)) else value
    text = str(_part(value, "text") or "")
    if number is None or (isinstance(number, float) and math.isnan(number)):
        return svg.tag("span", text or "–", class_="figure")
    interval = _interval(value)
    places = decimals if decimals is not None else decimals_of(interval)
    parts = [svg.tag("span", svg.digits(number, places), class_="number")]
    spread = _spread(float(number), interval, places)
    if spread:
        parts.append(svg.tag("span", spread, class_="spread"))
    unit = str(_part(value, "unit") or "")
    if unit and unit != "1":
        parts.append(svg.tag("span", unit, class_="unit"))
    return svg.tag("span", Markup(" ").join(parts), class_="figure large" if large else "figure")


def cell(value: Any, decimals: int | None = None) -> Markup:
    """A cell of a table whose column already says the unit."""
    if value is None or isinstance(value, (str, bool)):
        return Markup.escape("" if value is None else value)
    if isinstance(value, (int, float)):
        return Markup.escape(svg.digits(value, decimals if isinstance(value, float) else None))
    number = _part(value, "value")
    bare = {name: _part(value, name) for name in ("value", "u", "low", "high", "text")}
    return figure(bare, decimals if number is not None else None)


def decimals_of(interval: tuple[float, float] | None) -> int | None:
    """Decimals that a 95 % interval supports: its half-width keeps one figure, two where it begins with 1.

    >>> decimals_of((104.3, 105.1)), decimals_of((10.0, 13.0)), decimals_of((0.0, 400.0))
    (1, 1, 0)
    """
    if interval is None:
        return None
    half = (interval[1] - interval[0]) / 2
    if not math.isfinite(half) or half <= 0.0:
        return None
    power = math.floor(math.log10(half) + 1e-9)
    if half / 10.0**power < 1.95:
        power -= 1
    return min(max(-power, 0), 6)


def _part(value: Any, name: str) -> Any:
    if isinstance(value, Mapping):
        held: Mapping[str, Any] = value
        return held.get(name)
    return getattr(value, name, None)


def _interval(value: Any) -> tuple[float, float] | None:
    if isinstance(value, (int, float)):
        return None
    ask: Callable[[], tuple[float, float] | None] | None = getattr(value, "interval", None)
    if ask is not None:
        return ask()
    low, high, u, number = (_part(value, name) for name in ("low", "high", "u", "value"))
    if low is not None and high is not None:
        return float(low), float(high)
    if u is None or number is None:
        return None
    half = 1.959963984540054 * float(u)  # 95 % of a normal distribution
    return float(number) - half, float(number) + half


def _spread(number: float, interval: tuple[float, float] | None, places: int | None) -> str:
    if interval is None:
        return ""
    low, high = interval
    if not (math.isfinite(low) and math.isfinite(high)):
        return f"({svg.digits(low, places)} … {svg.digits(high, places)})"
    half = (high - low) / 2
    if abs((low + high) / 2 - number) <= 0.15 * half:
        return f"± {svg.digits(half, places)}"
    return f"({svg.digits(low, places)} … {svg.digits(high, places)})"
