"""What every course of a batch shares, laid out for stepping: columns, sites, and the order of elimination.

The state of a place is a row of `COLUMNS` numbers, its volume first, then the species so that each needs only
those before it: what a step solves for goes through the columns in groups from left to right.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.transients import tables

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Columns of a place's row.
VOLUME, WARM, SALT, TAN, NITROGEN, ARGON, TRACER, NITRITE, OXYGEN, NITRATE, ALKALINITY, CARBON = range(12)
COLUMNS = 12
# Column of each species, in the order of `compartments.plant.SPECIES`.
OF_SPECIES = (WARM, SALT, OXYGEN, NITROGEN, ARGON, CARBON, ALKALINITY, TAN, NITRITE, NITRATE, TRACER)


# Of a way: its ends, its law, its machines, its entries.
OF, TO, LAW, BEGIN, END, AHEAD, BEHIND = range(7)
KIND = 0  # of a machine
OF_ACIDS = ("ph", "co2", "ammonia", "tgp", "delta_p")  # quantities for which acids must be known


class Frame(NamedTuple):
    """A structure as arrays.

    Entries of the matrices stand in one list, fill included: of
    a way's target's row and source's column `AHEAD`, the other way round `BEHIND` (for ways that look at
    their target). The elimination goes through the places in ``order``.
    """

    ways: Ints  # (ways, 7)
    contacts: Ints  # ways between places with a contact
    filters: Ints  # ways between places with a biofilter
    ops: Ints  # (ops, 1)
    outside: Floats  # (ways, COLUMNS)
    day: Floats
    diagonal: Ints
    order: Ints  # (places + 1, 4): place, and where its entries of the next three begin
    lower: Ints  # (many, 2): entry, row
    upper: Ints  # (many, 2): entry, column
    fill: Ints  # (many, 3): lower entry, upper entry, entry
    limits: Ints  # (limits, 3): place, quantity, whether any at its place needs acids
    bounds: Floats  # (limits, 2): value, and 1 where more is worse, -1 where less is
    entries: int
    sites: int


def _pattern(places: int, source: Ints, target: Ints, law: Ints) -> set[tuple[int, int]]:
    """Rows and columns of every entry that can be other than nothing."""
    cells = {(at, at) for at in range(places)}
    for s, d, kind in zip(source.tolist(), target.tolist(), law.tolist(), strict=True):
        if s >= 0 and d >= 0:
            cells.add((d, s))
            if kind == tables.MAKE_UP:
                cells.add((s, d))
    return cells


def _eliminated(places: int, cells: set[tuple[int, int]]) -> tuple[list[int], set[tuple[int, int]]]:
    """An order that fills little, ends of branches first; and all entries with the fill."""
    rows: list[set[int]] = [set() for _ in range(places)]
    columns: list[set[int]] = [set() for _ in range(places)]
    for row, column in cells:
        if row != column:
            rows[row].add(column)
            columns[column].add(row)
    whole, order, left = set(cells), list[int](), set(range(places))
    while left:
        at = min(left, key=lambda one: (len(rows[one] & left) * len(columns[one] & left), one))
        left.remove(at)
        order.append(at)
        for row in columns[at] & left:
            for column in rows[at] & left:
                if row != column:
                    whole.add((row, column))
                    rows[row].add(column)
                    columns[column].add(row)
    return order, whole


def _program(places: int, order: list[int], whole: dict[tuple[int, int], int]) -> dict[str, Ints]:
    """The elimination as lists."""
    lower: list[tuple[int, int]] = []
    upper: list[tuple[int, int]] = []
    fill: list[tuple[int, int, int]] = []
    steps: list[tuple[int, int, int, int]] = []
    for step, at in enumerate(order):
        steps.append((at, len(lower), len(upper), len(fill)))
        under = [(whole[row, at], row) for row in order[step + 1 :] if (row, at) in whole]
        over = [(whole[at, column], column) for column in order[step + 1 :] if (at, column) in whole]
        lower += under
        upper += over
        fill += [(one, two, whole[row, column]) for one, row in under for two, column in over]
    steps.append((-1, len(lower), len(upper), len(fill)))
    return {
        "lower": np.asarray(lower, dtype=np.int64).reshape(-1, 2),
        "upper": np.asarray(upper, dtype=np.int64).reshape(-1, 2),
        "fill": np.asarray(fill, dtype=np.int64).reshape(-1, 3),
        "order": np.asarray(steps, dtype=np.int64),
        "diagonal": np.asarray([whole[one, one] for one in range(places)], dtype=np.int64),
    }


def lay(structure: tables.Structure) -> Frame:
    """A structure laid out."""
    places, ways = len(structure.places), len(structure.ways)
    source, target, law, kind, begin, end = (
        np.asarray(getattr(structure, name), dtype=np.int64)
        for name in ("source", "target", "law", "kind", "begin", "end")
    )
    order, whole = _eliminated(places, _pattern(places, source, target, law))
    at = {cell: index for index, cell in enumerate(sorted(whole))}
    outside = np.zeros((ways, COLUMNS))
    outside[:, list(OF_SPECIES)] = structure.outside
    contact = kind == tables.CONTACT
    inside = (source >= 0) & (target >= 0)
    having = {
        wanted: [way for way in range(ways) if inside[way] and wanted in kind[begin[way] : end[way]].tolist()]
        for wanted in (tables.CONTACT, tables.BIO)
    }
    place, quantity = structure.limit_place, structure.limit_quantity
    sour = np.isin(place, place[np.isin(quantity, [tables.QUANTITY[name] for name in OF_ACIDS])])
    ends = (source, target, law, begin, end)
    bound = (structure.limit_value, np.where(structure.limit_upper, 1.0, -1.0))
    return Frame(
        ways=np.stack((*ends, _entry(at, target, source), _entry(at, source, target)), axis=1),
        ops=kind[:, None].copy(), outside=outside,
        day=np.ascontiguousarray(structure.day, dtype=np.float64),
        limits=np.stack((place, quantity, sour), axis=1).astype(np.int64),
        contacts=np.asarray(having[tables.CONTACT], dtype=np.int64),
        filters=np.asarray(having[tables.BIO], dtype=np.int64),
        bounds=np.stack(bound, axis=1).astype(np.float64),
        entries=len(at), sites=places + int(contact.sum()), **_program(places, order, at),
    )  # fmt: skip


def _entry(at: dict[tuple[int, int], int], rows: Ints, columns: Ints) -> Ints:
    return np.asarray(
        [at.get((row, column), -1) for row, column in zip(rows.tolist(), columns.tolist(), strict=True)],
        dtype=np.int64,
    )


def rows_of(x: Floats, volume: Floats) -> Floats:
    """States (…, species, places) and volumes as rows (…, places, COLUMNS)."""
    out = np.zeros((*volume.shape, COLUMNS))
    out[..., VOLUME] = volume
    out[..., list(OF_SPECIES)] = np.moveaxis(x, -2, -1)
    return out


def species_of(rows: Floats) -> Floats:
    """The other way: (…, places, COLUMNS) as (…, species, places)."""
    return np.ascontiguousarray(np.moveaxis(rows[..., list(OF_SPECIES)], -1, -2))
