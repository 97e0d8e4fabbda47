"""One reading, typed by hand: its budget, its uncertainty, and what would make its numbers true together."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from brinehouse import answers, findings
from brinehouse.engines.gas_budget import closure, explaining, question, understanding, working
from brinehouse.engines.gas_budget.kernel import Doubt, run
from brinehouse.science import barometer, gases

MMHG = understanding.MMHG
REFUSED = 0.01
"""A closure less likely than this cannot be put down to rounding."""


def answer(given: Mapping[str, str | Sequence[float]]) -> answers.Answer:
    """What is in the water, from one reading as typed.

    Parameters
    ----------
    given : mapping
        By the names of the question's inputs; amounts as text with their units.

    Returns
    -------
    Answer
        State ``closes``, ``does-not-close``, ``not-tested`` or ``not-enough``.
    """
    known, faults = understanding.read(given)
    typed = {name: str(text) for name, text in given.items() if str(text).strip()}
    state, found = complete(known)
    if faults or state is None:
        return _refused(known, [*faults, *([] if faults else found)], typed)
    values = explaining.budget(state)
    _narrow(known, values)
    case = as_case(known, state)
    explanations = explaining.explain(state, case) if case is not None else ()
    found += _closure_findings(known, explanations)
    found += _state_findings(known, state, values)
    found += _limit_findings(known, values)
    unseen = question.NOT_EXCLUDED + (
        () if known.carbon_dioxide is not None else (question.CARBON_DIOXIDE_UNSEEN,)
    )
    verdict = _verdict(explanations)
    return answers.Answer(
        question=question.QUESTION,
        sentence=_sentence(values, explanations, verdict),
        state=verdict,
        values=values,
        findings=tuple(found),
        explanations=explanations,
        not_excluded=unseen,
        next_readings=next_readings(explanations, unseen),
        working=working.steps(known, state, values),
        inputs=typed,
        used=len(typed),
    )


def next_readings(
    explanations: Sequence[answers.Explanation], unseen: Sequence[answers.Open]
) -> tuple[str, ...]:
    """What to read next, most telling first: what separates likely explanations, then what nobody can see."""
    likely = [e for e in explanations if e.weight > 0.02 and e.code != "gas/closes"]
    if explanations and explanations[0].code == "gas/closes":
        likely = []
    ranked = [e.next_reading for e in likely] + [one.next_reading for one in unseen]
    return tuple(dict.fromkeys(text[0].upper() + text[1:] for text in ranked))


# ---------------------------------------------------------------------------------------------------
# From what is known to a full state


def complete(known: understanding.Given) -> tuple[explaining.State | None, list[findings.Finding]]:
    """The full state of the water, the third number derived from the other two where it was not read."""
    missing = understanding.not_enough(known)
    if missing:
        return None, [_not_enough("and ".join([", ".join(missing) + " "]), "give " + " and ".join(missing))]
    assert known.temperature and known.salinity and known.barometer
    if known.oxygen is None and known.saturation is not None:
        known.oxygen = _from_saturation(known)
    have = (known.total is not None, known.oxygen is not None, known.nitrogen is not None)
    if sum(have) < 2:
        return None, [_what_would_complete(known, have)]
    notes: list[findings.Finding] = []
    if known.total is None:
        known.total, known.total_kind = _derived_total(known), "percent"
        notes.append(_derived("total gas pressure", "oxygen and the meter's nitrogen"))
    elif known.oxygen is None:
        known.oxygen = _derived_oxygen(known)
        notes.append(_derived("oxygen", "total gas pressure and the meter's nitrogen"))
    return _state(known), notes


def _state(known: understanding.Given) -> explaining.State:
    assert known.temperature and known.salinity and known.barometer and known.total and known.oxygen
    oxygen = known.oxygen
    if known.meter_salinity is not None and oxygen.text and oxygen.source != "from the % display":
        factor = explaining.corrected_oxygen_factor(
            known.temperature.value, known.salinity.value, known.meter_salinity
        )
        oxygen = replace(oxygen, value=oxygen.value * factor, u=oxygen.u * factor)
    carbon, depth = known.carbon_dioxide, known.depth
    return explaining.State(
        temperature=known.temperature.value,
        salinity=known.salinity.value,
        barometer=known.barometer.value,
        kind=known.total_kind,  # type: ignore[arg-type]
        total=known.total.value,
        oxygen=oxygen.value,
        carbon_dioxide=carbon.value if carbon else 0.0,
        depth=depth.value if depth else 0.0,
        doubt=Doubt(
            temperature=known.temperature.u,
            salinity=known.salinity.u,
            barometer=known.barometer.u,
            total=known.total.u,
            oxygen=oxygen.u,
            carbon_dioxide=carbon.u if carbon else 0.0,
            depth=depth.u if depth else 0.0,
        ),
    )


def _from_saturation(known: understanding.Given) -> understanding.Quantity:
    """mg/L from the % display: the percentage does not depend on the meter's salinity setting."""
    assert known.temperature and known.salinity and known.barometer and known.saturation
    per = _slopes(known, 1.0)["oxygen_percent"]
    shown = known.saturation
    gain = 0.02 * understanding.UNIFORM * shown.value / per
    return understanding.Quantity(
        value=shown.value / per,
        u=math.hypot(shown.rounding / per, gain),
        rounding=shown.rounding / per,
        text=shown.text,
        source="from the % display",
    )


