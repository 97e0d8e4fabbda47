"""Head that pipes, fittings, strainers and machines take."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterable, Sequence

from brinehouse.facility import model
from brinehouse.network.plumbing import curves, parts
from brinehouse.science import hydraulics
from brinehouse.science.constants import GRAVITY

ROUGHNESS = {
    "plastic": 7e-6,
    "glass fibre": 1e-5,
    "stainless steel": 4.5e-5,
    "rubber": 6e-5,
    "concrete": 5e-4,
}
"""Of clean pipe [m]: common practice, no source (makers print 1.5 to 7 µm for drawn plastic)."""
VISCOSITY = 1.05e-6  # m²/s: sea water near 20 °C

# Diameters of pipe in full turbulence, Crane TP-410 (2009) appendix A, for what fluids has no name for.
_DIAMETERS = {"bend": 14.0, "tee": 60.0, "tee through": 20.0}
_PLAIN = {"union": 0.05, "reducer": 0.15, "flow meter": 0.2}  # common practice, no source

MACHINE = parts.Head(
    0.8, 0.1, 3.0
)  # m in a closed machine of which nothing is told: common practice, no source
PIPE = parts.Head(0.6, 0.1, 3.0)  # m in a pipe of which nothing is told: common practice, no source
SUCTION = parts.Head(0.2, 0.03, 0.6)  # m in the pipe before a pump: common practice, no source
STRAINER = parts.Head(0.2, 0.02, 1.0)  # m in a strainer of which nothing is told: common practice, no source
CLOGGED = 4.0  # how many times its clean loss a strainer may take before somebody cleans it
SHUT = 1e-3  # a hand valve less open than this is shut


@functools.cache
def fully_rough(diameter: float) -> float:
    """Friction factor of clean steel pipe in full turbulence, to which Crane's tables are laid.

    >>> fully_rough(0.1023)  # nominal 4 inch: 0.016 in Crane TP-410 appendix A-26 (found)
    0.0162
    """
    from fluids import friction

    return float(friction.ft_Crane(diameter))


@functools.cache
def _coefficient(fitting: str, bore: float) -> float:
    """Loss coefficient of one fitting in a pipe of that bore, by Crane's rules as fluids has them."""
    from fluids import fittings

    if fitting in _PLAIN:
        return _PLAIN[fitting]
    if fitting in _DIAMETERS:
        return _DIAMETERS[fitting] * fully_rough(bore)
    known: dict[str, Callable[[], float]] = {
        "elbow": lambda: fittings.bend_rounded(Di=bore, angle=90.0, method="Crane standard"),
        "half bend": lambda: fittings.bend_rounded(Di=bore, angle=45.0, method="Crane standard"),
        "ball valve": lambda: fittings.K_ball_valve_Crane(D1=bore, D2=bore, angle=0.0),
        "butterfly valve": lambda: fittings.K_butterfly_valve_Crane(D=bore),
        "gate valve": lambda: fittings.K_gate_valve_Crane(D1=bore, D2=bore, angle=0.0),
        "globe valve": lambda: fittings.K_globe_valve_Crane(D1=bore, D2=bore),
        "diaphragm valve": lambda: fittings.K_diaphragm_valve_Crane(D=bore),
        "check valve": lambda: fittings.K_swing_check_valve_Crane(D=bore),
        "foot valve": lambda: fittings.K_foot_valve_Crane(D=bore, style=1),
        "entry": lambda: fittings.entrance_sharp(method="Swamee"),
        "exit": fittings.exit_normal,
    }
    return float(known[fitting]())


def velocity_heads(fittings: Iterable[tuple[int, str]], diameter: float) -> float:
    """Sum of the loss coefficients of fittings in a pipe."""
    return sum(n * _coefficient(fitting, diameter) for n, fitting in fittings)


def velocity_head(flow: float, diameter: float) -> float:
    """v²/2g in a round pipe. [m]."""
    return (4 * flow / (math.pi * diameter**2)) ** 2 / (2 * GRAVITY)


