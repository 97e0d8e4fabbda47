"""The water in time: an implicit method of fourth order that keeps every amount exactly.

A step's amounts change by the weighted sum of the true rates at its stages, and the ledger by the same sum of
its terms: whatever error the stages carry, nothing is created or lost. Pipes with a known volume are cascades
of mixed cells (`building.CELLS`). Method: Hairer and Wanner (1996), Solving ODEs II, table IV.6.5 (SDIRK4).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.compartments import assembly as equations
from brinehouse.network.compartments import building, ledger, settling, transport
from brinehouse.network.compartments import plant as plants

Floats = NDArray[np.float64]

STAGES = (
    (1 / 4,),
    (1 / 2, 1 / 4),
    (17 / 50, -1 / 25, 1 / 4),
    (371 / 1360, -137 / 2720, 15 / 544, 1 / 4),
    (25 / 24, -49 / 48, 125 / 16, -85 / 12, 1 / 4),
)
TIMES = (1 / 4, 3 / 4, 11 / 20, 1 / 2, 1.0)
LAST = STAGES[-1]
CHECK = (59 / 48, -17 / 96, 225 / 32, -85 / 12, 0.0)
GAMMA = 1 / 4
SWEEPS = 12
DRY = 0.02  # of the first volume: below it a run stops
MOST_STEPS = 20_000


@dataclass(slots=True)
class Course:
    """Water over time: ``times`` s; ``x`` (times, species, places); ``volumes`` (times, places)."""

    times: Floats
    x: Floats
    volumes: Floats
    ledger: ledger.Ledger
    dry: tuple[str, ...] = ()
    whole: bool = True  # whether it ran to its end
    steps: int = 0
    refused: int = 0
    places: tuple[str, ...] = field(default=())


def with_pipes(plant: plants.Plant) -> plants.Plant:
    """The plant with each pipe of known volume as a cascade of cells, machines before it."""
    ways = plant.transport.passages
    long = [column for column, way in enumerate(ways) if way.pipe > 0.0]
    if not long:
        return plant
    names, volumes = list(plant.places), list(plant.transport.volumes)
    moved: list[transport.Passage] = list(ways)
    outside, start = [plant.outside], [plant.start]
    for column in long:
        way = ways[column]
        cells = [f"{way.run}#{column}.{number}" for number in range(building.CELLS)]
        names += cells
        volumes += [way.pipe / building.CELLS] * building.CELLS
        first = plant.start[:, [plant.transport.source[column]]] if way.source in plant.places else (
            plant.outside[:, [column]]
        )  # fmt: skip
        start.append(np.repeat(first, building.CELLS, axis=1))
        moved[column] = replace(way, target=cells[0])
        ends = [*cells[1:], way.target]
        moved += [
            replace(way, source=a, target=b, parts=(), pipe=0.0) for a, b in zip(cells, ends, strict=True)
        ]
        outside.append(np.zeros((len(plants.SPECIES), building.CELLS)))
    extra = len(moved) - len(ways)
    machines = _wider(plant.machines, extra)
    local = _longer(plant.local, len(names) - len(plant.places))
    return replace(
        plant,
        places=tuple(names),
        transport=transport.Transport(names, volumes, moved),
        outside=np.concatenate(outside, axis=1),
        rates=np.concatenate([plant.rates, np.zeros(len(names) - len(plant.places))]),
        machines=machines,
        local=local,
        start=np.concatenate(start, axis=1),
    )


def _wider(machines: plants.Machines, extra: int) -> plants.Machines:
    idle = plants.Machines.idle(len(machines.heat), extra)
    both = {
        name: np.concatenate([getattr(machines, name), getattr(idle, name)], axis=-1)
        for name in machines.__dataclass_fields__
    }
    return plants.Machines(**both)


def _longer(local: plants.Places, extra: int) -> plants.Places:
    kept = {}
    for name in local.__dataclass_fields__:
        value = getattr(local, name)
        if name not in ("home", "mass", "count"):
            value = np.concatenate([value, np.zeros((*value.shape[:-1], extra))], axis=-1)
        kept[name] = value
    return plants.Places(**kept)


class Stepper:
    """Steps of one plant."""

    def __init__(self, plant: plants.Plant, rtol: float) -> None:
        self.plant, self.assembly = plant, equations.Assembly(plant)
        self.rtol = rtol
        self.eye = np.arange(len(plant.places))

    def stage(self, base: Floats, shift: float, volumes: Floats, guess: Floats) -> Floats:
        """X with V x = base + shift (M x + b), species by species until none moves."""
        x = guess.copy()

        def solver(made: equations.Balance, row: int) -> None:
            left = -shift * made.matrix
            left[self.eye, self.eye] += volumes
            x[row] = np.linalg.solve(left, base[row] + shift * made.load)

        settling.in_turn(self.assembly, x, solver, 0.02 * self.rtol, SWEEPS)
        return x

    def rates(self, x: Floats) -> tuple[Floats, Floats]:
        """True rates of V x, and the ledger's terms, at this water."""
        made = equations.every(self.assembly, x)
        out = np.empty_like(x)
        for species, one in made.items():
            row = plants.AT[species]
            out[row] = one.matrix @ x[row] + one.load
        return out, ledger.rates(self.plant, made, x)

    def step(self, amounts: Floats, x: Floats, volumes: Floats, size: float) -> tuple[Floats, Floats, Floats]:
        """Amounts after a step, what the ledger gains, and the error of x over what is allowed."""
        rates: list[Floats] = []
        terms: list[Floats] = []
        guess = x
        for weights, when in zip(STAGES, TIMES, strict=True):
            base = amounts + size * sum(
                (w * r for w, r in zip(weights[:-1], rates, strict=False)), start=np.zeros_like(amounts)
            )
            here = volumes + self.plant.rates * size * when
            guess = self.stage(base, GAMMA * size, here, guess)
            rate, term = self.rates(guess)
            rates.append(rate)
            terms.append(term)
        after = amounts + size * sum((w * r for w, r in zip(LAST, rates, strict=True)), start=0.0 * amounts)
        gain = size * sum((w * t for w, t in zip(LAST, terms, strict=True)), start=0.0 * terms[0])
        off = size * sum(
            ((w - c) * r for w, c, r in zip(LAST, CHECK, rates, strict=True)), start=0.0 * amounts
        )
        end = volumes + self.plant.rates * size
        return after, gain, off / end

    def error(self, off: Floats, x: Floats) -> float:
        """The worst error over what is allowed."""
        allowed = self.rtol * (np.abs(x) + 0.1 * settling.SCALE[:, None])
        return float(np.max(np.abs(off) / allowed))


