"""What the water of each place really held through the history: temperature, salinity and gases."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brinehouse.demo import water, weather

Floats = NDArray[np.float64]
STEP = 1.0 / 6.0  # h

PLACES: Mapping[str, tuple[float, float, float, float]] = {
    "mangrove": (25.4, 34.2, 1.0, 0.10),
    "pipefish": (25.5, 34.2, 0.5, 0.18),
    "estuary": (25.3, 34.2, 1.2, 0.15),
    "sump-m": (25.5, 34.2, 0.1, 0.10),
    "m-supply": (25.6, 34.2, 0.0, 0.08),
    "kelp": (12.2, 34.0, 5.0, 0.10),
    "ledge": (12.3, 34.0, 1.5, 0.12),
    "cold-bench": (9.8, 33.6, 0.2, 0.10),
    "q-1": (24.8, 33.1, 0.0, 0.30),
    "q-2": (24.8, 33.0, 0.0, 0.30),
    "q-3": (13.0, 34.0, 0.0, 0.25),
    "nursery": (25.0, 33.2, 0.3, 0.35),
}
"""Usual temperature [°C], salinity, oxygen made in full light [% of saturation], daily swing [K]."""

ALONE: Mapping[str, tuple[float, float]] = {
    "kelp": (97.5, 100.9),
    "ledge": (98.0, 101.0),
    "cold-bench": (97.0, 100.6),
    "q-1": (95.0, 100.4),
    "q-2": (95.5, 100.4),
    "q-3": (96.5, 100.4),
    "nursery": (96.0, 100.3),
}
"""Usual oxygen and inert gas of the places outside loop m [% of saturation]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """Loop m as the generator knows it: shares lost and gained on the way round (all invented).

    ``column`` is the share of an excess that is left behind the packed column; ``churn`` the gas pressure
    that bubbles at mangrove's inlet press in [mmHg/h]; ``fall`` what the fall into pipefish adds [mmHg];
    ``warming`` what pumps and lamps add before the tap [mmHg].
    """

    column: float
    churn: float
    fall: float
    warming: float

    def steady(self, inject: float, column: float) -> dict[str, float]:
        """Excess after a long while, for one gas that takes the whole of every source [mmHg]."""
        s = m = p = e = 0.0
        for _ in range(400):
            tap = s + inject + self.warming
            m = (0.83 * column * tap + self.churn) / 0.98
            p = (6.7 * (0.96 * m + self.fall)) / 6.95
            e = 1.68 * tap / 2.58
            s = 0.8 * (0.656 * m + 0.094 * p + 0.25 * e)
        return {
            "mangrove": m,
            "pipefish": p,
            "estuary": e,
            "sump-m": s,
            "m-supply": s + inject + self.warming,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Forces:
    """Everything that drives loop m, on the grid."""

    inject: Mapping[str, Floats]
    columns: Mapping[str, Floats]
    churn: Floats
    fall: Floats
    eaten: Floats
    light: Floats
    shares: Mapping[str, float] = field(
        default_factory=lambda: {"oxygen": water.OXYGEN_IN_AIR, "nitrogen": water.INERT_IN_AIR}
    )

    def live(self) -> Floats:
        """What plants give to mangrove's oxygen less what animals take [mmHg/h]."""
        return 3.4 * self.light - 3.6 - self.eaten


def temperatures(rng: np.random.Generator, hours: Floats, clock: Floats) -> dict[str, Floats]:
    """Each place's temperature: season of its room, day, and one night with the kelp chiller off [°C]."""
    room = weather.wander(rng, hours, size=0.12, memory=80.0)
    warm = weather.wander(rng, hours, size=0.16, memory=30.0)
    cold = weather.wander(rng, hours, size=0.14, memory=40.0)
    trip = float(rng.uniform(0.35, 0.8)) * float(hours[-1])
    off = np.clip((hours - trip) * 0.34, 0.0, 1.9) * np.exp(-np.clip(hours - trip - 5.5, 0.0, None) / 6.0)
    found: dict[str, Floats] = {}
    for place, (usual, _, _, swing) in PLACES.items():
        shared = warm if place in ("mangrove", "pipefish", "estuary", "sump-m", "m-supply") else room
        if place in ("kelp", "ledge"):
            shared = cold + off
        day = swing * np.cos(2.0 * np.pi * (clock - 15.5) / 24.0)
        found[place] = usual + shared + day + weather.wander(rng, hours, size=0.05, memory=6.0)
    return found


def salinities(rng: np.random.Generator, hours: Floats) -> dict[str, Floats]:
    """Salt creeps up as water leaves for the air and falls back at each top-up."""
    found: dict[str, Floats] = {}
    loop = weather.wander(rng, hours, size=0.15, memory=200.0)
    creep = 0.018 * np.mod(hours + 7.0, 26.0) / 26.0
    for place, (_, usual, _, _) in PLACES.items():
        own = (
            loop
            if place in ("mangrove", "pipefish", "estuary", "sump-m", "m-supply")
            else weather.wander(rng, hours, size=0.2, memory=150.0)
        )
        found[place] = usual + own + creep
    return found


def loop_gas(
    loop: Loop, forces: Forces, gas: str, balance: Floats, warm: Floats, salt: Floats
) -> dict[str, Floats]:
    """One gas round loop m: its own pressure at each place on the grid [mmHg].

    Parameters
    ----------
    balance : ndarray
        Its pressure in water that is in balance with the air of the moment. [mmHg]
    """
    share = forces.shares[gas]
    solubility = water.bunsen(gas, warm, salt)
    squeeze = np.ones_like(warm)
    squeeze[1:] = solubility[:-1] / solubility[1:]
    live = forces.live() if gas == "oxygen" else np.zeros_like(warm)
    rows = zip(
        balance.tolist(),
        forces.inject[gas].tolist(),
        forces.columns[gas].tolist(),
        (share * forces.churn + live).tolist(),
        (share * forces.fall).tolist(),
        squeeze.tolist(),
        strict=True,
    )
    start = loop.steady(0.0, float(forces.columns[gas][0]))
    first = float(balance[0])
    s, m, p, e = (first + share * start[name] for name in ("sump-m", "mangrove", "pipefish", "estuary"))
    tap = s
    out: list[tuple[float, float, float, float, float]] = []
    heat = share * loop.warming
    a_m, a_p, a_e, a_s = (1.0 - float(np.exp(-rate * STEP)) for rate in (0.98, 6.95, 2.58, 13.8))
    for eq, inject, column, source, fall, ratio in rows:
        tap = s + inject + heat
        behind = eq + (tap - eq) * column
        m = m * ratio + ((0.83 * behind + 0.15 * eq + source) / 0.98 - m) * a_m
        p = p * ratio + ((6.7 * (eq + 0.96 * (m - eq) + fall) + 0.25 * eq) / 6.95 - p) * a_p
        e = e * ratio + ((1.68 * tap + 0.9 * eq) / 2.58 - e) * a_e
        s += (eq + 0.8 * (0.656 * m + 0.094 * p + 0.25 * e - eq) - s) * a_s
        out.append((m, p, e, s, tap))
    table = np.array(out)
    return dict(zip(("mangrove", "pipefish", "estuary", "sump-m", "m-supply"), table.T.copy(), strict=True))


def lone_gas(
    rng: np.random.Generator, place: str, gas: str, balance: Floats, hours: Floats, light: Floats
) -> Floats:
    """One gas at a place outside loop m: near balance, with the day in it [mmHg]."""
    usual = ALONE[place][gas == "nitrogen"]
    day = PLACES[place][2] * light if gas == "oxygen" else 0.0
    walk = weather.wander(rng, hours, size=0.9 if gas == "oxygen" else 0.25, memory=20.0)
    return balance * (usual + day + walk) / 100.0


def figures(
    oxygen: Floats, inert: Floats, pressure: Floats, temperature: Floats, salinity: Floats
) -> dict[str, Floats]:
    """The figures a perfect meter would show for two gases' own pressures."""
    free = water.dry(pressure, temperature, salinity)
    carbon = 0.8  # mmHg of carbon dioxide, which no meter here sees for itself
    total = oxygen + inert + (pressure - free) + carbon
    return {
        "temperature": temperature,
        "salinity": salinity,
        "oxygen": water.oxygen_mg(oxygen, temperature, salinity),
        "oxygen %": 100.0 * oxygen / (water.OXYGEN_IN_AIR * free),
        "nitrogen %": 100.0 * inert / (water.INERT_IN_AIR * free),
        "tgp": 100.0 * total / pressure,
        "delta p": total - pressure,
    }
