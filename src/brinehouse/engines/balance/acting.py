"""The assumed numbers and readings of a plant handed to the compartments, as what acts on their water."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from brinehouse.engines.balance import around as surroundings
from brinehouse.facility import model
from brinehouse.network.compartments import building
from brinehouse.network.compartments import conditions as given
from brinehouse.science import seawater
from brinehouse.science.constants import GRAVITY

DAY = 86400.0
UNSTATED = 1.0  # m³: a place whose water nobody stated; where it settles hardly depends on it
AMPLE = 1.0e8  # W: a machine whose power nobody stated holds what it should
KEPT = 3600.0  # s: how fast a heater of its own brings a tank back (common practice, no source)
SLOW_CARBON = 0.6  # carbon dioxide goes this share of oxygen's way: common practice, no source
SKIMMED_AT = 0.3  # m: depth of the bubbles of a fractionator (common practice, no source)
PER = 4.09e6  # J/K in a cubic metre of sea water, for the strength of a tank's own heater


def places_of(facility: model.Facility, flows: Mapping[str, float]) -> tuple[str, ...]:
    """The places that water reaches or animals live in; each tank by itself where a file has neither."""
    ends = {
        end
        for run in facility.runs.values()
        if flows.get(run.id, 0.0) > 0.0
        for end in (run.source, run.target)
    }
    lived = {group.at for group in facility.animals}
    places = tuple(name for name in facility.vessels if name in ends or name in lived)
    return places or tuple(facility.tanks)


def reached(facility: model.Facility, flows: Mapping[str, float]) -> set[str]:
    """Places into which some run brings water."""
    return {run.target for run in facility.runs.values() if flows.get(run.id, 0.0) > 0.0}


def conditions(
    facility: model.Facility, around: surroundings.Around, flows: Mapping[str, float]
) -> given.Conditions:
    """What acts on the water, every number of it read, stated or one of the knobs.

    Parameters
    ----------
    facility : Facility
    around : Around
        Readings and knobs.
    flows : mapping
        Run to flow. [m³/s]
    """
    places = places_of(facility, flows)
    start = _start(around, places)
    volumes = {name: _volume(facility.vessels[name]) for name in places}
    areas = {name: building.surface_of(facility.vessels[name], volumes[name]) for name in places}
    alone = _alone(facility, places, flows)
    speed = around["velocity"] / DAY
    turning = around["nitrify"] / DAY
    pumps = {name: around["pumps"] * (pump.power or 0.0) for name, pump in facility.pumps.items()}
    feed = around["feed"] / DAY
    fitted = _machines(facility, around, flows)
    return given.Conditions(
        station_pressure=around["pressure"],
        pco2=around["air"],
        room_temperature=around["room"],
        humidity=around["humidity"],
        activity=around["activity"],
        start=start,
        volumes=volumes,
        transfer={name: speed * (around["alone"] if name in alone else 1.0) for name in places},
        warmth={name: around["warmth"] * area for name, area in areas.items()},
        own={
            name: (around.temperature[name], PER * volumes[name] / KEPT)
            for name in alone
            if name in around.temperature
        },
        feed={
            name: given.Feed(rate=feed * rate, protein=around["protein"])
            for name, rate in around.feed.items()
        },
        nitrifying=dict.fromkeys(places, (turning, 2.0 * turning)),
        exchange=_exchange(around, start, volumes),
        pump_heat=pumps,
        running=_running(facility, around.leaks),
        leaks={name: given.Leak(air=air * around["leak"]) for name, air in around.leaks.items()},
        falls=_falls(facility, around),
        contacts=fitted.contacts,
        passing=fitted.passing,
        setpoints=fitted.setpoints,
        capacities=fitted.capacities,
        warming=fitted.warming,
    )


def _volume(vessel: model.Vessel) -> float:
    return vessel.working or vessel.volume or UNSTATED


def _alone(facility: model.Facility, places: tuple[str, ...], flows: Mapping[str, float]) -> set[str]:
    """Tanks that stand alone: their filter, air and heater are their own and not drawn."""
    wet = reached(facility, flows)
    return {name for name in places if facility.vessels[name].kind == "tank" and name not in wet}


def _start(around: surroundings.Around, places: tuple[str, ...]) -> dict[str, dict[str, float]]:
    """Temperature, salinity and alkalinity of each place: as read or stated, else that of the others."""
    warm = _column(around.temperature, places, 20.0)
    salt = _column(around.salinity, places, 34.0)
    charge = _column(around.alkalinity, places, around["alkalinity"])
    dense = {name: float(seawater.density(warm[name], salt[name])) for name in places}
    return {
        name: {
            "temperature": warm[name],
            "salinity": salt[name],
            "alkalinity": charge[name] * 1e6 / dense[name],
        }
        for name in places
    }


def _column(told: Mapping[str, float], places: tuple[str, ...], default: float) -> dict[str, float]:
    known = [told[name] for name in places if name in told]
    rest = sum(known) / len(known) if known else default
    return {name: told.get(name, rest) for name in places}


def _exchange(
    around: surroundings.Around, start: Mapping[str, Mapping[str, float]], volumes: Mapping[str, float]
) -> dict[str, given.Exchange]:
    """Water changed for water like it, in balance with the air and without nitrogen."""
    rate = around["exchange"] / 100.0 / DAY
    return {
        name: given.Exchange(
            flow=rate * volumes[name],
            water=given.Supply(
                temperature=water["temperature"],
                salinity=water["salinity"],
                alkalinity=water["alkalinity"],
            ),
        )
        for name, water in start.items()
        if rate > 0.0
    }


def _running(facility: model.Facility, leaks: Mapping[str, float]) -> dict[str, bool]:
    """Of a duty group with a leaking pump: that pump runs, with as many others as are kept."""
    told: dict[str, bool] = {}
    for duty in facility.duties.values():
        if set(duty.pumps) & set(leaks):
            order = sorted(duty.pumps, key=lambda name: name not in leaks)
            keep = max(duty.keep, sum(name in leaks for name in duty.pumps))
            told |= {name: at < keep for at, name in enumerate(order)}
    return told


# -- machines -------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Fitted:
    """What machines do, by their names."""

    contacts: dict[str, given.Contact] = field(default_factory=dict[str, given.Contact])
    passing: dict[str, tuple[float, float]] = field(default_factory=dict[str, tuple[float, float]])
    setpoints: dict[str, float] = field(default_factory=dict[str, float])
    capacities: dict[str, float] = field(default_factory=dict[str, float])
    warming: dict[str, float] = field(default_factory=dict[str, float])


def _machines(facility: model.Facility, around: surroundings.Around, flows: Mapping[str, float]) -> _Fitted:
    """Columns, skimmers, biofilters, chillers and heaters."""
    out = _Fitted()
    for name, machine in facility.equipment.items():
        stated = machine.approach
        if machine.kind in surroundings.COLUMNS:
            out.contacts[name] = _contact(around["column"] if stated is None else stated)
        elif machine.kind in surroundings.SKIMMERS:
            deep = SKIMMED_AT if machine.kind == "fractionator" else 0.0
            pressure = around["pressure"] + 1025.0 * GRAVITY * deep
            out.contacts[name] = _contact(around["skim"] if stated is None else stated, pressure)
        elif machine.kind == "biofilter":
            share = around["biofilter"] if stated is None else stated
            out.passing[name] = (share, share)
        elif machine.kind in surroundings.HOLDERS:
            out.setpoints[name] = holds(facility, around, flows, name)
            power = around["cold"] * machine.power if machine.power else AMPLE
            out.capacities[name] = power
            if machine.kind == "chiller":  # water warmer than its room is warmed by something
                out.warming[name] = power
    return out


def _contact(share: float, pressure: float | None = None) -> given.Contact:
    reach = dict.fromkeys(given.GASES, share) | {"carbon": SLOW_CARBON * share}
    return given.Contact(effectiveness=reach, pressure=pressure)


def holds(
    facility: model.Facility, around: surroundings.Around, flows: Mapping[str, float], part: str
) -> float:
    """The temperature that a chiller or heater holds: that of the places it serves [°C]."""
    told = around.temperature
    served = [
        (told[run.target], flows.get(run.id, 0.0))
        for run in facility.runs.values()
        if part in run.through and run.target in told and flows.get(run.id, 0.0) > 0.0
    ]
    if not served:
        known = list(told.values())
        return (sum(known) / len(known) if known else 20.0) + around["hold"]
    return sum(t * flow for t, flow in served) / sum(flow for _, flow in served) + around["hold"]


def _falls(facility: model.Facility, around: surroundings.Around) -> dict[str, given.Fall]:
    """How water comes in at the end of each run that no pump drives: falling, or quietly."""
    share = around["fall"]
    falling = given.Fall(depth=around["under"], approach=share, carbon=SLOW_CARBON * share)
    quiet = given.Fall(depth=0.0, approach=0.0, air=0.0)
    return {
        run.id: falling if falls(facility, run) else quiet
        for run in facility.runs.values()
        if not {*facility.duties, *facility.pumps} & {run.source, *run.through}
    }


def falls(facility: model.Facility, run: model.Run) -> bool:
    """Whether water falls at the end of a run: no pump drives it, and it ends lower than it starts."""
    start, end = facility.vessels.get(run.source), facility.vessels.get(run.target)
    if start is None or end is None or {*facility.duties, *facility.pumps} & set(run.through):
        return False
    high = start.crest if start.crest is not None else start.elevation
    low = end.crest if end.crest is not None else end.elevation
    return high is None or low is None or high > low + 0.02