def _slopes(known: understanding.Given, oxygen: float, total: float = 100.0) -> dict[str, float]:
    assert known.temperature and known.salinity and known.barometer
    columns = (known.temperature.value, known.salinity.value, known.barometer.value, total, oxygen)
    found = run("percent", *(np.array([value]) for value in columns))
    return {name: float(column[0]) for name, column in found.items()}


def _derived_oxygen(known: understanding.Given) -> understanding.Quantity:
    """Oxygen from total and residual: the meter's own oxygen, hidden in its nitrogen.

    Its uncertainty is that of the meter's oxygen channel, and the two displays' rounding blown up by the
    arithmetic; the accuracy of the total cancels, because the residual was made from that very total.
    """
    assert known.nitrogen and known.total and known.barometer
    total = known.total.value
    if known.total_kind == "delta":
        total = 100.0 * (1.0 + total / known.barometer.value)
    elif known.total_kind == "pressure":
        total = 100.0 * total / known.barometer.value
    step = 100.0 / known.barometer.value if known.total_kind != "percent" else 1.0
    at_none, at_one = (_slopes(known, oxygen, total)["nitrogen_percent"] for oxygen in (0.0, 1.0))
    per = at_none - at_one
    more = _slopes(known, 0.0, total + 1.0)["nitrogen_percent"] - at_none
    rounding = math.hypot(known.nitrogen.rounding, more * step * known.total.rounding) / per
    return understanding.Quantity(
        value=(at_none - known.nitrogen.value) / per,
        u=math.hypot(rounding, understanding.DEFAULTS["oxygen"][0]),
        rounding=rounding,
        source="from total gas pressure and the meter's nitrogen",
    )


def _derived_total(known: understanding.Given) -> understanding.Quantity:
    """Total from oxygen and residual, the same way; the cell's own accuracy stays in it."""
    assert known.nitrogen and known.oxygen
    oxygen = known.oxygen.value
    here, more, less = (
        _slopes(known, o, t)["nitrogen_percent"]
        for o, t in ((oxygen, 100.0), (oxygen, 101.0), (oxygen + 1.0, 100.0))
    )
    rounding = math.hypot(known.nitrogen.rounding, (less - here) * known.oxygen.rounding) / (more - here)
    return understanding.Quantity(
        value=100.0 + (known.nitrogen.value - here) / (more - here),
        u=math.hypot(rounding, understanding.DEFAULTS["tgp"][0]),
        rounding=rounding,
        source="from oxygen and the meter's nitrogen",
    )


