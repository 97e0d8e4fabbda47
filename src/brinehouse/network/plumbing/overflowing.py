"""How much water stands over a crest: weir, notch, and a standpipe with its three regimes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from brinehouse.facility import model
from brinehouse.network.plumbing import parts, way
from brinehouse.science import weirs
from brinehouse.science.constants import GRAVITY

UNSAID = parts.Head(0.04, 0.01, 0.12)  # m over a crest of which nothing is told: common practice, no source
GULP = 0.5  # of the bore: water that deep over a standpipe shuts the air out. From memory
BREATHE = 0.1  # of the bore: a siphon that has drawn the water so low takes air again. From memory
DROP_LOSS = 2.0  # velocity heads in a full down pipe besides the one at its end. Common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Water over a crest: its head [m], and how a standpipe runs.

    ``regime`` is ``weir`` (water runs down the wall), ``hole`` (its mouth is drowned), ``siphon`` (it runs
    full and sucks), ``choked`` (it runs full and does not keep up) or ``dry``.
    """

    head: float
    regime: str
    low: float
    high: float


def over_crest(facility: model.Facility, vessel: model.Vessel, flows: Mapping[str, float]) -> parts.Head:
    """Head over the crest of a place from what runs over it. [m]."""
    flow = spilled(facility, vessel, flows)
    if flow == 0.0:
        return parts.Head.of(0.0)
    if vessel.overflow is None or flow is None:
        return UNSAID
    found = standing(vessel.overflow, flow)
    return parts.Head(found.head, found.low, found.high)


def spilled(facility: model.Facility, vessel: model.Vessel, flows: Mapping[str, float]) -> float | None:
    """What runs over the crest of a place, None where a flow is not known. [m³/s]."""
    total = 0.0
    for run in facility.runs.values():
        if run.source == vessel.id and way.overflows(facility, run):
            if run.id not in flows:
                return None
            total += max(flows[run.id], 0.0)
    return total


def standing(
    overflow: model.Overflow, flow: float, *, drop: float | None = None, siphoning: bool = False
) -> Standing:
    """Water over an overflow at a flow, with 95 % bounds.

    Parameters
    ----------
    overflow : Overflow
    flow : float
        [m³/s]
    drop : float, optional
        From the crest of a standpipe down to where it ends: without it no siphon is told. [m]
    siphoning : bool
        Whether the standpipe runs full already: it goes on until the water is down to a tenth of its bore.

    Examples
    --------
    >>> pipe = model.Overflow(kind="standpipe", size=0.11)
    >>> [standing(pipe, q / 3600, drop=2.0).regime for q in (6, 30, 300)]
    ['weir', 'siphon', 'choked']
    >>> round(standing(model.Overflow(kind="weir", size=0.6), 42 / 3600).head, 4)
    0.0482
    """
    if flow <= 0:
        return Standing(head=0.0, regime="dry", low=0.0, high=0.0)
    if overflow.kind != "standpipe":
        head = _sharp(overflow, flow)
        return Standing(head=head, regime="weir", low=0.8 * head, high=1.25 * head)
    return _standpipe(overflow.size, flow, drop, siphoning)


def _sharp(overflow: model.Overflow, flow: float) -> float:
    if overflow.kind == "weir":
        return float(weirs.free_weir_head(flow, overflow.size))
    return float(weirs.notch_head(flow, overflow.size))


def _standpipe(bore: float, flow: float, drop: float | None, siphoning: bool) -> Standing:
    """Q = min(weir round its edge, drowned mouth); deeper than half a bore it gulps, then runs full."""
    area = math.pi / 4 * bore**2
    mouth = weirs.standpipe_mouth(flow, bore)
    head = float(mouth.head)
    regime = "weir" if mouth.edge >= mouth.hole else "hole"
    if drop is None or drop <= 0 or (head < GULP * bore and not siphoning):
        return Standing(head=head, regime=regime, low=0.8 * head, high=1.25 * head)
    full = float(weirs.siphon_flow(drop, bore, DROP_LOSS))
    if flow >= full:
        over = (flow / area) ** 2 * (1 + DROP_LOSS) / (2 * GRAVITY) - drop
        head = max(over, GULP * bore)
        return Standing(head=head, regime="choked", low=0.7 * head, high=1.4 * head + 0.1 * drop)
    low, high = BREATHE * bore, max(1.25 * head, GULP * bore)
    return Standing(head=(low + min(head, high)) / 2, regime="siphon", low=low, high=high)
