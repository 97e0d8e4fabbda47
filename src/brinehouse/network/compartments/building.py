"""A facility, its flows and its conditions made into the arrays of a `plant.Plant`."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from brinehouse import findings
from brinehouse.facility import model
from brinehouse.network.compartments import closing, devices, transport
from brinehouse.network.compartments import conditions as given
from brinehouse.network.compartments import plant as plants
from brinehouse.science import barometer, carbonate, gases, heat, nitrogen, seawater
from brinehouse.science.constants import ATM

CELLS = 6  # mixed cells that stand for a pipe in a transient: a cascade, spread 1/sqrt(6) of the delay
TRANSFER_OVER_OXYGEN = {"oxygen": 1.0, "nitrogen": 0.929, "argon": 0.98, "carbon": 0.95}
# nitrogen: square root of diffusivities, Ferrell and Himmelblau (1967); argon and carbon dioxide from memory
_MICRO = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """A plant, what was assumed for it, and what is wrong with it."""

    plant: plants.Plant
    assumed: tuple[given.Assumed, ...]
    findings: tuple[findings.Finding, ...]


def surface_of(vessel: model.Vessel, volume: float) -> float:
    """Open surface: stated, from its sizes, or volume over depth; 1 m deep where none is told, in m²."""
    if vessel.surface:
        return vessel.surface
    if vessel.length and vessel.width:
        return vessel.length * vessel.width
    if vessel.diameter:
        return math.pi * vessel.diameter**2 / 4.0
    return volume / (vessel.depth or 1.0)


class Building:
    """The steps from a facility to arrays."""

    def __init__(self, facility: model.Facility, flows: Mapping[str, float], told: given.Conditions) -> None:
        self.facility, self.flows, self.told = facility, flows, told
        self.findings: list[findings.Finding] = []
        self.assumed: list[given.Assumed] = []
        self.volumes = self._volumes()
        self.places = tuple(self.volumes)
        self.at = {place: index for index, place in enumerate(self.places)}
        self.air = self._station_pressure()
        self.room = self._told(told.room_temperature, facility.room_temperature, "room temperature", "°C",
                               given.ROOM_TEMPERATURE)  # fmt: skip
        self.humidity = self._told(told.humidity, facility.room_humidity, "humidity", "-", given.HUMIDITY)
        self.start = self._start()
        mean = [float(np.mean(row)) if row.size else 20.0 for row in self.start[:2]]
        self.water = (mean[0], mean[1])
        self.density = float(seawater.density(*self.water))
        self.heat_capacity = float(seawater.heat_capacity(*self.water))

    # --- what is told --------------------------------------------------------------------------------------

    def _assume(self, what: str, value: float, unit: str, source: str) -> float:
        self.assumed.append(given.Assumed(what=what, value=value, unit=unit, source=source))
        return value

    def _told(
        self, first: float | None, then: float | None, what: str, unit: str, other: tuple[float, str]
    ) -> float:
        if first is not None:
            return first
        return then if then is not None else self._assume(what, other[0], unit, other[1])

    def _find(self, code: str, level: findings.Level, text: str, hint: str = "", **data: object) -> None:
        self.findings.append(findings.Finding(code=code, level=level, text=text, hint=hint, data=data))

    def _volumes(self) -> dict[str, float]:
        out: dict[str, float] = {}
        for vessel in self.facility.places:
            if vessel.part_of and vessel.part_of in self.facility.vessels:
                continue
            volume = self.told.volumes.get(vessel.id, vessel.working or vessel.volume or 0.0)
            if volume > 0.0:
                out[vessel.id] = volume
            else:
                self._find(
                    "compartments/no-volume",
                    findings.Level.ASK,
                    f"'{vessel.id}' holds no water that is stated",
                    "state its volume; until then it only mixes what comes to it",
                    place=vessel.id,
                )
        return out

    def _station_pressure(self) -> float:
        if self.told.station_pressure is not None:
            return self.told.station_pressure
        if self.facility.altitude is None:
            return self._assume("station pressure", ATM, "Pa", "one atmosphere; no altitude is stated")
        usual = float(barometer.station_pressure_from_altitude(self.facility.altitude))
        return self._assume(
            "station pressure", usual, "Pa", "usual at the altitude; U.S. Standard Atmosphere 1976"
        )

    def _start(self) -> np.ndarray:
        supplies: list[given.Supply] = []
        for place in self.places:
            vessel, told = self.facility.vessels[place], self.told.start.get(place, {})
            warm = vessel.temperature if vessel.temperature is not None else self.room
            salt = (
                vessel.salinity if vessel.salinity is not None else 0.0 if vessel.kind == "vessel" else 34.0
            )
            supplies.append(
                given.Supply(
                    temperature=told.get("temperature", warm), salinity=told.get("salinity", salt),
                    alkalinity=told.get("alkalinity"), values=told,
                )
            )  # fmt: skip
        return self._at_balance(supplies)

    def _at_balance(self, supplies: Sequence[given.Supply]) -> np.ndarray:
        """All species of waters that stand in balance with the air: (species, waters)."""
        rows = np.zeros((len(plants.SPECIES), len(supplies)))
        if not supplies:
            return rows
        warm = np.array([one.temperature for one in supplies])
        salt = np.array([one.salinity for one in supplies])
        charge = np.array([
            given.ALKALINITY[0] * one.salinity / 34.0 if one.alkalinity is None else one.alkalinity
            for one in supplies
        ])  # fmt: skip
        vapour = gases.vapour_pressure(warm, salt)
        dry = (self.air - vapour) / (ATM - vapour)
        acid = self.told.pco2 or given.PCO2[0]
        rows[0], rows[1] = warm, salt
        rows[plants.AT["oxygen"]] = gases.oxygen_at_saturation(warm, salt) * dry
        rows[plants.AT["nitrogen"]] = gases.nitrogen_at_saturation(warm, salt) * dry
        rows[plants.AT["argon"]] = gases.argon_at_saturation(warm, salt) * dry
        rows[plants.AT["alkalinity"]] = charge
        carbon = carbonate.carbon_at_balance(np.maximum(charge, 10.0), np.full_like(charge, acid), warm, salt)
        rows[plants.AT["carbon"]] = np.where(charge > 10.0, carbon, 15.0)
        for column, one in enumerate(supplies):
            for species, value in one.values.items():
                rows[plants.AT[species], column] = value
        return rows

    # --- arrays --------------------------------------------------------------------------------------------

    def evaporated(self) -> dict[str, float]:
        """Water that leaves each place as vapour, at its first temperature, in m³/s."""
        out: dict[str, float] = {}
        for index, place in enumerate(self.places):
            stated = self.told.evaporation.get(place)
            if stated is None:
                warm, salt = self.start[0, index], min(self.start[1, index], 40.0)
                area = surface_of(self.facility.vessels[place], self.volumes[place])
                lost = heat.evaporation(
                    area, warm, self.room, self.humidity, self.told.air_speed, salt, heat.QUIET
                )
                stated = max(float(lost), 0.0)
            out[place] = stated / self.density
        return out

    def ways(self) -> tuple[list[transport.Passage], np.ndarray, dict[str, float], np.ndarray]:
        """Passages that close, what comes from outside, evaporation, and how levels move."""
        ways = list(transport.passages(self.facility, self.flows, holding=self.places))
        lost = self.evaporated()
        kinds = {place: self.facility.vessels[place].kind for place in self.places}
        free = closing.holders(kinds, self.volumes, ways)
        extra: dict[str, given.Supply] = {}
        ways, moved = closing.closed(ways, self.places, free, {place: -flow for place, flow in lost.items()})
        self.findings += moved
        change = self._gains(ways, lost)
        for place in self.places:
            if self.told.top_up and place in free:
                need = self._need(place, free, ways, lost, change)
                if need > 0.0:
                    ways.append(_extra(f"top-up {place}", transport.OUTSIDE, place, need))
                    extra[f"top-up {place}"] = self.told.top_up_water
            swap = self.told.exchange.get(place)
            if swap is not None and swap.flow > 0.0:
                ways.append(_extra(f"change {place}", transport.OUTSIDE, place, swap.flow))
                ways.append(_extra(f"drain {place}", place, transport.OUTSIDE, swap.flow))
                extra[f"change {place}"] = swap.water
        told = {**self.told.outside, **extra}
        outside = self._at_balance([told.get(way.run, given.Supply()) for way in ways])
        return ways, outside, lost, self._gains(ways, lost)

    def _gains(self, ways: list[transport.Passage], lost: Mapping[str, float]) -> np.ndarray:
        change = np.array([-lost[place] for place in self.places])
        for way in ways:
            if way.target in self.at:
                change[self.at[way.target]] += way.flow
            if way.source in self.at:
                change[self.at[way.source]] -= way.flow
        scale = max((way.flow for way in ways), default=1.0)
        change[np.abs(change) < 1e-12 * scale] = 0.0
        return change

    def _need(
        self,
        place: str,
        free: set[str],
        ways: list[transport.Passage],
        lost: Mapping[str, float],
        change: np.ndarray,
    ) -> float:
        """Fresh water that makes up for what evaporates in the body of water a free place belongs to."""
        fall = -float(change[self.at[place]])
        own = lost[place]
        joined = sum(lost[one] for one in closing.bodies(self.places, ways)[place])
        return min(max(fall, 0.0), max(own, joined)) if fall > 0.0 else 0.0

    def local(self, lost: Mapping[str, float]) -> plants.Places:
        """What acts at places."""
        size, told = len(self.places), self.told
        area = np.array([surface_of(self.facility.vessels[p], self.volumes[p]) for p in self.places])
        speed = np.full(size, given.TRANSFER_VELOCITY[0])
        warmth = given.ROOM_COEFFICIENT[0] * area
        for place, at in self.at.items():
            speed[at] = told.transfer.get(place, speed[at])
            warmth[at] = told.warmth.get(place, warmth[at])
        if any(place not in told.transfer for place in self.places):
            self._assume(
                "transfer velocity of surfaces", given.TRANSFER_VELOCITY[0], "m/s", given.TRANSFER_VELOCITY[1]
            )
        if any(place not in told.warmth for place in self.places):
            self._assume(
                "warmth through surfaces", given.ROOM_COEFFICIENT[0], "W/m²/K", given.ROOM_COEFFICIENT[1]
            )
        wet = np.array([lost[place] for place in self.places])
        latent = np.asarray(heat.latent_heat(self.start[0])) if size else np.zeros(0)
        home, mass, count = self._animals()
        ratios = np.array([TRANSFER_OVER_OXYGEN[gas] for gas in plants.ROW])
        turning = np.zeros((2, size))
        for place, rates in told.nitrifying.items():
            if place in self.at:
                turning[:, self.at[place]] = rates
        return plants.Places(
            warmth=warmth, heat=-wet * self.density * latent, cooling=self._steeper(wet, latent),
            about=self.start[0].copy(), lamps=self._lamps(),
            own=self._by_place({place: power for place, (_, power) in told.own.items()}),
            own_at=self._by_place({place: warm for place, (warm, _) in told.own.items()}),
            velocity=ratios[:, None] * (speed * area), home=home, mass=mass, count=count,
            photosynthesis=self._by_place(told.photosynthesis), ammonia=self._fed(home, mass, count),
            dosing=self._by_place(told.dosing), tracer=self._by_place(told.tracer), turning=turning,
            evaporation=wet,
        )  # fmt: skip

    def _steeper(self, wet: np.ndarray, latent: np.ndarray) -> np.ndarray:
        """How evaporation's heat grows with the water's warmth, about the first temperature, in W/K."""
        salt = np.clip(self.start[1], 0.0, 40.0)
        first = gases.vapour_pressure(self.start[0], salt)
        gap = first - heat.vapour_in_air(self.room, self.humidity)
        rise = gases.vapour_pressure(self.start[0] + 0.5, salt) - gases.vapour_pressure(
            self.start[0] - 0.5, salt
        )
        return np.where(wet > 0.0, -wet * self.density * latent * rise / np.maximum(gap, 50.0), 0.0)

    def _by_place(self, values: Mapping[str, float]) -> np.ndarray:
        return np.array([values.get(place, 0.0) for place in self.places], dtype=np.float64)

    def _lamps(self) -> np.ndarray:
        if self.told.light is not None:
            return self._by_place(self.told.light)
        return np.array(
            [0.5 * (self.facility.vessels[place].light or 0.0) for place in self.places]
        )  # half a day

    def _animals(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        home: list[int] = []
        mass: list[float] = []
        count: list[float] = []
        for group in self.facility.animals:
            place = self.facility.place(group.at)
            if place is None or place.id not in self.at or not group.mass:
                continue
            many = group.count or max(1, round(group.mass / 0.1))
            if not group.count:
                self._assume(
                    f"number of {group.species} at {place.id}",
                    many,
                    "-",
                    "100 g each; common practice, no source",
                )
            home.append(self.at[place.id])
            mass.append(group.mass / many)
            count.append(float(many))
        return np.array(home, dtype=np.intp), np.array(mass), np.array(count)

    def _fed(self, home: np.ndarray, mass: np.ndarray, count: np.ndarray) -> np.ndarray:
        """Ammonia nitrogen from feed, in mol/s; feed as told, else as the file states it."""
        out = np.zeros(len(self.places))
        if self.told.feed is not None:
            fed = dict(self.told.feed)
        else:
            fed = {
                p: given.Feed(rate=rate / 86400.0)
                for p in self.places
                if (rate := self.facility.vessels[p].feed)
            }
        for place, food in fed.items():
            if place in self.at:
                grams = float(nitrogen.tan_from_feed(food.rate, food.protein)) * 1000.0
                out[self.at[place]] = grams / nitrogen.NITROGEN_ATOM
        return out


def _extra(run: str, source: str, target: str, flow: float) -> transport.Passage:
    return transport.Passage(run=run, source=source, target=target, flow=flow, runs=(run,))


def build(facility: model.Facility, flows: Mapping[str, float], conditions: given.Conditions) -> Built:
    """Arrays for the equations.

    Parameters
    ----------
    facility : Facility
        A checked facility.
    flows : mapping
        Run to flow. [m³/s]
    conditions : Conditions
        What acts on the water; what is missing is filled and listed.
    """
    made = Building(facility, flows, conditions)
    ways, outside, lost, rates = made.ways()
    _told_lonely(made, ways)
    fitting = devices.Fitting(
        facility, ways, conditions, made.air, made.water, made.density * made.heat_capacity
    )
    machines = fitting.fit()
    plant = plants.Plant(
        places=made.places,
        transport=transport.Transport(made.places, list(made.volumes.values()), ways),
        outside=outside, rates=rates, machines=machines, local=made.local(lost), start=made.start,
        station_pressure=made.air, pco2=conditions.pco2 or given.PCO2[0], room_temperature=made.room,
        density=made.density, heat_capacity=made.heat_capacity, activity=conditions.activity,
        decay=conditions.decay, alkalinity_kept=conditions.alkalinity_kept, whole=len(made.places),
    )  # fmt: skip
    return Built(plant=plant, assumed=(*made.assumed, *fitting.assumed), findings=tuple(made.findings))


def _told_lonely(made: Building, ways: list[transport.Passage]) -> None:
    joined = {end for way in ways for end in (way.source, way.target)}
    for place in made.places:
        if place not in joined:
            made._find("compartments/no-flow", findings.Level.NOTE, f"no water runs through '{place}'",  # pyright: ignore[reportPrivateUsage]
                       "what it holds is its own alone", place=place)  # fmt: skip
