"""From a comparison of meters to what is said about it."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from brinehouse import answers, findings
from brinehouse.engines.instruments import question, tables
from brinehouse.science import statistics, statistics_meters, statistics_sittings

ODD = 0.05
"""A reading is named where chance alone would make any of them fit as badly less often than this."""


_COUNT = ("One reading does", "Two readings do", "Three readings do")


def conclude(plain: question.Study, u: float | None, drift: float | None) -> answers.Answer:
    """Fit, judge and say: the same for columns and for records."""
    if len(plain.readings.meter) < 2:
        text = f"there is {len(plain.readings.meter)} reading to compare"
        fault = question.said("instruments/too-few", question.STOP, text, "read two meters at one place")
        return refused([fault], plain.inputs)
    study = _with_scatter(plain, u, drift)
    fit = statistics_meters.additive_fit(study.readings, study.priors)
    rows = [
        tables.meter_table(study, fit),
        tables.difference_table(study, fit),
        tables.place_table(study, fit),
    ]
    found = [*study.found, *_doubts(study, fit)]
    odd, without = _odd_readings(plain, u, drift)
    if without is not None:
        found += odd
        rows.append(without)
    if len(fit.groups) > 1:
        rows.append(tables.group_table(fit))
    state, sentence, more = _verdict(study, fit)
    if odd:
        sentence += f" {_COUNT[len(odd) - 1]} not fit the others."
    return answers.Answer(
        question=question.QUESTION,
        sentence=sentence,
        state=state,
        values=_values(study, fit),
        tables=tuple(rows),
        findings=(*found, *more),
        not_excluded=question.UNSEEN,
        next_readings=tuple(_next(study, fit)),
        working=tuple(_working(study, fit)),
        inputs=dict(study.inputs),
        as_of=study.as_of,
        used=len(study.readings.meter),
    )


def _odd_readings(
    plain: question.Study, u: float | None, drift: float | None
) -> tuple[list[findings.Finding], answers.Table | None]:
    """Readings that do not fit, worst first, and the meters as they would be without them: only offered.

    Where nobody said how far places wander, a level that moved looks like a slip of the pen: then readings
    are judged only by other meters at their side.
    """
    found: list[findings.Finding] = []
    place = list(range(len(plain.readings.meter)))
    apart = math.inf if drift is None else drift
    fewer, study = plain, _with_scatter(plain, u, apart)
    fit = statistics_meters.additive_fit(study.readings, study.priors)
    while len(found) < len(_COUNT):
        odd = statistics_sittings.odd_one(fit, study.readings.u, study.dof)
        if odd is None or odd[1] >= ODD:
            break
        found.append(_odd(study, fit, *odd, place[odd[0]]))
        del place[odd[0]]
        labels = tuple(label for at, label in enumerate(fewer.labels) if at != odd[0])
        fewer = replace(fewer, readings=fewer.readings.without(odd[0]), labels=labels)
        study = _with_scatter(fewer, u, apart)
        fit = statistics_meters.additive_fit(study.readings, study.priors)
    if not found:
        return [], None
    study = _with_scatter(fewer, u, drift)
    fit = statistics_meters.additive_fit(study.readings, study.priors)
    table = tables.meter_table(study, fit)
    return found, replace(table, name="meters_without", title="Meters, were the odd readings left out")


def _with_scatter(study: question.Study, u: float | None, drift: float | None) -> question.Study:
    """The scatter of a reading (given, seen or assumed), and how far places wander."""
    found, unit, dof = list(study.found), study.unit, math.inf
    if not u:
        seen, free = statistics_sittings.repeatability(study.readings)
        least = question.SCATTER.get(unit, 0.01 * float(np.ptp(study.readings.values)) or 1e-6)
        if free >= 3:
            u, dof = max(seen, statistics.last_digit(study.readings.values) / math.sqrt(12)), float(free)
        else:
            u = least
            text = f"one reading was taken to scatter by {u:.2g} {unit} (common practice, no source)"
            hint = f"give it: u '{u:.2g} {unit}', or stand meters side by side"
            found.append(question.said("instruments/assumed-scatter", question.NOTE, text, hint))
    sittings = len(set(study.readings.sitting)) > 1
    jumps = drift is None
    if drift is None:
        seen = statistics_sittings.wander(replace(study.readings, u=u))
        drift = u if math.isnan(seen) else math.sqrt(seen)
        if sittings and math.isnan(seen):
            text = f"a place was taken to wander by {drift:.2g} {unit} in an hour, as a reading scatters"
            hint = f"give it: drift '{drift:.2g} {unit}', or 0 for none"
            found.append(question.said("instruments/assumed-drift", question.NOTE, text, hint))
    readings = replace(study.readings, u=u, drift=drift**2, jumps=jumps)
    return replace(study, readings=readings, dof=dof, found=tuple(found))


def refused(faults: Sequence[findings.Finding], typed: Mapping[str, str]) -> answers.Answer:
    """What cannot be compared, and why."""
    sentence = f"These readings cannot be compared yet: {faults[0].text}."
    return answers.Answer(
        question=question.QUESTION,
        sentence=sentence,
        state="cannot-say",
        findings=tuple(faults),
        inputs=dict(typed),
    )


# ---------------------------------------------------------------------------------------------------
# Judging


def _doubts(study: question.Study, fit: statistics_meters.AdditiveFit) -> list[findings.Finding]:
    """What the comparison cannot tell, and whether it hangs together."""
    found: list[findings.Finding] = []
    chance = statistics.chi_square_tail(fit.chi_square, fit.dof) if fit.dof else 1.0
    if math.isinf(study.dof) and chance < 0.01:
        text = f"the readings scatter more than u and drift allow ({_chance(chance)})"
        hint = "give a larger u or drift, or look for a meter that changed meanwhile"
        found.append(question.said("instruments/poor-fit", question.ASK, text, hint))
    for group in fit.groups:
        if group.absolute or not group.meters:
            continue
        names = ", ".join(group.meters)
        text = f"no check fixes the level common to {names}: only their differences are known"
        if len(group.meters) == 1:
            text = f"no check fixes the level of {names}"
        found.append(question.said("instruments/common-level", question.NOTE, text, _check_hint(study)))
        if not any(meter in study.accuracies for meter in group.meters):
            text = f"{names}: no stated accuracy bounds how far they may all be off"
            hint = "state it in the facility file: accuracy = '1 %'"
            found.append(question.said("instruments/assumed-accuracy", question.NOTE, text, hint))
    return found


def _check_hint(study: question.Study) -> str:
    if study.unit in question.PRESSURES:
        return "check one of them in air, its membrane dry"
    oxygen = study.unit in ("mg/L", "µmol/kg")
    return "check one of them against wet chemistry" if oxygen else "check one of them against a standard"


def _odd(
    study: question.Study, fit: statistics_meters.AdditiveFit, at: int, chance: float, item: int
) -> findings.Finding:
    data, unit = study.readings, study.unit
    d = tables.digits(study)
    off = float(fit.residuals[at]) / (1 - float(fit.leverage[at]))
    text = (
        f"{data.meter[at]} at {data.place[at]}, sitting {data.sitting[at]}: "
        f"{data.values[at]:.{d}f} {unit} is "
        f"{abs(off):.{d}f} {'above' if off > 0 else 'below'} what all other readings say ({_chance(chance)})"
    )
    label = study.labels[at] if study.labels else ""
    return findings.Finding(
        code="instruments/odd-reading",
        level=question.ASK,
        text=text,
        hint="look for a slip of the pen; it was kept, and a table shows the meters without it",
        spot=findings.Spot(item=item + 1, thing=label),
        data={"item": item + 1, "reading": label, "off": off, "chance": chance},
    )


def _chance(p: float) -> str:
    return f"p = {p:.1g}" if p >= 1e-4 else "p < 0.0001"


def _significant(study: question.Study, told: tuple[float, float, str], tests: int) -> bool:
    if told[1] <= 0 or not math.isfinite(told[1]):
        return False
    alone = float(statistics.student_tail(told[0] / told[1], study.dof))
    return -math.expm1(tests * math.log1p(-min(alone, 1 - 1e-16))) < 0.05


_Verdict = tuple[str, str, list[findings.Finding]]


def _verdict(study: question.Study, fit: statistics_meters.AdditiveFit) -> _Verdict:
    """State, sentence, and findings about meters."""
    apart = [group for group in fit.groups if group.meters]
    pairs = tables.pairs(fit)
    first = next(iter(fit.meters))
    if len(fit.meters) < 2 and not any(group.absolute for group in apart):
        text = f"only {first} read here: nothing to compare it with"
        fault = question.said("instruments/too-few", question.ASK, text, "read a second meter beside it")
        return "cannot-say", f"Cannot say: {text}.", [fault]
    off, more = _off(study, fit)
    sure = [row for row in pairs if _significant(study, row[2], len(pairs))]
    more += _beyond(study, sure)
    if len(apart) > 1 and not all(group.absolute for group in apart):
        parts = "; ".join(", ".join(group.meters) for group in apart)
        text = f"nothing connects these parts, so no difference between them is known: {parts}"
        hint = next(iter(_pair_sentence(study)), "read a meter of each part side by side")
        more.append(question.said("instruments/disconnected", question.ASK, text, hint))
        return (
            "disconnected",
            f"The meters fall into {len(apart)} parts that nothing connects: {parts}.",
            more,
        )
    if off:
        return "off", " ".join(off), more
    if sure:
        return "differ", _differ(study, fit, sure), [*more, _differing(study, sure)]
    if not pairs:
        return "agree", f"{first} reads right within its interval.", more
    widest = max(tables.half(study, told[1]) + told[0] for _, _, told in pairs)
    most = f"at most {_up(study, widest)} {study.unit}"
    if widest > _telling(study, fit.meters):
        wide = f"a difference of up to {_up(study, widest)} {study.unit} would not show"
        return "cannot-say", f"Cannot say: {wide}.", more
    return "agree", f"No two of {len(fit.meters)} meters differ by more than scatter: {most}.", more


def _telling(study: question.Study, meters: Sequence[str]) -> float:
    """A difference that has to show before meters may be said to agree: both their accuracies together."""
    usual = 2.5 * question.CHECKED.get(study.unit, math.inf)
    return 2 * max(study.accuracies.get(meter, usual) for meter in meters)


def _up(study: question.Study, value: float) -> str:
    d = tables.digits(study)
    return f"{math.ceil(value * 10**d - 1e-9) / 10**d:.{d}f}"


def _off(
    study: question.Study, fit: statistics_meters.AdditiveFit
) -> tuple[list[str], list[findings.Finding]]:
    """Meters that a check shows to be off."""
    said: list[str] = []
    found: list[findings.Finding] = []
    for group in fit.groups:
        for meter in group.meters if group.absolute else ():
            told = fit.combination({meter: 1.0})
            if told[2] != "readings" or not _significant(study, told, len(fit.meters)):
                continue
            way = "high" if told[0] > 0 else "low"
            text = f"{meter} reads {tables.text(study, tables.value(study, told))} too {way}"
            said.append(text + ".")
            found.append(
                question.said(
                    "instruments/off", question.ASK, text, f"zero {meter}, or subtract it", thing=meter
                )
            )
            stated = study.accuracies.get(meter)
            if stated is not None and abs(told[0]) - tables.half(study, told[1]) > stated:
                text = f"{meter} is further off than its stated ±{stated:g} {study.unit}"
                hint = "look at its membrane and its settings"
                found.append(
                    question.said("instruments/beyond-accuracy", question.ASK, text, hint, thing=meter)
                )
    return said, found


_Pair = tuple[str, str, tuple[float, float, str]]


def _beyond(study: question.Study, sure: Sequence[_Pair]) -> list[findings.Finding]:
    """Pairs that differ by more than both stated accuracies together."""
    found: list[findings.Finding] = []
    for high, low, told in sure:
        if high not in study.accuracies or low not in study.accuracies:
            continue
        allowed = study.accuracies[high] + study.accuracies[low]
        if told[0] - tables.half(study, told[1]) > allowed:
            text = f"{high} and {low} differ by more than both stated accuracies, {allowed:g} {study.unit}"
            hint = "one of them is broken, wet, fouled or wrongly set"
            found.append(question.said("instruments/beyond-accuracy", question.ASK, text, hint, thing=high))
    return found


def _differing(study: question.Study, sure: Sequence[_Pair]) -> findings.Finding:
    high, low, told = sure[0]
    text = f"{high} reads {tables.text(study, tables.value(study, told))} above {low}"
    return question.said("instruments/differ", question.ASK, text, _check_hint(study), thing=high)


def _differ(study: question.Study, fit: statistics_meters.AdditiveFit, sure: Sequence[_Pair]) -> str:
    """Differences only: who stands out, and what is not known."""
    high, low, told = sure[0]
    by = tables.text(study, tables.value(study, told))
    alone = _stands_alone(fit.meters, sure)
    if alone:
        others = [meter for meter in fit.meters if meter != alone]
        weights: dict[Hashable, float] = dict.fromkeys(others, -1 / len(others))
        weights[alone] = 1.0
        apart = fit.combination(weights)
        way = "above" if apart[0] > 0 else "below"
        gap = tables.text(study, tables.value(study, apart))
        text = f"{alone} reads {gap} {way} {_and(others)}, which agree: the likelier one to be off."
    else:
        text = f"{high} reads {by} above {low}."
    common = fit.combination({meter: 1 / len(fit.meters) for meter in fit.meters})
    if not common[2]:
        return f"{text} The level common to all is not known: that needs an absolute reference."
    wide = _up(study, tables.half(study, common[1]))
    level = f"The level common to all is known to ±{wide} {study.unit} only"
    return f"{text} {level}: it needs an absolute reference."


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _stands_alone(meters: Sequence[str], sure: Sequence[_Pair]) -> str:
    """The one meter that is part of every sure difference, where there are others to agree."""
    if len(meters) < 3:
        return ""
    shared = set(meters)
    for high, low, _ in sure:
        shared &= {high, low}
    return shared.pop() if len(shared) == 1 and len(sure) > 1 else ""


# ---------------------------------------------------------------------------------------------------
# Numbers, next readings, working


def _values(study: question.Study, fit: statistics_meters.AdditiveFit) -> dict[str, answers.Value]:
    pairs = tables.pairs(fit)
    common = fit.combination({meter: 1 / len(fit.meters) for meter in fit.meters})
    nothing = answers.Value(value=None, unit=study.unit, text="nothing fixes it")
    return {
        "largest_difference": tables.value(study, pairs[0][2]) if pairs else nothing,
        "common_level": (
            answers.Value(value=tables.half(study, common[1]), unit=study.unit) if common[2] else nothing
        ),
        "scatter": answers.Value(value=study.readings.u, unit=study.unit),
    }


def _next(study: question.Study, fit: statistics_meters.AdditiveFit) -> list[str]:
    """What to read next, most telling first."""
    pair = _pair_sentence(study)
    check = [] if any(group.absolute for group in fit.groups) else [f"{_check_hint(study).capitalize()}."]
    return [*pair, *check] if len([group for group in fit.groups if group.meters]) > 1 else [*check, *pair]


def _pair_sentence(study: question.Study) -> list[str]:
    pair = statistics_sittings.next_pair(study.readings, study.order, study.priors)
    if pair is None or pair.after > 0.9 * pair.before:
        return []
    (one, here), (other, there) = pair.first, pair.second
    where = (
        f"{one} and {other} side by side at {here}"
        if pair.side_by_side
        else f"{one} at {here} and {other} at {there}"
    )
    before, after = (tables.half(study, sd) for sd in (pair.before, pair.after))
    now = f"now ±{_up(study, before)}" if before < 5 * np.ptp(study.readings.values) else "now not at all"
    if _up(study, after) == _up(study, before):
        return []
    gain = f"differences would then be known to ±{_up(study, after)} {study.unit}, {now}"
    return [f"Read {where} in one sitting: {gain}."]


def _working(study: question.Study, fit: statistics_meters.AdditiveFit) -> list[answers.Step]:
    data, unit = study.readings, study.unit
    seen = f"{study.dof:.0f} degrees of freedom" if math.isfinite(study.dof) else "given or assumed"
    counts: dict[str, tuple[float | str, str]] = {
        "readings": (float(len(data.meter)), ""),
        "meters": (float(len(fit.meters)), ""),
        "levels": (float(len(fit.levels)), ""),
        "u": (data.u, unit),
    }
    model = "reading = level of the place then + offset of the meter + error, Σ(error/u)² least"
    note = f"u {seen}; χ² = {fit.chi_square:.1f} on {fit.dof}"
    steps = [
        _step("offsets", model, counts, None, unit, question.SOURCE_FIT, note),
        _step(
            "drift", "level now − level before = 0 ± drift·√hours",
            {"drift": (math.sqrt(data.drift), f"{unit}/√h")}, None, unit, "Harvey (1989), 2.3 (local level)",
            "Student-3: a place may jump" if data.jumps else "",
        ),
    ]  # fmt: skip
    source = "a check; its ± and how it ages: USGS SIR 2004-5249, OFR 2007-1408"
    for anchor in data.anchors:
        name = f"offset of {anchor.meter}"
        steps.append(_step(name, "reads − should read", {"u": (anchor.u, unit)}, anchor.value, unit, source))
    if study.accuracies and not all(group.absolute for group in fit.groups):
        stated: dict[str, tuple[float | str, str]] = {m: (a, unit) for m, a in study.accuracies.items()}
        mean = "mean of offsets weighted by 1/u²; u = a/√3"
        note = "they fix the common level only; differences come from readings alone"
        steps.append(_step("common level", mean, stated, None, unit, question.SOURCE_BOUND, note))
    return steps


def _step(
    name: str,
    equation: str,
    inputs: Mapping[str, tuple[float | str, str]],
    result: float | None,
    unit: str,
    source: str,
    note: str = "",
) -> answers.Step:
    return answers.Step(
        name=name, equation=equation, inputs=inputs, result=result, unit=unit, source=source, note=note
    )
