"""The survey of one system: fit, weigh the pumps, foretell, and say it."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping

from brinehouse import answers, findings
from brinehouse.engines.gas_sources import case as cases
from brinehouse.engines.gas_sources import (
    fitting,
    leaks,
    loop,
    narrowing,
    question,
    result,
    supposing,
    telling,
)
from brinehouse.engines.gas_sources import foretelling as ft

NOT_ASKED = 3.0  # nats by which a pump that cannot leak must beat the others before it is spoken of


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What was made of the pumps: state (as the answer's), and the pump or pumps it speaks of."""

    state: str
    pumps: tuple[str, ...]
    weighed: leaks.Weighed
    fit: fitting.Fit


def survey(given: question.Given) -> answers.Answer:
    """Where the excess gas of one system comes from.

    Parameters
    ----------
    given : Given
        Readings as corrected, pump turns, hydraulics and flows, as plain data.

    Returns
    -------
    Answer
        Tables ``sources``, ``removals``, ``what_ifs`` and ``pumps``; ``state`` is ``found``, ``no-leak``,
        ``cannot-say`` or ``refused``, and ``too-little`` where nothing could be fitted.
    """
    taps = {sample.place for sample in given.samples if sample.place in given.facility.runs}
    lay = loop.of(given.facility, given.system, given.flows, taps)
    usable = [s for s in given.samples if s.place in lay.places or s.place in lay.taps]
    if len(usable) < question.FEWEST or not lay.legs:
        return telling.too_little(given, len(usable), bool(lay.legs))
    case = cases.of(given, lay)
    verdict = judge(given, lay, case)
    hour = float(case.hours.max())
    scenes = [
        *supposing.usual(verdict.fit, given.facility, hour),
        *supposing.planned(verdict.fit, given.changed, given.system),
    ]
    told = ft.foretell(verdict.fit, [supposing.today(verdict.fit), *(one.scene for one in scenes)], hour)
    return telling.said(
        result.Found(
            given=given,
            fit=verdict.fit,
            state=verdict.state,
            pumps=verdict.pumps,
            weighed=verdict.weighed,
            told=told,
            supposed=tuple(scenes),
            hour=hour,
            next=narrowing.best(verdict.fit, verdict.weighed, given.facility, hour),
        )
    )


def judge(given: question.Given, lay: loop.Loop, case: cases.Case) -> Verdict:
    """The fit, with a leak where one is likely; which pump, or which of several."""
    plain = fitting.solve(given, lay, case, None, rounds=3, learn=False)
    turned = [pump for pump in lay.pumps if pump in case.turns]
    first = leaks.weigh(plain, turned)
    fit = plain
    if first.best:
        heaviest = max(first.best.values(), key=lambda one: one.worth)
        fit = fitting.solve(given, lay, case, heaviest.leak, plain)
    else:
        fit = fitting.solve(given, lay, case, None, plain)
    whole = leaks.weigh(fit, turned)
    allowed = [pump for pump in turned if may_leak(given.suctions, pump)]
    weighed = whole if allowed == turned else leaks.weigh(fit, allowed)
    refused = _refused(whole, weighed, allowed)
    if refused or not weighed.first:
        state = "refused" if refused else "no-leak" if weighed.weights[""] >= 0.5 else "cannot-say"
        pumps = (refused,) if refused else ()
        bare = fitting.solve(given, lay, case, None, fit)
        return Verdict(state=state, pumps=pumps, weighed=whole if refused else weighed, fit=bare)
    leak = leaks.dated(fit, weighed.best[weighed.first].leak)
    best = fit
    if leak != fit.leak:
        learn = fit.leak is None or leak.pump != fit.leak.pump
        best = fitting.solve(given, lay, case, leak, fit, learn=learn)
    sure = weighed.weights[weighed.first] >= question.SURE and best.values["leak"] > 0.0
    held = tuple(p for p, w in sorted(weighed.weights.items(), key=lambda r: -r[1]) if p and w >= 0.02)
    return Verdict(
        state="found" if sure else "cannot-say",
        pumps=(weighed.first,) if sure else held,
        weighed=weighed,
        fit=best,
    )


def may_leak(suctions: Mapping[str, question.Suction], pump: str) -> bool:
    """Whether air can be drawn in at a pump; one that the hydraulics say nothing of is not ruled out."""
    told = suctions.get(pump)
    return told is None or told.below_air != "no"


def _refused(whole: leaks.Weighed, weighed: leaks.Weighed, allowed: list[str]) -> str:
    """A pump whose running goes with the gas by far the best, though no air can come in there."""
    first = whole.first
    if not first or first in allowed or whole.weights[first] < question.SURE:
        return ""
    rival = max((one.worth for one in weighed.best.values()), default=-math.inf)
    return first if whole.best[first].worth > max(rival, 0.0) + NOT_ASKED else ""


def joined(parts: Mapping[str, answers.Answer], names: Mapping[str, str]) -> answers.Answer:
    """The answers of several systems as one: what needs a person first, tables one below the other."""
    order = ["found", "refused", "cannot-say", "no-leak", "too-little"]
    ranked = sorted(parts, key=lambda system: order.index(parts[system].state))
    if not ranked:
        return telling.nothing()
    lead = parts[ranked[0]]
    told: list[findings.Finding] = [f for system in ranked for f in parts[system].findings]
    tables: dict[str, answers.Table] = {}
    for system in ranked:
        for table in parts[system].tables:
            rows = tuple({"system": system, **row} for row in table.rows)
            before = tables.get(table.name)
            tables[table.name] = dataclasses.replace(table, rows=(*before.rows, *rows) if before else rows)
    return dataclasses.replace(
        lead,
        sentence=f"{names.get(ranked[0], ranked[0])}: {lead.sentence[0].lower()}{lead.sentence[1:]}"
        if len(ranked) > 1
        else lead.sentence,
        tables=tuple(tables.values()),
        findings=tuple(told),
        next_readings=tuple(dict.fromkeys(n for system in ranked for n in parts[system].next_readings)),
        used=sum(one.used for one in parts.values()),
        as_of=max((one.as_of for one in parts.values() if one.as_of is not None), default=None),
    )
