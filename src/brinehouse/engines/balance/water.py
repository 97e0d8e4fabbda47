"""One plant's water in balance: heat first, then gases, nitrogen and carbon, each a straight-line balance."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from brinehouse.engines.balance import around as surroundings
from brinehouse.engines.balance import mixing, question
from brinehouse.facility import model
from brinehouse.science import (
    carbonate,
    constants,
    dissociation,
    exchange,
    gases,
    heat,
    nitrogen,
    respiration,
    seawater,
)

Floats = mixing.Floats
DAY = 86400.0
GASES: Mapping[str, tuple[str, float, float]] = {
    "oxygen": ("oxygen", constants.OXYGEN_IN_AIR, constants.OXYGEN_MOLAR_MASS),
    "nitrogen": ("nitrogen", constants.NITROGEN_IN_AIR, constants.NITROGEN_MOLAR_MASS),
    "argon": ("argon", constants.ARGON_IN_AIR, constants.ARGON_MOLAR_MASS),
}
SATURATION: Mapping[str, Callable[[Floats, Floats], Floats]] = {
    "oxygen": gases.oxygen_at_saturation,
    "nitrogen": gases.nitrogen_at_saturation,
    "argon": gases.argon_at_saturation,
}
NITROGEN_MASS = 14.0067  # g/mol of nitrogen as N
MOLAR_VOLUME = 22.414  # L/mol of air at 0 °C and one atmosphere
EACH = 0.5  # kg: one animal where their number is not stated (common practice, no source)
LIT = 0.5  # of a lamp's power, as a mean of day and night (common practice, no source)
LAMPS = ("uv", "ozone")
SLOW_CARBON = 0.6  # carbon dioxide leaves a column by this share of oxygen's way: common practice, no source
_ROUNDS = 12
KEPT = 3600.0  # s: how fast a heater of its own brings a tank back (common practice, no source)


@dataclass(slots=True)
class Water:
    """The water of one plant while it is worked out."""

    facility: model.Facility
    around: surroundings.Around
    net: mixing.Net
    tasks: dict[str, mixing.Task] = field(default_factory=dict[str, mixing.Task])
    x: dict[str, Floats] = field(default_factory=dict[str, Floats])
    start: Mapping[str, Floats] = field(default_factory=dict[str, Floats])
    given: dict[str, dict[str, list[tuple[str, float, str]]]] = field(
        default_factory=dict[str, dict[str, list[tuple[str, float, str]]]]
    )
    """Species to node to what is given or taken there beside the runs: name, amount as in a task, source."""

    def add(self, species: str, node: str, name: str, amount: float, source: str = "") -> None:
        """Note one term of a place."""
        self.given.setdefault(species, {}).setdefault(node, []).append((name, amount, source))

    def vessels(self) -> list[tuple[int, str, model.Vessel]]:
        """Row, id and vessel of every node that is a place."""
        return [
            (row, name, self.facility.vessels[name])
            for row, name in enumerate(self.net.nodes)
            if name in self.facility.vessels
        ]

    def column(self, told: Mapping[str, float], default: float) -> Floats:
        """A number of each node: as told, else that of the others."""
        known = [told[name] for name in self.net.nodes if name in told]
        rest = sum(known) / len(known) if known else default
        return np.array([told.get(name, rest) for name in self.net.nodes])

    def areas(self) -> Floats:
        """Open surface of each node, nothing for machines [m²]."""
        return np.array(
            [
                mixing.surface_of(self.facility.vessels[name]) if name in self.facility.vessels else 0.0
                for name in self.net.nodes
            ]
        )

    def open(self) -> Floats:
        """Open surface as gas has it: a tank by itself has air of its own in it [m²]."""
        factor = np.ones(len(self.net.nodes))
        for row, name, vessel in self.vessels():
            factor[row] = self.around["alone"] if alone(self, name, vessel) else 1.0
        return self.areas() * factor

    def exchange(self) -> float:
        """Water exchanged, as a rate [1/s]."""
        return self.around["exchange"] / 100.0 / DAY


def work_out(
    facility: model.Facility,
    around: surroundings.Around,
    flows: Mapping[str, float],
    start: Mapping[str, Floats] | None = None,
) -> Water:
    """A plant in balance; `start` holds temperature and carbon of one like it, to begin from."""
    water = Water(facility=facility, around=around, net=mixing.net(facility, flows), start=start or {})
    water.x["salinity"] = water.column(around.salinity, 34.0)
    rate = water.exchange()
    salt = water.x["salinity"]
    volumes = water.net.volumes
    water.tasks["salinity"] = mixing.Task(
        passes={}, given=volumes * rate * salt, lost=np.full_like(salt, rate)
    )
    _heat(water)
    water.x["density"] = seawater.density(water.x["temperature"], salt)
    _nitrogen(water)
    for gas in GASES:
        _gas(water, gas)
    _alkalinity(water)
    _carbon(water)
    return water


# -- heat -----------------------------------------------------------------------------------------------


def _heat(water: Water) -> None:
    """Temperature: pumps and lamps, the room, and chillers or heaters that hold what they serve."""
    guess = water.start.get("temperature", water.column(water.around.temperature, 20.0))
    active = {
        machine.id for machine in water.facility.equipment.values() if machine.kind in surroundings.HOLDERS
    }
    task = _heat_task(water, guess, active)
    x = mixing.steady(water.net, task)
    for _ in range(_ROUNDS):
        wrong = {part for part in active if _idle(water, task, x, part)}
        if not wrong and float(np.abs(x - guess).max(initial=0.0)) < 1e-3:
            break
        active -= wrong
        guess = np.where(np.isfinite(x), np.clip(x, -1.5, 39.0), guess)
        task = _heat_task(water, guess, active)
        x = mixing.steady(water.net, task)
    water.tasks["temperature"], water.x["temperature"] = task, x


def _heat_task(water: Water, guess: Floats, active: set[str]) -> mixing.Task:
    salt = water.x["salinity"]
    room, humidity = water.around["room"], water.around["humidity"]
    per = heat.heat_capacity_of_water(1.0, guess, salt)  # J/K in a cubic metre
    water.given["temperature"] = {}
    areas = water.areas()
    warm = np.stack([guess, guess + 1.0])
    one, two = heat.surface_heat(areas, warm, room, humidity, 0.1, salinity=salt).total
    slope = two - one
    given = (slope * guess - one) / per
    lost = slope / per / water.net.volumes
    for row, name, vessel in water.vessels():
        water.add(
            "temperature", name, "room and evaporation", -float(one[row] / per[row]), "ASHRAE form for pools"
        )
        if vessel.light:
            warmth = LIT * vessel.light / float(per[row])
            given[row] += warmth
            water.add("temperature", name, "lamps", warmth, surroundings.COMMON)
        if alone(water, name, vessel) and name in water.around.temperature:
            held = water.around.temperature[name]
            strong = water.net.volumes[row] / KEPT
            given[row] += strong * held
            lost[row] += 1.0 / KEPT
            water.add("temperature", name, "its own heater or chiller", float(strong * (held - guess[row])))
    passes = {way.run: _heat_pass(water, way, float(per.mean()), active) for way in water.net.ways}
    return mixing.Task(passes=passes, given=given, lost=lost, outside=room)


def _heat_pass(water: Water, way: mixing.Way, per: float, active: set[str]) -> mixing.Pass:
    steps: list[tuple[str, float, float]] = []
    for part in way.parts:
        power = _power(water.facility, part)
        total = mixing.parts_of(water.net.ways, part)
        if power and total > 0.0:
            steps.append((part, 1.0, water.around["pumps"] * power / (per * total)))
        if part in active:
            steps.append((part, 0.0, holds(water, part)))
    return mixing.Pass(steps=tuple(steps))


def _power(facility: model.Facility, part: str) -> float:
    """Power that a part gives to the water that passes it, before its share [W]."""
    if part in facility.duties:
        duty = facility.duties[part]
        powers = [facility.pumps[pump].power or 0.0 for pump in duty.pumps if pump in facility.pumps]
        return duty.keep * sum(powers) / len(powers) if powers else 0.0
    if part in facility.pumps:
        return facility.pumps[part].power or 0.0
    machine = facility.equipment.get(part)
    return (machine.power or 0.0) if machine is not None and machine.kind in LAMPS else 0.0


def holds(water: Water, part: str) -> float:
    """The temperature that a chiller or heater holds: that of the places it serves [°C]."""
    told = water.around.temperature
    served = [(told[w.target], w.flow) for w in water.net.ways if part in w.parts and w.target in told]
    if not served:
        known = list(told.values())
        return (sum(known) / len(known) if known else 20.0) + water.around["hold"]
    return sum(t * flow for t, flow in served) / sum(flow for _, flow in served) + water.around["hold"]


def alone(water: Water, name: str, vessel: model.Vessel) -> bool:
    """Whether a tank stands alone: its filter, its air and its heater are its own and not drawn."""
    return vessel.kind == "tank" and not water.net.into(name)


def _idle(water: Water, task: mixing.Task, x: Floats, part: str) -> bool:
    """Whether a heater would have to cool the water that comes to it; a chiller may be a heat pump.

    Water that stands warmer than its room is warmed by something: where no heater is drawn, the chiller's
    circuit is taken to do it.
    """
    machine = water.facility.equipment[part]
    gain = 0.0
    for way in water.net.ways:
        start = float(x[water.net.at[way.source]]) if way.source in water.net.at else task.outside
        before = start
        for name, slope, offset in task.passes[way.run].steps:
            after = slope * before + offset
            gain += way.flow * (after - before) if name == part and slope == 0.0 else 0.0
            before = after
    return machine.kind == "heater" and gain < -1e-9


# -- gases ----------------------------------------------------------------------------------------------


def at_balance(water: Water, gas: str, pressure: float) -> Floats:
    """A gas in balance with moist air at a pressure, at each node [µmol/kg]."""
    temperature, salt = water.x["temperature"], water.x["salinity"]
    vapour = gases.vapour_pressure(temperature, salt)
    return SATURATION[gas](temperature, salt) * (pressure - vapour) / (constants.ATM - vapour)


def _gas(water: Water, gas: str) -> None:
    """Oxygen, nitrogen or argon."""
    pressure = water.around["pressure"]
    level = at_balance(water, gas, pressure)
    speed = water.around["velocity"] / DAY * exchange.transfer_ratio(gas, water.x["temperature"])
    rate = water.exchange()
    areas = water.open()
    lost = rate + speed * areas / water.net.volumes
    given = water.net.volumes * rate * level + speed * areas * level
    for row, name, _ in water.vessels():
        if gas == "oxygen":
            for what, amount, source in _oxygen_used(water, row, name):
                given[row] -= amount
                water.add("oxygen", name, what, -amount, source)
    deep = at_balance(water, gas, pressure + water.around["under"] * 1025.0 * constants.GRAVITY)
    passes = {way.run: _gas_pass(water, way, gas, level, deep) for way in water.net.ways}
    task = mixing.Task(passes=passes, given=given, lost=lost, outside=float(level.mean()))
    x = mixing.steady(water.net, task)
    for row, name, _ in water.vessels():
        through = speed[row] * areas[row] * (level[row] - x[row])
        water.add(gas, name, "surface", float(through), "two-film exchange at the surface")
        water.add(gas, name, "exchanged water", float(rate * water.net.volumes[row] * (level[row] - x[row])))
    water.tasks[gas] = task
    water.x[gas] = np.maximum(x, 0.0)


def _oxygen_used(water: Water, row: int, place: str) -> list[tuple[str, float, str]]:
    """What animals and nitrification take [µmol/kg, times m³/s]."""
    dense = float(water.x["density"][row])
    animals = breathed(water, place) * 1e6 / dense
    oxidised = water.x["oxidised"][row]
    bacteria = float(oxidised * nitrogen.nitrification(1.0).oxygen)
    told = [("animals", animals, "Clarke and Johnston (1999)")] if animals else []
    return [*told, *([("nitrification", bacteria, "U.S. EPA (1975), from memory")] if bacteria else [])]


def breathed(water: Water, place: str) -> float:
    """Oxygen that the animals of a place use [mol/s]."""
    temperature = float(water.x["temperature"][water.net.at[place]])
    total = 0.0
    for group in water.facility.animals:
        if group.at == place and group.mass:
            count = group.count or max(group.mass / EACH, 1.0)
            one = respiration.oxygen_use(group.mass / count, temperature, activity=water.around["activity"])
            total += count * float(one)
    return total


def _gas_pass(water: Water, way: mixing.Way, gas: str, level: Floats, deep: Floats) -> mixing.Pass:
    row = water.net.at.get(way.source, water.net.at.get(way.target, 0))
    steps: list[tuple[str, float, float]] = []
    for part in way.parts:
        air = leaked(water, part)
        if air:
            steps.append((f"air at {part}", 1.0, air * GASES[gas][1]))
        share = share_of(water, part)
        if share:
            steps.append((part, 1.0 - share, share * float(level[row])))
    if falls(water.facility, way):
        share = water.around["fall"]
        steps.append((f"fall into {way.target}", 1.0 - share, share * float(deep[row])))
    return mixing.Pass(steps=tuple(steps))


def leaked(water: Water, part: str) -> float:
    """Air drawn in and dissolved at a pump or duty group [µmol/kg of water]."""
    duty = water.facility.duties.get(part)
    pumps = duty.pumps if duty is not None else (part,)
    drawn = sum(water.around.leaks.get(pump, 0.0) for pump in pumps)
    drawn *= water.around["leak"]
    return drawn / (duty.keep if duty is not None and duty.keep else 1) / MOLAR_VOLUME * 1000.0 / 1.025


def share_of(water: Water, part: str) -> float:
    """How far a machine brings gas towards balance with air [-]."""
    machine = water.facility.equipment.get(part)
    if machine is None:
        return 0.0
    if machine.kind in surroundings.COLUMNS:
        return water.around["column"]
    return water.around["skim"] if machine.kind in surroundings.SKIMMERS else 0.0


def falls(facility: model.Facility, way: mixing.Way) -> bool:
    """Whether water falls at the end of a run: no pump drives it, and it ends lower than it starts."""
    start, end = facility.vessels.get(way.source), facility.vessels.get(way.target)
    if start is None or end is None or {*facility.duties, *facility.pumps} & set(way.parts):
        return False
    high = start.crest if start.crest is not None else start.elevation
    low = end.crest if end.crest is not None else end.elevation
    return high is None or low is None or high > low + 0.02


# -- nitrogen -------------------------------------------------------------------------------------------


def _nitrogen(water: Water) -> None:
    """Ammonia, nitrite and nitrate, each as µmol of N in a kilogram."""
    rate, volumes, size = water.exchange(), water.net.volumes, len(water.net.nodes)
    dense = water.x["density"]
    filters = np.zeros(size)
    for way in water.net.ways:
        count = sum(
            1
            for part in way.parts
            if part in water.facility.equipment and water.facility.equipment[part].kind == "biofilter"
        )
        if way.source in water.net.at and count:
            filters[water.net.at[way.source]] += way.flow * (1.0 - (1.0 - water.around["biofilter"]) ** count)
    oxidise = water.around["nitrify"] / DAY + filters / volumes
    made = np.zeros(size)
    for row, name, _ in water.vessels():
        feed = water.around.feed.get(name, 0.0) * water.around["feed"]
        grams = float(nitrogen.tan_from_feed(feed, water.around["protein"])) * 1000.0
        made[row] = grams / NITROGEN_MASS * 1e6 / DAY / dense[row]
        if made[row]:
            water.add("tan", name, "feed", float(made[row]), "Timmons and Ebeling, from memory")
    before = made
    for species, speed in (("tan", oxidise), ("nitrite", 2.0 * oxidise), ("nitrate", np.zeros(size))):
        task = mixing.Task(passes={}, given=before, lost=speed + rate)
        water.tasks[species], water.x[species] = task, mixing.steady(water.net, task)
        gone = volumes * speed * water.x[species]
        for row, name, _ in water.vessels():
            if gone[row]:
                water.add(species, name, "nitrification", -float(gone[row]))
            if species != "tan":
                water.add(species, name, "nitrification", float(before[row]))
            water.add(species, name, "exchanged water", -float(rate * volumes[row] * water.x[species][row]))
        if species == "tan":
            water.x["oxidised"] = gone
        before = gone


# -- carbon ---------------------------------------------------------------------------------------------


def _alkalinity(water: Water) -> None:
    """Alkalinity is held by dosing; what dosing has to bring is told."""
    held = water.column(water.around.alkalinity, water.around["alkalinity"])
    water.x["alkalinity"] = held * 1e6 / water.x["density"]
    rate = water.exchange()
    water.tasks["alkalinity"] = mixing.Task(
        passes={}, given=water.net.volumes * rate * water.x["alkalinity"], lost=np.full_like(held, rate)
    )
    for row, name, _ in water.vessels():
        taken = float(water.x["oxidised"][row] * nitrogen.nitrification(1.0).alkalinity)
        if taken:
            water.add("alkalinity", name, "nitrification", -taken, "U.S. EPA (1975), from memory")
            water.add("alkalinity", name, "dosing, to hold it", taken, surroundings.COMMON)


def _carbon(water: Water) -> None:
    """Inorganic carbon: what animals breathe out, through the surface and the columns. Newton's way."""
    temperature, salt, dense = (water.x[name] for name in ("temperature", "salinity", "density"))
    alkalinity, volumes, rate = water.x["alkalinity"], water.net.volumes, water.exchange()
    air = gases.carbon_dioxide_solubility(temperature, salt) * 1e6 * water.around["air"] / constants.ATM
    balance = carbonate.carbon_at_balance(
        alkalinity, np.full_like(salt, water.around["air"]), temperature, salt
    )
    speed = water.around["velocity"] / DAY * exchange.transfer_ratio("carbon dioxide", temperature)
    areas = water.open()
    made = np.zeros_like(salt)
    for row, name, _ in water.vessels():
        made[row] = float(respiration.co2_from_oxygen(breathed(water, name))) * 1e6 / dense[row]
    carbon = water.start.get("carbon", balance).copy()
    fixed = dissociation.constants(temperature, salt)
    task = mixing.Task(passes={}, given=made, lost=np.full_like(made, rate))
    for _ in range(_ROUNDS):
        pair = np.stack([carbon, carbon + 1.0])
        known, above = carbonate.co2_of(alkalinity, pair, temperature, salt, known=fixed)
        slope = above - known
        given = made + speed * areas * (air - known + slope * carbon) + volumes * rate * balance
        lost = rate + speed * areas * slope / volumes
        passes = {way.run: _carbon_pass(water, way, carbon, known, slope, air) for way in water.net.ways}
        task = mixing.Task(passes=passes, given=given, lost=lost, outside=float(balance.mean()))
        new = mixing.steady(water.net, task)
        step = np.clip(new - carbon, -150.0, 150.0)
        carbon = carbon + step
        if float(np.abs(step).max(initial=0.0)) < 1e-2:
            break
    water.tasks["carbon"], water.x["carbon"] = task, carbon
    known = carbonate.co2_of(alkalinity, carbon, temperature, salt)
    for row, name, _ in water.vessels():
        if made[row]:
            water.add("carbon", name, "animals", float(made[row]), "respiratory quotient 0.9, from memory")
        water.add("carbon", name, "surface", float(speed[row] * areas[row] * (air[row] - known[row])))
        water.add(
            "carbon", name, "exchanged water", float(volumes[row] * rate * (balance[row] - carbon[row]))
        )


