"""The linear balance of one gas round a loop: what each source adds at each place, removals in place."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brinehouse.engines.gas_sources import loop as loops
from brinehouse.science import excess, gases, heat

Floats = NDArray[np.float64]
Modes = NDArray[np.complex128]
PASCAL = 133.322387415  # in one mmHg
DAY = 2.0 * math.pi / 24.0  # of an angle for each hour


@dataclass(frozen=True, slots=True)
class Air:
    """The air and water a loop stands in: dry pressure, and what one kelvin adds to each gas, in mmHg."""

    dry: float
    per_kelvin: Mapping[str, float]
    per_cubic_metre: float  # kWh to warm a cubic metre by one kelvin

    def share(self, gas: str) -> float:
        """A gas's part of an excess that both take alike [-]."""
        return loops.SHARES[gas]


def air(temperature: float, salinity: float, pressure: float) -> Air:
    """The air over water of a temperature [°C] and salinity, at a station pressure [mmHg]."""
    vapour = float(gases.vapour_pressure(temperature, salinity)) / PASCAL
    warm = excess.heating_rise(temperature - 0.5, temperature + 0.5, salinity, pressure * PASCAL)
    dry = pressure - vapour
    rises = {"oxygen": float(warm.oxygen), "inert": float(warm.nitrogen)}
    return Air(
        dry=dry,
        per_kelvin={gas: loops.SHARES[gas] * dry * rises[gas] / 100.0 for gas in loops.GASES},
        per_cubic_metre=float(heat.heat_capacity_of_water(1.0, temperature, salinity)) / 3.6e6,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class System:
    """One gas in one loop: V dx/dt = matrix x + the sum of the sources; taps as a x + c.

    Attributes
    ----------
    matrix : ndarray
        [m³/h]
    sources : mapping
        Name of a source to what it adds to each place's balance. [mmHg m³/h]
    taps : mapping
        Tap to the place its water is drawn from, the share of that water's excess left at the tap, and
        what each source has added by then. [mmHg]
    """

    matrix: Floats
    volumes: Floats
    inflow: Floats
    sources: Mapping[str, Floats]
    taps: Mapping[str, tuple[int, float, Mapping[str, float]]] = field(
        default_factory=dict[str, tuple[int, float, Mapping[str, float]]]
    )

    def steady(self, load: Floats) -> Floats:
        """Excess at each place after a long while under a load. [mmHg]."""
        try:
            return np.asarray(np.linalg.solve(self.matrix, -load), dtype=np.float64)
        except np.linalg.LinAlgError:  # nothing takes gas out anywhere: the least that fits
            return np.asarray(np.linalg.lstsq(self.matrix, -load, rcond=None)[0], dtype=np.float64)

    def total(self) -> Floats:
        """All sources together. [mmHg m³/h]."""
        return np.sum(list(self.sources.values()), axis=0) if self.sources else np.zeros(len(self.volumes))

    def by_source(self) -> dict[str, Floats]:
        """What each source adds at each place; they sum to the whole. [mmHg]."""
        if not self.sources:
            return {}
        loads = np.column_stack(list(self.sources.values()))
        answers = np.asarray(np.linalg.solve(self.matrix, -loads), dtype=np.float64)
        return {name: answers[:, number] for number, name in enumerate(self.sources)}

    def modes(self) -> tuple[Modes, Modes, Modes]:
        """Rates [1/h], shapes, and their inverse. Volumes are split by parts in 10⁴, so equal tanks part."""
        apart = self.volumes * (1.0 + 1e-4 * np.arange(self.volumes.size))
        rates, shapes = np.linalg.eig((self.matrix / apart[:, None]).astype(complex))
        return rates, shapes, np.asarray(np.linalg.inv(shapes), dtype=np.complex128)

    def slowest(self) -> float:
        """The longest time constant. [h]."""
        return float(1.0 / max(np.min(-np.real(self.modes()[0])), 1e-6))


def effect(values: Mapping[str, float], gas: str) -> float:
    """How one gas's exchange stands to nitrogen's [-]."""
    return math.exp(values.get("alike", 0.0)) if gas == "oxygen" else 1.0


def squash(value: float) -> float:
    """A share between 0 and 1 from any number."""
    return 1.0 / (1.0 + math.exp(-value)) if value > -30.0 else 0.0


def assemble(
    loop: loops.Loop, values: Mapping[str, float], gas: str, air: Air, idle: frozenset[str] = frozenset()
) -> System:
    """One gas's balance under given parameters.

    Parameters
    ----------
    loop : Loop
    values : mapping
        Parameters by name, as `fitting.parameters` lists them; one that is absent takes no part.
    gas : str
    air : Air
    idle : frozenset of str
        Machines not in service.
    """
    count = len(loop.places)
    matrix = np.zeros((count, count))
    inflow = np.zeros(count)
    sources: dict[str, Floats] = {}
    taps: dict[str, tuple[int, float, Mapping[str, float]]] = {}
    through = loop.through

    def add(name: str, place: int, size: float) -> None:
        sources.setdefault(name, np.zeros(count))[place] += size

    for leg in loop.legs:
        kept, gained, tapped = _along(loop, leg, values, gas, air, through, idle)
        if leg.source != loops.OUTSIDE:
            taps |= {name: (leg.source, *tap) for name, tap in tapped.items()}
        inflow[leg.target] += leg.flow
        matrix[leg.target, leg.target] -= leg.flow
        if leg.source == loops.OUTSIDE:
            add(f"incoming:{leg.run}", leg.target,
                leg.flow * kept * air.share(gas) * values.get(f"incoming:{leg.run}", 0.0))  # fmt: skip
        else:
            matrix[leg.target, leg.source] += leg.flow * kept
        for name, size in gained.items():
            add(name, leg.target, leg.flow * size)
    for number, place in enumerate(loop.places):
        speed = values.get(f"surface:{place}")
        if speed is not None:
            matrix[number, number] -= math.exp(speed) * effect(values, gas) * loop.surfaces[number]
        if gas == "oxygen" and f"life:{place}" in values:
            add(f"life:{place}", number, values[f"life:{place}"] * max(inflow[number], 1e-9))
        if matrix[number, number] == 0.0:
            matrix[number, number] = -1e-9 * loop.volumes[number]
    return System(matrix=matrix, volumes=loop.volumes, inflow=inflow, sources=sources, taps=taps)


def _along(
    loop: loops.Loop,
    leg: loops.Leg,
    values: Mapping[str, float],
    gas: str,
    air: Air,
    through: Mapping[str, float],
    idle: frozenset[str],
) -> tuple[float, dict[str, float], dict[str, tuple[float, dict[str, float]]]]:
    """Along one leg: share of the excess kept, what was gained by whom, and both at its taps."""
    kept, gained = 1.0, dict[str, float]()
    taps: dict[str, tuple[float, dict[str, float]]] = {}
    for step in leg.steps:
        factor, name, size = 1.0, "", 0.0
        if step.kind == "warm" and loop.power.get(step.id):
            kelvin = loop.power[step.id] / (through[step.id] * air.per_cubic_metre)
            name, size = (
                f"warming:{step.id}",
                kelvin * air.per_kelvin[gas] * math.exp(values.get("warming", 0.0)),
            )
        elif step.kind == "pumps":
            split = values.get("leak share", 0.15)
            share = split if gas == "oxygen" else 1.0 - split
            name, size = f"leak:{step.id}", share * values.get(f"leak:{step.id}", 0.0)
        elif step.kind == "strip" and step.id not in idle and f"strip:{step.id}" in values:
            factor = math.exp(-math.exp(values[f"strip:{step.id}"]) * effect(values, gas))
            name, size = (
                f"pull:{step.id}",
                (1.0 - factor) * air.share(gas) * values.get(f"pull:{step.id}", 0.0),
            )
        elif step.kind == "end":
            factor = 1.0 - squash(values.get(f"fall:{leg.run}", -40.0))
            name = f"carried:{leg.run}"
            size = air.share(gas) * math.exp(values[name]) if name in values else 0.0
        elif step.kind == "tap":
            taps[step.id] = (kept, dict(gained))
        if factor != 1.0:
            kept *= factor
            gained = {who: factor * what for who, what in gained.items()}
        if size:
            gained[name] = gained.get(name, 0.0) + size
    return kept, gained, taps
