"""What a balance tells of: plants worked out, what was assumed, what was read, how numbers are said."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from brinehouse import answers, findings
from brinehouse.engines.balance import comparing, question
from brinehouse.facility import model

Key = comparing.Key
MOST = 3  # terms told in one line


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """One thing that was assumed: what, how sure, from where."""

    name: str
    label: str
    value: float
    u: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One plant worked out: its balance and how sure each number is."""

    facility: model.Facility
    settled: question.Settled
    spread: Mapping[Key, comparing.Spread] = field(default_factory=dict[Key, comparing.Spread])

    @property
    def values(self) -> comparing.Numbers:
        """Its numbers."""
        return self.settled.values

    def value(self, key: Key) -> answers.Value | None:
        """A number with its unit and how sure it is."""
        number = self.values.get(key)
        if number is None:
            return None
        unit = question.QUANTITIES[key[1]].unit
        if not math.isfinite(number):
            return answers.Value(value=None, unit=unit, text="no balance")
        spread = self.spread.get(key)
        return answers.Value(value=number, unit=unit, u=spread.u if spread else None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Everything that is told of."""

    today: Side
    then: Side | None
    change: question.Plant | None
    moved: Mapping[Key, float]
    spread: Mapping[Key, comparing.Spread]  # of the differences
    hours: Mapping[Key, float]  # until it has settled
    assumed: Sequence[Assumed]
    known: Mapping[str, Mapping[str, question.Known]]
    as_of: datetime | None


def name_of(facility: model.Facility, place: str) -> str:
    """What the keeper calls a place."""
    vessel = facility.vessels.get(place)
    return vessel.name if vessel is not None else place


def sides(case: Case) -> list[Side]:
    """The plants that were worked out."""
    return [case.today, *([case.then] if case.then is not None else [])]


def crossed(side: Side) -> list[tuple[Key, comparing.Crossing]]:
    """Limits surely crossed, act before watch, then as the facility lists its places."""
    found = comparing.crossings(side.facility, side.values, side.spread)
    sure = [(key, one) for key, one in found.items() if one.verdict == "crossed"]
    return sorted(sure, key=lambda pair: pair[1].level is not findings.Level.ACT)


def new_crossings(case: Case) -> list[tuple[Key, comparing.Crossing]]:
    """Limits that are crossed then and are not today, or only more lightly."""
    if case.then is None:
        return []
    now = {key: one.level for key, one in crossed(case.today)}
    return [
        (key, one)
        for key, one in crossed(case.then)
        if key not in now or (one.level is findings.Level.ACT and now[key] is not findings.Level.ACT)
    ]


def number(value: float, quantity: str) -> str:
    """A number with its unit, as a sentence has it.

    >>> number(104.68, "tgp"), number(8.1, "ph")
    ('104.7 %', '8.10')
    """
    one = question.QUANTITIES[quantity]
    unit = "" if one.unit == "1" else f" {one.unit}"
    return f"{value:.{one.decimals}f}{unit}".replace("-", "\u2212")


def span(hours: float) -> str:
    """A time as a keeper says it.

    >>> span(0.3), span(3.2), span(72.0), span(2000.0)
    ('20 min', '3 h', '3 days', '12 weeks')
    """
    if hours < 1.5:
        return f"{max(round(hours * 6.0), 1) * 10} min"
    if hours < 48.0:
        return f"{hours:.0f} h"
    if hours < 24.0 * 60.0:
        return f"{hours / 24.0:.0f} days"
    return f"{hours / 168.0:.0f} weeks" if hours < 24.0 * 730.0 else f"{hours / 8766.0:.0f} years"


def told_terms(terms: Sequence[question.Term], most: int = MOST) -> str:
    """The largest terms in a line.

    >>> told_terms([question.Term(name="water from sump-m", amount=-5678.0, unit="W")])
    'water from sump-m −5680 W'
    """
    return ", ".join(f"{term.name} {_signed(term.amount)} {term.unit}" for term in terms[:most])


def _signed(amount: float) -> str:
    """Three figures with their sign, never with a power of ten."""
    power = math.floor(math.log10(abs(amount))) if amount else 0
    places = max(2 - power, 0)
    return f"{round(amount, 2 - power):+.{places}f}".replace("-", "−")
