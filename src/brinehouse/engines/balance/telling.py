"""A balance in words and tables: today, then, the difference, what limits it, and what was assumed."""

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
FOLLOWS = ("delta_p", "n2_ar", "oxygen_percent", "co2")  # say again what another quantity says
_SLOW = 1.0e5  # h: beyond some eleven years nothing settles


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


def answer(case: Case) -> answers.Answer:
    """The whole answer."""
    found = _findings(case)
    tables = [_places(case), *_changes(case), _terms(case), _assumptions(case)]
    return answers.Answer(
        question=question.QUESTION,
        sentence=_sentence(case),
        state=_state(case),
        values=_headline(case),
        tables=tables,
        findings=found,
        working=_working(case),
        next_readings=_next(case),
        inputs={"what-if": case.change.title} if case.change else {},
        as_of=case.as_of,
        used=sum(len(read) for read in case.known.values()),
    )


def name_of(facility: model.Facility, place: str) -> str:
    """What the keeper calls a place."""
    vessel = facility.vessels.get(place)
    return vessel.name if vessel is not None else place


def _state(case: Case) -> str:
    if case.change is not None and case.then is None:
        return "refused"
    return "compared" if case.then is not None else "settles"


# -- in one sentence ------------------------------------------------------------------------------------


def _sentence(case: Case) -> str:
    if case.change is not None and case.then is None:
        return "This change cannot be worked out: the list says why."
    if case.then is not None and case.change is not None:
        return _compared(case)
    crossed = _crossed(case.today)
    if crossed:
        return _crossing_told(case.today, *crossed[0], more=len(crossed) - 1)
    slowest = max(case.hours.items(), key=lambda pair: pair[1], default=None)
    tail = ""
    if slowest is not None and math.isfinite(slowest[1]):
        tail = f"; slowest is {question.QUANTITIES[slowest[0][1]].label}, which takes {span(slowest[1])}"
    return f"Left as it is, the plant settles inside every limit{tail}."


def _crossed(side: Side) -> list[tuple[Key, comparing.Crossing]]:
    """Limits surely crossed, act before watch, then as the facility lists its places."""
    found = comparing.crossings(side.facility, side.values, side.spread)
    sure = [(key, one) for key, one in found.items() if one.verdict == "crossed"]
    return sorted(sure, key=lambda pair: pair[1].level is not findings.Level.ACT)


def _crossing_told(side: Side, key: Key, one: comparing.Crossing, more: int = 0) -> str:
    shown = number(side.values[key], key[1])
    told = f"{name_of(side.facility, key[0])} settles at {question.QUANTITIES[key[1]].label} {shown}"
    rest = f", and {more} more" if more > 0 else ""
    return f"{told}, past its {one.level.value} limit{rest}."


def _compared(case: Case) -> str:
    """What the change does where it matters most."""
    assert case.then is not None
    best = _telling_keys(case)
    if not best:
        return "This change moves no quantity by more than these numbers can tell."
    key = best[0]
    label = question.QUANTITIES[key[1]].label
    then, now = number(case.then.values[key], key[1]), number(case.today.values[key], key[1])
    hours = case.hours.get(key, math.nan)
    when = f", within {span(hours)}" if math.isfinite(hours) else ""
    text = f"{name_of(case.then.facility, key[0])} would settle at {label} {then} instead of {now}{when}"
    new = _new_crossings(case)
    if new:
        worst, one = new[0]
        if worst == key:
            return f"{text}: past its {one.level.value} limit."
        where = f"{question.QUANTITIES[worst[1]].label} in {name_of(case.then.facility, worst[0])}"
        return f"{text}; {where} would cross its {one.level.value} limit."
    return f"{text}."


def _telling_keys(case: Case) -> list[Key]:
    """Differences worth telling, heaviest first; places with animals before others."""
    weight = {
        key: comparing.worth_telling(key, moved, case.spread.get(key))
        for key, moved in case.moved.items()
        if key[1] not in FOLLOWS
    }
    tanks = case.today.facility.tanks
    keys = comparing.ranked(case.moved, weight)
    return [*(key for key in keys if key[0] in tanks), *(key for key in keys if key[0] not in tanks)]


