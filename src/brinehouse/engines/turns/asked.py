"""The question as the generic page asks it: one group, from the hours of its pumps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

from brinehouse import answers, findings, units
from brinehouse.engines.turns import question, surveying
from brinehouse.facility import amounts, model

START = datetime(
    2000, 1, 3, tzinfo=UTC
)  # a Monday: what is typed knows no date, and is told in hours from now
MOST = 16


def answer(given: Mapping[str, str | Sequence[float]]) -> answers.Answer:
    """Turns of one group for a fortnight.

    Parameters
    ----------
    given : mapping
        What was typed: see `QUESTION`.
    """
    faults: list[findings.Finding] = []
    wear = _hours(given.get("hours", ""), faults)
    keep = _keep(_text(given, "keep"), len(wear), faults)
    turn = _span(_text(given, "turn"), "turn", faults)
    life = _span(_text(given, "life"), "life", faults)
    share = _share(_text(given, "offset"), faults)
    if faults or not wear:
        return answers.Answer(
            question=question.QUESTION,
            sentence="The turns cannot be planned from what was typed.",
            state="refused",
            findings=tuple(faults),
        )
    names = [f"pump {number + 1}" for number in range(len(wear))]
    facility = model.Facility(
        name="typed",
        pumps={name: model.Pump(id=name, name=name, overhaul=life) for name in names},
        duties={
            "typed": model.Duty(
                id="typed", name="group", pumps=tuple(names), keep=keep, turn=turn, offset=share
            )
        },
    )
    counters = [
        question.Counter(at=START, pump=name, hours=ran) for name, ran in zip(names, wear, strict=True)
    ]
    told = surveying.survey(facility, question.History(counters=counters), START).answer
    return answers.Answer(
        question=told.question,
        sentence=_sentence(told),
        state=told.state,
        values=told.values,
        tables=[_undated(table) for table in told.tables if table.name in ("changes", "pumps", "days")],
        findings=[one for one in told.findings if one.code not in ("turns/not-logged", "turns/no-turn")],
        working=told.working,
        inputs={name: text for name, text in given.items() if isinstance(text, str)},
    )


def _text(given: Mapping[str, str | Sequence[float]], name: str) -> str:
    got = given.get(name, "")
    return got.strip() if isinstance(got, str) else ""


def _input(name: str) -> answers.Input:
    return next(one for one in question.QUESTION.inputs if one.name == name)


def _hours(got: str | Sequence[float], faults: list[findings.Finding]) -> list[float]:
    item = _input("hours")
    try:
        row = [units.read_number(word).value for word in got.split()] if isinstance(got, str) else list(got)
    except units.NotUnderstood as fault:
        faults.append(item.refused(fault.code, f"{item.label}: {fault.why}", fault.hint))
        return []
    if not 1 <= len(row) <= MOST or any(not 0.0 <= one < 1e6 for one in row):
        text = f"{item.label}: one to {MOST} numbers are wanted, each from 0 to 1000000"
        faults.append(item.refused("turns/cannot", text))
        return []
    return row


def _keep(text: str, pumps: int, faults: list[findings.Finding]) -> int:
    if not text:
        return 1
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= max(pumps, 1):
        item = _input("keep")
        faults.append(item.refused("turns/cannot", f"{item.label}: a number from 1 to {pumps} is wanted"))
        return 1
    return int(text)


def _span(text: str, name: str, faults: list[findings.Finding]) -> float | None:
    if not text:
        return None
    item, got = _input(name), amounts.read(text, "time")
    if isinstance(got, amounts.Fault):
        faults.append(item.refused(got.code, f"{item.label} {got.why}", got.hint))
        return None
    if not 1800.0 <= got <= 3e9:
        faults.append(item.refused("turns/cannot", f"{item.label}: half an hour or more is wanted"))
        return None
    return got


def _share(text: str, faults: list[findings.Finding]) -> float | None:
    if not text:
        return None
    item, got = _input("offset"), amounts.fraction(text)
    if isinstance(got, amounts.Fault):
        faults.append(item.refused(got.code, f"{item.label} {got.why}", got.hint))
        return None
    return got


def _undated(table: answers.Table) -> answers.Table:
    """Without dates: what was typed has none."""
    dated = ("at", "due", "due_low", "due_high", "started", "since", "duty", "state")
    return answers.Table(
        name=table.name,
        title=table.title,
        columns=tuple(one for one in table.columns if one.name not in dated),
        rows=tuple({name: cell for name, cell in row.items() if name not in dated} for row in table.rows),
    )


def _sentence(told: answers.Answer) -> str:
    changes = next(table.rows for table in told.tables if table.name == "changes")
    first = [row for row in changes if row["after"] == 0.0]
    runs = ", ".join(str(row["start"]) for row in first if row["start"])
    later = next((row for row in changes if row["after"] > 0.0), None)
    after = (
        f"; after {later['after']:.0f} h {later['start']} takes over from {later['stop']}"
        if later is not None and later["start"] and later["stop"]
        else ""
    )
    return f"Now {runs} {'run' if ', ' in runs else 'runs'}{after}."
