"""How much air pumps draw in and how far columns go, from how much gas the air is known to make where."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from brinehouse.engines.balance import around, plants, question

Told = Mapping[str, Mapping[str, tuple[float, float]]]
"""Pump to place to the rise of gas pressure that its air makes there, and its standard uncertainty.

Both in mmHg.
"""

SHARES = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
MOST = 0.5  # a leak less sure than by half of itself is still told so


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """What the gas readings say of a plant.

    Attributes
    ----------
    leaks : mapping
        Pump to air at 0 °C and one atmosphere in a litre of the water it moves. [mL/L]
    doubt : float
        Standard uncertainty of a leak, as a share of it.
    column : float or None
        How far columns and degassers bring gas towards balance, where places before and behind one tell it.
    """

    leaks: Mapping[str, float] = field(default_factory=dict[str, float])
    doubt: float = 0.0
    column: float | None = None


def drawn(plant: question.Plant, told: Told) -> Drawn:
    """Air drawn in at each pump that makes the rise of gas pressure it is known for.

    A plant is worked out without air and with a little of it; the rise is a straight line in it. How far
    columns go is tried in steps, and the one kept under which the rises of all places agree best.

    Parameters
    ----------
    plant : Plant
        As it stands, without leaks.
    told : mapping
        From the readings: see `Told`.
    """
    mine = {pump: rises for pump, rises in told.items() if pump in plant.facility.pumps and rises}
    if not mine:
        return Drawn()
    kinds = {machine.kind for machine in plant.facility.equipment.values()}
    many = bool(kinds & set(around.COLUMNS)) and any(len(rises) > 1 for rises in mine.values())
    made = plants.make(plant)
    tries = [(share, _fit(plant, made, mine, share)) for share in (SHARES if many else (None,))]
    share, best = min(tries, key=lambda one: one[1].misfit)
    return Drawn(leaks=best.leaks, doubt=min(max(best.scatter, 0.1), MOST), column=share)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fit:
    leaks: Mapping[str, float]
    misfit: float
    scatter: float


def _fit(plant: question.Plant, made: plants.Made, told: Told, share: float | None) -> _Fit:
    """Leaks by weighted least squares, one pump after the other, with columns that go so far."""
    conditions = plant.conditions if share is None else plant.conditions.turned("column", share)
    base = plants.numbers(dataclasses.replace(plant, conditions=conditions), made)
    leaks: dict[str, float] = {}
    misfit, off, size_of = 0.0, 0.0, 0.0
    for pump, rises in told.items():
        leaky = dataclasses.replace(plant, conditions=dataclasses.replace(conditions, leaks={pump: 1.0}))
        with_air = plants.numbers(leaky, made)
        rows = [
            (with_air[place, "delta_p"] - base[place, "delta_p"], rise, u)
            for place, (rise, u) in rises.items()
            if (place, "delta_p") in base
        ]
        weight = sum((pull / u) ** 2 for pull, _, u in rows)
        size = sum(pull * rise / u**2 for pull, rise, u in rows) / weight if weight > 0.0 else 0.0
        if size > 0.0 and math.isfinite(size):
            leaks[pump] = size
        misfit += sum(((pull * size - rise) / u) ** 2 for pull, rise, u in rows)
        off += sum((pull * size - rise) ** 2 for pull, rise, _ in rows)
        size_of += sum(rise**2 for _, rise, _ in rows)
    return _Fit(leaks=leaks, misfit=misfit, scatter=math.sqrt(off / size_of) if size_of else 0.0)