def run(
    plant: plants.Plant, seconds: float, *, rtol: float = 1e-5, first: float = 1.0,
    stop: Callable[[float, Floats], bool] | None = None,
) -> Course:  # fmt: skip
    """The plant from its start for so many seconds.

    Parameters
    ----------
    plant : Plant
        As `with_pipes` gives it.
    seconds : float
        How long. [s]
    rtol : float
        Error allowed in a step, relative. [-]
    first : float
        First step. [s]
    stop : callable
        Given time and water, whether to end early.
    """
    stepper = Stepper(plant, rtol)
    volumes = plant.transport.volumes.copy()
    x, now, size = plant.start.copy(), 0.0, min(first, seconds)
    amounts = x * volumes
    moved = np.zeros((len(ledger.NAMES), len(plants.SPECIES)))
    begun, largest = amounts.sum(axis=1), np.abs(amounts).sum(axis=1)
    times, waters, levels = [0.0], [x], [volumes]
    dry = _first_dry(plant, seconds)
    end = min(seconds, dry[0])
    steps = refused = 0
    while now < end * (1.0 - 1e-12) and steps + refused < MOST_STEPS:
        size = min(size, end - now)
        after, gain, off = stepper.step(amounts, x, volumes, size)
        new_volumes = plant.transport.volumes + plant.rates * (now + size)
        new = after / new_volumes
        wrong = stepper.error(off, np.maximum(np.abs(x), np.abs(new)))
        if not np.isfinite(wrong) or wrong > 1.0:
            refused += 1
            size *= 0.2 if not np.isfinite(wrong) else max(0.2, 0.9 * wrong**-0.25)
            continue
        now, x, amounts, volumes = now + size, new, after, new_volumes
        moved += gain
        largest = np.maximum(largest, np.abs(amounts).sum(axis=1))
        times.append(now)
        waters.append(x)
        levels.append(volumes)
        steps += 1
        size *= min(5.0, 0.9 * max(wrong, 1e-8) ** -0.25)
        if stop is not None and stop(now, x):
            break
    return Course(
        times=np.array(times), x=np.array(waters), volumes=np.array(levels),
        ledger=ledger.made(plant.weight, moved, begun, amounts.sum(axis=1), largest),
        dry=dry[1] if dry[0] < seconds else (), whole=now >= seconds * (1.0 - 1e-9),
        steps=steps, refused=refused, places=plant.places,
    )  # fmt: skip


def _first_dry(plant: plants.Plant, seconds: float) -> tuple[float, tuple[str, ...]]:
    """When the first place runs dry, and which."""
    falling = plant.rates < 0.0
    if not falling.any():
        return seconds, ()
    with np.errstate(divide="ignore", invalid="ignore"):
        until = np.where(falling, (1.0 - DRY) * plant.transport.volumes / -plant.rates, np.inf)
    when = float(until.min())
    return when, tuple(plant.places[at] for at in np.flatnonzero(until <= when * (1 + 1e-9)))