def _narrow(known: understanding.Given, values: dict[str, answers.Value]) -> None:
    """Where the nitrogen is the meter's own figure, it stands as read, and with the total's accuracy."""
    if known.nitrogen is None or (known.oxygen and known.oxygen.text):
        return
    values["nitrogen_percent"] = replace(values["nitrogen_percent"], value=known.nitrogen.value)


def as_case(known: understanding.Given, state: explaining.State) -> closure.Case | None:
    """What a closure can be tested on; None where there is no second figure to hold against another."""
    assert known.temperature and known.salinity and known.barometer and known.total and known.oxygen
    read = bool(known.oxygen.text)
    triple = known.nitrogen is not None and bool(known.total.text) and read
    percent = known.oxygen.source == "from the % display"
    double = known.saturation is not None and read and not percent
    if not triple and not double:
        return None
    air = state.barometer
    ratio, u_ratio = {
        "percent": (state.total / 100.0, known.total.rounding / 100.0),
        "delta": (1.0 + state.total / air, known.total.rounding / air),
        "pressure": (state.total / air, known.total.rounding / air),
    }[state.kind]
    return closure.case(
        temperature=state.temperature,
        salinity=state.salinity,
        barometer=air,
        total=ratio,
        kind=state.kind,
        oxygen=known.oxygen.value,
        nitrogen=known.nitrogen.value if triple and known.nitrogen else math.nan,
        saturation=known.saturation.value if double and known.saturation else math.nan,
        salinity_meter=state.salinity if known.meter_salinity is None else known.meter_salinity,
        sea_level=_sea_level(known),
        carbon_dioxide=state.carbon_dioxide,
        u_total=u_ratio,
        u_oxygen=known.oxygen.rounding,
        u_nitrogen=known.nitrogen.rounding if known.nitrogen else 0.0,
        u_saturation=known.saturation.rounding if known.saturation else 0.0,
        u_temperature=known.temperature.rounding,
        u_salinity=known.salinity.rounding,
        u_barometer=known.barometer.rounding,
        oxygen_as_percent=percent,
    )


def _sea_level(known: understanding.Given) -> float:
    """What a sea-level barometer would show now; unknown without an altitude worth speaking of."""
    if known.altitude is None or abs(known.altitude) < 30.0 or known.barometer is None:
        return math.nan
    return float(barometer.sea_level_pressure_from_station_pressure(known.barometer.value, known.altitude))


# ---------------------------------------------------------------------------------------------------
# Saying


def _finding(code: str, level: findings.Level, text: str, hint: str = "", **data: float) -> findings.Finding:
    return findings.Finding(code=code, level=level, text=text, hint=hint, data=data)


def _not_enough(what: str, hint: str) -> findings.Finding:
    text = f"These numbers do not make a budget: missing {what.strip()}"
    return _finding("gas/not-enough", findings.Level.STOP, text, hint)


def _what_would_complete(known: understanding.Given, have: tuple[bool, ...]) -> findings.Finding:
    names = ("total gas pressure", "oxygen", "the meter's nitrogen")
    lacking = [name for name, there in zip(names, have, strict=True) if not there]
    assert known.temperature and known.salinity
    wet = float(gases.vapour_pressure(known.temperature.value, known.salinity.value)) / MMHG
    can = [f"water vapour is {wet:.1f} mmHg"]
    if known.total is not None and known.barometer is not None:
        excess = {
            "percent": (known.total.value / 100.0 - 1.0) * known.barometer.value,
            "delta": known.total.value,
            "pressure": known.total.value - known.barometer.value,
        }[known.total_kind]
        can.append(f"ΔP is {excess / MMHG:.0f} mmHg")
    if known.oxygen is not None:
        can.append(f"oxygen is {_slopes(known, known.oxygen.value)['oxygen_percent']:.0f} % of saturation")
    best = next((name for name in ("oxygen", "total gas pressure") if name in lacking), lacking[0])
    return _finding(
        "gas/not-enough",
        findings.Level.STOP,
        f"A budget takes two of {', '.join(names)}; so far only this can be said: {' and '.join(can)}",
        f"read {best} as well",
    )


