"""The working behind every number: each run's statements, and the test of each part."""

from __future__ import annotations

from collections.abc import Sequence

from brinehouse import answers
from brinehouse.engines.flows import question, solving
from brinehouse.facility import model

SOURCE = "weighted least squares under balances: Narasimhan and Jordache (2000), ch. 3; VDI 2048 Part 1"
LIMIT = "chi-square, 95 %; score: 95 % for all meters together (Šidák 1967)"


def steps(facility: model.Facility, studied: Sequence[solving.Studied]) -> tuple[answers.Step, ...]:
    """A step for every run that has a flow, and one for every part that was tested."""
    home = {run: one for one in studied for run in one.part.runs}
    made: list[answers.Step] = []
    for run in facility.runs:
        step = _run(home[run], run)
        if step is not None:
            made.append(step)
    tested = [_test(one) for one in studied if one.measured and one.case.found.freedom]
    return (*made, *tested)


def _run(one: solving.Studied, run: str) -> answers.Step | None:
    value, u = one.mended.run(run)
    if value != value:
        return None
    inputs: dict[str, tuple[float | str, str]] = {}
    for item in one.mended.items:
        if item.run == run:
            label = f"{item.kind} {item.key}" if item.kind == "measured" else item.kind
            inputs[label] = (round(item.value, 4), "m³/h")
            inputs[f"u({label})"] = (round(item.u, 4), "m³/h")
    left_out = [
        one.case.items[cause.item].key
        for cause in one.verdict.causes
        if cause.item is not None and one.case.items[cause.item].run == run
    ]
    inputs["u(reconciled)"] = (round(u, 4), "m³/h")
    return answers.Step(
        name=run,
        equation="x = y − S A' V⁻¹ (A y − b), V = A S A'" if inputs else "x = −A⁺ (A y − b)",
        inputs=inputs,
        result=round(value, 4),
        unit="m³/h",
        source=SOURCE,
        note=f"left out as suspect: {', '.join(left_out)}" if left_out else "",
    )


def _test(one: solving.Studied) -> answers.Step:
    found = one.case.found
    where = one.part.places[0] if one.part.places else one.part.runs[0]
    return answers.Step(
        name=f"misfit round {where}",
        equation="γ = (A y − b)' V⁻¹ (A y − b)",
        inputs={
            "balances": (float(found.freedom), "1"),
            "limit": (round(found.critical, 3), "1"),
            "largest score allowed": (round(found.score_critical, 3), "1"),
            "evaporation, m³/h from each m²": (question.EVAPORATION, "m³/h"),
        },
        result=round(found.statistic, 4),
        unit="1",
        source=LIMIT,
        note="evaporation by surface: common practice, no source",
    )
