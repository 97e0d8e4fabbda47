"""Heads along a closed pipe of which only the ends are known: losses shared out, with bounds."""

from __future__ import annotations

import math
from collections.abc import Sequence

from brinehouse.network.plumbing import parts

SPREAD = 0.9  # of the whole drop: how loosely it is shared out where losses are not told


def between(start: parts.Head, end: parts.Head, losses: Sequence[parts.Head]) -> list[parts.Head]:
    """Head after each loss but the last, which ends at `end`.

    The drop is shared as the losses stand to one another. A head between is never more sure than the ends
    and stays between them.

    >>> [round(one.value, 2) for one in between(parts.Head.of(10), parts.Head.of(4), [parts.Head.of(1)] * 3)]
    [8.0, 6.0]
    """
    whole = sum(loss.value for loss in losses) or 1.0
    drop = start.value - end.value
    vague = _vague(losses)
    found: list[parts.Head] = []
    gone = 0.0
    for loss in losses[:-1]:
        gone += loss.value
        share = min(gone / whole, 1.0)
        value = start.value - drop * share
        half = abs(drop) * SPREAD * vague * math.sqrt(share * (1 - share))
        low = start.low + (end.low - start.low) * share - half
        high = start.high + (end.high - start.high) * share + half
        low, high = max(low, min(start.low, end.low)), min(high, max(start.high, end.high))
        found.append(parts.Head(value, min(low, value), max(high, value)))
    return found


def _vague(losses: Sequence[parts.Head]) -> float:
    """How little the losses are known: 1 where nothing is told of them."""
    whole = sum(loss.value for loss in losses) or 1.0
    return min(sum(loss.high - loss.low for loss in losses) / (3.0 * whole), 1.0)


def back(end: parts.Head, losses: Sequence[parts.Head]) -> parts.Head:
    """Head before losses that are added to the head behind them."""
    value = end.value + sum(loss.value for loss in losses)
    low = end.low + sum(loss.low for loss in losses)
    high = end.high + math.sqrt(sum((loss.high - loss.value) ** 2 for loss in losses))
    return parts.Head(value, min(low, value), max(high + sum(loss.value for loss in losses), value))
