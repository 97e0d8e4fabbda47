"""How much air pumps draw in and how far columns go, from how much gas the air is known to make where."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from brinehouse.engines.balance import around, plants, question
from brinehouse.facility import model

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


def _size(rows: Sequence[tuple[float, float, float]]) -> float:
    """How much air makes the rises, by weighted least squares over (rise of one mL/L, rise, u)."""
    weight = sum((pull / u) ** 2 for pull, _, u in rows)
    return sum(pull * rise / u**2 for pull, rise, u in rows) / weight if weight > 0.0 else 0.0


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
        size = _size(rows)
        if size > 0.0 and math.isfinite(size):
            leaks[pump] = size
        misfit += sum(((pull * size - rise) / u) ** 2 for pull, rise, u in rows)
        off += sum((pull * size - rise) ** 2 for pull, rise, _ in rows)
        size_of += sum(rise**2 for _, rise, _ in rows)
    return _Fit(leaks=leaks, misfit=misfit, scatter=math.sqrt(off / size_of) if size_of else 0.0)


LEAST = 3.0  # mmHg: a smaller rise over the balance is no air (common practice, no source)


def spread(plant: question.Plant, read: Mapping[str, tuple[float, float]]) -> Drawn:
    """Air that keeps the gas as it was read, drawn in alike by every pump that runs in a system.

    Quicker than finding the pump, and enough where only the amount matters: what is read stays as it is
    while nothing changes.

    Parameters
    ----------
    plant : Plant
        As it stands, without leaks.
    read : mapping
        Place to gas pressure over that of the air as read, and its standard uncertainty. [mmHg]
    """
    kinds = {machine.kind for machine in plant.facility.equipment.values()}
    many = bool(kinds & set(around.COLUMNS)) and len(read) > 1
    made = plants.make(plant)
    tries = [(share, _even(plant, made, read, share)) for share in (SHARES[::2] if many else (None,))]
    share, best = min(tries, key=lambda one: one[1].misfit)
    if not best.leaks:
        return Drawn()
    return Drawn(leaks=best.leaks, doubt=min(max(best.scatter, 0.1), MOST), column=share)


def _even(
    plant: question.Plant, made: plants.Made, read: Mapping[str, tuple[float, float]], share: float | None
) -> _Fit:
    """As much air at all pumps of each system as keeps the gas as read, with columns that go so far."""
    conditions = plant.conditions if share is None else plant.conditions.turned("column", share)
    still = plants.numbers(dataclasses.replace(plant, conditions=conditions), made)
    systems = {place: plant.facility.system_of(place) for place in read}
    leaks: dict[str, float] = {}
    misfit, off, whole = 0.0, 0.0, 0.0
    for system, pumps in _pumps(plant.facility).items():
        gaps = {
            place: (value - still[place, "delta_p"], u)
            for place, (value, u) in read.items()
            if (place, "delta_p") in still and (one := systems[place]) is not None and one.id == system
        }
        if not gaps:
            continue
        size, pulls = 0.0, dict.fromkeys(gaps, 0.0)
        if pumps and max(gap for gap, _ in gaps.values()) >= LEAST:
            air = dataclasses.replace(conditions, leaks=dict.fromkeys(pumps, 1.0))
            moved = plants.numbers(dataclasses.replace(plant, conditions=air), made)
            pulls = {place: moved[place, "delta_p"] - still[place, "delta_p"] for place in gaps}
            size = _size([(pulls[place], gap, u) for place, (gap, u) in gaps.items()])
            size = size if size > 0.0 and math.isfinite(size) else 0.0
        if size:
            leaks |= dict.fromkeys(pumps, size)
        misfit += sum(((pulls[place] * size - gap) / u) ** 2 for place, (gap, u) in gaps.items())
        off += sum((pulls[place] * size - gap) ** 2 for place, (gap, _) in gaps.items())
        whole += sum(gap**2 for gap, _ in gaps.values())
    return _Fit(leaks=leaks, misfit=misfit, scatter=math.sqrt(off / whole) if whole else 0.0)


def _pumps(facility: model.Facility) -> dict[str, list[str]]:
    """System to its pumps that usually run and whose water can draw air."""
    out: dict[str, list[str]] = {}
    for run in facility.runs.values():
        for part in run.through:
            duty = facility.duties.get(part)
            mine = duty.pumps[: duty.keep] if duty else (part,) if part in facility.pumps else ()
            system = facility.system_of(run.target if run.target in facility.vessels else run.source)
            if system is not None:
                known = out.setdefault(system.id, [])
                known += [pump for pump in mine if pump not in known]
    return out
