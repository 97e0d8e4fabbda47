"""The plant as compartments, ready to be asked: where it settles, how it gets there, what dominates.

``build(facility, flows, conditions) -> Model``; ``Model.steady() -> State``; ``Model.transient(hours) ->
Trajectory`` with its ``ledger``; ``Model.time_constants()``; ``Model.limits_what(place, species)``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from brinehouse import findings
from brinehouse.facility import model
from brinehouse.network.compartments import building, ledger, settling, stepping, telling, water
from brinehouse.network.compartments import conditions as given
from brinehouse.network.compartments import plant as plants

Floats = NDArray[np.float64]
SPECIES = plants.SPECIES
_HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """Water at rest.

    Attributes
    ----------
    places : mapping
        Place to its water; NaN where a quantity has no rest (a finding says so).
    x : ndarray
        (species, places) as the equations carry it, NaN alike.
    """

    places: Mapping[str, water.Water]
    x: Floats
    rest: settling.Rest
    findings: tuple[findings.Finding, ...] = ()

    def __getitem__(self, place: str) -> water.Water:
        return self.places[place]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trajectory:
    """Water over time: ``hours``; ``values(place, species)``; and the ledger of the whole run."""

    hours: Floats
    course: stepping.Course
    ledger: ledger.Ledger
    station_pressure: float
    findings: tuple[findings.Finding, ...] = ()

    def values(self, place: str, species: str) -> Floats:
        """One species at one place over time, as the equations carry it; ``level`` is the water in m³."""
        at = self.course.places.index(place)
        if species == "level":
            return self.course.volumes[:, at]
        return self.course.x[:, plants.AT[species], at]

    def at(self, step: int) -> Mapping[str, water.Water]:
        """Water at every place at one of the times; -1 is the last."""
        course = self.course
        whole = [index for index, place in enumerate(course.places) if "#" not in place]
        names = [course.places[index] for index in whole]
        x, volumes = course.x[step][:, whole], course.volumes[step][whole]
        return water.read(names, x, volumes, self.station_pressure)

    def settled_after(self, place: str, species: str, share: float = 0.05) -> float | None:
        """Hours until a value stays within a share of its whole change; None where it did not change."""
        values = self.values(place, species)
        change = abs(values[-1] - values[0])
        if change <= 1e-9 * max(abs(values[0]), 1.0):
            return None
        out = np.flatnonzero(np.abs(values - values[-1]) > share * change)
        return float(self.hours[out[-1] + 1]) if len(out) else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One thing that acts on a species at a place: its name and what it does, per hour, positive upward.

    ``rate`` is in the species' unit for each hour (°C/h, µmol/kg/h); ``share`` of all that acts either way.
    """

    name: str
    rate: float
    share: float


