"""When gas pressure rises: which pump's running goes with it, and by what kind of gas.

Gas samples of one system are fitted by least squares with a level for each place, a daily rhythm, a step at
each dated change of plant, and one pump's running (from a date that is searched for). The pump whose running
explains most is named only where its rivals fall far behind; the rise of nitrogen against oxygen says how the
gas got in. Without a clear pump the answer is that these readings cannot tell.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta

import numpy as np

from brinehouse import answers
from brinehouse.engines.gas_changes import fitting, question, telling

SURE = 0.95  # share of the weight a pump must hold before it is named


def answer(given: Mapping[str, str | Sequence[float]]) -> answers.Answer:
    """The question as the generic page asks it: one pump, one place, columns of numbers."""
    columns = {
        name: np.asarray(given[name], dtype=float)
        for name in ("hours", "running", "delta_p", "oxygen", "nitrogen")
    }
    origin = datetime(2000, 1, 1, tzinfo=UTC)
    when = [origin + timedelta(hours=float(hour)) for hour in columns["hours"]]
    samples = [
        question.Sample(at=at, place="here", delta_p=float(p), oxygen=float(o), nitrogen=float(n))
        for at, p, o, n in zip(when, columns["delta_p"], columns["oxygen"], columns["nitrogen"], strict=True)
    ]
    states = columns["running"] > 0.5
    turns = [
        question.Turn(at=at - timedelta(minutes=30), pump="the pump", running=bool(state))
        for number, (at, state) in enumerate(zip(when, states, strict=True))
        if number == 0 or state != states[number - 1]
    ]
    return survey(samples, turns, (), memory={"here": 0.1})


def survey(
    samples: Sequence[question.Sample],
    turns: Sequence[question.Turn],
    changes: Sequence[question.Change],
    *,
    memory: Mapping[str, float] | None = None,
) -> answers.Answer:
    """Which pump's running goes with the gas in one system.

    Parameters
    ----------
    samples : sequence of Sample
        One system's, any places.
    turns : sequence of Turn
        Starts and stops of the pumps that serve it.
    changes : sequence of Change
        Dated changes of plant; each gets a step of its own at each place.
    memory : mapping, optional
        Volume over flow by place, 1 h where it is not known. [h]
    """
    pumps = sorted({turn.pump for turn in turns})
    if len(samples) < question.FEWEST or not pumps:
        return telling.too_little(len(samples), len(pumps))
    case = fitting.case(samples, changes)
    names, columns, begins = fitting.candidates(case, samples, turns, pumps, memory or {})
    if not names:
        return telling.too_little(len(samples), 0)
    gains = fitting.gains(case, columns)
    weights = fitting.weights(case, gains, names)
    best = int(np.argmax(gains))
    sure = weights[names[best]] >= SURE and fitting.beyond_chance(case, gains[best], len(names))
    column, begin = fitting.dated(case, columns[:, names.index(names[best])], begins[best])
    rises = {
        name: fitting.rise(case, column, getattr(case, name)) for name in ("delta_p", "oxygen", "nitrogen")
    }
    sure = sure and rises["delta_p"][0] > 0.0
    found = telling.Found(
        case=case,
        samples=len(samples),
        begin=begin,
        weights=weights,
        rises=rises,
        column=column,
        changes=changes,
    )
    return telling.named(found, names[best]) if sure else telling.unsure(found)
