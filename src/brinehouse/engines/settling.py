"""What a gas trial will settle at, and whether it is settled: to be asked again at each new reading."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from brinehouse import answers, findings
from brinehouse.science import statistics, statistics_trial

USUAL_MINUTES = (20.0, 30.0)
"""A membrane meter's usual time to settle. common practice, no source."""

USUAL_TIME_CONSTANT = USUAL_MINUTES[1] / 4
"""Four time constants leave 2 % of the change. [min]"""

SETTLED_WITHIN: Mapping[str, float] = {"%": 0.3, "mmHg": 2.0, "hPa": 3.0, "kPa": 0.3, "mbar": 3.0}
"""What counts as settled where nobody said: about 0.3 % of an atmosphere. common practice, no source."""

CREEP = 0.01
"""A creep is named where scatter alone would show one as steep less often than this."""

SOURCE_FIT = (
    "Golub and Pereyra (1973), SIAM J. Numer. Anal. 10, 413-432; checked with NIST StRD BoxBOD, Misra1a"
)
SOURCE_PROFILE = "Bates and Watts (1988), Nonlinear Regression Analysis, ch. 6"

QUESTION = answers.Question(
    name="settling",
    title="What will this gas trial settle at, and is it settled?",
    inputs=(
        answers.Input(
            name="minutes",
            label="Minutes",
            kind="series",
            unit="min",
            example="0 2 4 6 8 12 16 20",
            required=True,
            help="Minutes since the probe went in.",
        ),
        answers.Input(
            name="value",
            label="Reading",
            kind="series",
            word="total gas pressure",
            unit="%",
            example="100.4 102.0 103.0 103.7 104.1 104.6 104.8 104.9",
            required=True,
            help="What the display showed at each of these minutes.",
        ),
        answers.Input(
            name="unit", label="Unit of the readings", kind="text", example="%", help="The display's unit."
        ),
        answers.Input(
            name="start",
            label="Value at minute 0, where it is known",
            unit="%",
            example="100 %",
            help="Leave empty unless it is known without reading it: it bends the whole curve.",
        ),
        answers.Input(
            name="resolution",
            label="Step of the display",
            unit="%",
            example="0.1 %",
            help="The last digit's step.",
        ),
        answers.Input(
            name="u",
            label="Standard uncertainty of one reading",
            unit="%",
            example="0.1 %",
            help="Leave empty to take it from how the readings scatter about the curve.",
        ),
        answers.Input(
            name="tolerance",
            label="Settled means less than this is left",
            unit="%",
            example="0.3 %",
            help="Leave empty for the largest of 0.3 %, the display's step and the readings' scatter.",
        ),
    ),
    outputs=(
        answers.Output(name="plateau", label="Settles at", unit="", help="In the unit of the readings."),
        answers.Output(name="time_constant", label="Time constant", unit="min", decimals=1),
        answers.Output(name="remaining", label="Still to change", unit=""),
        answers.Output(name="minutes_to_go", label="Minutes until settled", unit="min", decimals=0),
        answers.Output(name="tolerance", label="Settled within", unit=""),
        answers.Output(name="scatter", label="Scatter of a reading", unit=""),
    ),
    cautions=("Lifting the probe, shaking off bubbles or wetting the membrane starts a trial anew.",),
)

_UNSEEN = (
    answers.Open(
        code="settling/pinned",
        text="Liquid water in the cell or bubbles on the membrane can pin a reading.",
        next_reading="Shake the probe and lower it by a metre: what stays put is pinned.",
    ),
    answers.Open(
        code="settling/drifting-water",
        text="The water itself may change while the meter settles.",
        next_reading="A second trial, or the same meter back at this place later in the visit.",
    ),
)


# ---------------------------------------------------------------------------------------------------
# Reading what was given


def read(
    given: Mapping[str, str | Sequence[float]],
) -> tuple[statistics_trial.Trial | None, tuple[findings.Finding, ...]]:
    """A trial from a form, a file's columns or a command's options; None where it cannot be used."""
    faults: list[findings.Finding] = []
    minutes = _column(given.get("minutes", ()), "minutes", faults)
    values = _column(given.get("value", ()), "value", faults)
    unit = _unit(str(given.get("unit") or "%"), faults)
    amounts = {
        name: _amount(str(given.get(name) or ""), unit, name, faults)
        for name in ("start", "u", "resolution", "tolerance")
    }
    if not faults:
        faults += _usable(minutes, values, amounts["start"])
    if faults:
        return None, tuple(faults)
    order = np.argsort(minutes, kind="stable")
    step = amounts["resolution"]
    return (
        statistics_trial.Trial(
            minutes=np.asarray(minutes)[order],
            values=np.asarray(values)[order],
            unit=unit,
            start=amounts["start"],
            u=amounts["u"] or None,
            resolution=step or statistics.last_digit(values),
            assumed=not step,
            tolerance=amounts["tolerance"] or None,
            usual=SETTLED_WITHIN.get(unit),
            usual_constant=USUAL_TIME_CONSTANT,
        ),
        (),
    )


