"""What has to be said of a plant at rest or in time: no rest, oxygen used up, a chiller too small, dry."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from brinehouse import findings
from brinehouse.network.compartments import assembly as equations
from brinehouse.network.compartments import closing, settling, stepping
from brinehouse.network.compartments import plant as plants

LOW = 3.0  # of `assembly.NEAR_NOTHING`: below it a use is held back by more than 5 %
_WORDS = {"tan": "ammonia", "carbon": "inorganic carbon", "tracer": "what was put in"}


def _find(code: str, level: findings.Level, text: str, hint: str, **data: object) -> findings.Finding:
    return findings.Finding(code=code, level=level, text=text, hint=hint, data=data)


def _named(places: Iterable[str]) -> str:
    return ", ".join(f"'{place}'" for place in places)


def of_rest(plant: plants.Plant, rest: settling.Rest) -> list[findings.Finding]:
    """Findings of a steady state."""
    out = [*_levels(plant), *_endless(plant, rest), *_chillers(plant, rest), *_used_up(plant, rest)]
    if not rest.settled:
        out.append(
            _find("compartments/not-settled", findings.Level.ASK,
                  "the balance still moved when the search was given up",
                  "look for feed, flows or volumes that cannot be", sweeps=rest.sweeps)
        )  # fmt: skip
    return out


def _levels(plant: plants.Plant) -> list[findings.Finding]:
    out: list[findings.Finding] = []
    for place, rate in zip(plant.places, plant.rates, strict=True):
        if rate:
            way = "falls" if rate < 0.0 else "rises"
            out.append(
                _find("compartments/no-steady-level", findings.Level.WATCH,
                      f"the water in '{place}' {way} by {abs(rate) * 86400e3:.3g} L a day without end",
                      "say how it is topped up, or look at flows from and to outside", place=place, rate=rate)
            )  # fmt: skip
    return out


def _endless(plant: plants.Plant, rest: settling.Rest) -> list[findings.Finding]:
    out: list[findings.Finding] = []
    for species, row in plants.AT.items():
        where = [
            plant.places[at] for at in np.flatnonzero(rest.endless[row] & ~_falling(plant, rest, species))
        ]
        if not where:
            continue
        code = "compartments/no-steady-salinity" if species == "salinity" else "compartments/no-steady-state"
        word = _WORDS.get(species, species)
        hint = "say how fresh water replaces what evaporates" if species == "salinity" else (
            "say what takes it away: a change of water, a surface, or what lives in the filter"
        )  # fmt: skip
        out.append(
            _find(code, findings.Level.WATCH, f"{word} has no steady state at {_named(where)}", hint,
                  species=species, places=tuple(where))
        )  # fmt: skip
    return out


def _falling(plant: plants.Plant, rest: settling.Rest, species: str) -> NDArray[np.bool_]:
    """Places without a rest that lose oxygen or alkalinity, all that is joined to them together."""
    row = plants.AT[species]
    out = np.zeros(len(plant.places), dtype=bool)
    if species not in equations.NEAR_NOTHING or not rest.endless[row].any():
        return out
    made = rest.balances[species]
    gain = np.where(rest.endless[row], made.matrix @ rest.x[row] + made.load, 0.0)
    for place, body in closing.bodies(plant.places, plant.transport.passages).items():
        members = [at for at, name in enumerate(plant.places) if name in body]
        out[plant.places.index(place)] = float(gain[members].sum()) < 0.0
    return out & rest.endless[row]


def _chillers(plant: plants.Plant, rest: settling.Rest) -> list[findings.Finding]:
    out: list[findings.Finding] = []
    machines, ways = plant.machines, plant.transport
    made = rest.balances.get("temperature")
    if made is None or not made.steps.size:
        return out
    warm = ways.taken(rest.x[0], plant.outside[0]) + np.cumsum(made.steps, axis=0)
    for word, code, most, sign in (
        ("chiller", "compartments/chiller-small", machines.cooling, 1.0),
        ("heater", "compartments/heater-small", machines.warming, -1.0),
    ):
        short = (most > 0.0) & (sign * (warm - machines.setpoint) > 1e-6)
        for name in dict.fromkeys(str(part) for part in machines.part[short]):
            here = short & (machines.part == name)
            gap = float(np.max(np.abs(warm - machines.setpoint)[here]))
            out.append(
                _find(code, findings.Level.WATCH,
                      f"{word} '{name}' at full power leaves the water {gap:.2g} °C off what it should hold",
                      f"more power, less heat, or another setpoint for '{name}'", machine=name, gap=gap)
            )  # fmt: skip
    return out


def _used_up(plant: plants.Plant, rest: settling.Rest) -> list[findings.Finding]:
    out: list[findings.Finding] = []
    for species, code in (
        ("oxygen", "compartments/oxygen-runs-out"),
        ("alkalinity", "compartments/alkalinity-runs-out"),
    ):
        row = plants.AT[species]
        salty = plant.start[1] > 2.0 if species == "alkalinity" else np.ones(len(plant.places), dtype=bool)
        low = (rest.x[row] < LOW * equations.NEAR_NOTHING[species]) & salty & ~rest.endless[row]
        low |= _falling(plant, rest, species)
        where = [plant.places[at] for at in np.flatnonzero(low)]
        if where:
            hint = "more water, more gas exchange, or fewer animals" if species == "oxygen" else (
                "give alkalinity, or change more water"
            )  # fmt: skip
            out.append(
                _find(
                    code,
                    findings.Level.ACT,
                    f"{species} runs out at {_named(where)}",
                    hint,
                    places=tuple(where),
                )
            )
    return out


def of_course(plant: plants.Plant, course: stepping.Course) -> list[findings.Finding]:
    """Findings of a run in time."""
    out: list[findings.Finding] = []
    for place in course.dry:
        hours = course.times[-1] / 3600.0
        out.append(
            _find("compartments/runs-dry", findings.Level.ACT,
                  f"'{place}' runs dry after {hours:.3g} h; the run ends",
                  "say how it is topped up", place=place, hours=hours)
        )  # fmt: skip
    if not course.whole and not course.dry:
        out.append(
            _find("compartments/cut-short", findings.Level.ASK,
                  "the run in time needed more steps than are allowed",
                  "ask for fewer hours", hours=course.times[-1] / 3600.0)
        )  # fmt: skip
    for species, code in (
        ("oxygen", "compartments/oxygen-runs-out"),
        ("alkalinity", "compartments/alkalinity-runs-out"),
    ):
        row = plants.AT[species]
        least = course.x[:, row, : len(plant.places)].min(axis=0)
        salty = plant.start[1] > 2.0 if species == "alkalinity" else np.ones(len(plant.places), dtype=bool)
        where = [
            plant.places[at] for at in np.flatnonzero((least < LOW * equations.NEAR_NOTHING[species]) & salty)
        ]
        if where:
            out.append(
                _find(code, findings.Level.ACT, f"{species} runs out at {_named(where)}",
                      "look at what uses it there", places=tuple(where))
            )  # fmt: skip
    return out
