"""Courses of every body of water after failures: each set of effects is run once for each body it reaches."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from brinehouse.engines.time_in_hand import limits, question, starting
from brinehouse.network.transients import body as bodies
from brinehouse.network.transients import effects as acts
from brinehouse.network.transients import laying, running, tables

Floats = NDArray[np.float64]
Key = tuple[acts.Effect, ...]
AT_ONCE = 512  # scenarios in one batch: what their tables need stays some ten megabytes
RTOL = (
    1e-6  # of a step: crossings stand within 0.05 min rms of an integrator at 1e-9, worst body of ten halls
)
_HOUR = 3600.0


class Came(NamedTuple):
    """What came of one set of effects, over limits: hours, margins in the tables' units, hours of those."""

    crossed: Floats
    margin: Floats
    margin_at: Floats


@dataclass(slots=True)
class Water:
    """One body of water, its limits, from where it starts, and what is known of it.

    Attributes
    ----------
    body : Body
    structure : Structure
        With limits.
    lines : tuple of Line
        Its limits, in their order.
    x, volume : ndarray
        At the start.
    clock : float
        Hour of the day at the start.
    known : mapping
        Effects that reach it to what came of them.
    alike : mapping
        Digest of a scenario's numbers to what came of it: two failures may do the same to the water.
    """

    body: bodies.Body
    structure: tables.Structure
    lines: tuple[question.Line, ...]
    x: Floats
    volume: Floats
    clock: float = 0.0
    known: dict[Key, Came] = field(default_factory=dict[Key, Came])
    alike: dict[bytes, Came] = field(default_factory=dict[bytes, Came])

    def reached(self, effects: Iterable[acts.Effect]) -> Key:
        """Those effects that touch this body, in a fixed order."""
        mine = (one for one in effects if laying.touches(self.body, [one]))
        return tuple(sorted(mine, key=lambda one: (one.after, one.kind, one.part, one.value or 0.0, one.at)))

    def batch(self, keys: Sequence[Key]) -> tables.Tables:
        """Tables of some sets of effects from this start."""
        return laying.batch(self.body, keys, x=self.x, volume=self.volume, clock=self.clock)

    def curves(
        self, effects: Iterable[acts.Effect], ways: Sequence[tuple[str, str]], hours: Floats
    ) -> dict[tuple[str, str], tuple[Floats, Floats]]:
        """Places and quantities over hours, in the units their limits are said in."""
        x, volume = running.curves(self.structure, self.batch([self.reached(effects)]), 0, hours)
        found: dict[tuple[str, str], tuple[Floats, Floats]] = {}
        for place, quantity in ways:
            at = self.body.home[place]
            air = float(self.body.base.place[0, 0, at, tables.AT["pressure"]])
            values = starting.along([quantity], x[:, :, at], volume[:, at], air)[:, 0]
            per = limits.per_unit(quantity, float(self.x[0, at]), float(self.x[1, at]))
            found[place, quantity] = (hours, values / per)
        return found


@dataclass(slots=True)
class Courses:
    """All bodies of a plant from one start."""

    waters: Sequence[Water]
    hours: float

    @property
    def lines(self) -> tuple[question.Line, ...]:
        """Every limit, body after body."""
        return tuple(line for water in self.waters for line in water.lines)

    def work(
        self, sets: Iterable[Sequence[acts.Effect]], progress: Callable[[int, int], None] | None = None
    ) -> None:
        """Run every set of effects that is not known yet, in every body that it reaches."""
        asked = [tuple(one) for one in sets]
        wanted = [
            (water, [key for key in dict.fromkeys(map(water.reached, asked)) if key not in water.known])
            for water in self.waters
        ]
        whole, done = sum(len(keys) for _, keys in wanted), 0
        for water, keys in wanted:
            for begin in range(0, len(keys), AT_ONCE):
                some = keys[begin : begin + AT_ONCE]
                self._run(water, some)
                done += len(some)
                if progress is not None:
                    progress(done, whole)

    def _run(self, water: Water, keys: Sequence[Key]) -> None:
        if not water.lines:
            none = np.empty(0)
            water.known |= dict.fromkeys(keys, Came(none, none, none))
            return
        made = water.batch(keys)
        marks = [mark(made, row) for row in range(len(keys))]
        first = {mark: row for row, mark in reversed(list(enumerate(marks))) if mark not in water.alike}
        if first:
            rows = np.array(sorted(first.values()), dtype=np.intp)
            outcome = running.run(water.structure, tables.take(made, rows), self.hours, rtol=RTOL)
            for at, row in enumerate(rows):
                water.alike[marks[row]] = Came(
                    outcome.crossed[at] / _HOUR, outcome.margin[at], outcome.margin_at[at] / _HOUR
                )
        water.known |= {key: water.alike[mark] for key, mark in zip(keys, marks, strict=True)}

    def of(self, effects: Sequence[acts.Effect]) -> Came:
        """What came of a set of effects, over all lines: each body as if the others were not there."""
        parts = [water.known[water.reached(effects)] for water in self.waters]
        return Came(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))

    def touched(self, effects: Sequence[acts.Effect]) -> frozenset[int]:
        """Numbers of the bodies that effects reach."""
        return frozenset(at for at, water in enumerate(self.waters) if water.reached(effects))


def mark(made: tables.Tables, row: int) -> bytes:
    """A digest of one scenario's numbers to seven figures, phases that only fill up left out."""
    last = int(np.argmax(made.until[row] >= bodies.FOREVER)) + 1
    digest = hashlib.blake2b(digest_size=16)
    for part in (made.way[row, :last], made.op[row, :last], made.place[row, :last], made.until[row, :last],
                 made.x[row], made.volume[row], made.clock[row]):  # fmt: skip
        digest.update(np.asarray(part, dtype=np.float32).tobytes())
    return digest.digest()