def _column(cells: str | Sequence[float], name: str, faults: list[findings.Finding]) -> list[float]:
    parts: Sequence[str | float] = cells
    if isinstance(cells, str) and not cells.strip():
        return []
    if isinstance(cells, str):
        parts = cells.replace(";", " ").split() if cells.split()[1:] or ";" in cells else cells.split(",")
    got: list[float] = []
    for item, cell in enumerate(parts, start=1):
        try:
            number = float(str(cell).strip().rstrip(","))
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            faults.append(
                _bad(f"{name} {item} is '{cell}', which is not a number", "write it as 104.6", name, item)
            )
        got.append(number)
    return got


def _unit(text: str, faults: list[findings.Finding]) -> str:
    from brinehouse import units

    try:
        return units.unit(text.strip()).symbol
    except units.NotUnderstood as why:
        faults.append(_bad(f"unit is '{text}': {why.why}", why.hint, "unit"))
        return text


def _amount(text: str, unit: str, name: str, faults: list[findings.Finding]) -> float | None:
    """An amount in the unit of the readings; a bare number is taken to be in it already."""
    from brinehouse import units

    text = text.strip()
    if not text:
        return None
    try:
        value = units.read_plain(text)
        return units.read_amount(text).to(unit) if value is None else value
    except units.NotUnderstood as why:
        faults.append(_bad(f"{name} is '{text}': {why.why}", why.hint, name))
        return None


def _bad(
    text: str, hint: str, name: str, item: int | None = None, code: str = "settling/unreadable"
) -> findings.Finding:
    spot = findings.Spot(field=name, item=item)
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint, spot=spot)


def _usable(minutes: list[float], values: list[float], start: float | None) -> list[findings.Finding]:
    if len(minutes) != len(values):
        text = f"there are {len(minutes)} minutes and {len(values)} readings"
        return [_bad(text, "give each reading its minute", "value", code="settling/unequal-columns")]
    if len(minutes) < 2:
        text = f"a trial needs readings at two minutes or more, and this one has {len(minutes)}"
        return [_bad(text, "read again in two minutes", "value", code="settling/two-readings")]
    if max(minutes) == min(minutes):
        text = f"all {len(minutes)} readings are of minute {minutes[0]:g}"
        return [_bad(text, "give each reading its own minute", "minutes", code="settling/no-span")]
    if start is not None and min(minutes) < 0:
        text = f"a reading at minute {min(minutes):g} was taken before the start at minute 0"
        return [
            _bad(text, "count the minutes from when the probe went in", "minutes", code="settling/no-span")
        ]
    return []


# ---------------------------------------------------------------------------------------------------
# Saying


def answer(given: Mapping[str, str | Sequence[float]]) -> answers.Answer:
    """What the trial will settle at, and whether it is settled.

    Parameters
    ----------
    given : mapping
        By the names of the question's inputs; columns as numbers or as text.

    Returns
    -------
    Answer
        State ``settled``, ``settling`` or ``cannot-say``; fit, interval and time constant in any case.
    """
    trial, faults = read(given)
    typed = {name: text for name, text in given.items() if isinstance(text, str) and text}
    if trial is None:
        sentence = f"This trial cannot be used yet: {faults[0].text}."
        return answers.Answer(
            question=QUESTION, sentence=sentence, state="cannot-say", findings=faults, inputs=typed
        )
    return answer_trial(trial, typed)


