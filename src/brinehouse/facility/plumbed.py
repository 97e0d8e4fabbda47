"""Losses, fittings and overflows as the facility file writes them."""

from __future__ import annotations

import math
import re

from brinehouse import units
from brinehouse.facility import alike, amounts, hidden, model

FITTINGS = (
    "elbow",
    "bend",
    "half bend",
    "tee",
    "tee through",
    "entry",
    "exit",
    "ball valve",
    "butterfly valve",
    "gate valve",
    "globe valve",
    "diaphragm valve",
    "check valve",
    "foot valve",
    "union",
    "reducer",
    "flow meter",
)
"""Fittings by the word of one; `network` knows what each costs."""
_PLURAL = {"entries": "entry", "tees through": "tee through"}
_COUNTED = re.compile(r"\s*(?:(?P<number>\d{1,3})\s*(?:x|×)?\s+)?(?P<name>\D.*?)\s*", re.DOTALL)
_OVERFLOW = re.compile(r"\s*(?P<kind>weir|notch|standpipe)\s+(?P<size>\S.*?)\s*", re.IGNORECASE | re.DOTALL)
_ANGLE = re.compile(r"(?P<degrees>\d+(?:\.\d+)?)\s*(?:°|deg|degrees)")
OVERFLOW_HINT = "write 'weir 0.6 m', 'notch 90°' or 'standpipe 110 mm'"


def fitting(text: str) -> tuple[int, str] | amounts.Fault:
    """How many of which fitting.

    >>> fitting("4 elbows"), fitting("ball valve")
    ((4, 'elbow'), (1, 'ball valve'))
    >>> fitting("3 elbos").hint
    "did you mean 'elbow'?"
    """
    hit = _COUNTED.fullmatch(text)
    name = " ".join(hit["name"].lower().split()) if hit else ""
    for word in (name, _PLURAL.get(name, ""), name.removesuffix("s")):
        if hit and word in FITTINGS:
            count = int(hit["number"] or 1)
            if count:
                return count, word
    near = alike.meant(name.removesuffix("s"), FITTINGS)
    hint = alike.offer(near) or "the fittings are: " + ", ".join(FITTINGS) + "; anything else is a 'loss'"
    return amounts.Fault(
        "facility/fitting", f"has '{hidden.visible(text)}', which is no fitting we know", hint
    )


def overflow(text: str) -> model.Overflow | amounts.Fault:
    """What a place overflows through, and its size in m or degrees.

    >>> overflow("standpipe 110 mm")
    Overflow(kind='standpipe', size=0.11)
    >>> overflow("notch 90°").size
    90.0
    """
    hit = _OVERFLOW.fullmatch(text)
    if hit is None:
        return amounts.Fault("facility/overflow", f"is '{hidden.visible(text)}'", OVERFLOW_HINT)
    kind = hit["kind"].lower()
    if kind == "notch":
        angle = _ANGLE.fullmatch(hit["size"])
        size: float | amounts.Fault = float(angle["degrees"]) if angle else 0.0
        most = 150.0
    else:
        size = amounts.read(hit["size"], "length")
        most = 100.0
    if isinstance(size, amounts.Fault):
        return size
    if not 0 < size <= most:
        why = f"is '{hidden.visible(text)}': no {kind} has that size"
        return amounts.Fault("facility/overflow", why, OVERFLOW_HINT)
    return model.Overflow(kind=kind, size=size)


def point(flow: str, head: str) -> tuple[float, float] | amounts.Fault:
    """A flow in m³/s and the head lost at it in m."""
    pair: list[float] = []
    for text, kind in ((flow, "flow"), (head, "length")):
        got = amounts.read(text, kind)
        if isinstance(got, amounts.Fault):
            return got
        pair.append(got)
    if pair[0] <= 0 or pair[1] < 0 or not math.isfinite(pair[1]):
        shown = units.format_amount(pair[1], "m", 2)
        why = f"says {shown} at {pair[0] * 3600:.4g} m³/h"
        return amounts.Fault("facility/impossible", why, "write a flow above nought and the head lost at it")
    return pair[0], pair[1]
