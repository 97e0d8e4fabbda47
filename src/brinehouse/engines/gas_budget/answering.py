"""One reading, typed by hand: its budget, its uncertainty, and what would make its numbers true together."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from brinehouse import answers, findings
from brinehouse.engines.gas_budget import completing, explaining, question, understanding, working
from brinehouse.science import barometer

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
    ready, found = completing.complete(known)
    if faults or ready is None:
        return _refused(faults or found, typed, {} if faults else completing.partial(known))
    state = completing.state(ready)
    values = explaining.budget(state)
    case = completing.as_case(ready, state)
    explanations = explaining.explain(state, case) if case is not None else ()
    found += _closure_findings(known, explanations)
    found += _state_findings(ready, state, values)
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
        working=working.steps(ready, state, values),
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
# Saying


def _finding(code: str, level: findings.Level, text: str, hint: str = "", **data: float) -> findings.Finding:
    return findings.Finding(code=code, level=level, text=text, hint=hint, data=data)


def _refused(
    faults: Sequence[findings.Finding], typed: Mapping[str, str], values: Mapping[str, answers.Value]
) -> answers.Answer:
    first = faults[0].text
    return answers.Answer(
        question=question.QUESTION,
        sentence=f"No budget yet: {first}.",
        state="not-enough",
        values=values,
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
    ready: completing.Ready, state: explaining.State, values: Mapping[str, answers.Value]
) -> list[findings.Finding]:
    known, note = ready.known, findings.Level.NOTE
    found = [_finding("gas/read-as", note, text) for text in known.notes]
    if (values["delta_p"].value or 0.0) < 0.0:
        text = "The water holds less gas than air would give it: bubbles dissolve; compensation depth is 0"
        found.append(_finding("gas/undersaturated", note, text))
    if known.depth is None:
        text = "No depth was given: the animals are taken to come up to the surface"
        found.append(_finding("gas/depth-assumed", note, text, "give the shallow end of their depth"))
    if known.meter_salinity is not None and abs(known.meter_salinity - state.salinity) > 0.5:
        text = (
            f"The meter stands at salinity {known.meter_salinity:g} and the water at {state.salinity:g}:"
            f" oxygen was put right from {ready.oxygen.value:.2f} to {state.oxygen:.2f} mg/L"
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
        f"Air pressure {known.barometer.text} was taken as the station's, but at {known.altitude:g} m"
        f" it would be near {expected / MMHG:.0f} mmHg: it looks like a sea-level pressure"
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
        f"Two thermometers stand {abs(apart):.1f} °C apart: oxygen and nitrogen + argon are {told[0]}"
        f" by the first, {told[1]} by the second"
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
        return f"These numbers cannot all be true, and no setting tried here explains them. As typed: {told}."
    oxygen, nitrogen = (fixed[name].value or 0.0 for name in ("oxygen_percent", "nitrogen_percent"))
    mg = fixed["oxygen_concentration"].value or 0.0
    return (
        f"These numbers cannot all be true. Most likely ({best.weight:.0%}):"
        f" {best.text[0].lower()}{best.text[1:]} Then oxygen is {oxygen:.0f} %"
        f" ({mg:.2f} mg/L) and nitrogen + argon {nitrogen:.1f} %."
    )