def answer_trial(trial: statistics_trial.Trial, typed: Mapping[str, str] | None = None) -> answers.Answer:
    """As `answer`, for a trial that was read already."""
    verdict = statistics_trial.judge(trial)
    creep = statistics_trial.creep(trial, verdict)
    if creep is not None and creep.chance < CREEP:
        verdict = _widened(verdict, creep)
    return answers.Answer(
        question=QUESTION,
        sentence=_sentence(trial, verdict),
        state=verdict.state,
        values=_values(trial, verdict),
        findings=[*_findings(trial, verdict), *_creeping(trial, creep)],
        not_excluded=(*_tail(trial, creep), *_UNSEEN),
        next_readings=_next(trial, verdict),
        working=_working(trial, verdict),
        inputs=dict(typed or {}),
        used=int(np.sum(trial.minutes >= verdict.since)),
    )


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _values(trial: statistics_trial.Trial, verdict: statistics_trial.Verdict) -> dict[str, answers.Value]:
    fit, unit = verdict.fit, trial.unit
    tau_low, tau_high = fit.time_constant_interval
    left = (0.0, 0.0) if verdict.flat else fit.remaining_interval
    best, soon, late = (0.0, 0.0, 0.0) if verdict.flat else fit.minutes_until(verdict.tolerance)
    if verdict.state == "settled":
        best = soon = 0.0
    return {
        "plateau": answers.Value(
            value=_finite(verdict.plateau), unit=unit, low=verdict.low, high=verdict.high
        ),
        "time_constant": answers.Value(
            value=None if verdict.flat else _finite(fit.time_constant), unit="min", low=tau_low, high=tau_high
        ),
        "remaining": answers.Value(
            value=0.0 if verdict.flat else _finite(fit.remaining), unit=unit, low=left[0], high=left[1]
        ),
        "minutes_to_go": answers.Value(value=_finite(best), unit="min", low=soon, high=late),
        "tolerance": answers.Value(value=verdict.tolerance, unit=unit, text=verdict.why),
        "scatter": answers.Value(value=_finite(fit.residual_sd), unit=unit),
    }


def _digits(trial: statistics_trial.Trial) -> int:
    return min(max(0, -math.floor(math.log10(trial.resolution) + 1e-9)), 3)


def _span(low: float, high: float, digits: int) -> str:
    if math.isfinite(low) and math.isfinite(high):
        return f"{low:.{digits}f} to {high:.{digits}f}"
    if math.isfinite(low):
        return f"{low:.{digits}f} or more, without limit"
    return f"{high:.{digits}f} or less, without limit" if math.isfinite(high) else "no limit either way"


def _sentence(trial: statistics_trial.Trial, verdict: statistics_trial.Verdict) -> str:
    fit, digits, unit = verdict.fit, _digits(trial), trial.unit
    where = f"{verdict.plateau:.{digits}f} {unit} ({_span(verdict.low, verdict.high, digits)})"
    if verdict.flat:
        return f"Settled at {where}: no change in {fit.span:.0f} min beyond step and scatter."
    if verdict.state == "settled":
        most = max(abs(end) for end in fit.remaining_interval)
        return f"Settled: it ends at {where}, with no more than {_up(most)} {unit} left to change."
    if verdict.state == "settling":
        best, soon, late = fit.minutes_until(verdict.tolerance)
        more = f"{max(best, 1):.0f} more min ({soon:.0f} to {late:.0f})"
        return f"Settling towards {where}: about {more} until {verdict.tolerance:.2g} {unit} or less is left."
    if fit.dof >= 1 and math.isfinite(fit.time_constant_interval[1]) and verdict.p_runs < 0.05:
        return f"Cannot say: the readings do not follow one curve; the best one would end at {where}."
    if math.isnan(fit.time_constant):
        return f"Cannot say yet: no change in {fit.span:.3g} min, which is too short to rule out a slow one."
    if not math.isfinite(verdict.plateau):
        return f"Cannot say yet: these readings would fit {_any(verdict, unit, digits)}."
    high = fit.time_constant_interval[1]
    upto = f"as long as {high:.3g} min" if math.isfinite(high) else "of any length"
    return (
        f"Cannot say yet: the best curve ends at {where}, but its time constant may be {upto}, "
        f"and {fit.span:.3g} min were watched."
    )


def _any(verdict: statistics_trial.Verdict, unit: str, digits: int) -> str:
    if math.isfinite(verdict.low):
        return f"any plateau from {verdict.low:.{digits}f} {unit} up"
    if math.isfinite(verdict.high):
        return f"any plateau from {verdict.high:.{digits}f} {unit} down"
    return "any plateau"


def _up(value: float) -> str:
    """Two digits, rounded away from nought: an upper limit must stay one."""
    if value <= 0:
        return "0"
    scale = 10.0 ** (math.floor(math.log10(value)) - 1)
    return f"{math.ceil(value / scale - 1e-9) * scale:.2g}"


