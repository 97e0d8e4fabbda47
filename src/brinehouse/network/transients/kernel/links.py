"""Machines along ways that do the same to the same water are worked once: found anew where a phase begins.

Water stands in rows: places first, then what each way brings from outside, then what each machine leaves. A
machine of a way is *twin* to that of another where both see the same row and have the same numbers; pumps and
columns before a manifold are so for all its branches. A contact whose water is as warm as its place shares
the place's constants, and where nothing has touched its carbon, the place's carbon dioxide.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.transients.kernel import compiling, frames
from brinehouse.network.transients.kernel.frames import BEGIN, END, KIND, OF
from brinehouse.network.transients.tables import CONTACT, HEAT, HOLD, OP_COLUMNS

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TWIN, BEFORE, SITE, FRESH, LATER_SITE, CLEAN = range(6)
LINKS = 6


@compiling.inner
def same(op: Floats, one: int, two: int) -> bool:
    """Whether two machines have the same numbers."""
    alike = True
    for column in range(OP_COLUMNS):
        alike = alike and op[one, column] == op[two, column]
    return alike


@compiling.inner
def twin(frame: frames.Frame, op: Floats, o: int, before: int, links: Ints) -> int:
    """The first machine that does just this, itself if none."""
    for other in range(o):
        beside = links[other, TWIN] == other and links[other, BEFORE] == before
        if beside and frame.ops[other, KIND] == frame.ops[o, KIND] and same(op, other, o):
            return other
    return o


@compiling.inner
def join(frame: frames.Frame, op: Floats, places: int, links: Ints, ends: Ints) -> int:
    """Links of every machine and the row that each way ends with; gives how many sites are needed."""
    used, first = places, places + len(frame.ways)
    for p in range(len(frame.ways)):
        s = frame.ways[p, OF]
        row, site, clean = (s, s, 1) if s >= 0 else (places + p, -1, 0)
        for o in range(frame.ways[p, BEGIN], frame.ways[p, END]):
            links[o, TWIN], links[o, BEFORE] = -1, row
            like, kind = twin(frame, op, o, row, links), frame.ops[o, KIND]
            links[o, TWIN] = like
            row = first + like
            if like != o:
                site, clean = links[like, LATER_SITE], links[like, CLEAN]
                continue
            if kind in (HEAT, HOLD):
                site = -1
            elif kind == CONTACT:
                if site < 0:
                    site = used
                    used += 1
                links[o, SITE], links[o, FRESH] = site, clean if site == s else 0
                if op[o, 3] != 0.0:
                    clean = 0
            links[o, LATER_SITE], links[o, CLEAN] = site, clean
        ends[p] = row
    return used
