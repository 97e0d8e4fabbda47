"""Pump curves as they are read: head at a flow, end of the curve."""

from __future__ import annotations

from brinehouse.facility import model
from brinehouse.network.plumbing import parts
from brinehouse.science import hydraulics

PRINTED = 0.05  # of the head: how far a pump may be off its printed curve. Common practice, no source


def usable(pump: model.Pump) -> hydraulics.PumpCurve | None:
    """The curve of a pump, None where it has none or its points do not fall."""
    if len(pump.curve) < 2:
        return None
    try:
        return hydraulics.pump_curve(pump.curve)
    except ValueError:
        return None


def end(pump: model.Pump) -> float | None:
    """Flow at the end of its curve at its speed. [m³/s]."""
    return pump.curve[-1][0] * (pump.speed or 1.0) if pump.curve else None


def middle(pump: model.Pump) -> float | None:
    """A usual flow: that of best efficiency, the rated one, or half way along its curve. [m³/s]."""
    if pump.best is not None or pump.flow is not None:
        return pump.best or pump.flow
    last = end(pump)
    return last / 2 if last else None


def head(pump: model.Pump, flow: float) -> float | None:
    """Head at a flow and its speed; None without a curve. [m]."""
    curve = usable(pump)
    return None if curve is None else float(hydraulics.pump_head(curve, flow, pump.speed or 1.0))


def lift(pump: model.Pump, flow: float | None) -> parts.Head | None:
    """Head at a flow that is known to one part in ten (95 %), with bounds."""
    if flow is None:
        return None
    value, less, more, top = (head(pump, q) for q in (flow, flow * 1.1, flow * 0.9, 0.0))
    if value is None or less is None or more is None or top is None:
        return None
    return parts.Head(value, min(less, value) - PRINTED * top, max(more, value) + PRINTED * top)
