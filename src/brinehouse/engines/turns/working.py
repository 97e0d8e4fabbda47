"""How the numbers of a plan came about."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from brinehouse import answers
from brinehouse.engines.turns import question, study

RULE = "own rule; offset and weekly runs are common practice, no source"
MARKOV = "Markov chain with constant rates, IEC 61165 (from memory)"


def steps(studied: Sequence[study.Study]) -> tuple[answers.Step, ...]:
    """Spacing, hours, dates and worth of every group."""
    return tuple(step for one in studied for step in _group(one))


def _group(one: study.Study) -> Iterable[answers.Step]:
    yield answers.Step(
        name=f"{one.duty.name}: kept apart by",
        equation="min(share, 1 / pumps) x hours from overhaul to overhaul",
        inputs={
            "share": (one.share, ""),
            "pumps": (float(len(one.units)), ""),
            "hours": (one.life if one.life is not None else "not told", "h" if one.life is not None else ""),
        },
        result=one.spacing,
        unit="h",
        source=RULE,
        note="at each turn those run whose hours lie least above their place; a difference under "
        f"{question.hours(question.TIE):.0f} h starts nobody, for a start fails once in "
        f"{1.0 / question.START_FAILS:.0f} (Fermilab FESHM 4240)",
    )
    for unit in one.units:
        when = one.overhauls.get(unit.pump)
        if when is None or unit.life is None:
            continue
        yield answers.Step(
            name=f"{unit.pump}: days to its overhaul",
            equation="(life - wear) / share; u = sqrt((168 x scatter)^2 x weeks + u_wear^2) / share",
            inputs={
                "life": (unit.life, "h"), "wear": (unit.wear, "h"), "u_wear": (unit.u, "h"),
                "share": (when.share, ""), "scatter of a week's share": (when.scatter, ""),
                "weeks": (when.weeks, ""),
            },
            result=(when.at - one.plan.begin) / question.DAY,
            unit="d",
            source=RULE,
            note="weeks are taken to scatter one by one, as they have in the log"
            if len(unit.weeks) >= 4
            else "fewer than four weeks are logged: the widest that a week's share can scatter",
        )  # fmt: skip
    if one.worth is not None:
        yield answers.Step(
            name=f"{one.duty.name}: years until too few run",
            equation="chain by pumps running, waiting, dead unnoticed, in repair; a share of common cause",
            inputs={
                "longest rest": (one.worth.every / 3600.0, "h"),
                "change-over works": (one.worth.change_over, ""),
                "shared cause": (one.duty.common_cause or 0.0, ""),
            },
            result=one.worth.years,
            unit="years",
            source=MARKOV,
            note="typical rates of the file; boards and what was seen since are on the sheet of standby",
        )