@dataclass(slots=True)
class Model:
    """A plant under constant conditions."""

    built: building.Built
    _steady: State | None = field(default=None)

    @property
    def plant(self) -> plants.Plant:
        """The arrays."""
        return self.built.plant

    @property
    def places(self) -> tuple[str, ...]:
        """The places that hold water."""
        return self.built.plant.places

    @property
    def assumed(self) -> tuple[given.Assumed, ...]:
        """What nobody stated and the answer rests on."""
        return self.built.assumed

    def steady(self, near: State | None = None) -> State:
        """Where the water settles; the search may begin near the rest of a plant much like it."""
        if self._steady is None:
            rest = settling.settle(self.plant, None if near is None else near.rest.x)
            shown = np.where(rest.endless, np.nan, rest.x)
            for row in _follows(rest):
                shown[row] = np.nan
            volumes = self.plant.transport.volumes
            read = water.read(self.places, shown, volumes, self.plant.station_pressure, worked=rest.x)
            told = (*self.built.findings, *telling.of_rest(self.plant, rest))
            self._steady = State(places=read, x=shown, rest=rest, findings=told)
        return self._steady

    def transient(
        self,
        hours: float,
        start: Mapping[str, Mapping[str, float]] | State | None = None,
        *,
        rtol: float = 1e-5,
    ) -> Trajectory:
        """The water over so many hours.

        Parameters
        ----------
        hours : float
            How long. [h]
        start : mapping or State
            Place to species to first value, over the plant's own start; or a state at rest.
        rtol : float
            Error allowed in a step. [-]
        """
        plant = self.plant
        first = plant.start.copy()
        if isinstance(start, State):
            first = np.where(np.isnan(start.x), first, start.x)
        elif start:
            for place, values in start.items():
                for species, value in values.items():
                    first[plants.AT[species], plant.places.index(place)] = value
        long = stepping.with_pipes(replace(plant, start=first))
        course = stepping.run(long, hours * _HOUR, rtol=rtol)
        told = (*self.built.findings, *telling.of_course(plant, course))
        return Trajectory(
            hours=course.times / _HOUR, course=course, ledger=course.ledger,
            station_pressure=plant.station_pressure, findings=told,
        )  # fmt: skip

    def time_constants(self) -> Mapping[str, float]:
        """Species to the slowest time constant of the water at rest, in h; infinite where none."""
        rest = self.steady().rest
        out: dict[str, float] = {}
        for species, made in rest.balances.items():
            values = np.linalg.eigvals(made.matrix / self.plant.transport.volumes[:, None])
            slow = float(np.max(values.real))
            fast = float(np.max(np.abs(values.real)))
            out[species] = np.inf if slow > -1e-12 * max(fast, 1e-30) else -1.0 / slow / _HOUR
        return out

    def time_to_rest(self, species: str, share: float = 0.05) -> float:
        """Hours until all but a share of any first difference is gone: from the slowest time constant."""
        return float(-np.log(share) * self.time_constants()[species])

    def limits_what(self, place: str, species: str) -> tuple[Term, ...]:
        """What acts on a species at a place at rest, the strongest first."""
        rest, at = self.steady().rest, self.places.index(place)
        made, plant, row = rest.balances[species], self.plant, plants.AT[species]
        ways, volume = plant.transport, plant.transport.volumes[at]
        rates: dict[str, float] = {name: float(rate[at]) for name, rate in made.terms.items()}
        first = ways.taken(rest.x[row], plant.outside[row])
        for column in np.flatnonzero(ways.target == at):
            way, flow = ways.passages[column], ways.flow[column]
            name = f"water from {way.source if way.source != model.OUTSIDE else way.run}"
            rates[name] = rates.get(name, 0.0) + float(flow * (first[column] - rest.x[row, at]))
            for step, part, word in zip(
                made.steps[:, column],
                plant.machines.part[:, column],
                plant.machines.term[:, column],
                strict=True,
            ):
                label = str(part) or plants.WORDS[word]
                rates[label] = rates.get(label, 0.0) + float(flow * step)
        gained = ways.inflow[at] - ways.outflow[at] - plant.rates[at]
        if gained:
            rates["evaporation"] = rates.get("evaporation", 0.0) + float(gained * rest.x[row, at])
        acting = {name: rate for name, rate in rates.items() if rate}
        whole = sum(abs(rate) for rate in acting.values()) or 1.0
        found = [
            Term(name=name, rate=rate / volume * _HOUR, share=abs(rate) / whole)
            for name, rate in acting.items()
        ]
        return tuple(sorted(found, key=lambda term: -term.share))


def _follows(rest: settling.Rest) -> Sequence[int]:
    """Rows that have no meaning where another has no rest."""
    return [plants.AT["carbon"]] if rest.endless[plants.AT["alkalinity"]].all() and rest.endless.size else []


def build(
    facility: model.Facility, flows: Mapping[str, float], conditions: given.Conditions | None = None
) -> Model:
    """A model of a plant.

    Parameters
    ----------
    facility : Facility
        A checked facility.
    flows : mapping
        Run to flow, as `network.flows.stated(facility).flows`. [m³/s]
    conditions : Conditions
        What acts on the water; named defaults where not told.
    """
    return Model(building.build(facility, flows, conditions or given.Conditions()))