def _findings(trial: statistics_trial.Trial, verdict: statistics_trial.Verdict) -> list[findings.Finding]:
    fit, found = verdict.fit, list[findings.Finding]()
    note, ask = findings.Level.NOTE, findings.Level.ASK
    if trial.assumed:
        text = f"the display's step was not given; the decimals say {trial.resolution:g} {trial.unit}"
        hint = f"give it: resolution '{trial.resolution:g} {trial.unit}'"
        found.append(_said("settling/step-assumed", note, text, hint))
    if fit.dof < 1 and not verdict.flat:
        text = f"{trial.values.size} readings fit a curve exactly and show no scatter to judge it by"
        hint = "read on: four readings are the fewest, eight are good"
        found.append(_said("settling/two-readings", ask, text, hint))
    elif verdict.state == "cannot-say" and not fit.time_constant_interval[1] < fit.span:
        text = f"{fit.span:.3g} min were watched and the time constant may be as long or longer"
        found.append(_said("settling/too-short", ask, text, _next(trial, verdict)[0]))
    if verdict.flat:
        text = f"no change in {fit.span:.3g} min beyond step and scatter: no time constant can be seen"
        hint = "nothing to do; a membrane slower than usual would not show here"
        found.append(_said("settling/flat", note, text, hint))
    return [*found, *_odd_shape(trial, verdict)]


def _odd_shape(trial: statistics_trial.Trial, verdict: statistics_trial.Verdict) -> list[findings.Finding]:
    """Not one approach, only later one, or a slow one."""
    fit, found = verdict.fit, list[findings.Finding]()
    if verdict.p_runs < 0.05:
        text = f"the readings run in waves about the best curve (p = {verdict.p_runs:.3f})"
        hint = "look for bubbles, a moved probe, or changing water; start anew"
        found.append(_said("settling/not-first-order", findings.Level.ASK, text, hint))
    elif verdict.since > trial.minutes[0]:
        text = f"the readings before minute {verdict.since:g} follow another curve; judged from there on"
        hint = "a probe that warms up, or was moved, does this"
        found.append(_said("settling/later-part", findings.Level.NOTE, text, hint))
    shortest = fit.time_constant_interval[0]
    if not verdict.flat and verdict.state != "cannot-say" and 4 * shortest > 2 * USUAL_MINUTES[1]:
        usual = "20 to 30 is usual (common practice, no source)"
        text = f"this trial needs {4 * fit.time_constant:.0f} min to settle; {usual}"
        hint = "look at the membrane: wet inside, fouled or damaged ones are slow"
        found.append(_said("settling/slow", findings.Level.NOTE, text, hint))
    return found


def _widened(verdict: statistics_trial.Verdict, creep: statistics_trial.Creep) -> statistics_trial.Verdict:
    """A creep that shows may go on: the plateau's interval reaches as far as it could in half an hour."""
    more = creep.hidden * USUAL_MINUTES[1]
    if creep.slope > 0:
        return replace(verdict, high=verdict.high + more)
    return replace(verdict, low=verdict.low - more)


def _creeping(trial: statistics_trial.Trial, creep: statistics_trial.Creep | None) -> list[findings.Finding]:
    if creep is None or creep.chance >= CREEP:
        return []
    hour = f"{60 * creep.slope:+.1f} {trial.unit} in an hour"
    text = f"beside the approach the readings go on creeping, {hour} (p = {creep.chance:.1g})"
    hint = "read on for half an hour: a slow second approach, or the water itself"
    return [_said("settling/creep", findings.Level.ASK, text, hint)]


def _tail(trial: statistics_trial.Trial, creep: statistics_trial.Creep | None) -> list[answers.Open]:
    """How much a slower approach could hide."""
    if creep is None:
        return []
    ahead = USUAL_MINUTES[1]
    most = f"up to {_up(creep.hidden * ahead)} {trial.unit} in the next {ahead:.0f} min would not show"
    text = f"A second, slower approach (a fouled or ageing membrane) may hide behind the first: {most}."
    again = f"Once more at minute {float(trial.minutes[-1]) + ahead:.0f}."
    return [answers.Open(code="settling/slow-tail", text=text, next_reading=again)]


def _said(code: str, level: findings.Level, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=level, text=text, hint=hint)


def _next(trial: statistics_trial.Trial, verdict: statistics_trial.Verdict) -> list[str]:
    """When to read again."""
    fit, last = verdict.fit, float(trial.minutes[-1])
    if verdict.state == "settled":
        return []
    if verdict.state == "settling":
        until = last + max(fit.minutes_until(verdict.tolerance)[0], 1.0)
        return [f"Read again at minute {until:.0f}."]
    wanted = fit.origin + 1.5 * fit.time_constant if math.isfinite(fit.time_constant) else last + fit.span
    ahead = min(max(wanted, last + max(2.0, fit.span / 4)), last + max(2 * fit.span, 5.0))
    return [f"Read on, and again at minute {ahead:.0f}."]


