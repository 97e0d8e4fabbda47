"""Oxygen meters held against gas meters in the same water: which stood at salinity 0, and until when."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from brinehouse import answers, records
from brinehouse.engines.gas_budget import explaining, persistence, shelves, visits

Array = NDArray[np.float64]
HOURS = 12.0
"""How far apart two meters' oxygen may be read and still speak of the same water."""
FEWEST = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """One oxygen meter held against others.

    Attributes
    ----------
    instrument : str
    step : Step
    times : tuple of datetime
        Of the readings that have a partner.
    wrong : tuple of Reading
        Every reading of the meter taken while it stood wrong.
    spans : tuple
        (earliest, latest) moment of the change; None where it did not change.
    """

    instrument: str
    step: persistence.Step
    times: tuple[datetime, ...]
    wrong: tuple[records.Reading, ...]
    changed: tuple[datetime, datetime] | None


def hold(
    readings: Sequence[records.Reading],
    found: Sequence[visits.Visit],
    around: visits.Surroundings,
    trusted: Mapping[str, float],
) -> list[Held]:
    """Every oxygen meter that is no gas meter, against the gas meters' oxygen.

    Parameters
    ----------
    trusted : mapping
        Gas meter to the factor that puts its mg/L right; meters that cannot be trusted are not in it.
    """
    gas = {visit.instrument for visit in found}
    by_meter: dict[str, list[records.Reading]] = {}
    for one in readings:
        if one.quantity == shelves.OXYGEN and one.instrument and one.instrument not in gas:
            by_meter.setdefault(one.instrument, []).append(one)
    return [
        held
        for name, rows in by_meter.items()
        if (held := _hold_one(name, rows, found, around, trusted)) is not None
    ]


def _hold_one(
    name: str,
    rows: Sequence[records.Reading],
    found: Sequence[visits.Visit],
    around: visits.Surroundings,
    trusted: Mapping[str, float],
) -> Held | None:
    partners = _partners(found, trusted)
    times: list[datetime] = []
    logs: list[float] = []
    expected: list[float] = []
    instrument = around.facility.instruments.get(name)
    setting = instrument.salinity_setting if instrument else None
    for one in rows:
        pair = _nearest(partners.get(one.place, ()), one.measured)
        if pair is None or not one.value or one.value <= 0.0:
            continue
        visit, true_oxygen = pair
        if visit.ready is None:
            continue
        place = visit.ready.place
        warm, salt = place.temperature.value, place.salinity.value
        shown = around.worth.of(one).value
        told = explaining.corrected_oxygen_factor(warm, salt, salt if setting is None else setting)
        times.append(one.measured)
        logs.append(math.log(shown * told / true_oxygen))
        expected.append(-math.log(explaining.corrected_oxygen_factor(warm, salt, 0.0)))
    if len(logs) < FEWEST or float(np.median(expected)) < 0.05:
        return None
    step = persistence.step(np.array(logs), np.array(expected))
    return _held(name, rows, times, step)


def _held(
    name: str, rows: Sequence[records.Reading], times: Sequence[datetime], step: persistence.Step
) -> Held:
    changed = None
    wrong: tuple[records.Reading, ...] = ()
    if step.before and step.after:
        wrong = tuple(rows)
    elif step.before or step.after:
        changed = (times[step.earliest - 1], times[step.latest])
        turn = times[step.at - 1] + (times[step.at] - times[step.at - 1]) / 2
        wrong = tuple(one for one in rows if (one.measured < turn) == step.before)
    return Held(instrument=name, step=step, times=tuple(times), wrong=wrong, changed=changed)


def _partners(
    found: Sequence[visits.Visit], trusted: Mapping[str, float]
) -> dict[str, list[tuple[visits.Visit, float]]]:
    """Place to the visits whose own oxygen can be believed, with that oxygen in mg/L."""
    out: dict[str, list[tuple[visits.Visit, float]]] = {}
    for visit in found:
        if visit.ready is None or visit.instrument not in trusted or shelves.OXYGEN not in visit.readings:
            continue
        value = visit.ready.oxygen.value * trusted[visit.instrument]
        if value > 0.0:
            out.setdefault(visit.place, []).append((visit, value))
    return out


def _nearest(
    pairs: Sequence[tuple[visits.Visit, float]], when: datetime
) -> tuple[visits.Visit, float] | None:
    best = min(pairs, key=lambda pair: abs(pair[0].when - when), default=None)
    if best is None or abs((best[0].when - when).total_seconds()) > HOURS * 3600.0:
        return None
    return best


def corrected(held: Held, around: visits.Surroundings, most: int = 100) -> answers.Table:
    """The newest readings that the meter took while it stood wrong, each with what the water really held.

    The record itself stays as it is.
    """
    rows: list[dict[str, object]] = []
    for one in list(reversed(held.wrong))[:most]:
        warm, salt = (
            around.temperature_at(one.place, one.measured),
            around.salinity_at(one.place, one.measured),
        )
        if warm is None or salt is None:
            continue
        factor = explaining.corrected_oxygen_factor(warm.value, salt.value, 0.0)
        shown = around.worth.of(one)
        rows.append(
            {
                "reading": one.id,
                "measured": one.measured.isoformat(),
                "place": one.place,
                "shown": answers.Value(value=shown.value, unit="mg/L", u=shown.u),
                "corrected": answers.Value(value=shown.value * factor, unit="mg/L", u=shown.u * factor),
            }
        )
    count = len(held.wrong)
    shown_count = "" if count <= most else f", the newest {most}"
    return answers.Table(
        name=f"corrected {held.instrument}",
        title=f"{count} readings of {held.instrument} taken at salinity 0{shown_count}",
        columns=(
            answers.Output(name="measured", label="When", unit=""),
            answers.Output(name="place", label="Where", unit=""),
            answers.Output(name="shown", label="As shown", unit="mg/L"),
            answers.Output(name="corrected", label="What the water held", unit="mg/L"),
        ),
        rows=tuple(rows),
    )