def _derived(what: str, source: str) -> findings.Finding:
    text = f"{what[0].upper()}{what[1:]} was not read: it was worked out from {source}, so nothing is left to test them"
    hint = f"read {what} too: then the numbers test each other"
    return _finding("gas/derived", findings.Level.NOTE, text, hint)


def _refused(
    known: understanding.Given, faults: Sequence[findings.Finding], typed: Mapping[str, str]
) -> answers.Answer:
    first = faults[0].text
    return answers.Answer(
        question=question.QUESTION,
        sentence=f"No budget yet: {first}.",
        state="not-enough",
        findings=tuple(faults),
        not_excluded=question.NOT_EXCLUDED,
        next_readings=tuple(fault.hint for fault in faults if fault.hint),
        inputs=dict(typed),
        used=len(typed),
    )


def _verdict(explanations: Sequence[answers.Explanation]) -> str:
    closes = next((e for e in explanations if e.code == "gas/closes"), None)
    if closes is None or closes.fit is None:
        return "not-tested"
    return "closes" if closes.fit >= REFUSED else "does-not-close"


def _closure_findings(
    known: understanding.Given, explanations: Sequence[answers.Explanation]
) -> list[findings.Finding]:
    if _verdict(explanations) != "does-not-close":
        return []
    best, level = explanations[0], findings.Level.ASK
    what = (
        "total gas pressure, oxygen and the meter's nitrogen"
        if known.nitrogen
        else "the meter's two oxygen figures"
    )
    found = [
        _finding(
            "gas/cannot-all-be-true",
            level,
            f"{what[0].upper()}{what[1:]} cannot all be true at this temperature, salinity and air pressure",
            best.next_reading,
            fit=next(e.fit or 0.0 for e in explanations if e.code == "gas/closes"),
        )
    ]
    if max(e.fit or 0.0 for e in explanations) < REFUSED:
        found.append(
            _finding(
                "gas/unexplained",
                level,
                "No setting that was tried explains it: a slip of the pen is likely",
                "read all numbers of the meter again, at one time, and write them as shown",
            )
        )
    return found


def _state_findings(
    known: understanding.Given, state: explaining.State, values: Mapping[str, answers.Value]
) -> list[findings.Finding]:
    note = findings.Level.NOTE
    found = [_finding("gas/read-as", note, text) for text in known.notes]
    if (values["delta_p"].value or 0.0) < 0.0:
        text = "The water holds less gas than the air would give it: bubbles dissolve, and compensation depth is 0"
        found.append(_finding("gas/undersaturated", note, text))
    if known.depth is None:
        text = "No depth was given: the animals are taken to come up to the surface"
        found.append(_finding("gas/depth-assumed", note, text, "give the shallow end of their depth"))
    if known.meter_salinity is not None and abs(known.meter_salinity - state.salinity) > 0.5:
        text = (
            f"The meter stands at salinity {known.meter_salinity:g} and the water at {state.salinity:g}: oxygen"
            f" was put right from {known.oxygen.value if known.oxygen else 0:.2f} to {state.oxygen:.2f} mg/L"
        )
        found.append(
            _finding(
                "gas/setting-applied", findings.Level.WATCH, text, "set the meter to the water's salinity"
            )
        )
    if (values["nitrogen_percent"].value or 0.0) < 0.0:
        text = "More oxygen than the total has room for: nitrogen would be negative"
        found.append(_finding("gas/negative-nitrogen", findings.Level.ASK, text, "read both again"))
    found += barometer_findings(known)
    found += _two_temperatures(known, state)
    return found


