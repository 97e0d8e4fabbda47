"""The water at rest: each species solved in turn, until none moves; what has no rest is said, not guessed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.compartments import assembly as equations
from brinehouse.network.compartments import plant as plants

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SWEEPS = 40
CLOSE = 1e-9  # of a species' scale: smaller moves end the search
SCALE = np.array([10.0, 10.0, 100.0, 100.0, 10.0, 1000.0, 1000.0, 10.0, 10.0, 100.0, 1.0])
NOTHING = 1e-13  # of the flows: less leaves a place by no way that counts


@dataclass(slots=True)
class Rest:
    """Where the water settles.

    ``x`` (species, places) is what the equations were worked with; ``endless`` marks what has no rest (it
    goes on changing), ``kept`` what keeps its first amount because nothing brings or takes any.
    """

    x: Floats
    endless: Bools
    kept: Bools
    sweeps: int
    settled: bool
    assembly: equations.Assembly
    _balances: dict[str, equations.Balance] = field(default_factory=dict[str, equations.Balance])

    @property
    def balances(self) -> dict[str, equations.Balance]:
        """Every species at rest, worked out when asked for."""
        if not self._balances and self.x.size:
            self._balances = equations.every(self.assembly, self.x)
        return self._balances


def holding(matrix: Floats) -> Bools:
    """Places from which nothing ever gets away: no way leads from them to a place that loses.

    >>> holding(np.array([[-1.0, 1.0], [1.0, -1.0]])).tolist()
    [True, True]
    >>> holding(np.array([[-1.0, 1.0], [1.0, -1.5]])).tolist()
    [False, False]
    """
    lost = -matrix.sum(axis=0)
    most = np.abs(np.diagonal(matrix))
    free = lost > NOTHING * np.maximum(most, 1e-30)
    joined = matrix > 0.0  # [to, from]
    for _ in range(len(matrix)):
        more = free | (joined & free[:, None]).any(axis=0)
        if (more == free).all():
            break
        free = more
    return ~free


def _bodies(matrix: Floats, shut: Bools) -> list[NDArray[np.intp]]:
    """Groups of shut places that share water both ways; a group that drains into another comes first."""
    size = len(matrix)
    reach = ((matrix > 0.0) & shut[:, None] & shut[None, :]) | np.eye(size, dtype=bool)
    for _ in range(max(1, int(np.ceil(np.log2(size + 1))))):
        reach = (reach.astype(np.float64) @ reach.astype(np.float64)) > 0.0
    both = reach & reach.T
    seen = np.zeros(size, dtype=bool)
    out: list[NDArray[np.intp]] = []
    for place in np.flatnonzero(shut):
        if not seen[place]:
            members = np.flatnonzero(both[:, place] & shut)
            seen[members] = True
            drains = reach[:, place] & shut
            drains[members] = False
            if not drains.any():  # those that drain into a shut body settle like any other
                out.append(members)
    return out


def solve(matrix: Floats, load: Floats, volumes: Floats, first: Floats) -> tuple[Floats, Bools, Bools]:
    """X with M x + b = 0; shut bodies of water keep their amount, or are endless where they gain or grow.

    Returns
    -------
    x, endless, kept
    """
    size = len(load)
    endless, kept = np.zeros(size, dtype=bool), np.zeros(size, dtype=bool)
    shut = holding(matrix)
    if not shut.any():
        return np.asarray(np.linalg.solve(matrix, -load), dtype=np.float64), endless, kept
    left, right = matrix.copy(), -load.copy()
    bodies = _bodies(matrix, shut)
    for body in bodies:
        row = int(body[0])
        left[row] = 0.0
        left[row, body] = volumes[body]
        right[row] = float(volumes[body] @ first[body])
    x = np.asarray(np.linalg.solve(left, right), dtype=np.float64)
    gain = matrix @ x + load
    size_of = np.abs(np.diagonal(matrix) * x) + np.abs(load)
    for body in bodies:
        if abs(float(gain[body].sum())) > 1e-10 * max(float(size_of[body].sum()), 1e-30):
            endless[body] = True
        else:
            kept[body] = True
    if not endless.any():
        return x, endless, kept
    spread = endless
    for _ in range(size):  # what an endless body feeds has no rest either
        more = spread | ((matrix > 0.0) & spread[None, :]).any(axis=1)
        if (more == spread).all():
            break
        spread = more
    return x, spread, kept


def _moved(equations_of: equations.Balance, rates: Floats) -> Floats:
    """M for concentrations: a level that moves dilutes or thickens what stands there."""
    matrix = equations_of.matrix.copy()
    at = np.arange(len(matrix))
    matrix[at, at] -= rates
    return matrix


ALONE = ("nitrogen", "argon", "tracer")  # neither need others nor are needed, but for warmth and salt
COUPLED = ("tan", "nitrite", "oxygen", "alkalinity")  # hold one another back where one of them is low


def settle(plant: plants.Plant, near: Floats | None = None) -> Rest:
    """Where the water of a plant settles under constant conditions.

    Parameters
    ----------
    plant : Plant
        In arrays.
    near : ndarray, optional
        (species, places) from which to search: where a plant much like it settles. It changes no answer.
    """
    assembly = equations.Assembly(plant)
    x = plant.start.copy() if near is None or near.shape != plant.start.shape else near.copy()
    endless, kept = np.zeros(x.shape, dtype=bool), np.zeros(x.shape, dtype=bool)
    if not plant.places:
        return Rest(x, endless, kept, 0, True, assembly)

    def solver(made: equations.Balance, row: int) -> None:
        """One species in place; where it has no rest, it stays as it first was."""
        solved, endless[row], kept[row] = solve(
            _moved(made, plant.rates), made.load, plant.transport.volumes, plant.start[row]
        )
        x[row] = np.where(endless[row], plant.start[row], solved)

    sweeps, close = in_turn(assembly, x, solver, CLOSE, SWEEPS)
    if not close and not endless[[plants.AT[name] for name in COUPLED]].any():
        close = _all_at_once(assembly, x)
        if close:
            more, close = in_turn(assembly, x, solver, CLOSE, 0, after=x.copy())
            sweeps += more
    return Rest(x, endless, kept, sweeps, close, assembly)


def in_turn(
    assembly: equations.Assembly,
    x: Floats,
    solver: Callable[[equations.Balance, int], None],
    close: float,
    most: int,
    after: Floats | None = None,
) -> tuple[int, bool]:
    """All species in place by a solver: warmth, salt, what stands alone, what is coupled, carbon.

    Serves the state of rest and every stage of a step in time alike: they differ in the solver only.
    """
    balances: dict[str, equations.Balance] = {}
    setting: list[equations.Setting] = []
    states: list[Floats] = []

    def turn(species: str) -> None:
        if species == "temperature":
            made = assembly.heat(x, states)
        elif species == "salinity":
            made = assembly.salt(x)
        else:
            made = equations.of(assembly, species, x, setting[0], balances)
        balances[species] = made
        solver(made, plants.AT[species])
        if species in ("tan", "nitrite"):  # what follows needs their rates as they are now
            balances[species] = equations.of(assembly, species, x, setting[0], balances)

    if after is not None:  # the coupled are known: only what follows from them
        setting.append(assembly.setting(x))
        balances["temperature"], balances["salinity"] = assembly.heat(x), assembly.salt(x)
        for species in COUPLED:
            balances[species] = equations.of(assembly, species, x, setting[0], balances)
        turn("nitrate")
        return _until(x, ("carbon",), turn, 10.0 * close, SWEEPS)
    warm, warmed = _until(x, ("temperature",), turn, close, most)
    turn("salinity")
    setting.append(assembly.setting(x))
    for species in ALONE:
        turn(species)
    sweeps, settled = _until(x, COUPLED, turn, close, most)
    for species in COUPLED:  # steps along passages as the rest left them
        balances[species] = equations.of(assembly, species, x, setting[0], balances)
    turn("nitrate")
    more, rested = _until(x, ("carbon",), turn, 10.0 * close, most)
    return warm + sweeps + more, warmed and settled and rested


def _until(
    x: Floats, names: Sequence[str], turn: Callable[[str], None], close: float, most: int
) -> tuple[int, bool]:
    """Take species in turn until none moves; steps are shortened where they grow."""
    rows = [plants.AT[name] for name in names]
    damping, last = 1.0, np.inf
    for sweep in range(1, most + 1):
        before = x[rows].copy()
        for name in names:
            turn(name)
        move = float(np.max(np.abs(x[rows] - before) / SCALE[rows, None]))
        if move < close:
            return sweep, True
        if move > 0.5 * last and sweep > 4:
            damping = max(0.1, 0.7 * damping)
        if damping < 1.0:
            x[rows] = before + damping * (x[rows] - before)
        last = move
    return most, False


def _all_at_once(assembly: equations.Assembly, x: Floats) -> bool:
    """The coupled species by Newton's method together, in place: where one of them is nearly used up.

    Nothing falls below a fifth of what it was in one turn.
    """
    rows = [plants.AT[name] for name in COUPLED]
    setting, plant = assembly.setting(x), assembly.plant
    size = np.repeat(SCALE[rows], x.shape[1])
    per = np.tile(plant.transport.outflow + plant.local.velocity[0] + 1e-9, len(rows)) * size

    def residual(flat: Floats) -> Floats:
        water = x.copy()
        water[rows] = flat.reshape(len(rows), -1)
        done: dict[str, equations.Balance] = {}
        out = np.empty((len(rows), x.shape[1]))
        for at, name in enumerate(COUPLED):
            done[name] = equations.of(assembly, name, water, setting, done)
            out[at] = done[name].matrix @ water[rows[at]] + done[name].load - plant.rates * water[rows[at]]
        return out.ravel() / per

    now = np.maximum(plant.start[rows].ravel(), 1e-3 * size)
    gap = residual(now)
    for _ in range(200):
        moves = 1e-6 * np.maximum(now, 1e-3 * size)
        slopes = np.stack([(residual(now + move) - gap) / move.max() for move in np.diag(moves)], axis=1)
        step = np.linalg.lstsq(slopes, -gap, rcond=None)[0]
        then = np.maximum(now + step, 0.2 * now)  # each by itself: one that is short holds no other back
        move = float(np.max(np.abs(then - now) / np.maximum(now, 1e-3 * size)))
        now = then
        gap = residual(now)
        if move < 1e-8:
            x[rows] = now.reshape(len(rows), -1)
            return True
    return False
