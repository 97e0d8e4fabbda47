"""A plant made into numbers a keeper reads, moved by what is assumed, and timed."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from brinehouse import findings
from brinehouse.engines.balance import acting, cases, comparing, flowing, holding, question, timing
from brinehouse.engines.balance import around as surroundings
from brinehouse.facility import model
from brinehouse.network.compartments import model as compartments
from brinehouse.network.compartments import plant as arrays
from brinehouse.network.compartments import water as waters
from brinehouse.science import constants, seawater

AT = arrays.AT
PASSED_ON = tuple(
    f"compartments/{name}"
    for name in (
        "not-settled", "chiller-small", "heater-small", "oxygen-runs-out", "alkalinity-runs-out",
        "no-steady-level",
    )
)  # fmt: skip
"""What the compartments find that is worth a keeper's word; the rest the balance tells itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A plant in balance, with the water behind the numbers."""

    plant: question.Plant
    settled: question.Settled
    water: compartments.Model
    flows: Mapping[str, float]
    places: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """One assumed number, and the plant with it moved."""

    told: cases.Assumed

    def shifted(self, plant: question.Plant, sign: float) -> question.Plant:
        """The plant with this one up or down by its standard uncertainty."""
        moved = plant.conditions.shifted(self.told.name, sign)
        return dataclasses.replace(plant, conditions=moved)


def assumptions(plant: question.Plant) -> list[Assumption]:
    """What was assumed for a plant, but for what has no bearing on it."""
    around: surroundings.Around = plant.conditions
    machines = plant.facility.equipment.values()
    kinds = {machine.kind for machine in machines}
    open_to = {machine.kind for machine in machines if machine.approach is None}  # none stated
    idle = {
        "column": not open_to & set(surroundings.COLUMNS),
        "skim": not open_to & set(surroundings.SKIMMERS),
        "biofilter": "biofilter" not in open_to,
        "alone": not any(vessel.stands_alone for vessel in plant.facility.tanks.values()),
        "hold": not kinds & set(surroundings.HOLDERS),
        "cold": not any(machine.power and machine.kind in surroundings.HOLDERS for machine in machines),
        "leak": not around.leaks,
        "activity": not plant.facility.animals,
        "feed": not around.feed,
        "protein": not around.feed,
        "alkalinity": bool(around.alkalinity),
    }
    return [
        Assumption(
            told=cases.Assumed(
                name=name, label=knob.label, value=knob.value, u=knob.u, unit=knob.unit, source=knob.source
            )
        )
        for name, knob in around.knobs.items()
        if not idle.get(name, False)
    ]


def make(plant: question.Plant) -> Made:
    """A plant in balance, with its terms."""
    closed = flowing.closed(plant.facility, plant.flows.flows, plant.flows.u)
    water = _water(plant, closed.flows)
    state = water.steady()
    places = acting.places_of(plant.facility, closed.flows)
    shown = tuple(name for name in places if name in state.places)
    species = dict.fromkeys(one.of for one in question.QUANTITIES.values())
    terms = {
        (name, one): holding.terms(water, plant.facility, name, one)
        for name in shown
        for one in species
        if not np.isnan(state.x[AT[one]]).all()
    }
    told = tuple(one for one in state.findings if one.code in PASSED_ON)
    found = (*closed.findings, *told, *_alone(plant.facility, shown, closed.flows))
    settled = question.Settled(values=_values(state, shown), terms=terms, findings=found)
    return Made(plant=plant, settled=settled, water=water, flows=closed.flows, places=shown)


def numbers(plant: question.Plant, like: Made) -> Mapping[comparing.Key, float]:
    """Only the numbers of a plant that has the flows of another; the search begins at the other's rest."""
    return _values(_water(plant, like.flows).steady(near=like.water.steady()), like.places)


def _water(plant: question.Plant, flows: Mapping[str, float]) -> compartments.Model:
    return compartments.build(
        plant.facility, flows, acting.conditions(plant.facility, plant.conditions, flows)
    )


def _values(state: compartments.State, places: Sequence[str]) -> dict[comparing.Key, float]:
    return {
        (place, quantity): number
        for place in places
        for quantity, number in _read(state.places[place]).items()
    }


def _read(water: waters.Water) -> Mapping[str, float]:
    """The quantities of one place, from its water."""
    dense = float(seawater.density(water.temperature, water.salinity)) * 1e-6
    return {
        "temperature": water.temperature,
        "salinity": water.salinity,
        "oxygen": water.oxygen_mg,
        "oxygen_percent": water.oxygen_percent,
        "tgp": water.tgp,
        "delta_p": water.delta_p / constants.MMHG,
        "n2_ar": water.n2_ar,
        "ph": water.ph,
        "co2": water.co2 * constants.CARBON_DIOXIDE_MOLAR_MASS * dense,
        "alkalinity": water.alkalinity * dense,
        "tan": water.tan,
        "ammonia": water.ammonia,
        "nitrite": water.nitrite,
        "nitrate": water.nitrate,
    }


def hours(today: Made, then: Made | None) -> dict[comparing.Key, float]:
    """How long each quantity takes until 5 % of its way is left.

    Without a change: after all the water of the hall was put off by the same amount. With one: from today's
    balance to the new one.
    """
    made = then or today
    rest = made.water.steady()
    volumes = made.water.plant.transport.volumes
    before = dict(zip(today.water.places, today.water.steady().x.T, strict=True))
    found: dict[comparing.Key, float] = {}
    for species in dict.fromkeys(one.of for one in question.QUANTITIES.values()):
        x = rest.x[AT[species]]
        away = np.where(np.isfinite(x), 1.0, np.nan)
        if then is not None:
            was = [before[name][AT[species]] if name in before else x[at] for at, name in _rows(made)]
            away = np.array(was) - x
        moved = bool(np.isfinite(away).all()) and float(np.abs(away).max(initial=0.0)) > 1e-9
        matrix = rest.rest.balances[species].matrix if moved else np.zeros((len(x), len(x)))
        times = timing.settling(matrix, volumes, away) if moved else np.full_like(x, np.nan)
        for at, name in _rows(made):
            for one in question.QUANTITIES.values():
                if one.of == species and name in made.places:
                    found[name, one.name] = float(times[at])
    for name, quantity in list(found):  # un-ionised ammonia follows pH as well
        if quantity == "ammonia" and not found[name, quantity] >= found[name, "ph"]:
            found[name, quantity] = found[name, "ph"]
    return found


def _rows(made: Made) -> list[tuple[int, str]]:
    return list(enumerate(made.water.places))


def _alone(
    facility: model.Facility, places: Sequence[str], flows: Mapping[str, float]
) -> Sequence[findings.Finding]:
    """Places where animals live that no known water reaches."""
    wet = acting.reached(facility, flows)
    alone = [
        name
        for name in places
        if name not in wet
        and facility.vessels[name].kind == "tank"
        and not facility.vessels[name].stands_alone
    ]
    return [
        findings.Finding(
            code="balance/no-water-runs",
            level=findings.Level.NOTE,
            text=f"{cases.name_of(facility, name)}: no water is known to run into it, so it is "
            "worked out by itself.",
            hint="state the flow of its run, or write stands_alone = true",
            spot=findings.Spot(thing=name),
            data={"place": name},
        )
        for name in alone
    ]
