"""How much water stands over a crest."""

from __future__ import annotations

import math
from collections.abc import Mapping

from brinehouse.facility import model
from brinehouse.network.plumbing import parts

UNSAID = parts.Head(0.04, 0.01, 0.12)  # m over a crest of which nothing is told: common practice, no source
_G = 9.80665


def over_crest(facility: model.Facility, vessel: model.Vessel, flows: Mapping[str, float]) -> parts.Head:
    """Head over the crest of a place from what runs over it. [m]."""
    flow = spilled(facility, vessel, flows)
    if flow == 0.0:
        return parts.Head.of(0.0)
    if vessel.overflow is None or flow is None:
        return UNSAID
    head = head_over(vessel.overflow, flow)
    return parts.Head(head, 0.8 * head, 1.25 * head)


def spilled(facility: model.Facility, vessel: model.Vessel, flows: Mapping[str, float]) -> float | None:
    """What runs over the crest of a place, None where a flow is not known. [m³/s]."""
    from brinehouse.network.plumbing import levels

    total = 0.0
    for run in facility.runs.values():
        if run.source == vessel.id and levels.overflows(facility, run):
            if run.id not in flows:
                return None
            total += max(flows[run.id], 0.0)
    return total


def head_over(overflow: model.Overflow, flow: float) -> float:
    """Head over a crest at a flow. [m].

    >>> from brinehouse.facility import model
    >>> head_over(model.Overflow(kind="weir", size=0.6), 42 / 3600)
    0.0482
    """
    if flow <= 0:
        return 0.0
    if overflow.kind == "weir":
        return (flow / (1.84 * overflow.size)) ** (2 / 3)
    if overflow.kind == "notch":
        tangent = math.tan(math.radians(overflow.size) / 2)
        return (flow / (8 / 15 * 0.58 * math.sqrt(2 * _G) * tangent)) ** 0.4
    weir = (flow / (1.84 * math.pi * overflow.size)) ** (2 / 3)
    hole = (flow / (0.6 * math.pi / 4 * overflow.size**2)) ** 2 / (2 * _G)
    return max(weir, hole)
