"""The answer: tables, explanations and sentences made of the fits."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from brinehouse import answers, findings
from brinehouse.engines.gas_changes import fitting, question


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What the fits found, whether or not it is enough to name a pump."""

    case: fitting.Case
    samples: int
    begin: float
    weights: Mapping[str, float]
    rises: fitting.Rises
    column: fitting.Floats
    changes: Sequence[question.Change]

    @property
    def newest(self) -> datetime:
        """When the newest sample was taken."""
        return self.case.start + timedelta(hours=float(self.case.hours.max()))


def _ratio(rises: fitting.Rises) -> answers.Value:
    """Nitrogen's rise over oxygen's, with Fieller's interval.

    The two rises share their errors (the same water, the same probe), which their residuals tell.
    """
    (n, un, rn), (o, uo, ro) = rises["nitrogen"], rises["oxygen"]
    together = float(np.corrcoef(rn, ro)[0, 1]) * un * uo if np.ptp(rn) > 0 and np.ptp(ro) > 0 else 0.0
    t2 = answers.COVERAGE**2
    a, b, c = o * o - t2 * uo * uo, n * o - t2 * together, n * n - t2 * un * un
    if a <= 0.0:
        return answers.Value(value=n / o if o else None, unit="1", low=-math.inf, high=math.inf)
    root = math.sqrt(max(b * b - a * c, 0.0))
    return answers.Value(value=n / o, unit="1", low=(b - root) / a, high=(b + root) / a)


def _mechanisms(rises: fitting.Rises, pump: str, samples: int) -> tuple[answers.Explanation, ...]:
    """Each way gas can get in, by how well its ratio of nitrogen to oxygen meets the two rises."""
    (n, un, _), (o, uo, _) = rises["nitrogen"], rises["oxygen"]
    found: list[tuple[float, float, question.Mechanism]] = []
    for mechanism in question.MECHANISMS:
        ratios = np.linspace(mechanism[2], mechanism[3], 25)
        misfit = (n - ratios * o) ** 2 / (un * un + (ratios * uo) ** 2)
        found.append((mechanism[1] * float(np.exp(-0.5 * misfit).mean()), float(misfit.min()), mechanism))
    total = sum(likelihood for likelihood, _, _ in found) or 1.0
    return tuple(
        answers.Explanation(
            code=mechanism[0],
            text=mechanism[4],
            fit=math.erfc(math.sqrt(misfit / 2.0)),
            weight=likelihood / total,
            corrected={},
            next_reading=mechanism[5].format(pump=pump),
            visits=(samples, samples),
        )
        for likelihood, misfit, mechanism in sorted(found, key=lambda row: -row[0])
    )


def _told(design: fitting.Floats, case: fitting.Case) -> tuple[list[float], list[float]]:
    """Sizes and uncertainties of ΔP's columns, slips tamed."""
    sizes, doubts, _ = fitting.careful(design, fitting.tamed(design, case.delta_p), case.hours)
    return sizes.tolist(), doubts.tolist()


def _by_place(case: fitting.Case, column: fitting.Floats) -> answers.Table:
    """The rise of ΔP at each place."""
    rows: list[Mapping[str, Any]] = []
    for number, place in enumerate(case.places):
        here = case.place == number
        if np.ptp(column[here]) < 0.3 or here.sum() < 5:
            continue
        others = np.column_stack([np.where(here, column, 0.0), np.where(here, 0.0, column)])
        sizes, doubts = _told(np.column_stack([case.base, others]), case)
        doubt = math.hypot(doubts[-2], fitting.MODEL * sizes[-2])
        rise = answers.Value(value=sizes[-2], unit="mmHg", u=doubt)
        rows.append({"place": place, "rise": rise, "samples": int(here.sum())})
    return answers.Table(
        name="places",
        title="ΔP higher while it runs",
        columns=(
            answers.Output(name="place", label="place", unit=""),
            answers.Output(name="rise", label="rise", unit="mmHg", decimals=1),
            answers.Output(name="samples", label="samples", unit="", decimals=0),
        ),
        rows=tuple(rows),
    )


