"""The answer: one sentence, a row for every run, a row for every meter, and what to read next."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from brinehouse import answers, findings
from brinehouse.engines.flows import naming, question, solving, tabling, working
from brinehouse.facility import hidden, model
from brinehouse.network import flows as network

ORDER = ("meter", "leak", "set", "stated", "computed", "cannot-tell", "closes", "only-stated", "no-flows")


def answer(
    facility: model.Facility, studied: Sequence[solving.Studied], written: network.RunFlows
) -> answers.Answer:
    """Everything the parts of the plant say, the most pressing first."""
    states = {id(one): state(one) for one in studied}
    first = min(studied, key=lambda one: ORDER.index(states[id(one)]), default=None)
    overall = states[id(first)] if first is not None else "no-flows"
    told: list[findings.Finding] = [*written.findings]
    explained: list[answers.Explanation] = []
    for one in studied:
        told += about(facility, one)
        explained += explanations(facility, one)
    if not any(one.measured for one in studied):
        told.append(_nothing_measured(facility))
    newest = [item.at for one in studied for item in one.case.items if item.at is not None]
    return answers.Answer(
        question=question.QUESTION,
        sentence=sentence(facility, first, overall, studied),
        state=overall,
        values=tabling.values(studied),
        tables=(
            tabling.flows(facility, studied),
            tabling.meters(facility, studied),
            tabling.balances(facility, studied),
        ),
        findings=tuple(sorted(told, key=lambda one: -list(findings.Level).index(one.level))),
        explanations=tuple(explained),
        not_excluded=tuple(item for one in studied for item in _dismissed(facility, one)),
        next_readings=_next(facility, studied),
        working=working.steps(facility, studied),
        as_of=max(newest, default=None),
        used=sum(item.count for one in studied for item in one.case.items if item.kind == "measured"),
    )


def state(one: solving.Studied) -> str:
    """The verdict on one part; where nothing was measured there is none to give."""
    if one.measured:
        return one.verdict.state
    return "only-stated" if one.case.items else "no-flows"


# -- words -------------------------------------------------------------------------------------------


def cause_words(facility: model.Facility, case: solving.Case, cause: solving.Cause) -> str:
    """What may be wrong, in words."""
    if cause.item is None:
        which = "leaves" if cause.size > 0 else "comes in"
        return f"water that {which} unseen at {naming.place_named(facility, cause.place)}"
    item = case.items[cause.item]
    if item.kind == "measured":
        return f"{item.name} on {naming.where(facility, item)}"
    kind = "the house file's figure for" if item.kind == "stated" else "the computed flow of"
    return f"{kind} {naming.where(facility, item)}"


def amount(value: float) -> str:
    """A flow with three digits."""
    return f"{value:.3g} m³/h"


def _either(words: Sequence[str]) -> str:
    return " or ".join(words) if len(words) == 2 else "; ".join(words)


def _off(case: solving.Case, cause: solving.Cause) -> str:
    """How far a meter is off, in words: a share of what it should read."""
    item = case.items[cause.item or 0]
    right = item.value - cause.size
    if right <= 0:
        return f"{amount(abs(cause.size))} too {'high' if cause.size > 0 else 'low'}"
    share = cause.size / right
    return f"{abs(share) * 100:.0f} % too {'high' if share > 0 else 'low'}"


def sentence(
    facility: model.Facility, one: solving.Studied | None, overall: str, studied: Sequence[solving.Studied]
) -> str:
    """The answer in one sentence."""
    if one is None or overall == "no-flows":
        return "No flow is stated or measured: nothing can be said about flows yet."
    if overall == "only-stated":
        return "No flow has been measured yet: these are the house file's figures and what follows from them."
    case, verdict = one.case, one.verdict
    if overall == "closes":
        tested = [each for each in studied if state(each) == "closes"]
        meters = sum(each.measured for each in tested)
        which = "flow closes" if meters == 1 else "flows close"
        return f"The flows agree: {meters} measured {which} every balance within what the meters can tell."
    if overall == "cannot-tell":
        return "Nothing checks the measured flows: no balance holds two of them."
    first = verdict.causes[0]
    if verdict.slip is not None:
        item = case.items[verdict.slip[0]]
        return f"{item.name} on {naming.where(facility, item)} looks like a slip of units: {verdict.slip[1]}."
    if overall == "set":
        words = [cause_words(facility, case, cause) for cause in verdict.causes]
        return f"One of these does not fit, and these readings cannot tell which: {_either(words)}."
    if overall == "leak":
        return f"About {amount(abs(first.size))} of {cause_words(facility, case, first)}."
    words = cause_words(facility, case, first)
    verb = "reads about" if overall == "meter" else "is about"
    return f"{_first(words)} {verb} {_off(case, first)}."


# -- findings ----------------------------------------------------------------------------------------

CODES: Mapping[str, str] = {
    "meter": "flows/meter-off",
    "set": "flows/set-off",
    "leak": "flows/leak",
    "stated": "flows/stated-off",
    "computed": "flows/computed-off",
}


def about(facility: model.Facility, one: solving.Studied) -> list[findings.Finding]:
    """What one part has to say."""
    if not one.measured:
        return []
    case, verdict = one.case, one.verdict
    told: list[findings.Finding] = []
    if verdict.causes:
        told.append(_suspicion(facility, one))
        if not verdict.enough:
            told.append(_more(one))
    elif verdict.state == "cannot-tell":
        told.append(_unchecked(facility, one))
    told += _untested(facility, one)
    told += _assumed(facility, one)
    told += _negative(facility, one)
    if one.span is not None and one.span.begin is not None:
        told.append(_since(one, one.span.begin))
    if case.loose and one.measured:
        told.append(_level(facility, case))
    return told


def _suspicion(facility: model.Facility, one: solving.Studied) -> findings.Finding:
    case, verdict = one.case, one.verdict
    first = verdict.causes[0]
    code = "flows/unit-slip" if verdict.slip else CODES[verdict.state]
    return findings.Finding(
        code=code,
        level=findings.Level.NOTE
        if code in ("flows/stated-off", "flows/computed-off")
        else findings.Level.WATCH,
        text=sentence(facility, one, verdict.state, [one]),
        hint=_hint(facility, one),
        data={
            "causes": [_plain(case, cause) for cause in verdict.causes],
            "same_direction": verdict.same,
            "size": first.size / question.M3H,
            "u": first.u / question.M3H,
            "spans": list(one.visits),
        },
    )


def _plain(case: solving.Case, cause: solving.Cause) -> dict[str, Any]:
    if cause.item is None:
        return {"kind": "leak", "place": cause.place, "m3h": cause.size}
    item = case.items[cause.item]
    return {"kind": item.kind, "point": item.key, "instrument": item.instrument, "m3h": cause.size}


def _hint(facility: model.Facility, one: solving.Studied) -> str:
    state_, verdict = one.verdict.state, one.verdict
    if verdict.slip is not None:
        return "look at how the reading was written down, and put it right in the log with the reason"
    if state_ == "leak":
        return "look for what leaves there: an overflow to drain, a hose, a valve to waste, a wet floor"
    if state_ == "computed":
        return (
            "look at the curve of its pumps, its pipe and its valves in the house file, and at the strainer"
        )
    if state_ == "stated":
        return "measure that run once more, then write the new figure into the house file"
    if one.next_run:
        return f"read the flow of {naming.named(facility, one.next_run)} with another meter in the same hour"
    item = one.case.items[verdict.causes[0].item or 0]
    where = naming.where(facility, item)
    return f"read the flow of {where} with another meter, or time a known volume where it falls"


def _more(one: solving.Studied) -> findings.Finding:
    rest = one.verdict.causes[0].rest
    return findings.Finding(
        code="flows/more-than-one",
        level=findings.Level.NOTE,
        text=f"No single cause explains the whole misfit (chance of the rest {rest:.1g}): look for more.",
        hint="put right what is named first, read once more, and ask again",
        data={"rest": rest},
    )


def _unchecked(facility: model.Facility, one: solving.Studied) -> findings.Finding:
    item = next(item for item in one.case.items if item.kind == "measured")
    return findings.Finding(
        code="flows/cannot-tell",
        level=findings.Level.NOTE,
        text=f"Nothing checks {item.name} on {naming.where(facility, item)}: no other known flow beside it.",
        hint="state or measure another flow of the same place",
        data={"point": item.key},
    )


def _untested(facility: model.Facility, one: solving.Studied) -> list[findings.Finding]:
    if one.verdict.state == "cannot-tell":
        return []
    return [
        findings.Finding(
            code="flows/untested",
            level=findings.Level.NOTE,
            text=f"{item.name} on {naming.where(facility, item)}: no balance tests it; untested is not good.",
            hint="measure or state the other flows at one end of that run",
            data={"point": item.key},
        )
        for at, item in enumerate(one.case.items)
        if item.kind == "measured" and not one.case.found.redundant[one.case.at(at)]
    ]


def _assumed(facility: model.Facility, one: solving.Studied) -> list[findings.Finding]:
    missing = sorted(
        {
            item.instrument or item.key
            for item in one.case.items
            if item.kind == "measured"
            and (
                item.instrument not in facility.instruments
                or "flow" not in facility.instruments[item.instrument].accuracy
            )
        }
    )
    if not missing:
        return []
    names = ", ".join(hidden.visible(name) for name in missing)
    return [
        findings.Finding(
            code="flows/assumed-accuracy",
            level=findings.Level.NOTE,
            text=f"Nobody stated how exact {names} is: 5 % of the reading was taken.",
            hint='state it in the house file: measures = ["flow"], accuracy = ["2 %"]',
            data={"instruments": missing},
        )
    ]


def _negative(facility: model.Facility, one: solving.Studied) -> list[findings.Finding]:
    out: list[findings.Finding] = []
    for run in one.part.runs:
        value, u = one.mended.run(run)
        if value < -2.0 * u and value < -question.LEAST:
            out.append(
                findings.Finding(
                    code="flows/backwards",
                    level=findings.Level.ASK,
                    text=f"By what was read {naming.named(facility, run)} runs backwards: {amount(value)}.",
                    hint="look at its valve and the meters beside it, or swap 'from' and 'to' in the file",
                    data={"run": run, "flow": value / question.M3H},
                )
            )
    return out


def _since(one: solving.Studied, begin: datetime) -> findings.Finding:
    where = one.part.places[0] if one.part.places else one.part.runs[0]
    return findings.Finding(
        code="flows/since-change-over",
        level=findings.Level.NOTE,
        text=(
            f"Round {hidden.visible(where)} only readings since the change-over of "
            f"{begin.date().isoformat()} are weighed: {one.measured} meters."
        ),
        hint="read the flows in one round between two change-overs",
        data={"begin": begin.isoformat()},
    )


def _level(facility: model.Facility, case: solving.Case) -> findings.Finding:
    names = ", ".join(naming.place_named(facility, place) for place in case.loose)
    return findings.Finding(
        code="flows/level-not-read",
        level=findings.Level.NOTE,
        text=f"The level of {names} is not read: what is lost or topped up there does not show.",
        hint="read its level at the beginning and the end of a round, or draw its top-up as a run",
        data={"places": list(case.loose)},
    )


def _nothing_measured(facility: model.Facility) -> findings.Finding:
    run = max(facility.runs.values(), key=lambda each: each.flow or 0.0, default=None)
    where = f"the flow of {run.name or hidden.visible(run.id)}" if run else "a flow"
    return findings.Finding(
        code="flows/nothing-measured",
        level=findings.Level.NOTE,
        text="No flow has been measured: nothing tests the house file's figures.",
        hint=f"begin with {where}: a meter on the pipe, or a known volume timed where it falls freely",
    )


def explanations(facility: model.Facility, one: solving.Studied) -> list[answers.Explanation]:
    """Each cause that would explain the misfit, weighed by its likelihood."""
    if not one.measured or not one.verdict.causes:
        return []
    causes = one.verdict.causes
    best = causes[0].score
    weights = [math.exp(-0.5 * (best - cause.score)) for cause in causes]
    return [
        answers.Explanation(
            code=_code(one.case, cause),
            text=cause_words(facility, one.case, cause),
            fit=cause.rest,
            weight=weight / sum(weights),
            corrected=_corrected(one.case, cause),
            next_reading=_hint(facility, one),
            visits=one.visits,
        )
        for cause, weight in zip(causes, weights, strict=True)
    ]


def _dismissed(facility: model.Facility, one: solving.Studied) -> list[answers.Open]:
    """Leaks that would explain the same, and why they are not believed."""
    if not one.measured:
        return []
    sumps = ", ".join(naming.place_named(facility, place) for place in one.case.loose)
    water = solving.floating(facility, one.case)
    return [
        answers.Open(
            code="flows/leak",
            text=(
                f"{_first(cause_words(facility, one.case, cause))}, {amount(abs(cause.size))}, would explain "
                f"the same; but {sumps} would have {'emptied' if cause.size > 0 else 'run over'} in "
                f"{water / abs(cause.size):.1f} h unless "
                f"{'topped up' if cause.size > 0 else 'drained'} as fast."
            ),
            next_reading=f"read the level of {sumps} twice, some hours apart",
        )
        for cause in one.verdict.dismissed
    ]


def _first(words: str) -> str:
    return words[:1].upper() + words[1:]


def _code(case: solving.Case, cause: solving.Cause) -> str:
    if cause.item is None:
        return CODES["leak"]
    kind = case.items[cause.item].kind
    return CODES["meter" if kind == "measured" else kind]


def _corrected(case: solving.Case, cause: solving.Cause) -> dict[str, answers.Value]:
    if cause.item is None:
        return {f"loss at {cause.place}": answers.Value(value=cause.size, unit="m³/h", u=cause.u)}
    item = case.items[cause.item]
    return {item.key: answers.Value(value=item.value - cause.size, unit="m³/h", u=cause.u)}


def _next(facility: model.Facility, studied: Sequence[solving.Studied]) -> tuple[str, ...]:
    """What to read next: what parts the suspects, else the widest interval in each part."""
    pressing = sorted(studied, key=lambda each: ORDER.index(state(each)))
    told = [_hint(facility, one) for one in pressing if one.measured and one.verdict.causes]
    for one in studied:
        widest = max(one.part.runs, key=lambda run: _relative(one, run), default="")
        measured = {item.run for item in one.case.items if item.kind == "measured"}
        if len(one.part.runs) > 1 and widest and widest not in measured:
            told.append(f"the flow of {naming.named(facility, widest)}: the least well known of its loop")
    return tuple(dict.fromkeys(told))


def _relative(one: solving.Studied, run: str) -> float:
    value, u = one.mended.run(run)
    return u / max(abs(value), question.LEAST) if value == value else math.inf
