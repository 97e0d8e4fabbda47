"""What the sheet ``flows`` shows: runs by system, meters, balances, each with its working."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from brinehouse import answers
from brinehouse.facility import model
from brinehouse.web import catalogue, flow_drawing, svg

LEVELS: Mapping[str, str] = {"suspect": "watch", "in set": "watch"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One run as shown."""

    id: str
    name: str
    way: str
    stated: answers.Value | None
    measured: answers.Value | None
    computed: answers.Value | None
    flow: answers.Value | None
    level: str
    word: str
    picture: Markup
    step: answers.Step | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The runs of one system."""

    name: str
    lines: Sequence[Line]


def groups(answer: answers.Answer, facility: model.Facility, t: catalogue.Words) -> list[Group]:
    """Every run under the system it brings water to."""
    steps = {step.name: step for step in answer.working}
    by_system: dict[str, list[Line]] = {}
    for row in table(answer, "flows").rows:
        run = facility.runs[str(row["run"])]
        by_system.setdefault(_system(facility, run), []).append(
            _line(row, run, facility, steps.get(run.id), t)
        )
    return [Group(name=name, lines=lines) for name, lines in by_system.items()]


def _system(facility: model.Facility, run: model.Run) -> str:
    for end in (run.target, run.source):
        if end in facility.vessels:
            system = facility.systems.get(facility.vessels[end].system)
            return system.name if system else facility.vessels[end].name
    return run.name


def _line(
    row: Mapping[str, Any],
    run: model.Run,
    facility: model.Facility,
    step: answers.Step | None,
    t: catalogue.Words,
) -> Line:
    mark = str(row["mark"])
    word = t(f"flows.mark_{mark.replace(' ', '_')}")
    return Line(
        id=run.id,
        name=str(row["name"]),
        way=f"{_place(facility, run.source, t)} → {_place(facility, run.target, t)}",
        stated=row["stated"],
        measured=row["measured"],
        computed=row["computed"],
        flow=row["flow"],
        level=LEVELS.get(mark, ""),
        word=word,
        picture=flow_drawing.beside(row, label=said(row, word, t)),
        step=step,
    )


def _place(facility: model.Facility, name: str, t: catalogue.Words) -> str:
    if name == model.OUTSIDE:
        return t("flows.outside")
    for shelf in (facility.vessels, facility.equipment, facility.duties, facility.pumps):
        if name in shelf:
            return shelf[name].name or name
    return name


def said(row: Mapping[str, Any], word: str, t: catalogue.Words) -> str:
    """A row in words, for those who hear the drawing."""
    parts = [
        t(f"flows.said_{key}", number=svg.digits(row[key].value, 3 if abs(row[key].value) < 1 else 1))
        for key in ("flow", "stated", "measured", "computed")
        if row[key] is not None and row[key].value is not None
    ]
    return f"{row['name']}: {', '.join([*parts, word])}"


def table(answer: answers.Answer, name: str) -> answers.Table:
    """A table of the answer."""
    return next(one for one in answer.tables if one.name == name)


def tests(answer: answers.Answer) -> list[answers.Step]:
    """The working of the tests, apart from that of the runs."""
    runs = {str(row["run"]) for row in table(answer, "flows").rows}
    return [step for step in answer.working if step.name not in runs]


def meters(answer: answers.Answer, t: catalogue.Words) -> list[dict[str, Any]]:
    """What each meter reads beside what all the others say."""
    return [
        {
            **row,
            "level": LEVELS.get(str(row["state"]), ""),
            "word": t(f"flows.state_{str(row['state']).replace(' ', '_')}"),
        }
        for row in table(answer, "meters").rows
    ]
