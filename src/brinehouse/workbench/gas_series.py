"""Logged series of one place, row by row, as the budget's examination of a series takes them.

A logger that writes oxygen twice, as saturation and as a concentration, tells how its concentration was made;
one with a second thermometer tells how much hangs on which of them is believed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from brinehouse import answers, records, units
from brinehouse.engines import gas_budget
from brinehouse.facility import model
from brinehouse.science import barometer

FEWEST = 30  # rows below which a series is no series
WANTED: Mapping[str, str] = {
    "oxygen saturation": "oxygen_percent",
    "oxygen": "oxygen",
    "total gas pressure": "total_gas_pressure",
    "salinity": "salinity",
    "barometer": "barometer",
}
TARGET: Mapping[str, str] = {"oxygen": "µmol/L", "total gas pressure": "mbar", "barometer": "mbar"}
MBAR = 100.0  # Pa

Floats = NDArray[np.float64]


def examine(facility: model.Facility, readings: Sequence[records.Reading]) -> dict[str, answers.Answer]:
    """The examination of every place whose log holds oxygen both ways and total gas pressure."""
    by_place: dict[str, list[records.Reading]] = {}
    for reading in readings:
        if reading.source != "hand" and reading.value is not None and reading.quality in ("good", "unusual"):
            by_place.setdefault(reading.place, []).append(reading)
    found: dict[str, answers.Answer] = {}
    for place, log in by_place.items():
        columns = _columns(log)
        if columns is not None:
            found[place] = gas_budget.examine_series(columns, assumed=_assumed(facility, place, columns))
    return found


def _columns(log: Sequence[records.Reading]) -> dict[str, Floats] | None:
    """Columns over the moments at which the water's pressure was logged; a gap is NaN."""
    moments = sorted({one.measured for one in log if one.quantity == "total gas pressure"})
    kinds = {one.quantity for one in log}
    if len(moments) < FEWEST or not {"oxygen saturation", "oxygen", "temperature"} <= kinds:
        return None
    row = {moment: number for number, moment in enumerate(moments)}
    gauges = _gauges(log)
    columns: dict[str, Floats] = {}
    for one in log:
        name = _name(one, gauges)
        number = row.get(one.measured)
        value = _value(one)
        if name and number is not None and value is not None:
            columns.setdefault(name, np.full(len(moments), np.nan))[number] = value
    return (
        columns
        if {"oxygen_percent", "oxygen", "temperature", "total_gas_pressure"} <= columns.keys()
        else None
    )


def _name(one: records.Reading, gauges: set[str]) -> str:
    """The column a reading belongs to; the thermometer of the pressure gauge is the second one."""
    if one.quantity != "temperature":
        return WANTED.get(one.quantity, "")
    return "second_temperature" if one.instrument in gauges else "temperature"


def _gauges(log: Sequence[records.Reading]) -> set[str]:
    """Instruments that log total gas pressure but no oxygen, where another one logs oxygen."""
    pressure = {one.instrument for one in log if one.quantity == "total gas pressure"}
    oxygen = {one.instrument for one in log if one.quantity in ("oxygen", "oxygen saturation")}
    return pressure - oxygen - {""}


def _value(one: records.Reading) -> float | None:
    """A value in the unit the examination takes it in, or None where it cannot be given in it."""
    target = TARGET.get(one.quantity, one.unit)
    if one.value is None or one.unit == target:
        return one.value
    try:
        return float(units.convert(one.value, one.unit, target))
    except units.NotUnderstood:
        return None


def _assumed(facility: model.Facility, place: str, columns: Mapping[str, Floats]) -> dict[str, float]:
    """Salinity and air pressure where nobody logged them: the facility file's, else the sea's."""
    vessel = facility.place(place)
    assumed: dict[str, float] = {}
    if "salinity" not in columns:
        stated = vessel.salinity if vessel is not None else None
        assumed["salinity"] = 35.0 if stated is None else stated
    if "barometer" not in columns:
        height = facility.altitude or 0.0
        assumed["barometer"] = float(barometer.station_pressure_from_altitude(height)) / MBAR
    return assumed
