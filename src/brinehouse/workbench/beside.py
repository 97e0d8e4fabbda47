"""What stands beside a form for one reading: the last one at that place, those before it, and the limits."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from brinehouse import glossary
from brinehouse.workbench import clock, hall, limits

SPAN = timedelta(days=14)
FEW = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Last:
    """The newest reading of one quantity at one place, and what it is to be seen against."""

    text: str
    at: datetime
    by: str
    value: float | None
    values: Sequence[float]
    aim: tuple[float | None, float | None] | None
    aim_text: str


def units_of(quantity: str) -> tuple[str, ...]:
    """The units that a quantity is kept in: what stands beside the box for its value.

    >>> units_of("oxygen"), units_of("nothing")
    (('mg/L', 'µmol/L', 'µmol/kg'), ())
    """
    word = glossary.quantity(quantity)
    return tuple(form.unit for form in word.forms) if word else ()


_COMMA = re.compile(r"^(\s*[<>]?\s*[-+−]?\d+),(\d{1,2})(?!\d)")


def as_typed(value: str, unit: str) -> str:
    """What was typed into a box with a unit beside it, as one text.

    A comma before one or two digits is a decimal sign where a person types; before three it may part
    thousands, and is left to be asked about. A number without a unit is in the one that stands beside it.

    >>> as_typed("25,4", "°C"), as_typed("<0.02", "mg/L"), as_typed("77 °F", "°C")
    ('25.4 °C', '<0.02 mg/L', '77 °F')
    >>> as_typed("1,234", "mg/L"), as_typed("not measured: tap closed", "°C"), as_typed("25.4", "")
    ('1,234 mg/L', 'not measured: tap closed', '25.4')
    """
    text = _COMMA.sub(r"\1.\2", value.strip())
    bare = re.fullmatch(r"[<>]?\s*[-+−]?[\d.,]+", text)
    return f"{text} {unit}" if bare and unit else text


def last(place: hall.Hall, given: Mapping[str, str]) -> Last | None:
    """The last reading at the place and of the quantity that a form names; None where there is none."""
    here, word = place.facility.place(given.get("place", "")), glossary.quantity(given.get("quantity", ""))
    if here is None or word is None or not hall.Hall.has_book(place.folder):
        return None
    history = [
        reading
        for reading in place.history(places=[here.id], quantities=[word.word], since=clock.now() - SPAN)
        if reading.text
    ]
    if not history:
        return None
    newest = max(history, key=lambda reading: reading.measured)
    values = [
        value
        for reading in sorted(history, key=lambda reading: reading.measured)
        if (value := limits.in_glossary_unit(reading)) is not None and not reading.bound
    ]
    rules = place.facility.limits_for(word.word, here.id)
    aim = next((rule.aim for rule in rules if rule.aim), None)
    names = {person.number: person.name for person in place.book.people()}
    return Last(
        text=newest.text,
        at=newest.measured,
        by=names.get(newest.person, "") if newest.person is not None else "",
        value=limits.in_glossary_unit(newest),
        values=values[-FEW:],
        aim=(aim.low, aim.high) if aim else None,
        aim_text=rules[0].text if rules else "",
    )
