"""What the logbook knows of the water today: newest readings, feed, air pressure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from brinehouse import answers, glossary, records
from brinehouse.engines import balance
from brinehouse.facility import model
from brinehouse.workbench import hall, limits

SPAN = timedelta(days=30)
FRESH = timedelta(days=3)  # readings of a place within this of its newest one are taken together
FEED_SPAN = timedelta(days=14)
GAS = "total gas pressure"
WANTED = tuple(one.word for one in balance.QUANTITIES.values() if one.word)
PASCAL = 133.322387415  # of a conventional millimetre of mercury


def newest(
    readings: Sequence[records.Reading],
    facility: model.Facility,
    offsets: Mapping[str, answers.Value] | None = None,
) -> dict[str, dict[str, balance.Known]]:
    """The newest good reading of each quantity at each place, in the glossary's unit.

    Parameters
    ----------
    readings : sequence of Reading
        Any order.
    facility : Facility
        Whose instruments say how sure a reading is.
    offsets : mapping, optional
        How much each meter's total gas pressure reads too high: taken off. [%]
    """
    found: dict[str, dict[str, balance.Known]] = {}
    for reading in sorted(readings, key=lambda one: one.measured):
        if reading.bound or reading.quality not in ("good", "unusual"):
            continue
        value, known = limits.in_glossary_unit(reading), glossary.quantity(reading.quantity)
        vessel = facility.place(reading.place)
        if value is None or known is None or vessel is None or known.word not in WANTED:
            continue
        if reading.basis == "ion":
            continue  # kept as read; the balance counts as N
        u = limits.uncertainty(reading, facility)
        if known.word == GAS and offsets and reading.instrument in offsets:
            off = offsets[reading.instrument]
            value -= off.value or 0.0
            u = ((u or 0.0) ** 2 + (off.u or 0.0) ** 2) ** 0.5
        found.setdefault(vessel.id, {})[known.word] = balance.Known(
            value=value, u=u, at=reading.measured, instrument=reading.instrument
        )
    return found


def feed(facts: Sequence[records.Fact], end: datetime) -> dict[str, float]:
    """Feed by place as the logbook tells it, mean of the last two weeks [kg/day]."""
    begin = end - FEED_SPAN
    mine = [fact for fact in facts if fact.kind == "feeding" and begin < fact.measured <= end and fact.place]
    found: dict[str, float] = {}
    first = min((fact.measured for fact in mine), default=end)
    days = max((end - first).total_seconds() / 86400.0, 1.0)
    for fact in mine:
        grams = fact.details.get("grams")
        if isinstance(grams, int | float):
            found[fact.place] = found.get(fact.place, 0.0) + float(grams) / 1000.0 / days
    return found


def pressure(readings: Sequence[records.Reading], facility: model.Facility) -> balance.Known | None:
    """The newest station pressure: of a meter with a barometer of its own, or read as such [Pa]."""
    best: balance.Known | None = None
    for reading in readings:
        meter = facility.instruments.get(reading.instrument)
        own = reading.basis == "air" or (meter is not None and meter.barometer in ("own", "station"))
        value = limits.in_glossary_unit(reading)
        if reading.quantity != "barometer" or not own or value is None or reading.bound:
            continue
        if reading.quality == "good" and (best is None or reading.measured > best.at):
            u = limits.uncertainty(reading, facility)
            best = balance.Known(
                value=value * PASCAL,
                u=None if u is None else u * PASCAL,
                at=reading.measured,
                instrument=reading.instrument,
            )
    return best


def begin_of(place: hall.Hall) -> datetime | None:
    """From when on readings count: a month before the newest one."""
    last = hall.newest(place.history(newest_first=True, limit=1))
    return None if last is None else last - SPAN
