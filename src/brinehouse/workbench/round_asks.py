"""What one stop of a round asks, as plain data: unit, what is expected and possible, what was read last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

from brinehouse import glossary, records, units
from brinehouse.facility import model
from brinehouse.workbench import clock, hall, recent, round_stops

Corrections = Mapping[tuple[str, str], str]
"""What is known of how far a meter is off: by its id and the quantity."""
WEEK = timedelta(days=7)
ENOUGH = 8  # readings from which what is usual is taken from them
MOST = 60  # points of a line on a phone
_MIXED_UP: Mapping[str, tuple[str, ...]] = {
    "°C": ("°F", "K"),
    "mmHg": ("hPa", "kPa", "inHg"),
    "kPa": ("bar", "psi", "mH2O"),
    "m³/h": ("L/min", "L/s"),
    "m": ("cm", "mm"),
    "meq/L": ("dKH", "mg/L CaCO3"),
}
"""Units that a meter or a person gives in place of the one that stands beside the box."""
_OTHERS: Mapping[str, tuple[tuple[str, float, float, str], ...]] = {
    "salinity": (("SG", 0.98, 1.05, "specific gravity"), ("mS/cm", 43.0, 62.0, "conductivity")),
    "oxygen": (("%", 60.0, 150.0, "oxygen saturation"),),
    "oxygen saturation": (("mg/L", 3.0, 15.0, "oxygen"),),
    "total gas pressure": (("mmHg", 450.0, 1000.0, "the total pressure itself"),),
}
"""Quantities that get mixed up: unit, where they usually lie, and their name."""


def ask(
    place: hall.Hall,
    screen: round_stops.Screen,
    history: Mapping[recent.Key, Sequence[records.Reading]],
    names: Mapping[int, str],
    corrections: Corrections | None = None,
) -> list[dict[str, Any]]:
    """The asks of one screen: one for a reading or a feeding, one for each sign that is looked for."""
    if screen.kind == "observation":
        return [
            {
                "kind": "observation",
                "sign": sign,
                "label": sign,
                "animals": screen.animals,
                "choices": list(round_stops.CHOICES[sign]),
            }
            for sign in screen.look
        ]
    if screen.kind == "feeding":
        return [
            {
                "kind": "feeding",
                "label": screen.food,
                "food": screen.food,
                "grams": screen.grams,
                "unit": "g",
                "choices": list(round_stops.EATEN),
            }
        ]
    return [_reading(place, screen, history, names, corrections or {})]


def _reading(
    place: hall.Hall,
    screen: round_stops.Screen,
    history: Mapping[recent.Key, Sequence[records.Reading]],
    names: Mapping[int, str],
    corrections: Corrections,
) -> dict[str, Any]:
    facility, word = place.facility, glossary.find(screen.quantity)
    point = facility.points.get(screen.point)
    form = _form(word, point)
    series = _series(history.get((screen.place, word.word), ()), screen, form.unit)
    possible = _possible(form, point, word)
    low, high, why = _expected(facility, screen, word, form, series)
    newest = series[-1] if series else None
    scales = _scales(word, form)
    basis = screen.basis or _basis(facility, screen, word)
    return {
        "kind": "reading",
        "quantity": word.word,
        "label": word.word,
        "unit": form.unit,
        "units": [form.unit, *scales],
        "instrument": screen.instrument,
        "instrument_note": _about(facility, screen, word, corrections),
        "basis": basis,
        "bases": list(word.basis) if word.asks and not basis else [],
        "decimals": form.decimals,
        "expected": [low, high],
        "expected_why": why,
        "possible": list(possible),
        "negative": possible[0] < 0.0,
        "last": None if newest is None else _last(newest, names),
        "trace": _trace(series),
        "aim": _aim(facility, screen, word, form),
        "scales": scales,
        "slips": _slips(word, form, history),
        "choices": [],
    }


def _form(word: glossary.Quantity, point: model.Point | None) -> glossary.Form:
    return (
        word.form(point.unit)
        if point is not None and point.unit and point.quantity == word.word
        else word.forms[0]
    )


def _series(
    readings: Sequence[records.Reading], screen: round_stops.Screen, unit: str
) -> Sequence[records.Reading]:
    """Those taken at this very point (or, where the stop is a place, anywhere in it), by hand or typed in."""
    return [
        one
        for one in readings
        if one.point == screen.point
        and one.value is not None
        and not one.bound
        and one.unit == unit
        and one.source != "sensor"
        and one.quality != "fault"
    ]


def _possible(form: glossary.Form, point: model.Point | None, word: glossary.Quantity) -> tuple[float, float]:
    low, high = form.possible
    if point is not None and point.possible is not None and form is word.forms[0]:
        return max(low, point.possible.low), min(high, point.possible.high)
    return low, high


def _expected(
    facility: model.Facility,
    screen: round_stops.Screen,
    word: glossary.Quantity,
    form: glossary.Form,
    series: Sequence[records.Reading],
) -> tuple[float, float, str]:
    """The point's own range, else the watch limit, else where it has been, else what is plausible at all."""
    low, high = form.plausible
    point = facility.points.get(screen.point)
    if form is not word.forms[0]:
        return low, high, ""
    if point is not None and point.expected is not None and point.quantity == word.word:
        return point.expected.low, point.expected.high, ""
    for limit in facility.limits_for(word.word, screen.point or screen.place):
        band = limit.watch or limit.aim
        if band is not None and (not limit.basis or limit.basis == screen.basis):
            return (
                low if band.low is None else band.low,
                high if band.high is None else band.high,
                limit.source,
            )
    values = [one.value for one in series if one.value is not None]
    if len(values) >= ENOUGH:
        reach = 0.5 * (max(values) - min(values)) + 2.0 * 10.0**-form.decimals
        digits = form.decimals + 1
        seen = (round(min(values) - reach, digits), round(max(values) + reach, digits))
        return max(low, seen[0]), min(high, seen[1]), "as in the last two weeks"
    return low, high, ""


