"""A plant made into numbers a keeper reads, moved by what is assumed, and timed."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from brinehouse import findings
from brinehouse.engines.balance import around as surroundings
from brinehouse.engines.balance import cases, comparing, flowing, mixing, question
from brinehouse.engines.balance import water as waters
from brinehouse.science import carbonate, constants, gases, nitrogen, total_gas


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A plant in balance, with the water behind the numbers."""

    plant: question.Plant
    settled: question.Settled
    water: waters.Water


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
    kinds = {machine.kind for machine in plant.facility.equipment.values()}
    idle = {
        "column": not kinds & set(surroundings.COLUMNS),
        "skim": not kinds & set(surroundings.SKIMMERS),
        "biofilter": "biofilter" not in kinds,
        "alone": not any(vessel.stands_alone for vessel in plant.facility.tanks.values()),
        "hold": not kinds & set(surroundings.HOLDERS),
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
    water = waters.work_out(plant.facility, plant.conditions, closed.flows)
    species = dict.fromkeys(one.of for one in question.QUANTITIES.values())
    terms = {(name, one): waters.terms(water, one, name) for _, name, _ in water.vessels() for one in species}
    found = (*closed.findings, *_alone(water))
    settled = question.Settled(values=_values(water), terms=terms, findings=found)
    return Made(plant=plant, settled=settled, water=water)


def numbers(plant: question.Plant, like: Made) -> Mapping[comparing.Key, float]:
    """Only the numbers of a plant that has the flows of another."""
    flows = {way.run: way.flow for way in like.water.net.ways}
    start = {name: like.water.x[name] for name in ("temperature", "carbon")}
    return _values(waters.work_out(plant.facility, plant.conditions, flows, start))


def _values(water: waters.Water) -> dict[comparing.Key, float]:
    x = water.x
    temperature, salt, dense = x["temperature"], x["salinity"], x["density"]
    pressure = water.around["pressure"]
    oxygen = gases.oxygen_partial_pressure(x["oxygen"], temperature, salt)
    inert = gases.nitrogen_partial_pressure(x["nitrogen"], temperature, salt)
    inert = inert + gases.argon_partial_pressure(x["argon"], temperature, salt)
    co2 = carbonate.co2_of(x["alkalinity"], x["carbon"], temperature, salt)
    ph = carbonate.ph_of(x["alkalinity"], x["carbon"], temperature, salt)
    pressed = co2 / (gases.carbon_dioxide_solubility(temperature, salt) * 1e6) * constants.ATM
    total = total_gas.total_gas_pressure(oxygen, inert, temperature, salt, pressed)
    share = nitrogen.ammonia_share(ph, temperature, salt, scale="total")
    as_n = waters.NITROGEN_MASS * 1e-6 * dense
    columns: Mapping[str, waters.Floats] = {
        "temperature": temperature,
        "salinity": salt,
        "oxygen": x["oxygen"] * constants.OXYGEN_MOLAR_MASS * 1e-6 * dense,
        "oxygen_percent": 100.0 * x["oxygen"] / waters.at_balance(water, "oxygen", pressure),
        "tgp": 100.0 * total / pressure,
        "delta_p": (total - pressure) / constants.MMHG,
        "n2_ar": total_gas.nitrogen_percent(inert, np.full_like(inert, pressure), temperature, salt),
        "ph": ph,
        "co2": co2 * constants.CARBON_DIOXIDE_MOLAR_MASS * 1e-6 * dense,
        "alkalinity": x["alkalinity"] * 1e-6 * dense,
        "tan": x["tan"] * as_n,
        "ammonia": x["tan"] * as_n * share,
        "nitrite": x["nitrite"] * as_n,
        "nitrate": x["nitrate"] * as_n,
    }
    return {
        (name, quantity): float(column[row])
        for row, name, _ in water.vessels()
        for quantity, column in columns.items()
    }


def hours(today: Made, then: Made | None) -> dict[comparing.Key, float]:
    """How long each quantity takes until 5 % of its way is left.

    Without a change: after all the water of the hall was put off by the same amount. With one: from today's
    balance to the new one.
    """
    made = then or today
    water = made.water
    found: dict[comparing.Key, float] = {}
    for species in dict.fromkeys(one.of for one in question.QUANTITIES.values()):
        x = water.x[species]
        away = np.ones_like(x)
        if then is not None:
            before = dict(zip(today.water.net.nodes, today.water.x[species], strict=True))
            away = np.array([before.get(name, x[row]) - x[row] for row, name in enumerate(water.net.nodes)])
        moved = bool(np.isfinite(away).all()) and float(np.abs(away).max(initial=0.0)) > 1e-9
        times = mixing.settling(water.net, water.tasks[species], away) if moved else np.full_like(x, np.nan)
        for row, name, _ in water.vessels():
            for one in question.QUANTITIES.values():
                if one.of == species:
                    found[name, one.name] = float(times[row])
    for name, quantity in list(found):  # un-ionised ammonia follows pH as well
        if quantity == "ammonia" and not found[name, quantity] >= found[name, "ph"]:
            found[name, quantity] = found[name, "ph"]
    return found


def _alone(water: waters.Water) -> Sequence[findings.Finding]:
    """Places where animals live that no known water reaches."""
    alone = [
        name
        for _, name, vessel in water.vessels()
        if not water.net.into(name) and vessel.kind == "tank" and not vessel.stands_alone
    ]
    return [
        findings.Finding(
            code="balance/no-water-runs",
            level=findings.Level.NOTE,
            text=f"{cases.name_of(water.facility, name)}: no water is known to run into it, so it is "
            "worked out by itself.",
            hint="state the flow of its run, or write stands_alone = true",
            spot=findings.Spot(thing=name),
            data={"place": name},
        )
        for name in alone
    ]