def _steps(
    case: fitting.Case, column: fitting.Floats, changes: Sequence[question.Change]
) -> tuple[answers.Table, ...]:
    """What each dated change of plant did at each place; nothing where there was none."""
    if not changes:
        return ()
    design = np.column_stack([case.base, column])
    sizes, doubts = _told(design, case)
    rows: list[Mapping[str, Any]] = []
    at = len(case.places)
    for change in changes:
        after = case.hours >= (change.at - case.start).total_seconds() / 3600.0
        for number, place in enumerate(case.places):
            here = case.place == number
            if 3 <= int((after & here).sum()) <= int(here.sum()) - 3:
                value = answers.Value(value=sizes[at], unit="mmHg", u=doubts[at])
                rows.append(
                    {"change": change.text, "at": change.at.date().isoformat(), "place": place, "step": value}
                )
                at += 1
    table = answers.Table(
        name="changes",
        title="ΔP after each change of plant",
        columns=(
            answers.Output(name="change", label="change", unit=""),
            answers.Output(name="at", label="since", unit=""),
            answers.Output(name="place", label="place", unit=""),
            answers.Output(name="step", label="step", unit="mmHg", decimals=1),
        ),
        rows=tuple(rows),
    )
    return (table,)


def _shares(found: Found) -> str:
    shares = sorted(found.weights.items(), key=lambda row: -row[1])
    return ", ".join(f"{name} {share:.0%}" for name, share in shares)


def unsure(found: Found) -> answers.Answer:
    """No pump stands out: say so, and what would tell."""
    shares = _shares(found)
    doubt = findings.Finding(
        code="changes/cannot-tell",
        level=findings.Level.NOTE,
        text=f"No pump's running goes with the gas clearly enough to name it (weights: {shares}).",
        hint="read ΔP and oxygen just before a pump is changed over and ten minutes after, pump by pump",
        data={"weights": dict(found.weights)},
    )
    return answers.Answer(
        question=question.QUESTION,
        sentence="These readings cannot tell whether any pump brings gas in.",
        state="cannot-say",
        tables=_steps(found.case, found.column, found.changes),
        findings=(doubt,),
        next_readings=(f"ΔP and oxygen before and after a change-over, pump by pump: {shares}",),
        as_of=found.newest,
        used=found.samples,
    )


def named(found: Found, pump: str) -> answers.Answer:
    """One pump stands out: how much, since when, and what kind of gas."""
    rises, ratio = found.rises, _ratio(found.rises)
    explained = _mechanisms(rises, pump, found.samples)
    since = found.case.start + timedelta(hours=found.begin)
    names = {"delta_p": ("rise", "mmHg"), "oxygen": ("oxygen_rise", "%"), "nitrogen": ("nitrogen_rise", "%")}
    values = {
        target: answers.Value(value=rises[name][0], unit=unit, u=rises[name][1])
        for name, (target, unit) in names.items()
    }
    said = findings.Finding(
        code="changes/pump-goes-with-gas",
        level=findings.Level.ACT,
        text=f"Gas pressure is {rises['delta_p'][0]:.0f} mmHg higher while {pump} runs"
        + (f", since about {since.date().isoformat()}." if found.begin > 0 else "."),
        hint=f"rest {pump} or look at its suction: strainer, lid, gaskets, water level over the inlet",
        data={"pump": pump, "since": since.isoformat(), "weights": dict(found.weights)},
    )
    return answers.Answer(
        question=question.QUESTION,
        sentence=f"Gas comes in while {pump} runs: {explained[0].text}.",
        state="found",
        values={**values, "ratio": ratio},
        tables=(_by_place(found.case, found.column), *_steps(found.case, found.column, found.changes)),
        findings=(said,),
        explanations=explained,
        next_readings=(explained[0].next_reading,),
        working=_working(rises, ratio, pump, found.samples),
        as_of=found.newest,
        used=found.samples,
    )


def _working(rises: fitting.Rises, ratio: answers.Value, pump: str, samples: int) -> tuple[answers.Step, ...]:
    return (
        answers.Step(
            name="rise",
            equation="ΔP = level(place) + day + steps + rise × running",
            inputs={"samples": (float(samples), "1"), "pump": (pump, "")},
            result=rises["delta_p"][0],
            unit="mmHg",
            source="least squares; errors that hang together after Newey and West (1987)",
        ),
        answers.Step(
            name="ratio",
            equation="rise of N2+Ar % / rise of O2 %",
            inputs={"nitrogen": (rises["nitrogen"][0], "%"), "oxygen": (rises["oxygen"][0], "%")},
            result=ratio.value,
            unit="1",
            source="interval: Fieller (1954)",
        ),
    )


def too_little(samples: int, pumps: int) -> answers.Answer:
    """Not enough to compare."""
    short = findings.Finding(
        code="changes/too-little",
        level=findings.Level.NOTE,
        text=f"{samples} gas samples and {pumps} pumps with a running record: too little to compare.",
        hint=f"take at least {question.FEWEST} samples with each pump on and off, and log which run",
        data={"samples": samples, "pumps": pumps},
    )
    return answers.Answer(
        question=question.QUESTION,
        sentence="There are too few readings to say which pump brings gas in.",
        state="cannot-say",
        findings=(short,),
        next_readings=(short.hint,),
        used=samples,
    )
