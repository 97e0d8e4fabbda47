"""One thing that can go wrong, before its steps are written out, and the words that name its neighbours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from brinehouse.engines.time_in_hand import neighbours
from brinehouse.facility import hidden, model
from brinehouse.network.transients import effects

KINDS = (
    "pump", "change-over", "standby", "cooling", "heating", "air", "power", "top-up", "leak", "valve",
    "screen", "uv", "feeding", "room", "make-up", "suction", "machine", "own",
)  # fmt: skip
"""Kinds of failure, in the words of the table; permanent."""

SALT = 20.0  # practical salinity from which stored water serves a tank


@dataclass(frozen=True, slots=True, kw_only=True)
class Mishap:
    """A failure whose steps are not written out yet: ``card`` names them, ``words`` go into them."""

    id: str
    title: str
    kind: str
    effects: tuple[effects.Effect, ...]
    card: str
    words: Mapping[str, str] = field(default_factory=dict[str, str])
    noticed: str = ""
    steps: tuple[str, ...] = ()


def words(facility: model.Facility, part: str = "", tanks: Sequence[str] = ()) -> dict[str, str]:
    """What every card may name: the part, its board, the tanks in their order, what is at hand for them."""
    machine = facility.pumps.get(part) or facility.equipment.get(part) or facility.duties.get(part)
    board = machine.board if machine is not None else ""
    found = {
        "part": neighbours.label(facility, part) if part else "",
        "it": neighbours.plate(facility, part) if part else "",
        "board": neighbours.label(facility, board) if board in facility.boards else "",
        "tanks": neighbours.row(facility, tanks),
        "first": neighbours.label(facility, tanks[0]) if tanks else "",
        "next": neighbours.label(facility, tanks[1]) if len(tanks) > 1 else "",
        "battery": neighbours.remedy(facility, "battery air", *tanks[:1]),
        "store": store(facility, tanks),
    }
    return {name: value for name, value in found.items() if value}


def store(facility: model.Facility, tanks: Sequence[str]) -> str:
    """Where salt water stands for these tanks: what the file names for it, else the largest such store."""
    for one in facility.remedies.values():
        if one.kind == "make-up" and one.store in facility.vessels and {*one.at} & {*tanks}:
            return neighbours.label(facility, one.store)
    held = [
        vessel for vessel in facility.places
        if vessel.kind == "vessel" and vessel.stands_alone and (vessel.salinity or 0.0) >= SALT
    ]  # fmt: skip
    largest = max(held, key=lambda vessel: vessel.working or vessel.volume or 0.0, default=None)
    return neighbours.label(facility, largest.id) if largest is not None else ""


def minutes(seconds: float) -> str:
    """A time as one says it.

    >>> minutes(25.0), minutes(1200.0)
    ('25 s', '20 min')
    """
    return f"{seconds:.0f} s" if seconds < 120.0 else f"{seconds / 60.0:.0f} min"


def named(prefix: str, part: str, end: str) -> str:
    """An id of a failure; the prefix is left out where the part's own id begins with it.

    >>> named("pump", "P-201", "stops"), named("chiller", "chiller-m", "stuck-off")
    ('pump-P-201-stops', 'chiller-m-stuck-off')
    """
    shown = hidden.visible(part)
    begins = shown.casefold().startswith(prefix.casefold())
    return "-".join(piece for piece in ("" if begins else prefix, shown, end) if piece)
