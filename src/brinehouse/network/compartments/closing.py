"""Flows that close: what evaporates or is added in a tank goes over its overflow; basins change level."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from brinehouse import findings
from brinehouse.network.compartments import transport

MOVED = 0.05  # of a flow: beyond it a person is told; common practice, no source


def bodies(places: Iterable[str], ways: Sequence[transport.Passage]) -> dict[str, set[str]]:
    """Place to all places whose water is joined with its own, itself among them.

    >>> way = transport.Passage(run="r", source="a", target="b", flow=1.0)
    >>> [sorted(body) for body in bodies(("a", "b", "c"), [way]).values()]
    [['a', 'b'], ['a', 'b'], ['c']]
    """
    group = {place: {place} for place in places}
    for way in ways:
        if way.source in group and way.target in group:
            both = group[way.source] | group[way.target]
            for place in both:
                group[place] = both
    return group


def holders(
    kinds: Mapping[str, str], volumes: Mapping[str, float], ways: Sequence[transport.Passage]
) -> set[str]:
    """Places whose level is free: the sumps, else the largest of each body of water that is joined."""
    free = {place for place, kind in kinds.items() if kind == "sump"}
    for members in {id(one): one for one in bodies(kinds, ways).values()}.values():
        if not members & free:
            free.add(max(sorted(members), key=lambda place: volumes[place]))
    return free


def closed(
    ways: Sequence[transport.Passage], places: Sequence[str], free: set[str], net: Mapping[str, float]
) -> tuple[list[transport.Passage], list[findings.Finding]]:
    """Passages with the flows out of every place that is not free set to what comes in.

    Parameters
    ----------
    ways, places, free : passages, places, and those whose level takes what is left over
    net : mapping
        Place to water gained besides passages, evaporation negative. [m³/s]
    """
    at = {place: index for index, place in enumerate(places)}
    size = len(places)
    out = np.zeros(size)
    for way in ways:
        if way.source in at:
            out[at[way.source]] += way.flow
    tied = [place for place in places if place not in free and out[at[place]] > 0.0]
    left = np.eye(size)
    right = out.copy()
    for place in tied:
        right[at[place]] = net.get(place, 0.0)
    for way in ways:
        if way.target not in tied:
            continue
        row = at[way.target]
        if way.source in at:
            left[row, at[way.source]] -= way.flow / out[at[way.source]]
        else:
            right[row] += way.flow
    solved = np.linalg.lstsq(left, right, rcond=None)[0] if tied else out
    told: list[findings.Finding] = []
    factor = np.ones(size)
    for place in tied:
        before, after = out[at[place]], max(float(solved[at[place]]), 0.0)
        factor[at[place]] = after / before
        if abs(after / before - 1.0) > MOVED:
            told.append(
                findings.Finding(
                    code="compartments/flow-moved", level=findings.Level.NOTE,
                    text=f"what flows out of '{place}' is taken as {after * 3600:.3g} m³/h, not "
                    f"{before * 3600:.3g}: that is what comes in",
                    hint="state flows that close, or measure one more",
                    data={"place": place, "before": before, "after": after},
                )
            )  # fmt: skip
    moved = [
        replace(way, flow=way.flow * float(factor[at[way.source]])) if way.source in at else way
        for way in ways
    ]
    return moved, told