def _aim(
    facility: model.Facility, screen: round_stops.Screen, word: glossary.Quantity, form: glossary.Form
) -> list[float | None] | None:
    if form is not word.forms[0]:
        return None
    rules = facility.limits_for(word.word, screen.point or screen.place)
    band = next((rule.aim for rule in rules if rule.aim is not None), None)
    return None if band is None else [band.low, band.high]


def _last(reading: records.Reading, names: Mapping[int, str]) -> dict[str, Any]:
    return {
        "value": reading.value,
        "text": reading.text,
        "at": reading.measured.isoformat(),
        "by": names.get(reading.person, "") if reading.person is not None else "",
    }


def _trace(series: Sequence[records.Reading]) -> list[list[float]]:
    now = clock.now()
    week = [one for one in series if now - WEEK <= one.measured <= now]
    return [
        [round((now - one.measured).total_seconds() / 3600.0, 2), float(one.value)]
        for one in week[-MOST:]
        if one.value is not None
    ]


def _about(
    facility: model.Facility,
    screen: round_stops.Screen,
    word: glossary.Quantity,
    corrections: Corrections,
) -> str:
    """What to know of the meter: how far off it is where that is known, else what its maker states."""
    meter = facility.instruments.get(screen.instrument)
    if meter is None:
        return ""
    known = corrections.get((screen.instrument, word.word))
    if known:
        return known
    stated = meter.accuracy.get(word.word)
    return f"± {stated.value:g} {stated.unit}, as its maker states" if stated is not None else ""


def _basis(facility: model.Facility, screen: round_stops.Screen, word: glossary.Quantity) -> str:
    """What it is counted as where the quantity asks: as in the limit that holds there; else it is asked."""
    if not word.asks:
        return ""
    for limit in facility.limits_for(word.word, screen.point or screen.place):
        if limit.basis:
            return limit.basis
    return ""


def _scales(word: glossary.Quantity, form: glossary.Form) -> dict[str, list[float]]:
    """Units that may be chosen in place of the one beside the box: by the unit, its factor and its offset."""
    found: dict[str, list[float]] = {}
    for unit in _MIXED_UP.get(form.unit, ()):
        try:
            scale = word.scale(unit)
        except units.NotUnderstood:
            continue
        if scale.form is form:
            found[unit] = [scale.factor, scale.offset]
    return found


def _slips(
    word: glossary.Quantity,
    form: glossary.Form,
    history: Mapping[recent.Key, Sequence[records.Reading]],
) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = [
        {"unit": unit, "factor": factor, "offset": offset}
        for unit, (factor, offset) in _scales(word, form).items()
    ]
    if form is not word.forms[0]:
        return found
    air = _barometer(history) if word.word == "total gas pressure" else None
    if air is not None:
        return [*found, {"unit": "mmHg", "factor": 100.0 / air, "offset": 0.0}]
    others = _OTHERS.get(word.word, ())
    return found + [
        {"unit": unit, "low": low, "high": high, "says": says} for unit, low, high, says in others
    ]


def _barometer(history: Mapping[recent.Key, Sequence[records.Reading]]) -> float | None:
    """The newest pressure of the air here, in mmHg."""
    newest: records.Reading | None = None
    for (_, quantity), series in history.items():
        if quantity != "barometer":
            continue
        for one in reversed(series):
            if one.basis == "air" and one.value:
                newest = one if newest is None or one.measured > newest.measured else newest
                break
    return None if newest is None else newest.value
