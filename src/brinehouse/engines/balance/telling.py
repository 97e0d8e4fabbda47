"""A balance in words and tables: today, then, the difference, what limits it, and what was assumed."""

from __future__ import annotations

import math
from collections.abc import Mapping

from brinehouse import answers
from brinehouse.engines.balance import cases, comparing, judging, question

FOLLOWS = ("delta_p", "n2_ar", "oxygen_percent", "co2")  # say again what another quantity says
_SLOW = 1.0e5  # h: beyond some eleven years nothing settles


def answer(case: cases.Case) -> answers.Answer:
    """The whole answer."""
    found = judging.found(case)
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


def _state(case: cases.Case) -> str:
    if case.change is not None and case.then is None:
        return "refused"
    return "compared" if case.then is not None else "settles"


# -- in one sentence ------------------------------------------------------------------------------------


def _sentence(case: cases.Case) -> str:
    if case.change is not None and case.then is None:
        return "This change cannot be worked out: the list says why."
    if case.then is not None and case.change is not None:
        return _compared(case)
    crossed = cases.crossed(case.today)
    if crossed:
        return _crossing_told(case.today, *crossed[0], more=len(crossed) - 1)
    slowest = max(case.hours.items(), key=lambda pair: pair[1], default=None)
    tail = ""
    if slowest is not None and math.isfinite(slowest[1]):
        tail = (
            f"; slowest is {question.QUANTITIES[slowest[0][1]].label}, which takes {cases.span(slowest[1])}"
        )
    return f"Left as it is, the plant settles inside every limit{tail}."


def _crossing_told(side: cases.Side, key: cases.Key, one: comparing.Crossing, more: int = 0) -> str:
    shown = cases.number(side.values[key], key[1])
    told = f"{cases.name_of(side.facility, key[0])} settles at {question.QUANTITIES[key[1]].label} {shown}"
    rest = f", and {more} more" if more > 0 else ""
    return f"{told}, past its {one.level.value} limit{rest}."


def _compared(case: cases.Case) -> str:
    """What the change does where it matters most."""
    assert case.then is not None
    best = _telling_keys(case)
    if not best:
        return "This change moves no quantity by more than these numbers can tell."
    key = best[0]
    label = question.QUANTITIES[key[1]].label
    then, now = cases.number(case.then.values[key], key[1]), cases.number(case.today.values[key], key[1])
    hours = case.hours.get(key, math.nan)
    when = f", within {cases.span(hours)}" if math.isfinite(hours) else ""
    text = (
        f"{cases.name_of(case.then.facility, key[0])} would settle at {label} {then} instead of {now}{when}"
    )
    new = cases.new_crossings(case)
    if new:
        worst, one = new[0]
        if worst == key:
            return f"{text}: past its {one.level.value} limit."
        where = f"{question.QUANTITIES[worst[1]].label} in {cases.name_of(case.then.facility, worst[0])}"
        return f"{text}; {where} would cross its {one.level.value} limit."
    return f"{text}."


def _telling_keys(case: cases.Case) -> list[cases.Key]:
    """Differences worth telling, heaviest first; places with animals before others."""
    weight = {
        key: comparing.worth_telling(key, moved, case.spread.get(key))
        for key, moved in case.moved.items()
        if key[1] not in FOLLOWS
    }
    tanks = case.today.facility.tanks
    keys = comparing.ranked(case.moved, weight)
    return [*(key for key in keys if key[0] in tanks), *(key for key in keys if key[0] not in tanks)]


# -- tables ---------------------------------------------------------------------------------------------


def _headline(case: cases.Case) -> dict[str, answers.Value]:
    """The numbers of the place that the sentence speaks of, else of the first tank."""
    keys = _telling_keys(case) if case.then is not None else [key for key, _ in cases.crossed(case.today)]
    tanks = list(case.today.facility.tanks)
    place = keys[0][0] if keys else (tanks[0] if tanks else "")
    side = case.then or case.today
    told = {quantity: side.value((place, quantity)) for quantity in question.QUANTITIES}
    return {quantity: value for quantity, value in told.items() if value is not None}


def _keys(case: cases.Case) -> list[cases.Key]:
    """Every number of either side, by place in file order and quantity."""
    places = list(dict.fromkeys(place for side in cases.sides(case) for place in side.facility.vessels))
    held = {key for side in cases.sides(case) for key in side.values}
    return [(place, name) for place in places for name in question.QUANTITIES if (place, name) in held]


def _places(case: cases.Case) -> answers.Table:
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


def _changes(case: cases.Case) -> list[answers.Table]:
    """What the change does: in words, and the differences worth telling, heaviest first."""
    out = answers.Output
    told: list[answers.Table] = []
    if case.change is not None and case.change.said:
        rows = tuple({"sentence": sentence} for sentence in case.change.said)
        columns = (out(name="sentence", label="what is different", unit=""),)
        told.append(answers.Table(name="said", title="What is different", columns=columns, rows=rows))
    if case.then is not None:
        new = [key for key, _ in cases.new_crossings(case)]
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


def _row(case: cases.Case, key: cases.Key) -> dict[str, object]:
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
        "limited_by": cases.told_terms(side.settled.terms.get((place, one.of), ())),
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


def _terms(case: cases.Case) -> answers.Table:
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
    keys = dict.fromkeys(key for side in cases.sides(case) for key in side.settled.terms)
    for place, species in keys:
        told = [
            {term.name: term for term in side.settled.terms.get((place, species), ())}
            for side in cases.sides(case)
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


def _assumptions(case: cases.Case) -> answers.Table:
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
            half = cases.number(answers.COVERAGE * size, key[1])
            where = cases.name_of(side.facility, key[0])
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


MEASURES: Mapping[str, str] = {
    "exchange": "Write down how much water is exchanged",
    "protein": "Take the protein of the feed from its label",
    "feed": "Log every feeding with its grams",
    "leak": "Read total gas pressure before and after each pump starts",
    "column": "Read total gas pressure before and behind the column",
    "alkalinity": "Read alkalinity",
    "air": "Read carbon dioxide in the air of the room",
    "nitrify": "Read ammonia in the tanks",
    "room": "State room_temperature in the facility file",
    "humidity": "State room_humidity in the facility file",
    "pressure": "Read the barometer of a meter",
    "hold": "Read temperature in the tanks",
}
"""By assumption: what would take its place."""


def _next(case: cases.Case) -> tuple[str, ...]:
    """What to measure, so that the answer becomes surer: in place of the assumptions that matter most."""
    rows = [row for row in _assumptions(case).rows if row["bears"] and row["name"] in MEASURES]
    return tuple(f"{MEASURES[str(row['name'])]}: what is assumed brings {row['bears']}." for row in rows[:3])


# -- working --------------------------------------------------------------------------------------------


def _working(case: cases.Case) -> tuple[answers.Step, ...]:
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
                name=f"{one.label} in {cases.name_of(side.facility, place)}",
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
