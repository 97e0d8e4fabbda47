"""What came and went, by name: every term of every species, summed the same way as the water was moved.

`rates` sums terms along another path than the equations do (machine by machine, place by place), so that the
closing of the ledger is a check of the equations and no tautology.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.compartments import assembly as equations
from brinehouse.network.compartments import plant as plants

Floats = NDArray[np.float64]
CLOSES = 1e-10  # of the largest inventory
_LOCAL = (
    "room", "lamps", "evaporation", "animals and feed", "animals", "nitrification", "from ammonia",
    "from nitrite", "light", "surface", "dosing", "put in", "decay", "its own heater or chiller",
)  # fmt: skip
NAMES = (*plants.WORDS, "bubbles lost", *_LOCAL, "brought in", "carried out")
_AT = {name: index for index, name in enumerate(NAMES)}


def rates(plant: plants.Plant, balances: Mapping[str, equations.Balance], x: Floats) -> Floats:
    """Each term of each species for the whole plant: (terms, species), in units of x times m³/s.

    Air drawn in and air carried under count whole, and what leaves again as ``bubbles lost``.
    """
    out = np.zeros((len(NAMES), len(plants.SPECIES)))
    ways, machines = plant.transport, plant.machines
    arriving = np.where(ways.target >= 0, ways.flow, 0.0)
    leaving = np.where((ways.source >= 0) & (ways.target < 0), ways.flow, 0.0)
    coming = np.where((ways.source < 0) & (ways.target >= 0), ways.flow, 0.0)
    words = machines.term.ravel()
    for species, made in balances.items():
        row = plants.AT[species]
        moved = made.steps * arriving
        if species in plants.DISSOLVED:
            gas = plants.ROW[species]
            drawn = float(np.sum((machines.air[gas] + machines.lost[gas]) * arriving))
            lost = float(np.sum(machines.lost[gas] * arriving))
            carried = float(np.sum(machines.carried[gas] * arriving))
            under = machines.term == plants.WORD["air carried under"]
            out[_AT["air drawn in"], row] += drawn
            out[_AT["air carried under"], row] += carried
            out[_AT["bubbles lost"], row] -= lost + carried - float(np.sum(moved[under]))
            moved = np.where(under, 0.0, moved - machines.air[gas] * arriving)
        out[: len(plants.WORDS), row] += np.bincount(
            words, weights=moved.ravel(), minlength=len(plants.WORDS)
        )
        for name, rate in made.terms.items():
            out[_AT[name], row] += float(np.sum(rate))
        out[_AT["brought in"], row] += float(np.sum(coming * plant.outside[row]))
        if leaving.any():
            out[_AT["carried out"], row] -= float(np.sum(leaving * x[row][ways.source]))
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """What a run of the plant moved.

    Attributes
    ----------
    terms : mapping
        Species to name to amount over the run: J, kg of salt, mol, g of tracer. Names are those of `NAMES`.
    before, after : mapping
        Species to amount in the water at first and at last.
    """

    terms: Mapping[str, Mapping[str, float]]
    before: Mapping[str, float]
    after: Mapping[str, float]
    largest: Mapping[str, float]

    def gap(self, species: str) -> float:
        """What the terms leave unexplained, as a share of the largest amount there was."""
        explained = sum(self.terms[species].values())
        return abs(self.after[species] - self.before[species] - explained) / max(
            self.largest[species], 1e-300
        )

    @property
    def worst(self) -> float:
        """The largest gap of all species."""
        return max((self.gap(species) for species in self.terms), default=0.0)

    @property
    def closes(self) -> bool:
        """Whether every species closes to one part in ten thousand million."""
        return self.worst <= CLOSES


def made(weight: Floats, moved: Floats, before: Floats, after: Floats, largest: Floats) -> Ledger:
    """A ledger from sums in units of x times m³."""
    names = plants.SPECIES
    return Ledger(
        terms={
            species: {
                name: float(moved[at, row] * weight[row]) for at, name in enumerate(NAMES) if moved[at, row]
            }
            for row, species in enumerate(names)
        },
        before={species: float(before[row] * weight[row]) for row, species in enumerate(names)},
        after={species: float(after[row] * weight[row]) for row, species in enumerate(names)},
        largest={species: float(max(largest[row], 1e-12) * weight[row]) for row, species in enumerate(names)},
    )
