"""Flows that close: after a change the water that pumps bring still has to leave over the overflows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from brinehouse import findings
from brinehouse.facility import hidden, model
from brinehouse.network import flows as flows_of

FREE = 100.0  # how much rather an overflow is let move than a pumped run: water falls where there is water
WORTH = 0.02  # share of a flow below which moving it is not worth a sentence
_M3H = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """Flows that balance at every place, and what was moved for it."""

    flows: Mapping[str, float]
    findings: tuple[findings.Finding, ...] = ()


def closed(facility: model.Facility, stated: Mapping[str, float], u: Mapping[str, float]) -> Closed:
    """Flows moved as little as will close every place's balance, overflows before pumped runs.

    Least squares with the balances as constraints; runs without a pump in their way are let move a hundred
    times as far as pumped ones, because an overflow carries whatever comes.

    Parameters
    ----------
    facility : Facility
    stated : mapping
        Run to flow. [m³/s]
    u : mapping
        Run to standard uncertainty. [m³/s]
    """
    net = flows_of.balances(facility)
    known = [at for at, run in enumerate(net.runs) if run in stated]
    if not known or not len(net.places):
        return Closed(flows=dict(stated))
    names = [net.runs[at] for at in known]
    flow = np.array([stated[name] for name in names])
    matrix = net.matrix[:, known]
    gap = matrix @ flow
    scale = max(float(np.abs(flow).max()), 1e-12)
    if float(np.abs(gap).max()) <= 1e-9 * scale:
        return Closed(flows=dict(stated))
    width = np.array([_width(facility, name, stated[name], u) for name in names])
    fixed = np.zeros(len(names), dtype=bool)
    fitted = flow.copy()
    for _ in range(len(names) + 1):  # a flow that would run backwards is none
        fitted = _fit(matrix, np.where(fixed, 0.0, flow), np.where(fixed, 0.0, width))
        back = fitted < -1e-12 * scale
        if not back.any():
            break
        fixed |= back
    fitted = np.where(np.abs(fitted) < 1e-12 * scale, 0.0, fitted)
    moved = [
        (name, before, after)
        for name, before, after in zip(names, flow.tolist(), fitted.tolist(), strict=True)
        if abs(after - before) > WORTH * max(abs(before), abs(after))
    ]
    said = tuple(_moved(facility, *one) for one in moved)
    return Closed(flows=dict(zip(names, fitted.tolist(), strict=True)), findings=said)


def _fit(matrix: flows_of.Matrix, flow: flows_of.Matrix, width: flows_of.Matrix) -> flows_of.Matrix:
    """The flows nearest to those stated that close the balances."""
    spread = matrix * width**2
    inner = spread @ matrix.T
    return flow - spread.T @ np.linalg.lstsq(inner, matrix @ flow, rcond=None)[0]


def _width(facility: model.Facility, name: str, flow: float, u: Mapping[str, float]) -> float:
    run = facility.runs[name]
    pumped = {*facility.duties, *facility.pumps} & {run.source, *run.through}
    width = max(u.get(name, 0.0), 0.05 * abs(flow), 1e-6)
    return width if pumped else FREE * width


def _moved(facility: model.Facility, name: str, before: float, after: float) -> findings.Finding:
    run = facility.runs[name]
    shown = hidden.visible(name)
    return findings.Finding(
        code="balance/flow-moved",
        level=findings.Level.NOTE,
        text=f"run {shown} is taken as {after * _M3H:.3g} m³/h where {before * _M3H:.3g} m³/h is stated: "
        "what comes in has to leave.",
        hint=f"state the flow it shall have: set {shown} flow = ...",
        spot=findings.Spot(
            file=run.spot.file,
            line=run.spot.line,
            column=run.spot.column,
            field=f"run.{name}.flow",
            thing=name,
        ),
        data={"run": name, "before": before, "after": after},
    )
