"""Every engine behind one counter: its question, and its answer to what was typed.

An engine is one module and one line here before it gets a page of its own.
"""

from __future__ import annotations

import importlib
from collections.abc import Mapping, Sequence
from typing import Any

from brinehouse import answers, findings
from brinehouse.workbench import mishaps

ENGINES: Mapping[str, str] = {
    "gas budget": "brinehouse.engines.gas_budget",
    "settling": "brinehouse.engines.settling",
    "instruments": "brinehouse.engines.instruments",
    "gas changes": "brinehouse.engines.gas_changes",
    "balance": "brinehouse.engines.balance",
    "time in hand": "brinehouse.engines.time_in_hand",
    "turns": "brinehouse.engines.turns",
}


def names() -> Sequence[str]:
    """Engines that can be asked."""
    return list(ENGINES)


def engine(name: str) -> Any:
    """An engine's module, loaded on first use; refused with the nearest name where there is none."""
    module = ENGINES.get(name.replace("-", " ").replace("_", " "))
    if module is None:
        raise mishaps.Refused(
            findings.Finding(
                code="workbench/no-engine",
                level=findings.Level.STOP,
                text=f"'{name}' is not a question that can be asked",
                hint=f"ask one of: {', '.join(ENGINES)}",
            )
        )
    return importlib.import_module(module)


def question(name: str) -> answers.Question:
    """What an engine asks for and gives."""
    return engine(name).QUESTION


def ask(name: str, given: Mapping[str, str | Sequence[float]]) -> answers.Answer:
    """An engine's answer to what was typed; series given as text are read as columns of numbers."""
    module = engine(name)
    return module.answer(_columns(module.QUESTION, given))


def _columns(
    asked: answers.Question, given: Mapping[str, str | Sequence[float]]
) -> dict[str, str | Sequence[float]]:
    """Series typed as ``0 5 10`` or one a line become lists; other answers stay as typed."""
    from brinehouse import units

    out: dict[str, str | Sequence[float]] = {}
    faults: list[findings.Finding] = []
    for item in asked.inputs:
        value = given.get(item.name, "")
        if isinstance(value, str) and not value.strip():
            if item.required:
                faults.append(_needed(item))
            continue
        if item.kind != "series" or not isinstance(value, str):
            out[item.name] = value
            continue
        row: list[Any] = []
        for place, word in enumerate(value.replace(";", " ").split(), 1):
            try:
                row.append(units.read_number(word).value)
            except units.NotUnderstood as fault:
                row.append(word)
                if item.unit != "":
                    faults.append(_not_a_number(item, place, fault))
        out[item.name] = row
    if faults:
        raise mishaps.Refused(*faults)
    return out


def _needed(item: answers.Input) -> findings.Finding:
    return findings.Finding(
        code="workbench/needed",
        level=findings.Level.STOP,
        text=f"{item.label} is needed",
        hint=f"for example {item.example}" if item.example else item.help,
        spot=findings.Spot(field=item.name),
    )


def _not_a_number(item: answers.Input, place: int, fault: Any) -> findings.Finding:
    return findings.Finding(
        code=fault.code,
        level=findings.Level.STOP,
        text=f"{item.label}, number {place}: {fault.why}",
        hint=fault.hint,
        spot=findings.Spot(field=item.name, item=place),
    )
