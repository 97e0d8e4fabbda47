"""What a comparison of meters found, in rows."""

from __future__ import annotations

import itertools
import math
from typing import Any

from brinehouse import answers
from brinehouse.engines.instruments import question
from brinehouse.science import statistics, statistics_meters


def half(study: question.Study, u: float) -> float:
    """Half-width of the 95 % interval."""
    return statistics.student(study.dof) * u


def value(study: question.Study, told: tuple[float, float, str]) -> answers.Value:
    """An estimate with its interval; empty where nothing fixes it."""
    middle, u, basis = told
    if not basis:
        return answers.Value(value=None, unit=study.unit, text="nothing fixes it")
    wide = half(study, u)
    return answers.Value(value=middle, unit=study.unit, u=u, low=middle - wide, high=middle + wide)


def digits(study: question.Study) -> int:
    """Decimals worth showing."""
    return max(0, min(4, math.ceil(0.3 - math.log10(study.readings.u))))


def text(study: question.Study, told: answers.Value) -> str:
    """``1.2 % (0.9 to 1.5)``, without its sign."""
    d = digits(study)
    if told.value is None or told.low is None or told.high is None:
        return "unknown"
    low, high = (told.low, told.high) if told.value >= 0 else (-told.high, -told.low)
    return f"{abs(told.value):.{d}f} {study.unit} ({low:.{d}f} to {high:.{d}f})"


def _against(
    study: question.Study, told: tuple[float, float, str], group: statistics_meters.Group, meter: str
) -> str:
    checks = dict(study.checks)
    if told[2] == "readings" and group.absolute:
        return checks.get(meter) or f"the check of {', '.join(m for m in group.meters if m in checks)}"
    return {"accuracies": "stated accuracies only"}.get(told[2], "nothing absolute")


def meter_table(study: question.Study, fit: statistics_meters.AdditiveFit) -> answers.Table:
    """Each meter: how much too high it reads, and against what that is judged."""
    rows: list[dict[str, Any]] = []
    for group in fit.groups:
        for meter in group.meters:
            told = fit.combination({meter: 1.0})
            rows.append(
                {
                    "meter": meter,
                    "offset": value(study, told),
                    "against": _against(study, told, group, meter),
                    "accuracy": study.accuracies.get(meter),
                    "readings": study.readings.meter.count(meter),
                }
            )
    columns = (
        answers.Output(name="meter", label="Meter", unit=""),
        answers.Output(name="offset", label="Reads too high by", unit=study.unit),
        answers.Output(name="against", label="Judged against", unit=""),
        answers.Output(name="accuracy", label="Stated ±", unit=study.unit),
        answers.Output(name="readings", label="Readings", unit="", decimals=0),
    )
    return answers.Table(name="meters", title="Meters", columns=columns, rows=tuple(rows))


def pairs(fit: statistics_meters.AdditiveFit) -> list[tuple[str, str, tuple[float, float, str]]]:
    """Meters that readings compare, the one that reads higher first."""
    out: list[tuple[str, str, tuple[float, float, str]]] = []
    for group in fit.groups:
        for one, other in itertools.combinations(group.meters, 2):
            value, u, basis = fit.difference(one, other)
            if basis == "readings":
                out.append(
                    (one, other, (value, u, basis)) if value >= 0 else (other, one, (-value, u, basis))
                )
    return sorted(out, key=lambda row: -row[2][0])


def difference_table(study: question.Study, fit: statistics_meters.AdditiveFit) -> answers.Table:
    """Each pair of meters that readings compare."""
    rows = [{"higher": a, "lower": b, "difference": value(study, told)} for a, b, told in pairs(fit)]
    columns = (
        answers.Output(name="higher", label="Meter", unit=""),
        answers.Output(name="lower", label="reads above", unit=""),
        answers.Output(name="difference", label="by", unit=study.unit),
    )
    return answers.Table(name="differences", title="Differences of meters", columns=columns, rows=tuple(rows))


def place_table(study: question.Study, fit: statistics_meters.AdditiveFit) -> answers.Table:
    """Each place in each sitting: what it really reads."""
    rows: list[dict[str, Any]] = []
    for level in sorted(fit.levels):
        place, sitting = level
        told = fit.combination({level: 1.0})
        rows.append({"place": place, "sitting": sitting or "all", "level": value(study, told)})
    columns = (
        answers.Output(name="place", label="Place", unit=""),
        answers.Output(name="sitting", label="Sitting", unit=""),
        answers.Output(name="level", label="Really reads", unit=study.unit),
    )
    return answers.Table(name="places", title="Places", columns=columns, rows=tuple(rows))


def group_table(fit: statistics_meters.AdditiveFit) -> answers.Table:
    """The parts that nothing connects."""
    columns = (
        answers.Output(name="meters", label="Meters", unit=""),
        answers.Output(name="places", label="Places", unit=""),
        answers.Output(name="absolute", label="Checked", unit=""),
    )
    rows = tuple(
        {
            "meters": ", ".join(g.meters),
            "places": ", ".join(g.places),
            "absolute": "yes" if g.absolute else "no",
        }
        for g in fit.groups
    )
    return answers.Table(name="parts", title="Parts that nothing connects", columns=columns, rows=rows)
