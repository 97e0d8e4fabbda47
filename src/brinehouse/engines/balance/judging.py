"""What is to be said of a balance: limits crossed, readings it does not explain, what never settles."""

from __future__ import annotations

import math
from collections.abc import Mapping

from brinehouse import findings
from brinehouse.engines.balance import cases, comparing, question


def found(case: cases.Case) -> list[findings.Finding]:
    """Everything worth saying, the change list's own findings first."""
    told: list[findings.Finding] = []
    if case.change is not None:
        told += case.change.findings
    side = case.then or case.today
    new = {key for key, _ in cases.new_crossings(case)}
    crossed = comparing.crossings(side.facility, side.values, side.spread)
    told += [
        _limit(case, side, key, one, new=key in new)
        for key, one in crossed.items()
        if one.verdict == "crossed"
    ]
    told += _maybe(side, {key: one for key, one in crossed.items() if one.verdict != "crossed"})
    if case.then is None and case.change is None:
        told += _apart(case)
    told += _endless(side)
    told += [one for one in side.settled.findings if one not in told]
    return told


WAYS: Mapping[str, str] = {
    "temperature": "look at what the chiller or heater is set to and can do",
    "oxygen": "more water over the fall or the column, more air, fewer animals or less feed",
    "oxygen_percent": "more water over the fall or the column, more air, fewer animals or less feed",
    "tgp": "find where the gas comes in: 'brinehouse gas sources'",
    "delta_p": "find where the gas comes in: 'brinehouse gas sources'",
    "n2_ar": "find where the gas comes in: 'brinehouse gas sources'",
    "ph": "drive carbon dioxide out with fresh air over a column or fall; measure alkalinity before dosing",
    "co2": "drive carbon dioxide out with fresh air over a column or fall",
    "tan": "feed less, exchange water, or give nitrification more surface",
    "ammonia": "feed less, exchange water, or give nitrification more surface",
    "nitrite": "feed less, exchange water, or give nitrification more surface",
    "nitrate": "exchange more water",
}
"""By quantity: what acts on it."""


def _capital(label: str) -> str:
    """A label at the head of a sentence.

    >>> _capital("oxygen"), _capital("pH")
    ('Oxygen', 'pH')
    """
    return label if label[1:2].isupper() else label[:1].upper() + label[1:]


def _endless(side: cases.Side) -> list[findings.Finding]:
    """Quantities that nothing takes away: they have no balance."""
    places: dict[str, list[str]] = {}
    for (place, quantity), value in side.values.items():
        if not math.isfinite(value):
            places.setdefault(quantity, []).append(cases.name_of(side.facility, place))
    told: list[findings.Finding] = []
    for quantity, names in places.items():
        label = question.QUANTITIES[quantity].label
        told.append(
            findings.Finding(
                code="balance/never-settles",
                level=findings.Level.NOTE,
                text=f"{_capital(label)} has no balance in {', '.join(names)}: nothing takes it away.",
                hint="water that is exchanged takes it away: say how much is",
                data={"quantity": quantity, "places": names},
            )
        )
    return told


def _limit(
    case: cases.Case, side: cases.Side, key: cases.Key, one: comparing.Crossing, *, new: bool
) -> findings.Finding:
    """A limit that is surely crossed."""
    place, quantity = key
    name, label = cases.name_of(side.facility, place), question.QUANTITIES[quantity].label
    tail = "" if case.then is None else (": the change brings it" if new else ", as it does today")
    source = f" ({one.limit.source})" if one.limit.source else ""
    holds = cases.told_terms(side.settled.terms.get((place, question.QUANTITIES[quantity].of), ()))
    return findings.Finding(
        code="balance/limit-crossed",
        level=one.level,
        text=f"{name}: {label} settles at {cases.number(side.values[key], quantity)} and crosses the "
        f"{one.level.value} limit{source}: {one.limit.text}{tail}."
        + (f" Held there by {holds}." if holds else ""),
        hint=WAYS.get(quantity, "see what holds it there"),
        spot=findings.Spot(thing=place),
        data={"place": place, "quantity": quantity, "value": side.values[key], "new": new},
    )


def _maybe(side: cases.Side, crossed: Mapping[cases.Key, comparing.Crossing]) -> list[findings.Finding]:
    """Limits that the interval of a number holds, told once for each quantity and limit."""
    groups: dict[tuple[str, str], list[cases.Key]] = {}
    for key, one in crossed.items():
        groups.setdefault((key[1], one.limit.text), []).append(key)
    found: list[findings.Finding] = []
    for (quantity, text), keys in groups.items():
        names = [cases.name_of(side.facility, place) for place, _ in keys]
        values = sorted(side.values[key] for key in keys)
        span = cases.number(values[0], quantity)
        if len(values) > 1 and cases.number(values[-1], quantity) != span:
            span = f"{span.split()[0]} to {cases.number(values[-1], quantity)}"
        found.append(
            findings.Finding(
                code="balance/limit-may-be-crossed",
                level=findings.Level.WATCH,
                text=f"{_capital(question.QUANTITIES[quantity].label)} settles at {span} in "
                f"{', '.join(names)} and may cross the {crossed[keys[0]].level.value} limit: {text}.",
                hint="what was assumed says which reading would make it surer",
                spot=findings.Spot(thing=keys[0][0]),
                data={"quantity": quantity, "places": [place for place, _ in keys]},
            )
        )
    return found


def _apart(case: cases.Case) -> list[findings.Finding]:
    """Readings that the balance does not explain, the farthest of each quantity."""
    gaps = comparing.apart(case.today.values, case.today.spread, case.known)
    best: dict[str, cases.Key] = {}
    for key, (_, gap) in gaps.items():
        known = best.get(key[1])
        if known is None or abs(gap) > abs(gaps[known][1]):
            best[key[1]] = key
    found: list[findings.Finding] = []
    for quantity, key in best.items():
        read, gap = gaps[key]
        others = sum(1 for other in gaps if other[1] == quantity) - 1
        more = f"; so in {others} more place{'s' if others > 1 else ''}" if others else ""
        name, label = cases.name_of(case.today.facility, key[0]), question.QUANTITIES[quantity].label
        found.append(
            findings.Finding(
                code="balance/reading-apart",
                level=findings.Level.NOTE,
                text=f"{name}: {label} was read as {cases.number(read.value, quantity)}; the plant as drawn "
                f"would settle at {cases.number(case.today.values[key], quantity)}{more}.",
                hint="the water is not settled, a meter is off, or something acts that the drawing does not "
                "know of: for gas, ask 'brinehouse gas sources'",
                spot=findings.Spot(thing=key[0]),
                data={"place": key[0], "quantity": quantity, "gap": gap},
            )
        )
    return found
