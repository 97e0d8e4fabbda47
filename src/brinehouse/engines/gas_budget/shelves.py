"""A logbook's readings on shelves: by place and quantity, in order of time, with what each is worth."""

from __future__ import annotations

import bisect
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from brinehouse import records, units
from brinehouse.engines.gas_budget import kernel, understanding
from brinehouse.facility import model
from brinehouse.science import constants

Corrections = Mapping[str, Mapping[str, tuple[float, float]]]
"""Instrument, quantity's word: (what to add to a reading, the standard uncertainty left), in its unit."""

TOTAL, DELTA, OXYGEN = "total gas pressure", "delta p", "oxygen"
SATURATION, NITROGEN, BAROMETER = "oxygen saturation", "nitrogen residual", "barometer"
TEMPERATURE, SALINITY, CARBON = "temperature", "salinity", "carbon dioxide pressure"
USED = frozenset({TOTAL, DELTA, OXYGEN, SATURATION, NITROGEN, BAROMETER, TEMPERATURE, SALINITY, CARBON})
_TARGETS: Mapping[str, tuple[str, str]] = {
    DELTA: ("pressure", "Pa"),
    SATURATION: ("percent", "%"),
    NITROGEN: ("percent", "%"),
    BAROMETER: ("pressure", "Pa"),
    TEMPERATURE: ("temperature", "°C"),
    SALINITY: ("salinity", "PSU"),
    CARBON: ("pressure", "Pa"),
}
_DEFAULT = {
    TOTAL: "tgp",
    OXYGEN: "oxygen",
    TEMPERATURE: "temperature",
    SALINITY: "salinity",
    BAROMETER: "barometer",
}
_DIGITS = re.compile(r"\d+(?:[.,](\d+))?")


@dataclass(slots=True)
class Shelf:
    """Readings of one quantity at one place, in order of time."""

    times: list[float] = field(default_factory=list[float])
    readings: list[records.Reading] = field(default_factory=list[records.Reading])

    def near(self, when: datetime, hours: float) -> records.Reading | None:
        """The nearest in time within so many hours."""
        moment = when.timestamp()
        place = bisect.bisect_left(self.times, moment)
        best = min(
            (k for k in (place - 1, place) if 0 <= k < len(self.times)),
            key=lambda k: abs(self.times[k] - moment),
            default=None,
        )
        if best is None or abs(self.times[best] - moment) > hours * 3600.0:
            return None
        return self.readings[best]

    def within(self, when: datetime, hours: float) -> Iterator[records.Reading]:
        """All within so many hours either way."""
        moment = when.timestamp()
        start = bisect.bisect_left(self.times, moment - hours * 3600.0)
        for k in range(start, len(self.times)):
            if self.times[k] > moment + hours * 3600.0:
                return
            yield self.readings[k]


def usable(readings: Iterable[records.Reading], as_of: datetime) -> list[records.Reading]:
    """Readings that carry a plain number of a quantity that a budget uses, up to a time, in order."""
    found = [
        one
        for one in readings
        if one.quantity in USED
        and one.value is not None
        and not one.bound
        and one.quality not in ("fault", "doubtful")
        and one.measured <= as_of
    ]
    found.sort(key=lambda one: one.measured)
    return found


def shelve(readings: Sequence[records.Reading]) -> dict[tuple[str, str], Shelf]:
    """By (place, quantity); the readings are in order already."""
    shelves: dict[tuple[str, str], Shelf] = {}
    for one in readings:
        shelf = shelves.setdefault((one.place, one.quantity), Shelf())
        shelf.times.append(one.measured.timestamp())
        shelf.readings.append(one)
    return shelves


class Worth:
    """What a reading is worth: its value in the kernel's unit, its uncertainty, its rounding."""

    def __init__(self, facility: model.Facility, corrections: Corrections | None) -> None:
        self.facility = facility
        self.corrections = corrections or {}

    def of(self, one: records.Reading, density: float = 1023.0) -> understanding.Quantity:
        """A reading as the kernel takes it; a known bias of its instrument is taken off."""
        value, unit, shown = float(one.value or 0.0), one.unit, float(one.value or 0.0)
        step = _step(one)
        bias = self.corrections.get(one.instrument, {}).get(one.quantity)
        if bias is not None:
            value += bias[0]
        slope, offset = _to_kernel(one.quantity, unit, density)
        rounding = abs(slope) * step / math.sqrt(12.0)
        stated = abs(slope) * bias[1] if bias is not None else self._stated(one, value, slope)
        return understanding.Quantity(
            value=value * slope + offset,
            u=math.hypot(stated, rounding),
            rounding=rounding,
            text=one.text or f"{value:g} {unit}",
            source=f"{one.instrument or 'hand'}, {one.measured:%Y-%m-%d %H:%M} UTC",
            shown=shown * slope + offset if bias is not None else None,
        )

    def _stated(self, one: records.Reading, value: float, slope: float) -> float:
        """Standard uncertainty from the instrument's stated accuracy, else the usual one."""
        instrument = self.facility.instruments.get(one.instrument)
        accuracy = instrument.accuracy.get(one.quantity) if instrument else None
        if accuracy is not None:
            kinds = {found.kind for found in units.meanings(one.unit)}
            if accuracy.unit == "%" and "percent" not in kinds:
                return abs(value * slope) * accuracy.value / 100.0 * understanding.UNIFORM
            try:
                kind = "temperature difference" if one.quantity == TEMPERATURE else None
                own = units.convert(accuracy.value, accuracy.unit, one.unit, kind)
                return abs(slope) * float(own) * understanding.UNIFORM
            except units.NotUnderstood:
                pass
        name = _DEFAULT.get(one.quantity)
        if one.quantity == TOTAL and one.unit != "%":
            return understanding.DEFAULTS["tgp"][0] * 0.01 * constants.ATM
        if one.quantity == DELTA:
            return understanding.DEFAULTS["tgp"][0] * 0.01 * constants.ATM
        return understanding.DEFAULTS[name][0] if name else 0.0


def _to_kernel(quantity: str, unit: str, density: float) -> tuple[float, float]:
    """Slope and offset from a unit to the kernel's."""
    if quantity == TOTAL:
        if unit == "%":
            return 1.0, 0.0
        return float(units.convert(1.0, unit, "Pa", "pressure")), 0.0
    if quantity == OXYGEN:
        kinds = {found.kind for found in units.meanings(unit)}
        if "mass concentration" in kinds:
            return float(units.convert(1.0, unit, "mg/L", "mass concentration")), 0.0
        if "amount concentration" in kinds:
            return float(
                units.convert(1.0, unit, "µmol/L", "amount concentration")
            ) * kernel.PER_MICROMOLE, 0.0
        litre = density * 1e-3 * kernel.PER_MICROMOLE
        return float(units.convert(1.0, unit, "µmol/kg", "amount content")) * litre, 0.0
    kind, target = _TARGETS[quantity]
    offset = float(units.convert(0.0, unit, target, kind))
    return float(units.convert(1.0, unit, target, kind)) - offset, offset


def _step(one: records.Reading) -> float:
    """The step of the last digit written; of the number as kept where the text has none."""
    match = _DIGITS.search(one.text or "")
    if match is None:
        match = _DIGITS.search(f"{one.value:.10g}")
    return 10.0 ** -len(match[1] or "") if match else 0.0