def roughness(run: model.Run) -> float:
    """Roughness of a run's pipe. [m]."""
    return run.roughness if run.roughness is not None else ROUGHNESS.get(run.material, ROUGHNESS["plastic"])


def friction(
    flow: float, length: float, diameter: float, rough: float, viscosity: float = VISCOSITY
) -> float:
    """Darcy-Weisbach loss of a straight pipe, for a flow either way. [m].

    >>> friction(-0.01, 100.0, 0.1, 1e-4)
    1.815
    """
    return float(hydraulics.pipe_loss(abs(flow), length, diameter, rough, viscosity))


def of(loss: model.Loss, flow: float, diameter: float | None) -> float | None:
    """Head that a stated loss takes at a flow; None where it needs a diameter that is not told. [m]."""
    if loss.heads is not None:
        return None if diameter is None else loss.heads * velocity_head(abs(flow), diameter)
    return at_points(loss.points, abs(flow))


def at_points(points: Sequence[tuple[float, float]], flow: float) -> float:
    """Head by points: square law through one and beyond the ends, straight in the square of flow between.

    >>> at_points(((0.01, 1.0),), 0.02), at_points(((0.01, 1.0), (0.02, 3.0)), 0.015)
    (4.0, 1.833)
    """
    before = (0.0, 0.0)
    for point in points:
        if flow <= point[0] or point is points[-1]:
            (q0, h0), (q1, h1) = before, point
            if flow > q1:
                return h1 * (flow / q1) ** 2
            return h0 + (h1 - h0) * (flow**2 - q0**2) / (q1**2 - q0**2)
        before = point
    return 0.0


def machine(equipment: model.Equipment, flow: float | None, diameter: float | None) -> parts.Head:
    """Head a closed machine takes, with bounds."""
    if equipment.loss is not None and flow is not None:
        known = of(equipment.loss, flow, diameter)
        if known is not None:
            return parts.Head(known, 0.8 * known, 1.4 * known)
    return MACHINE


def described(run: model.Run) -> bool:
    """Whether enough of a run's pipe is told to compute what it takes."""
    if run.loss is not None and run.loss.points:
        return True
    return run.diameter is not None and (run.length is not None or bool(run.fittings) or run.loss is not None)


def pipe(run: model.Run, flow: float | None) -> parts.Head:
    """Head a run's own pipe takes wide open, with bounds."""
    if flow is None or not described(run):
        return PIPE
    total = 0.0
    if run.diameter is not None:
        total += velocity_heads(run.fittings, run.diameter) * velocity_head(flow, run.diameter)
        total += friction(flow, run.length or 0.0, run.diameter, roughness(run))
    if run.loss is not None:
        total += of(run.loss, flow, run.diameter) or 0.0
    return parts.Head(total, 0.8 * total, 1.3 * total)


def suction(pump: model.Pump, flow: float | None) -> tuple[parts.Head, parts.Head]:
    """Head that a pump's suction takes: in pipe and fittings, and in its strainer."""
    usual = curves.middle(pump)
    ratio = (flow / usual) ** 2 if flow is not None and usual else 1.0
    piped = SUCTION.times(ratio)
    if flow is not None and suction_described(pump):
        bore = pump.suction_diameter or 1.0
        lost = velocity_heads(pump.suction_fittings, bore) * velocity_head(flow, bore)
        lost += friction(flow, pump.suction_length or 0.0, bore, ROUGHNESS["plastic"])
        piped = parts.Head(lost, 0.8 * lost, 1.3 * lost)
    return piped, _strainer(pump, flow, ratio)


def suction_described(pump: model.Pump) -> bool:
    """Whether the pipe before a pump is told."""
    return pump.suction_diameter is not None and (
        pump.suction_length is not None or bool(pump.suction_fittings)
    )


def _strainer(pump: model.Pump, flow: float | None, ratio: float) -> parts.Head:
    if pump.strainer_loss is not None and flow is not None:
        clean = of(pump.strainer_loss, flow, pump.suction_diameter)
        if clean is not None:
            return parts.Head(clean, 0.8 * clean, CLOGGED * clean)
    return parts.Head.of(0.0) if pump.strainer is False else STRAINER.times(ratio)
