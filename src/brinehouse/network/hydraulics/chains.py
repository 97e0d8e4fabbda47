"""Links in a row carry one flow: joined to chains, a plant of sixty links is a net of a dozen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.hydraulics import links

Array = NDArray[np.float64]
Whole = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Net:
    """A plant as arrays.

    Attributes
    ----------
    order : ndarray
        Links, those of a chain side by side and in the order in which its water meets them. (L,)
    sign : ndarray
        +1 where a link points along its chain, -1 where against it. (L,)
    first : ndarray
        Where each chain begins in `order`. (C,)
    chain : ndarray
        Chain of each ordered link. (L,)
    source, target : ndarray
        Ends of each chain: knots, junctions first and fixed heads after them. (C,)
    knots : tuple of str
        Ids of the knots; the first `free` have no fixed head.
    """

    order: Whole
    sign: Array
    first: Whole
    chain: Whole
    source: Whole
    target: Whole
    knots: tuple[str, ...]
    free: int
    between: tuple[tuple[str, ...], ...]  # nodes inside each chain, in its order


def net(nodes: Sequence[links.Node], joined: Sequence[links.Link]) -> Net:
    """Chains of links between knots: nodes with a fixed head, a demand, or other than two links."""
    known = {node.id: node for node in nodes}
    meeting: dict[str, list[int]] = {node.id: [] for node in nodes}
    for at, link in enumerate(joined):
        meeting[link.source].append(at)
        meeting[link.target].append(at)
    knot = {
        id: node.head is not None or node.demand != 0.0 or len(meeting[id]) != 2 for id, node in known.items()
    }
    used: set[int] = set()
    rows: list[tuple[list[int], list[float], str, str, list[str]]] = []
    starts = [*(id for id in known if knot[id]), *(id for id in known if not knot[id])]
    for start in starts:
        for at in meeting[start]:
            if at not in used:
                knot[start] = True  # of a ring without a knot, the first node is made one
                rows.append(_walk(start, at, joined, meeting, knot, used))
    free = [id for id, node in known.items() if knot[id] and node.head is None]
    fixed = [id for id, node in known.items() if knot[id] and node.head is not None]
    number = {id: at for at, id in enumerate([*free, *fixed])}
    lengths = [len(row[0]) for row in rows]
    return Net(
        order=np.array([at for row in rows for at in row[0]], dtype=np.intp),
        sign=np.array([sign for row in rows for sign in row[1]]),
        first=np.cumsum([0, *lengths[:-1]], dtype=np.intp) if rows else np.zeros(0, dtype=np.intp),
        chain=np.repeat(np.arange(len(rows)), lengths).astype(np.intp),
        source=np.array([number[row[2]] for row in rows], dtype=np.intp),
        target=np.array([number[row[3]] for row in rows], dtype=np.intp),
        knots=(*free, *fixed),
        free=len(free),
        between=tuple(tuple(row[4]) for row in rows),
    )


def _walk(
    start: str,
    at: int,
    joined: Sequence[links.Link],
    meeting: dict[str, list[int]],
    knot: dict[str, bool],
    used: set[int],
) -> tuple[list[int], list[float], str, str, list[str]]:
    """From a knot along one link to the next knot."""
    way: list[int] = []
    signs: list[float] = []
    inside: list[str] = []
    here = start
    while True:
        used.add(at)
        link = joined[at]
        along = link.source == here
        way.append(at)
        signs.append(1.0 if along else -1.0)
        here = link.target if along else link.source
        if knot[here]:
            return _pointed(way, signs, start, here, inside, joined)
        inside.append(here)
        at = next(other for other in meeting[here] if other != at)


def _pointed(
    way: list[int],
    signs: list[float],
    start: str,
    end: str,
    inside: list[str],
    joined: Sequence[links.Link],
) -> tuple[list[int], list[float], str, str, list[str]]:
    """The chain turned so that water may only pass forward where something in it holds it back."""
    for at, sign in zip(way, signs, strict=True):
        if (joined[at].check or joined[at].kind == "pump") and sign < 0.0:
            return way[::-1], [-one for one in signs[::-1]], end, start, inside[::-1]
    return way, signs, start, end, inside
