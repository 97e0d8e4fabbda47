"""The tables of the answer: runs, meters, balances."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from brinehouse import answers
from brinehouse.engines.flows import naming, solving
from brinehouse.facility import model


def values(studied: Sequence[solving.Studied]) -> dict[str, answers.Value]:
    """The global test of the part that agrees least."""
    measured = [one for one in studied if one.measured and one.case.found.freedom]
    if not measured:
        return {}
    worst = min(measured, key=lambda one: one.case.found.probability)
    found = worst.case.found
    return {
        "misfit": answers.Value(value=found.statistic, unit="1"),
        "freedom": answers.Value(value=float(found.freedom), unit="1"),
        "probability": answers.Value(value=found.probability, unit="1"),
    }


def mark(one: solving.Studied, run: str) -> str:
    """How a run is known: suspect, in set, checked, untested, stated, computed, solved or open."""
    touched = {
        one.case.items[cause.item].run
        for cause in one.verdict.causes
        if cause.item is not None and one.case.items[cause.item].kind == "measured"
    }
    if one.measured and run in touched:
        return "suspect" if len(one.verdict.causes) == 1 else "in set"
    value, _ = one.mended.run(run)
    if value != value:
        return "open"
    mine = [at for at, item in enumerate(one.case.items) if item.run == run]
    kinds = {one.case.items[at].kind for at in mine}
    if not mine:
        return "solved"
    checked = any(one.case.found.redundant[one.case.at(at)] for at in mine)
    if "measured" in kinds:
        return "checked" if checked else "untested"
    if one.measured or "stated" not in kinds:
        return "solved"
    return "computed" if "computed" in kinds else "stated"


def flows(facility: model.Facility, studied: Sequence[solving.Studied]) -> answers.Table:
    """A row for every run."""
    rows: list[Mapping[str, Any]] = []
    home = {run: one for one in studied for run in one.part.runs}
    for run in facility.runs.values():
        one = home[run.id]
        value, u = one.mended.run(run.id)
        row: dict[str, Any] = {"run": run.id, "name": run.name or run.id}
        for kind in ("stated", "measured", "computed"):
            row[kind] = _said(one, run.id, kind)
        row["flow"] = answers.Value(value=value, unit="m³/h", u=u) if value == value else None
        row["mark"] = mark(one, run.id)
        rows.append(row)
    return answers.Table(
        name="flows",
        title="The flow of every run",
        columns=(
            answers.Output(name="run", label="run", unit=""),
            answers.Output(name="name", label="name", unit=""),
            answers.Output(name="stated", label="stated", unit="m³/h", decimals=2),
            answers.Output(name="measured", label="measured", unit="m³/h", decimals=2),
            answers.Output(name="computed", label="computed", unit="m³/h", decimals=2),
            answers.Output(name="flow", label="reconciled", unit="m³/h", decimals=2),
            answers.Output(name="mark", label="mark", unit=""),
        ),
        rows=tuple(rows),
    )


def _said(one: solving.Studied, run: str, kind: str) -> answers.Value | None:
    """What was said of a run in one way; several meters weighed by their uncertainty."""
    some = [item for item in one.case.items if item.run == run and item.kind == kind]
    if not some:
        return None
    weights = [1.0 / item.u**2 for item in some]
    mean = sum(w * item.value / item.runs[0][1] for w, item in zip(weights, some, strict=True)) / sum(weights)
    return answers.Value(value=mean, unit="m³/h", u=sum(weights) ** -0.5)


def _beside_the_others(one: solving.Studied, at: int) -> tuple[float, float]:
    """How far an item stands from what all the others say; a suspect has no say over those that fit."""
    item = one.case.items[at]
    if item in one.mended.items:
        case, at = one.mended, one.mended.items.index(item)
    else:
        case = one.case
    return case.found.bias(case.at(at))[1:]


def meters(facility: model.Facility, studied: Sequence[solving.Studied]) -> answers.Table:
    """A row for every meter."""
    rows: list[Mapping[str, Any]] = []
    for one in studied:
        held = {cause.item for cause in one.verdict.causes}
        for at, item in enumerate(one.case.items):
            if item.kind != "measured":
                continue
            size, u = _beside_the_others(one, at)
            should = answers.Value(value=item.value - size, unit="m³/h", u=u) if size == size else None
            state_ = ("suspect" if len(held) == 1 else "in set") if at in held else "fits"
            rows.append(
                {
                    "meter": item.name,
                    "at": naming.where(facility, item),
                    "reads": answers.Value(value=item.value, unit="m³/h", u=item.u),
                    "others": should,
                    "score": float(one.case.found.scores[one.case.at(at)]) if size == size else None,
                    "state": state_ if size == size else "untested",
                    "readings": item.count,
                    "point": item.key,
                }
            )
    return answers.Table(
        name="meters",
        title="What each meter reads, and what all the others say it should",
        columns=(
            answers.Output(name="meter", label="meter", unit=""),
            answers.Output(name="at", label="where", unit=""),
            answers.Output(name="reads", label="reads", unit="m³/h", decimals=2),
            answers.Output(name="others", label="by the others", unit="m³/h", decimals=2),
            answers.Output(name="score", label="score", unit="1", decimals=1),
            answers.Output(name="state", label="state", unit=""),
            answers.Output(name="readings", label="readings", unit="", decimals=0),
        ),
        rows=tuple(rows),
    )


def balances(facility: model.Facility, studied: Sequence[solving.Studied]) -> answers.Table:
    """A row for every place whose flows are all known."""
    rows: list[Mapping[str, Any]] = []
    for one in studied:
        first = len(one.part.runs)
        for at, place in enumerate(one.part.places):
            flows = [one.mended.run(run)[0] for run in one.part.runs]
            signs = one.mended.rows[at, :first]
            if any(value != value for value, sign in zip(flows, signs, strict=True) if sign):
                continue
            into = sum(v * s for v, s in zip(flows, signs, strict=True) if s > 0)
            out = -sum(v * s for v, s in zip(flows, signs, strict=True) if s < 0)
            storage = float(one.mended.found.values[first + at])
            rows.append(
                {
                    "place": place,
                    "name": naming.place_named(facility, place),
                    "into": into,
                    "out": out,
                    "air": float(one.mended.offsets[at]),
                    "storage": storage if storage == storage else None,
                }
            )
    return answers.Table(
        name="balances",
        title="What comes in and goes out at each place, reconciled",
        columns=(
            answers.Output(name="name", label="place", unit=""),
            answers.Output(name="into", label="in", unit="m³/h", decimals=2),
            answers.Output(name="out", label="out", unit="m³/h", decimals=2),
            answers.Output(name="air", label="to the air", unit="m³/h", decimals=3),
            answers.Output(name="storage", label="rising, or lost unseen", unit="m³/h", decimals=3),
        ),
        rows=tuple(rows),
    )
