"""Pump curves as they are read: head at a flow, end of the curve."""

from __future__ import annotations

import itertools

from brinehouse.facility import model
from brinehouse.network.plumbing import parts

PRINTED = 0.05  # of the head: how far a pump may be off its printed curve. Common practice, no source


def points(pump: model.Pump) -> tuple[tuple[float, float], ...]:
    """Flow [m³/s] and head [m] at its speed (affinity: flow goes with speed, head with its square)."""
    speed = pump.speed or 1.0
    return tuple((flow * speed, head * speed**2) for flow, head in pump.curve)


def end(pump: model.Pump) -> float | None:
    """Flow at the end of its curve. [m³/s]."""
    return points(pump)[-1][0] if pump.curve else None


def head(pump: model.Pump, flow: float) -> float | None:
    """Head at a flow, straight between points and on beyond the last; None without a curve. [m]."""
    rows = points(pump)
    if len(rows) < 2:
        return None
    for (q0, h0), (q1, h1) in itertools.pairwise(rows):
        if flow <= q1 or (q1, h1) == rows[-1]:
            return h0 + (h1 - h0) * (flow - q0) / (q1 - q0)
    return None


def lift(pump: model.Pump, flow: float | None) -> parts.Head | None:
    """Head at a flow that is known to one part in twenty, with bounds."""
    if flow is None:
        return None
    middle, less, more = (head(pump, flow * share) for share in (1.0, 1.1, 0.9))
    if middle is None or less is None or more is None:
        return None
    top = points(pump)[0][1]
    off = PRINTED * top
    return parts.Head(middle, min(less, middle) - off, max(more, middle) + off)
