"""Checks on pipes, overflows and suctions: heights that do not fit, flows beyond a curve."""

from __future__ import annotations

from brinehouse.facility import cases, hidden, model


def rims(case: cases.Case) -> None:
    """A rim stands above the floor and the crest; what a place overflows through has a crest."""
    for vessel in case.facility.vessels.values():
        path = (vessel.kind, vessel.id)
        thing = f"{vessel.kind} {hidden.visible(vessel.id)}"
        under = [end for end in (vessel.crest, vessel.elevation) if end is not None]
        if vessel.rim is not None and under and vessel.rim <= max(under):
            case.ask(
                "facility/rim",
                (*path, "rim"),
                f"{thing}: its rim ({vessel.rim:.4g} m) is not above its crest or floor ({max(under):.4g} m)",
                "measure rim, crest and floor from the plant-room datum",
                about=thing,
            )
        if vessel.overflow is not None and vessel.crest is None:
            case.ask(
                "facility/rim",
                (*path, "overflow"),
                f"{thing} says what it overflows through, and not how high that stands",
                'write crest = "4.75 m" beside it',
                about=thing,
            )


def mouths(case: cases.Case) -> None:
    """A pipe ends no higher than its highest point; water under a packing is under its top."""
    for run in case.facility.runs.values():
        thing = f"run {hidden.visible(run.id)}"
        if run.outlet is not None and run.high is not None and run.outlet > run.high:
            case.ask(
                "facility/high",
                ("run", run.id, "high"),
                f"{thing} ends at {run.outlet:.4g} m, above its highest point ({run.high:.4g} m)",
                "correct 'outlet' or 'high'",
                about=thing,
            )
        _column(case, run, thing)


def _column(case: cases.Case, run: model.Run, thing: str) -> None:
    for name in run.through:
        machine = case.facility.equipment.get(name)
        if machine is None or machine.pool is None or run.high is None:
            continue
        if machine.pool + (machine.height or 0.0) > run.high + 0.05:
            case.ask(
                "facility/high",
                ("run", run.id, "high"),
                f"{thing}: its top ({run.high:.4g} m) is below the packing of {hidden.visible(name)}",
                "correct 'high', or 'pool' and 'height' of the column",
                about=thing,
            )


def best_flows(case: cases.Case) -> None:
    """A pump is at its best on its curve, and a curve that is level cannot be computed with."""
    for pump in case.facility.pumps.values():
        if pump.best is not None and pump.curve and pump.best > pump.curve[-1][0]:
            thing = f"pump {hidden.visible(pump.id)}"
            case.ask(
                "facility/curve",
                ("pump", pump.id, "best"),
                f"{thing}: the flow of its best efficiency lies beyond the end of its curve",
                "add the rest of the curve, or correct 'best'",
                about=thing,
            )