def barometer_findings(known: understanding.Given) -> list[findings.Finding]:
    """Whether a pressure given as the station's would suit sea level better, at this altitude."""
    if known.altitude is None or known.barometer is None or known.sea_level or not known.barometer.text:
        return []
    expected = float(barometer.station_pressure_from_altitude(known.altitude))
    if known.altitude < 150.0 or abs(known.barometer.value - expected) <= 2.2 * understanding.WEATHER:
        return []
    text = (
        f"Air pressure {known.barometer.text} was taken as the station's, but at {known.altitude:g} m it would be near"
        f" {expected / MMHG:.0f} mmHg: it looks like a sea-level pressure"
    )
    hint = "say which kind it is (--barometer-kind 'sea level'), or read the meter's own barometer"
    return [
        _finding("gas/barometer-sea-level", findings.Level.ASK, text, hint, expected_mmhg=expected / MMHG)
    ]


def _two_temperatures(known: understanding.Given, state: explaining.State) -> list[findings.Finding]:
    second = known.second_temperature
    if second is None or known.temperature is None:
        return []
    apart = second.value - known.temperature.value
    if abs(apart) <= 1.96 * math.hypot(second.u, known.temperature.u):
        return []
    here, there = explaining.budget(state), explaining.budget(replace(state, temperature=second.value))
    told = [f"{v['oxygen_percent'].value:.1f} and {v['nitrogen_percent'].value:.1f} %" for v in (here, there)]
    text = (
        f"Two thermometers stand {abs(apart):.1f} °C apart: oxygen and nitrogen + argon are {told[0]} by the first,"
        f" {told[1]} by the second"
    )
    hint = "hang a third thermometer beside the probe, or both in one bucket, and read them together"
    return [_finding("gas/two-temperatures", findings.Level.ASK, text, hint, apart=apart)]


def _limit_findings(
    known: understanding.Given, values: Mapping[str, answers.Value]
) -> list[findings.Finding]:
    found: list[findings.Finding] = []
    for name, (kind, limit) in known.limits.items():
        value = values["total_gas_pressure" if kind == "percent" else "delta_p"]
        end = limit if kind == "percent" else limit / MMHG
        low, high = value.interval() or (value.value, value.value)
        if value.value is None or low is None or high is None or high < end:
            continue
        label = f"{'Total gas pressure' if kind == 'percent' else 'ΔP'} {value.value:.1f} {value.unit}"
        crossed = low > end
        code = "gas/limit-crossed" if crossed else "gas/limit-may-be-crossed"
        verb = "is above" if crossed else "may be above"
        level = findings.Level.ACT if name == "act" else findings.Level.WATCH
        text = f"{label} ({low:.1f} to {high:.1f}) {verb} the limit to {name}, {end:g} {value.unit}"
        found.append(
            _finding(code, level, text, "raise the degassing, or bring the animals deeper", limit=end)
        )
    return found


def _sentence(
    values: Mapping[str, answers.Value], explanations: Sequence[answers.Explanation], verdict: str
) -> str:
    total, oxygen, nitrogen = (
        values[name].value or 0.0 for name in ("total_gas_pressure", "oxygen_percent", "nitrogen_percent")
    )
    told = f"total gas pressure {total:.1f} %, oxygen {oxygen:.0f} %, nitrogen + argon {nitrogen:.1f} %"
    if verdict == "closes":
        return f"The numbers can be true together: {told}."
    if verdict == "not-tested":
        return f"As typed: {told}; nothing here tests the meter's settings."
    best = explanations[0]
    fixed = best.corrected
    if (best.fit or 0.0) < REFUSED:
        return f"These numbers cannot all be true, and no setting that was tried explains them. As typed: {told}."
    oxygen, nitrogen = (fixed[name].value or 0.0 for name in ("oxygen_percent", "nitrogen_percent"))
    mg = fixed["oxygen_concentration"].value or 0.0
    return (
        f"These numbers cannot all be true. Most likely ({best.weight:.0%}): {best.text[0].lower()}{best.text[1:]}"
        f" Then oxygen is {oxygen:.0f} % ({mg:.2f} mg/L) and nitrogen + argon {nitrogen:.1f} %."
    )