def _carbon_pass(
    water: Water, way: mixing.Way, carbon: Floats, known: Floats, slope: Floats, air: Floats
) -> mixing.Pass:
    """Each machine and fall takes its share of the carbon dioxide that stands over the air's."""
    row = water.net.at.get(way.source)
    if row is None:
        return mixing.Pass()
    shares = [(part, SLOW_CARBON * share_of(water, part)) for part in way.parts]
    if falls(water.facility, way):
        shares.append((f"fall into {way.target}", SLOW_CARBON * water.around["fall"]))
    steps: list[tuple[str, float, float]] = []
    left = 1.0
    for name, share in shares:
        if share:
            pull = share * left
            steps.append((name, 1.0 - pull * float(slope[row]),
                          pull * float(slope[row] * carbon[row] - known[row] + air[row])))  # fmt: skip
            left *= 1.0 - share
    return mixing.Pass(steps=tuple(steps))


# -- terms ----------------------------------------------------------------------------------------------

UNITS: Mapping[str, tuple[float, str]] = {
    "oxygen": (constants.OXYGEN_MOLAR_MASS * 1e-6 * DAY, "g/day"),
    "nitrogen": (constants.NITROGEN_MOLAR_MASS * 1e-6 * DAY, "g/day"),
    "argon": (constants.ARGON_MOLAR_MASS * 1e-6 * DAY, "g/day"),
    "tan": (NITROGEN_MASS * 1e-6 * DAY, "g/day"),
    "nitrite": (NITROGEN_MASS * 1e-6 * DAY, "g/day"),
    "nitrate": (NITROGEN_MASS * 1e-6 * DAY, "g/day"),
    "carbon": (1e-6 * DAY, "mol/day"),
    "alkalinity": (1e-6 * DAY, "eq/day"),
}


def terms(water: Water, species: str, node: str) -> Sequence[question.Term]:
    """What adds to a species at a place and what takes from it, largest first."""
    row = water.net.at[node]
    if species == "temperature":
        per, unit = (
            float(heat.heat_capacity_of_water(1.0, water.x["temperature"][row], water.x["salinity"][row])),
            "W",
        )
    elif species in UNITS:
        factor, unit = UNITS[species]
        per = factor * float(water.x["density"][row])
    else:
        return ()
    summed: dict[str, tuple[float, str]] = {}
    runs = mixing.brought(water.net, water.tasks[species], water.x[species], node)
    told = [(name, amount, "") for name, amount in runs.items()]
    for name, amount, source in itertools.chain(told, water.given.get(species, {}).get(node, ())):
        before = summed.get(name, (0.0, ""))
        summed[name] = (before[0] + amount, source or before[1])
    made = [question.Term(name=n, amount=a * per, unit=unit, source=s) for n, (a, s) in summed.items()]
    return sorted((one for one in made if abs(one.amount) > 1e-9), key=lambda one: -abs(one.amount))
