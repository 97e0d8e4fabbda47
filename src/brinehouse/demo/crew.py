"""Four invented people, their habits and their slips of the pen."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, cast

import numpy as np

from brinehouse import glossary, records


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """One of the crew.

    Attributes
    ----------
    mark : str
        Decimal sign they write.
    spaced, united : bool
        Whether a space stands before the unit, and whether they write the unit at all.
    coarse : bool
        Reads temperature to half degrees.
    slip : float
        Share of entries with a slip of the pen.
    patience : float
        How long they leave a meter hanging, against the usual.
    lean : float
        What their eye adds to oxygen. [mg/L]
    """

    number: int
    name: str
    mark: str = "."
    spaced: bool = True
    united: bool = True
    coarse: bool = False
    slip: float = 0.004
    patience: float = 1.0
    lean: float = 0.0


CREW: tuple[Person, ...] = (
    Person(number=1, name="Isa Tarnbeck", slip=0.002, patience=1.15),
    Person(number=2, name="Wil Fennock", spaced=False, slip=0.006, patience=0.95, lean=0.03),
    Person(number=3, name="Oona Strake", mark=",", slip=0.004, lean=-0.02),
    Person(
        number=4, name="Perrin Hale-Moss", united=False, coarse=True, slip=0.009, patience=0.85, lean=0.02
    ),
)
"""Invented; no such people exist."""

UNUSUAL = "typed/unusual"


def slip(text: str, kind: int) -> str:
    """A number as it stands after a slip: the point one place off, or two neighbouring digits swapped.

    >>> slip("25.4", 0), slip("25.4", 1), slip("25.4", 2), slip("6.55", 0)
    ('254', '2.54', '52.4', '65.5')
    >>> slip("25.4", 3), slip("34", 1), slip("22.2", 2)
    ('24.5', '3.4', '22.2')
    """
    if kind < 2:
        places = len(text.partition(".")[2])
        return (
            f"{float(text) * 10.0:.{max(places - 1, 0)}f}"
            if kind == 0
            else f"{float(text) / 10.0:.{places + 1}f}"
        )
    digits = [k for k, sign in enumerate(text) if sign.isdigit()]
    pairs = [pair for pair in itertools.pairwise(digits) if text[pair[0]] != text[pair[1]]]
    if not pairs:
        return text
    left, right = pairs[(kind - 2) % len(pairs)]
    signs = list(text)
    signs[left], signs[right] = signs[right], signs[left]
    return "".join(signs)


@dataclass(slots=True, kw_only=True)
class Ledger:
    """Where the crew writes; it makes ids and slips from its own stream of chance."""

    rng: np.random.Generator
    start: datetime
    end: datetime
    slips: float = 1.0
    readings: list[records.Reading] = field(default_factory=list[records.Reading])
    facts: list[records.Fact] = field(default_factory=list[records.Fact])
    pool: list[str] = field(default_factory=list[str])
    luck: list[float] = field(default_factory=list[float])

    def id(self) -> str:
        """32 hex digits."""
        if not self.pool:
            text = self.rng.bytes(16 * 2048).hex()
            self.pool = [text[k : k + 32] for k in range(0, len(text), 32)]
        return self.pool.pop()

    def chance(self) -> float:
        """A number between 0 and 1."""
        if not self.luck:
            self.luck = cast("list[float]", self.rng.random(4096).tolist())
        return self.luck.pop()

    def when(self, hour: float) -> datetime:
        """The time of an hour of the history, to the minute."""
        return self.start + timedelta(minutes=round(hour * 60.0))

    def read(
        self,
        person: Person | None,
        hour: float,
        place: str,
        quantity: str,
        value: float,
        unit: str,
        *,
        decimals: int = 1,
        delay: float = 0.05,
        slips: bool = False,
        **more: Any,
    ) -> None:
        """Write one reading down; by hand with `person`, by itself without."""
        measured = self.when(hour)
        if measured > self.end:
            return
        number = f"{value:.{decimals}f}"
        typed, verdict = number, "good"
        if person and slips and self.chance() < person.slip * self.slips:
            typed = slip(number, int(self.chance() * 6.0))
        if typed != number:
            verdict = _judge(quantity, float(typed), unit)
            if verdict == "impossible":  # the form refused it, and it was typed again
                typed, verdict = number, "good"
        entered = min(self.when(hour + delay), self.end)
        row = records.Reading(
            id=self.id(),
            measured=measured,
            entered=entered,
            place=place,
            quantity=quantity,
            value=float(typed),
            unit=unit,
            text=more.get("bound", "") + _written(typed, unit, person),
            person=person.number if person else None,
            quality="unusual" if verdict == "unusual" else "good",
            marks=(UNUSUAL,) if verdict == "unusual" else (),
            source="hand" if person else "sensor",
            **more,
        )
        self.readings.append(row)
        if typed != number and self.chance() < 0.4:
            self._put_right(row, number, person)

    def _put_right(self, row: records.Reading, number: str, person: Person | None) -> None:
        """Later someone sees the slip: a new reading in its place, with the reason."""
        later = min(row.entered + timedelta(minutes=20 + round(600 * self.chance())), self.end)
        self.readings.append(
            records.Reading(
                id=self.id(),
                measured=row.measured,
                entered=later,
                place=row.place,
                quantity=row.quantity,
                value=float(number),
                unit=row.unit,
                text=_written(number, row.unit, person),
                point=row.point,
                depth=row.depth,
                basis=row.basis,
                instrument=row.instrument,
                person=row.person,
                source=row.source,
                supersedes=row.id,
                reason=f"slip of the pen: {row.text} for {number}",
            )
        )

    def missed(
        self, person: Person, hour: float, place: str, quantity: str, unit: str, why: str, **more: Any
    ) -> None:
        """Write down that something was not measured, and why."""
        measured = self.when(hour)
        if measured > self.end:
            return
        self.readings.append(
            records.Reading(
                id=self.id(),
                measured=measured,
                entered=measured + timedelta(minutes=3) if measured < self.end else self.end,
                place=place,
                quantity=quantity,
                value=None,
                unit=unit,
                text=f"not measured: {why}",
                missing=why,
                person=person.number,
                **more,
            )
        )

    def tell(
        self,
        kind: records.FactKind,
        hour: float,
        place: str = "",
        person: Person | None = None,
        note: str = "",
        delay: float = 0.1,
        **details: Any,
    ) -> str:
        """Write a fact down; its id, or nothing where it lies beyond the end."""
        measured = self.when(hour)
        if measured > self.end:
            return ""
        fact = records.Fact(
            id=self.id(),
            kind=kind,
            measured=measured,
            entered=min(self.when(hour + delay), self.end),
            place=place,
            details=details,
            person=person.number if person else None,
            note=note,
        )
        self.facts.append(fact)
        return fact.id


def _judge(quantity: str, value: float, unit: str) -> str:
    """What the entry form says to a number: good, unusual or impossible."""
    known = glossary.quantity(quantity)
    return known.judge(value, unit) if known else "good"


def _written(number: str, unit: str, person: Person | None) -> str:
    """The number as this person writes it."""
    if person is None:
        return f"{number} {unit}"
    text = number.replace(".", person.mark)
    if not person.united or unit == "pH":
        return text
    return f"{text} {unit}" if person.spaced or unit == "1" else f"{text}{unit}"


def on_shift(rng: np.random.Generator, days: int) -> list[tuple[Person, Person]]:
    """Who has the morning and who the afternoon of each day."""
    found: list[tuple[Person, Person]] = []
    for _ in range(days):
        first, second = (int(k) for k in rng.choice(len(CREW), size=2, replace=False))
        found.append((CREW[first], CREW[second]))
    return found