def _working(trial: statistics_trial.Trial, verdict: statistics_trial.Verdict) -> list[answers.Step]:
    fit, unit = verdict.fit, trial.unit
    n = float(np.sum(trial.minutes >= verdict.since))
    scatter = f"known: {trial.u:g} {unit}" if trial.u else f"from {fit.dof} degrees of freedom"
    inputs: dict[str, tuple[float | str, str]] = {"readings": (n, ""), "span": (fit.span, "min")}
    note = "start fixed" if trial.start is not None and verdict.since <= trial.minutes[0] else "start fitted"
    note += "; flat: the mean of the readings is given instead" if verdict.flat else ""
    bound = "chi-square bound" if trial.u else "F bound, no less than the display's step allows"
    curve = "y = P + (y0 − P)·exp(−t/τ); P and y0 by least squares at every τ, τ by search"
    every = "every P (every τ) whose least sum of squares stays below S"
    most: float | str = fit.threshold if math.isfinite(fit.threshold) else "no bound"
    start = {"y0": (fit.start, unit), "scatter": (scatter, "")}
    left = {"T": (fit.span, "min"), "tolerance": (verdict.tolerance, unit)}
    return [
        _step("plateau", curve, inputs | start, fit.plateau, unit, SOURCE_FIT, note),
        _step(
            "time_constant", "the τ with the least sum of squares",
            inputs | {"sum of squares": (fit.rss, f"{unit}²")}, fit.time_constant, "min", SOURCE_FIT,
        ),
        _step("interval", every, {"S": (most, f"{unit}²")}, math.nan, "", SOURCE_PROFILE, f"95 %, {bound}"),
        _step(
            "remaining", "(P − y0)·exp(−T/τ), T the minutes watched", left, fit.remaining, unit,
            "the curve above", f"settled within: {verdict.why}",
        ),
    ]  # fmt: skip


def _step(
    name: str,
    equation: str,
    inputs: Mapping[str, tuple[float | str, str]],
    result: float,
    unit: str,
    source: str,
    note: str = "",
) -> answers.Step:
    return answers.Step(
        name=name,
        equation=equation,
        inputs=inputs,
        result=_finite(result),
        unit=unit,
        source=source,
        note=note,
    )


# ---------------------------------------------------------------------------------------------------
# Live


def live(trial: statistics_trial.Trial, points: int = 60) -> dict[str, Any]:
    """What a page draws while a trial runs: readings, curve, band, plateau; no infinities in it.

    Parameters
    ----------
    trial : statistics_trial.Trial
        The readings so far.
    points : int
        Of the curve.

    Returns
    -------
    dict
        ``state``, ``sentence``, ``unit``, ``points`` [[minute, value]], ``curve`` [[minute, value]], ``band``
        [[minute, low, high]] with None for no limit, ``plateau`` and ``time_constant`` [value, low, high],
        ``minutes_to_go`` [value, low, high], ``tolerance``, ``next``.
    """
    verdict = statistics_trial.judge(trial)
    fit, last = verdict.fit, float(trial.minutes[-1])
    ahead = fit.minutes_until(verdict.tolerance)[0] if math.isfinite(fit.time_constant) else math.inf
    until = last + min(max(ahead, 0.2 * fit.span), 1.5 * fit.span)
    minutes = np.linspace(max(verdict.since, fit.origin), until, points)
    curve, (low, high) = fit.curve(minutes), fit.band(minutes)
    values = _values(trial, verdict)

    def triple(name: str) -> list[float | None]:
        got = values[name]
        return [None if x is None else _finite(x) for x in (got.value, got.low, got.high)]

    return {
        "state": verdict.state,
        "sentence": _sentence(trial, verdict),
        "unit": trial.unit,
        "points": [[float(m), float(v)] for m, v in zip(trial.minutes, trial.values, strict=True)],
        "curve": [[float(m), _finite(float(v))] for m, v in zip(minutes, curve, strict=True)],
        "band": [
            [float(m), _finite(float(a)), _finite(float(b))]
            for m, a, b in zip(minutes, low, high, strict=True)
        ],
        "plateau": triple("plateau"),
        "time_constant": triple("time_constant"),
        "minutes_to_go": triple("minutes_to_go"),
        "tolerance": verdict.tolerance,
        "next": _next(trial, verdict),
    }