def _new_crossings(case: Case) -> list[tuple[Key, comparing.Crossing]]:
    """Limits that are crossed then and are not today, or only more lightly."""
    if case.then is None:
        return []
    now = {key: one.level for key, one in _crossed(case.today)}
    return [
        (key, one)
        for key, one in _crossed(case.then)
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

    >>> span(0.3), span(3.2), span(60.0), span(2000.0)
    ('20 min', '3 h', '3 days', '12 weeks')
    """
    if hours < 1.5:
        return f"{max(round(hours * 6.0), 1) * 10} min"
    if hours < 48.0:
        return f"{hours:.0f} h"
    if hours < 24.0 * 60.0:
        return f"{hours / 24.0:.0f} days"
    return f"{hours / 168.0:.0f} weeks" if hours < 24.0 * 730.0 else f"{hours / 8766.0:.0f} years"


# -- tables ---------------------------------------------------------------------------------------------


def _headline(case: Case) -> dict[str, answers.Value]:
    """The numbers of the place that the sentence speaks of, else of the first tank."""
    keys = _telling_keys(case) if case.then is not None else [key for key, _ in _crossed(case.today)]
    tanks = list(case.today.facility.tanks)
    place = keys[0][0] if keys else (tanks[0] if tanks else "")
    side = case.then or case.today
    told = {quantity: side.value((place, quantity)) for quantity in question.QUANTITIES}
    return {quantity: value for quantity, value in told.items() if value is not None}


def _keys(case: Case) -> list[Key]:
    """Every number of either side, by place in file order and quantity."""
    places = list(dict.fromkeys(place for side in _sides(case) for place in side.facility.vessels))
    held = {key for side in _sides(case) for key in side.values}
    return [(place, name) for place in places for name in question.QUANTITIES if (place, name) in held]


def _sides(case: Case) -> list[Side]:
    return [case.today, *([case.then] if case.then is not None else [])]


def _places(case: Case) -> answers.Table:
    out = answers.Output
    columns = [
        out(name="place", label="place", unit=""),
        out(name="quantity", label="quantity", unit=""),
        out(name="read", label="read", unit=""),
        out(name="today", label="today", unit=""),
    ]
    if case.then is not None:
        columns += [
            out(name="then", label="then", unit=""),
            out(name="difference", label="difference", unit=""),
        ]
    columns += [
        out(name="settles", label="settles in", unit=""),
        out(name="limit", label="limit", unit=""),
        out(name="limited_by", label="what holds it there", unit=""),
    ]
    rows = tuple(_row(case, key) for key in _keys(case))
    return answers.Table(name="places", title="Where the water settles", columns=tuple(columns), rows=rows)


def _changes(case: Case) -> list[answers.Table]:
    """What the change does: in words, and the differences worth telling, heaviest first."""
    out = answers.Output
    told: list[answers.Table] = []
    if case.change is not None and case.change.said:
        rows = tuple({"sentence": sentence} for sentence in case.change.said)
        columns = (out(name="sentence", label="what is different", unit=""),)
        told.append(answers.Table(name="said", title="What is different", columns=columns, rows=rows))
    if case.then is not None:
        new = [key for key, _ in _new_crossings(case)]
        keys = dict.fromkeys([*new, *_telling_keys(case)])
        columns = tuple(
            out(name=name, label=label, unit="")
            for name, label in (
                ("place", "place"), ("quantity", "quantity"), ("today", "today"), ("then", "then"),
                ("difference", "difference"), ("settles", "settles in"), ("limit", "limit"),
            )
        )  # fmt: skip
        rows = tuple(_row(case, key) for key in keys)
        told.append(
            answers.Table(name="differences", title="What the change moves", columns=columns, rows=rows)
        )
    return told


def _row(case: Case, key: Key) -> dict[str, object]:
    place, quantity = key
    side = case.then if case.then is not None and key in case.then.values else case.today
    one = question.QUANTITIES[quantity]
    read = case.known.get(place, {}).get(one.word)
    crossed = comparing.crossings(side.facility, {key: side.values[key]}, side.spread).get(key)
    hours = case.hours.get(key, math.nan)
    row: dict[str, object] = {
        "place": place,
        "quantity": quantity,
        "read": answers.Value(value=read.value, unit=one.unit, u=read.u) if read else None,
        "today": case.today.value(key),
        "settles": answers.Value(value=hours, unit="h") if hours < _SLOW else None,
        "limit": f"{one_word(crossed)}: {crossed.limit.text}" if crossed else "",
        "verdict": one_word(crossed) if crossed else "",
        "level": crossed.level.value if crossed else "",
        "limited_by": told_terms(side.settled.terms.get((place, one.of), ())),
    }
    if case.then is not None:
        spread = case.spread.get(key)
        row["then"] = case.then.value(key)
        row["difference"] = (
            answers.Value(value=case.moved[key], unit=one.unit, u=spread.u if spread else None)
            if math.isfinite(case.moved.get(key, math.nan))
            else None
        )
    return row


def one_word(crossed: comparing.Crossing) -> str:
    """``act limit crossed``, ``watch limit may be crossed``."""
    return f"{crossed.level.value} limit {crossed.verdict}"


def told_terms(terms: Sequence[question.Term], most: int = MOST) -> str:
    """The largest terms in a line.

    >>> told_terms([question.Term(name="animals", amount=-2.0, unit="g/day")])
    'animals −2 g/day'
    """
    shown = [f"{term.name} {term.amount:+.3g} {term.unit}" for term in terms[:most]]
    return ", ".join(shown).replace("-", "\u2212").replace(" +", " +")


def _terms(case: Case) -> answers.Table:
    """What adds to each quantity and what takes from it."""
    out = answers.Output
    columns = (
        out(name="place", label="place", unit=""),
        out(name="species", label="of", unit=""),
        out(name="term", label="what", unit=""),
        out(name="today", label="today", unit=""),
        out(name="then", label="then", unit=""),
    )
    rows: list[dict[str, object]] = []
    keys = dict.fromkeys(key for side in _sides(case) for key in side.settled.terms)
    for place, species in keys:
        told = [
            {term.name: term for term in side.settled.terms.get((place, species), ())}
            for side in _sides(case)
        ]
        for name in dict.fromkeys(name for terms in told for name in terms):
            row: dict[str, object] = {"place": place, "species": species, "term": name}
            for column, terms in zip(("today", "then"), told, strict=False):
                term = terms.get(name)
                row[column] = answers.Value(value=term.amount, unit=term.unit) if term else None
            rows.append(row)
    wanted = columns if case.then is not None else columns[:-1]
    return answers.Table(
        name="terms", title="What adds and what takes away", columns=wanted, rows=tuple(rows)
    )


def _assumptions(case: Case) -> answers.Table:
    """What was assumed, the one that matters most first, with where it bears."""
    side = case.then or case.today
    tanks = set(side.facility.tanks)
    rows: list[tuple[float, dict[str, object]]] = []
    for one in case.assumed:
        effects = [
            (abs(spread.parts[one.name]) / comparing.WEIGHS[key[1]], key, abs(spread.parts[one.name]))
            for key, spread in side.spread.items()
            if one.name in spread.parts and (key[0] in tanks or not tanks)
        ]
        weight, key, size = max(effects, default=(0.0, ("", ""), 0.0))
        bears = ""
        if weight > 0.01:
            half = number(answers.COVERAGE * size, key[1])
            where = name_of(side.facility, key[0])
            bears = f"± {half} in {question.QUANTITIES[key[1]].label} of {where}"
        rows.append(
            (
                weight,
                {
                    "name": one.name,
                    "assumed": one.label,
                    "value": answers.Value(value=one.value, unit=one.unit, u=one.u or None),
                    "bears": bears,
                    "source": one.source,
                },
            )
        )
    out = answers.Output
    columns = (
        out(name="assumed", label="assumed", unit=""),
        out(name="value", label="value", unit="", decimals=3),
        out(name="bears", label="bears most on", unit=""),
        out(name="source", label="from", unit=""),
    )
    ordered = tuple(row for _, row in sorted(rows, key=lambda pair: -pair[0]))
    return answers.Table(name="assumptions", title="What was assumed", columns=columns, rows=ordered)


# -- findings -------------------------------------------------------------------------------------------


def _findings(case: Case) -> list[findings.Finding]:
    found: list[findings.Finding] = []
    if case.change is not None:
        found += case.change.findings
    side = case.then or case.today
    new = {key for key, _ in _new_crossings(case)}
    crossed = comparing.crossings(side.facility, side.values, side.spread)
    found += [
        _limit(case, side, key, one, new=key in new)
        for key, one in crossed.items()
        if one.verdict == "crossed"
    ]
    found += _maybe(side, {key: one for key, one in crossed.items() if one.verdict != "crossed"})
    if case.then is None and case.change is None:
        found += _apart(case)
    found += _endless(side)
    found += [one for one in side.settled.findings if one not in found]
    return found


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


def _endless(side: Side) -> list[findings.Finding]:
    """Quantities that nothing takes away: they have no balance."""
    places: dict[str, list[str]] = {}
    for (place, quantity), value in side.values.items():
        if not math.isfinite(value):
            places.setdefault(quantity, []).append(name_of(side.facility, place))
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


def _limit(case: Case, side: Side, key: Key, one: comparing.Crossing, *, new: bool) -> findings.Finding:
    """A limit that is surely crossed."""
    place, quantity = key
    name, label = name_of(side.facility, place), question.QUANTITIES[quantity].label
    tail = "" if case.then is None else (": the change brings it" if new else ", as it does today")
    source = f" ({one.limit.source})" if one.limit.source else ""
    holds = told_terms(side.settled.terms.get((place, question.QUANTITIES[quantity].of), ()))
    return findings.Finding(
        code="balance/limit-crossed",
        level=one.level,
        text=f"{name}: {label} settles at {number(side.values[key], quantity)} and crosses the "
        f"{one.level.value} limit{source}: {one.limit.text}{tail}."
        + (f" Held there by {holds}." if holds else ""),
        hint=WAYS.get(quantity, "see what holds it there"),
        spot=findings.Spot(thing=place),
        data={"place": place, "quantity": quantity, "value": side.values[key], "new": new},
    )


def _maybe(side: Side, crossed: Mapping[Key, comparing.Crossing]) -> list[findings.Finding]:
    """Limits that the interval of a number holds, told once for each quantity and limit."""
    groups: dict[tuple[str, str], list[Key]] = {}
    for key, one in crossed.items():
        groups.setdefault((key[1], one.limit.text), []).append(key)
    found: list[findings.Finding] = []
    for (quantity, text), keys in groups.items():
        names = [name_of(side.facility, place) for place, _ in keys]
        values = sorted(side.values[key] for key in keys)
        span = number(values[0], quantity)
        if len(values) > 1 and number(values[-1], quantity) != span:
            span = f"{span.split()[0]} to {number(values[-1], quantity)}"
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


def _apart(case: Case) -> list[findings.Finding]:
    """Readings that the balance does not explain, the farthest of each quantity."""
    gaps = comparing.apart(case.today.values, case.today.spread, case.known)
    best: dict[str, Key] = {}
    for key, (_, gap) in gaps.items():
        known = best.get(key[1])
        if known is None or abs(gap) > abs(gaps[known][1]):
            best[key[1]] = key
    found: list[findings.Finding] = []
    for quantity, key in best.items():
        read, gap = gaps[key]
        others = sum(1 for other in gaps if other[1] == quantity) - 1
        more = f"; so in {others} more place{'s' if others > 1 else ''}" if others else ""
        name, label = name_of(case.today.facility, key[0]), question.QUANTITIES[quantity].label
        found.append(
            findings.Finding(
                code="balance/reading-apart",
                level=findings.Level.NOTE,
                text=f"{name}: {label} was read as {number(read.value, quantity)}; the plant as drawn would "
                f"settle at {number(case.today.values[key], quantity)}{more}.",
                hint="the water is not settled, a meter is off, or something acts that the drawing does not "
                "know of: for gas, ask 'brinehouse gas sources'",
                spot=findings.Spot(thing=key[0]),
                data={"place": key[0], "quantity": quantity, "gap": gap},
            )
        )
    return found


def _next(case: Case) -> tuple[str, ...]:
    """What to measure, so that the answer becomes surer: the assumptions that matter most."""
    rows = [row for row in _assumptions(case).rows if row["bears"]]
    return tuple(
        f"measure the {row['assumed']}: it is assumed, and brings {row['bears']}" for row in rows[:3]
    )


# -- working --------------------------------------------------------------------------------------------


def _working(case: Case) -> tuple[answers.Step, ...]:
    """For each place and quantity: the terms that balance to nothing."""
    side = case.then or case.today
    steps: list[answers.Step] = []
    for key in _keys(case):
        place, quantity = key
        one = question.QUANTITIES[quantity]
        terms = side.settled.terms.get((place, one.of), ())
        if key not in side.values or not terms:
            continue
        sources = "; ".join(dict.fromkeys(term.source for term in terms if term.source))
        steps.append(
            answers.Step(
                name=f"{one.label} in {name_of(side.facility, place)}",
                equation=EQUATIONS.get(quantity, "0 = what comes in \u2212 what goes out"),
                inputs={term.name: (term.amount, term.unit) for term in terms},
                result=side.values[key] if math.isfinite(side.values[key]) else None,
                unit=one.unit,
                source=sources or "mass balance of the mixed vessel",
            )
        )
    return tuple(steps)


EQUATIONS: Mapping[str, str] = {
    "temperature": "0 = heat brought by water + pumps + lights + room + chiller \u2212 evaporation",
    "salinity": "0 = salt brought by water \u2212 salt taken away, with what evaporates made up",
    "oxygen": "0 = Q (c_in \u2212 c) + surface and devices \u2212 animals \u2212 nitrification",
    "oxygen_percent": "100 c / c*(temperature, salinity, station pressure)",
    "tgp": "100 (p_O2 + p_N2 + p_Ar + p_CO2 + p_vapour) / P",
    "delta_p": "p_O2 + p_N2 + p_Ar + p_CO2 + p_vapour \u2212 P",
    "n2_ar": "100 (p_N2 + p_Ar) / ((1 \u2212 x_O2) (P \u2212 p_vapour))",
    "ph": "from alkalinity and inorganic carbon",
    "co2": "from alkalinity and inorganic carbon",
    "alkalinity": "0 = water brought + dosing \u2212 two for each nitrogen oxidised",
    "tan": "0 = feed \u00b7 protein \u00b7 share excreted \u2212 nitrification + water brought",
    "ammonia": "TAN \u00b7 f(pH, temperature, salinity)",
    "nitrite": "0 = ammonia oxidised \u2212 nitrite oxidised + water brought",
    "nitrate": "0 = nitrite oxidised \u2212 water exchanged",
}
"""By quantity: what balances, or how it follows from what does."""
