"""Limits against readings: inside, crossed, or may be crossed where the interval holds the limit."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from brinehouse import answers, findings, glossary, records, units
from brinehouse.facility import model

Verdict = Literal["inside", "may be crossed", "crossed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """One limit that a reading crosses or may cross."""

    limit: model.Limit
    level: findings.Level
    verdict: Verdict
    band: model.Band
    value: float
    u: float
    unit: str
    reading: records.Reading
    since: datetime


def uncertainty(reading: records.Reading, facility: model.Facility) -> float | None:
    """Standard uncertainty of a reading in the glossary's unit: stated accuracy and the displayed digit.

    A stated "± a" is read as the bounds of a uniform distribution, u = a/√3 (GUM, JCGM 100:2008, 4.3.7);
    a displayed digit as u = LSB/√12. None where neither is known.
    """
    quantity = glossary.quantity(reading.quantity)
    instrument = facility.instruments.get(reading.instrument)
    parts: list[float] = []
    if quantity is not None and instrument is not None:
        stated = instrument.accuracy.get(quantity.word)
        shown = instrument.resolution.get(quantity.word)
        if stated is not None:
            parts.append(_span(stated, quantity.unit) / math.sqrt(3.0))
        if shown is not None:
            parts.append(_span(shown, quantity.unit) / math.sqrt(12.0))
    return math.hypot(*parts) if parts else None


def _span(amount: units.Amount, unit: str) -> float:
    """A width in the quantity's unit; the zero of a temperature scale does not count in a width."""
    if amount.unit == unit:
        return abs(amount.value)
    try:
        return abs(units.convert(amount.value, amount.unit, unit) - units.convert(0.0, amount.unit, unit))
    except units.NotUnderstood:
        return abs(amount.value)


def in_glossary_unit(reading: records.Reading) -> float | None:
    """A reading's value in the unit its quantity is kept in, or None where it cannot be given in it."""
    quantity = glossary.quantity(reading.quantity)
    if reading.value is None or quantity is None:
        return None
    return reading.value if reading.unit == quantity.unit else None


def judge(value: float, u: float, band: model.Band) -> Verdict:
    """Where a value with its 95 % interval stands to a band.

    >>> judge(100.0, 0.2, model.Band(low=None, high=101.0))
    'inside'
    >>> judge(100.8, 0.3, model.Band(low=None, high=101.0))
    'may be crossed'
    """
    if not band.holds(value):
        return "crossed"
    half = answers.COVERAGE * u
    return "inside" if band.holds(value - half) and band.holds(value + half) else "may be crossed"


def crossing(
    history: Sequence[records.Reading], facility: model.Facility, limits: Iterable[model.Limit]
) -> Crossing | None:
    """The heaviest limit that the newest of some readings crosses, and since when it has been so.

    Parameters
    ----------
    history : sequence of Reading
        One quantity at one place, any order; doubtful ones and bounds are left out.
    facility : Facility
        Whose instruments say how sure a reading is.
    limits : iterable of Limit
        Those that hold there.
    """
    usable = sorted(
        (r for r in history if r.value is not None and not r.bound and r.quality in ("good", "unusual")),
        key=lambda reading: reading.measured,
    )
    if not usable:
        return None
    newest = usable[-1]
    value = in_glossary_unit(newest)
    if value is None:
        return None
    quantity = glossary.quantity(newest.quantity)
    u = uncertainty(newest, facility) or 0.0
    for level, name in ((findings.Level.ACT, "act"), (findings.Level.WATCH, "watch")):
        for limit in limits:
            band = getattr(limit, name)
            if band is None:
                continue
            verdict = judge(value, u, band)
            if verdict == "inside":
                continue
            if verdict == "may be crossed" and level is findings.Level.ACT:
                continue  # one meter's interval touching the limit asks for a second reading, not for action
            return Crossing(
                limit=limit,
                level=level,
                verdict=verdict,
                band=band,
                value=value,
                u=u,
                unit=quantity.unit if quantity else newest.unit,
                reading=newest,
                since=_since(usable, band),
            )
    return None


def _since(usable: Sequence[records.Reading], band: model.Band) -> datetime:
    """When the present run of readings outside a band began."""
    began = usable[-1].measured
    for reading in reversed(usable):
        value = in_glossary_unit(reading)
        if value is None or band.holds(value):
            break
        began = reading.measured
    return began
