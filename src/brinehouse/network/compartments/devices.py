"""What machines along passages do to water, as arrays: pumps, chillers, columns, biofilters, falls."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from brinehouse.facility import model
from brinehouse.network.compartments import conditions as given
from brinehouse.network.compartments import plant as plants
from brinehouse.network.compartments import transport
from brinehouse.science import excess, gases, seawater
from brinehouse.science.constants import ARGON_IN_AIR, GRAVITY, NITROGEN_IN_AIR, OXYGEN_IN_AIR

COLUMNS = ("packed column", "degasser", "contactor")
LAMPS = ("uv", "ozone", "blower")
AIR = {"oxygen": OXYGEN_IN_AIR, "nitrogen": NITROGEN_IN_AIR, "argon": ARGON_IN_AIR, "carbon": 0.0}


class Fitting:
    """Machines put where passages meet them; `assumed` gathers what nobody stated."""

    def __init__(
        self,
        facility: model.Facility,
        ways: Sequence[transport.Passage],
        conditions: given.Conditions,
        station_pressure: float,
        water: tuple[float, float],
        per: float,
    ) -> None:
        self.facility, self.ways, self.conditions = facility, ways, conditions
        self.air, self.water, self.per = station_pressure, water, per  # per: J/m³/K
        self.density = float(seawater.density(*water))
        self.assumed: list[given.Assumed] = []
        self.through: dict[str, float] = {}
        for way in ways:
            for part in way.parts:
                self.through[part] = self.through.get(part, 0.0) + way.flow
        self.rows = plants.Machines.idle(1 + max((len(way.parts) for way in ways), default=0), len(ways))

    def assume(self, what: str, value: float, unit: str, source: str) -> float:
        """A number used though nobody stated it."""
        told = given.Assumed(what=what, value=value, unit=unit, source=source)
        if told not in self.assumed:
            self.assumed.append(told)
        return value

    def fit(self) -> plants.Machines:
        """Every passage with its machines, and the fall at its end where one is told."""
        for column, way in enumerate(self.ways):
            for at, part in enumerate(way.parts):
                self.rows.part[at, column] = part
                self._part(at, column, part)
            fall = self.fall(way)
            if fall is not None:
                self._fall(len(self.rows.heat) - 1, column, fall)
        return self.rows

    def fall(self, way: transport.Passage) -> given.Fall | None:
        """How water falls in at its end: as told, else a usual fall where nothing pumps it."""
        told = [self.conditions.falls[run] for run in way.runs if run in self.conditions.falls]
        if told:
            return told[-1]
        ends = (way.source, way.target)
        pumped = any(part in self.facility.duties or part in self.facility.pumps for part in way.parts)
        if pumped or transport.OUTSIDE in ends:
            return None
        depth, share, source = given.FALL
        self.assume("share of the way to balance where water falls in", share, "-", source)
        return given.Fall(depth=depth, approach=share)

    def _part(self, at: int, column: int, part: str) -> None:
        if part in self.facility.duties or part in self.facility.pumps:
            self._pumps(at, column, part)
        machine = self.facility.equipment.get(part)
        if machine is not None:
            self._machine(at, column, machine)
        if part in self.conditions.contacts:
            self._contact(at, column, self.conditions.contacts[part], "pressurised gas")
        if part in self.conditions.passing:
            self.rows.ammonia[at, column], self.rows.nitrite[at, column] = self.conditions.passing[part]
            self.rows.term[at, column] = plants.WORD["biofilters"]
        if part in self.conditions.removal:
            self.rows.removal[at, column] = self.conditions.removal[part]

    # --- pumps ---------------------------------------------------------------------------------------------

    def pumps_of(self, part: str) -> list[str]:
        """The pumps of a part that run."""
        duty = self.facility.duties.get(part)
        names = duty.pumps if duty else (part,)
        told = {name: self.conditions.running[name] for name in names if name in self.conditions.running}
        if told or duty is None:
            return [name for name in names if told.get(name, not told)]
        return list(names[: duty.keep])

    def _pumps(self, at: int, column: int, part: str) -> None:
        running = self.pumps_of(part)
        power = 0.0
        for name in running:
            pump = self.facility.pumps.get(name)
            power += self.conditions.pump_heat.get(name, (pump.power if pump else None) or 0.0)
        self.rows.heat[at, column] += power / (self.per * self.through[part])
        self.rows.term[at, column] = plants.WORD["pumps"]
        for name in running:
            if name in self.conditions.leaks:
                self._leak(at, column, self.conditions.leaks[name], 1.0 / len(running))

    def _leak(self, at: int, column: int, leak: given.Leak, share: float) -> None:
        """Air in one pump of several spread over the water of all: they join behind it."""
        amount = share * leak.air * excess.AIR_IN_A_MILLILITRE * 1000.0 / self.density  # µmol/kg
        easy, hard = dissolved_shares(leak.dissolved, *self.water)
        for gas in plants.DISSOLVED:
            row = plants.ROW[gas]
            part = easy if gas == "oxygen" else hard
            self.rows.air[row, at, column] += amount * AIR[gas] * part
            self.rows.lost[row, at, column] += amount * AIR[gas] * (1.0 - part)

    # --- machines ------------------------------------------------------------------------------------------

    def _machine(self, at: int, column: int, machine: model.Equipment) -> None:
        kind, name = machine.kind, machine.id
        if kind in ("chiller", "heater"):
            self._holder(at, column, machine)
        elif kind in COLUMNS:
            if name not in self.conditions.contacts:
                self._contact(at, column, self.column(machine), "columns and contactors")
        elif kind == "fractionator":
            if name not in self.conditions.contacts:
                share, depth, source = given.FRACTIONATOR
                self.assume(f"gas exchange of {name}", share, "-", source)
                deep = self.air + self.density * GRAVITY * depth
                same = dict.fromkeys(plants.ROW, share)
                self._contact(at, column, given.Contact(effectiveness=same, pressure=deep), "fractionators")
        elif kind == "biofilter" and name not in self.conditions.passing:
            value, source = given.BIOFILTER_PASS
            self.assume(f"ammonia taken in a pass of {name}", value, "-", source)
            self.rows.ammonia[at, column] = self.rows.nitrite[at, column] = value
            self.rows.term[at, column] = plants.WORD["biofilters"]
        elif kind in LAMPS and machine.power:
            self.rows.heat[at, column] += machine.power / (self.per * self.through[name])
            self.rows.term[at, column] = plants.WORD["lamps in machines"]

    def column(self, machine: model.Equipment) -> given.Contact:
        """A column's effectiveness: as told for the machine, else from a published column's numbers."""
        if machine.approach is not None:
            return given.Contact(effectiveness=dict.fromkeys(plants.ROW, machine.approach))
        reach: dict[str, float] = {}
        for gas, (number, source) in given.COLUMN_NUMBERS.items():
            self.assume(f"number of {machine.id} for {gas}", number, "-", source)
            reach[gas] = float(-np.expm1(-number))
        return given.Contact(effectiveness=reach)

    def _contact(self, at: int, column: int, contact: given.Contact, word: str) -> None:
        for gas, row in plants.ROW.items():
            if contact.mixture is None:
                share = AIR[gas] if gas != "carbon" else self._acid_in_air()
            else:
                share = contact.mixture.get(gas, 0.0)
            self.rows.effectiveness[row, at, column] = contact.effectiveness.get(gas, 0.0)
            self.rows.pressure[row, at, column] = self.air if contact.pressure is None else contact.pressure
            self.rows.mixture[row, at, column] = share
        self.rows.term[at, column] = plants.WORD[word]

    def _acid_in_air(self) -> float:
        """Carbon dioxide's share of dry air that gives water the same balance as an open surface has."""
        vapour = float(gases.vapour_pressure(*self.water))
        return (self.conditions.pco2 or given.PCO2[0]) / (self.air - vapour)

    def _holder(self, at: int, column: int, machine: model.Equipment) -> None:
        name = machine.id
        power = self.conditions.capacities.get(name)
        if power is None:
            power = self.assume(f"power of {name}", machine.power or 0.0, "W", given.CHILLER[1])
        aim = self.conditions.setpoints.get(name)
        if aim is None:
            aim = self._aim(name)
        most = power / (self.per * self.through[name])
        self.rows.setpoint[at, column] = aim
        kind = self.rows.cooling if machine.kind == "chiller" else self.rows.warming
        kind[at, column] = most
        if name in self.conditions.warming:
            self.rows.warming[at, column] = self.conditions.warming[name] / (self.per * self.through[name])
        self.rows.term[at, column] = plants.WORD["chillers" if machine.kind == "chiller" else "heaters"]

    def _aim(self, name: str) -> float:
        """The lowest temperature that the file states for the places a chiller or heater serves."""
        targets = [self.facility.vessels.get(way.target) for way in self.ways if name in way.parts]
        known = [
            place.temperature for place in targets if place is not None and place.temperature is not None
        ]
        aim = min(known) if known else self.water[0]
        return self.assume(f"setpoint of {name}", aim, "°C", "the temperature stated for what it serves")

    def _fall(self, at: int, column: int, fall: given.Fall) -> None:
        deep = self.air + self.density * GRAVITY * fall.depth
        same: dict[str, float] = dict.fromkeys(plants.DISSOLVED, fall.approach) | {"carbon": fall.carbon}
        self._contact(at, column, given.Contact(effectiveness=same, pressure=deep), "air carried under")
        self.rows.pressure[plants.ROW["carbon"], at, column] = self.air  # it leaves to the air above
        amount = fall.air * excess.AIR_IN_A_MILLILITRE * 1000.0 / self.density
        for gas in plants.DISSOLVED:
            self.rows.carried[plants.ROW[gas], at, column] = amount * AIR[gas]


def dissolved_shares(dissolved: float, temperature: float, salinity: float) -> tuple[float, float]:
    """Shares of a bubble's oxygen and of its nitrogen that dissolve, when this much of it does.

    Oxygen leaves a bubble faster, as `excess.nitrogen_to_oxygen_rise` has it; argon goes with nitrogen.

    >>> oxygen, nitrogen = dissolved_shares(0.5, 25.0, 35.0)
    >>> round(0.20946 * oxygen + 0.79054 * nitrogen, 6), oxygen > nitrogen
    (0.5, True)
    """
    if dissolved <= 0.0 or dissolved >= 1.0:
        both = float(dissolved > 0.0)
        return both, both
    ratio = float(excess.solubility_ratio(temperature, salinity))
    rise = float(excess.nitrogen_to_oxygen_rise(dissolved, temperature, salinity))
    relative = ratio / rise  # dissolved share of oxygen over that of nitrogen
    nitrogen = dissolved / (OXYGEN_IN_AIR * relative + (1.0 - OXYGEN_IN_AIR))
    return relative * nitrogen, nitrogen
