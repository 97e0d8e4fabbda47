"""Plants and their failures written straight as tables: one of twelve places, and many drawn by chance.

The numbers are those of a public aquarium of some 480 m³: lengths, powers and stocks of such halls, invented.
`twelve` has 232 scenarios: as it runs, 21 failures, and each two of them together.
"""

from __future__ import annotations

import itertools
import json
import pathlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from brinehouse.network.transients import tables
from brinehouse.science.constants import ARGON_IN_AIR, ATM, NITROGEN_IN_AIR, OXYGEN_IN_AIR

HERE = pathlib.Path(__file__).parent
HOUR = 3600.0
HEAT = 4.08e6  # J/m³/K
MOLE = 1e6 / 1025.0  # µmol/kg m³ for each mole
BREATH = 1.0 / np.exp(-5020.0 / 297.15)  # use at 24 °C, of what stands before the exponential
USE = 1.25e-6  # mol of oxygen a second for each kilogram of fish at 24 °C
SEA = (24.0, 34.0, 212.0, 390.0, 10.4, 2080.0, 2350.0, 8.0, 4.0, 600.0, 0.02)
FRESH = (20.0, 0.0, 280.0, 500.0, 13.6, 30.0, 20.0, 0.0, 0.0, 0.0, 0.0)
NEW = (22.0, 34.5, 220.0, 405.0, 10.7, 2050.0, 2350.0, 0.5, 0.1, 5.0, 0.0)
STARTS = HERE / "plant_start.json"


@dataclass(slots=True)
class Rows:
    """One phase of one scenario, by names."""

    plant: Plant
    way: np.ndarray
    op: np.ndarray
    place: np.ndarray

    def set_way(self, name: str, column: str, change: Callable[[float], float]) -> None:
        at = self.plant.way_names.index(name), tables.WAY.index(column)
        self.way[at] = change(float(self.way[at]))

    def set_op(self, name: str, column: str, change: Callable[[float], float]) -> None:
        """Every op of a machine."""
        for at, (machine, kind, _) in enumerate(self.plant.ops):
            if machine == name and column in tables.OP[kind]:
                index = at, tables.OP[kind].index(column)
                self.op[index] = change(float(self.op[index]))

    def set_place(self, name: str, column: str, change: Callable[[float], float]) -> None:
        """At a place, or everywhere where the name is empty."""
        for at in range(len(self.place)) if not name else (self.plant.place_names.index(name),):
            self.place[at, tables.AT[column]] = change(float(self.place[at, tables.AT[column]]))

    def copy(self) -> Rows:
        return Rows(self.plant, self.way.copy(), self.op.copy(), self.place.copy())


Effect = Callable[[Rows, int], None]


@dataclass(slots=True)
class Plant:
    """Built place by place and way by way."""

    place_names: list[str] = field(default_factory=list)
    place_rows: list[list[float]] = field(default_factory=list)
    areas: dict[str, float] = field(default_factory=dict)
    way_names: list[str] = field(default_factory=list)
    way_rows: list[tuple[float, float, float, float]] = field(default_factory=list)
    ends: list[tuple[int, int, int]] = field(default_factory=list)
    spans: list[tuple[int, int]] = field(default_factory=list)
    ops: list[tuple[str, int, Mapping[str, float]]] = field(default_factory=list)
    outside: list[Sequence[float]] = field(default_factory=list)
    limits: list[tuple[str, str, float, bool]] = field(default_factory=list)
    day: tuple[float, ...] = (13.0, 0.0, 0.5, 1.0, 0.25, 14.0, 0.4, 16.0)

    def vessel(
        self, name: str, volume: float, depth: float, *, mass: float = 0.0, flow: float = 0.0,
        lamps: float = 0.0, photo: float = 0.0, **more: float,
    ) -> None:  # fmt: skip
        """Upright walls; volume m³, depth m, mass of fish kg, flow m³/h, lamps W, photo mol/s."""
        area = volume / depth
        wet = 3.5e-3 / 86400.0 * area
        use = mass * USE * MOLE
        row = dict.fromkeys(tables.PLACE, 0.0) | {
            "usual": volume, "velocity": 1.6e-5 * area, "still": 0.35, "usual_in": flow / HOUR,
            "warmth": 14.0 * area / HEAT, "room": 22.5, "lamps": lamps / HEAT, "about": 24.0,
            "vapour_heat": -2.43e9 * wet / HEAT, "vapour_slope": -1.6e8 * wet / HEAT, "evaporation": wet,
            "breath": use * BREATH, "photo": photo * MOLE, "ammonia": 0.08 * use, "kept": 0.85,
            "first": 4e-6, "second": 6e-6, "tracer": 2e-8 * mass, "decay": 2e-6, "pressure": 100900.0,
            "acid": 52.0,
        } | more  # fmt: skip
        self.place_names.append(name)
        self.areas[name] = area
        self.place_rows.append([row[column] for column in tables.PLACE])

    def way(
        self, name: str, source: str, target: str, law: int, *, flow: float = 0.0, scale: float = 0.0,
        level: float = 0.0, band: float = 0.0, ops: Iterable[tuple[str, int, Mapping[str, float]]] = (),
        outside: Sequence[float] = SEA,
    ) -> None:  # fmt: skip
        """Flow in m³/h; the rest as `tables.WAY`."""
        at = [self.place_names.index(end) if end else -1 for end in (source, target)]
        begin = len(self.ops)
        self.ops += list(ops)
        self.way_names.append(name)
        self.way_rows.append((flow / HOUR, scale, level, band))
        self.ends.append((at[0], at[1], law))
        self.spans.append((begin, len(self.ops)))
        self.outside.append(outside)

    def pumped(
        self, name: str, source: str, target: str, flow: float, *ops: object, dry: float, **more: float
    ) -> None:
        self.way(name, source, target, tables.PUMPED, flow=flow, level=dry, band=0.5 * dry, ops=ops, **more)  # type: ignore[arg-type]

    def spill(self, name: str, source: str, target: str, crest: float, width: float, *ops: object) -> None:
        """Over a crest: m³ below it, its width in m."""
        scale = 1.84 * width / self.areas[source] ** 1.5
        self.way(name, source, target, tables.SPILL, scale=scale, level=crest, ops=ops)  # type: ignore[arg-type]

    def port(self, name: str, source: str, target: str, sill: float, diameter: float = 0.0) -> None:
        """A hole of some diameter in m with a sill at so many m³; shut where 0."""
        self.way(name, source, target, tables.PORT, scale=self.hole(source, diameter), level=sill,
                 band=0.01 * self.areas[source])  # fmt: skip

    def hole(self, source: str, diameter: float) -> float:
        return 0.6 * np.pi / 4.0 * diameter**2 * np.sqrt(2.0 * 9.80665 / self.areas[source])

    def limit(self, place: str, quantity: str, value: float, upper: bool) -> None:
        self.limits.append((place, quantity, value, upper))

    def structure(self) -> tables.Structure:
        place = [self.place_names.index(one[0]) for one in self.limits]
        ends = np.array(self.ends, dtype=np.intp).reshape(-1, 3)
        return tables.Structure(
            places=tuple(self.place_names), ways=tuple(self.way_names),
            machines=tuple(one[0] for one in self.ops),
            source=ends[:, 0].copy(), target=ends[:, 1].copy(), law=ends[:, 2].copy(),
            begin=np.array([one[0] for one in self.spans], dtype=np.intp),
            end=np.array([one[1] for one in self.spans], dtype=np.intp),
            kind=np.array([one[1] for one in self.ops], dtype=np.intp),
            outside=np.array(self.outside, dtype=np.float64).reshape(-1, len(SEA)), day=np.array(self.day),
            limit_place=np.array(place, dtype=np.intp),
            limit_quantity=np.array([tables.QUANTITY[one[1]] for one in self.limits], dtype=np.intp),
            limit_value=np.array([one[2] for one in self.limits], dtype=np.float64),
            limit_upper=np.array([one[3] for one in self.limits], dtype=np.bool_),
        )  # fmt: skip

    def rows(self) -> Rows:
        op = np.zeros((len(self.ops), tables.OP_COLUMNS))
        for at, (_, kind, told) in enumerate(self.ops):
            for name, value in told.items():
                op[at, tables.OP[kind].index(name)] = value
        return Rows(
            self, np.array(self.way_rows, dtype=np.float64).reshape(-1, 4), op, np.array(self.place_rows)
        )

    def batch(
        self, scenarios: Sequence[Sequence[Effect]], x: np.ndarray, volume: np.ndarray, *,
        until: Sequence[float] = (60.0, 8 * HOUR, 1e9), clock: float = 18.0,
    ) -> tables.Tables:  # fmt: skip
        """Effects applied one after the other to each phase's rows."""
        made = []
        for effects in scenarios:
            for phase in range(len(until)):
                now = self.rows()
                for effect in effects:
                    effect(now, phase)
                made.append(now)
        many, shape = len(scenarios), (len(scenarios), len(until))
        return tables.Tables(
            way=np.array([one.way for one in made]).reshape(*shape, *made[0].way.shape),
            op=np.array([one.op for one in made]).reshape(*shape, *made[0].op.shape),
            place=np.array([one.place for one in made]).reshape(*shape, *made[0].place.shape),
            until=np.tile(np.array(until), (many, 1)),
            x=np.tile(x, (many, 1, 1)), volume=np.tile(volume, (many, 1)),
            clock=np.full(many, clock),
        )  # fmt: skip


# --- machines ----------------------------------------------------------------------------------------------


def pump(name: str, power: float, flow: float) -> tuple[str, int, dict[str, float]]:
    """Power W over flow m³/h."""
    return name, tables.HEAT, {"kelvin": power * HOUR / (flow * HEAT)}


def chiller(
    name: str, power: float, flow: float, setpoint: float = 24.0
) -> tuple[str, int, dict[str, float]]:
    kelvin = power * HOUR / (flow * HEAT)
    return name, tables.HOLD, {"setpoint": setpoint, "cooling": kelvin, "warming": 0.4 * kelvin}


def contact(
    name: str,
    share: float,
    *,
    carbon: float | None = None,
    pressure: float = ATM,
    oxygen: float = OXYGEN_IN_AIR,
) -> tuple[str, int, dict[str, float]]:
    """Towards a gas of so much oxygen, the rest as in air."""
    rest = (1.0 - oxygen) / (1.0 - OXYGEN_IN_AIR)
    return name, tables.CONTACT, {
        "oxygen": share, "nitrogen": 0.93 * share, "argon": 0.97 * share,
        "carbon": 0.7 * share if carbon is None else carbon, "pressure": pressure, "acid_pressure": pressure,
        "mix_oxygen": oxygen, "mix_nitrogen": rest * NITROGEN_IN_AIR, "mix_argon": rest * ARGON_IN_AIR,
        "mix_carbon": rest * 520e-6,
    }  # fmt: skip


def bio(name: str, first: float, second: float) -> tuple[str, int, dict[str, float]]:
    return name, tables.BIO, {"first": first, "second": second}


def remove(name: str, first: float) -> tuple[str, int, dict[str, float]]:
    return name, tables.REMOVE, {"first": first}


def air(name: str) -> tuple[str, int, dict[str, float]]:
    return name, tables.AIR, {}


# --- twelve places -----------------------------------------------------------------------------------------

FEEDS = {
    "reef": 100.0,
    "lagoon": 45.0,
    "mangrove": 15.0,
    "drift": 4.0,
    "grass": 3.0,
    "deep": 140.0,
    "touch": 8.0,
}
MAIN = sum(FEEDS.values())
LATE = {"cove": 6.0, "ward": 10.0}


def hall() -> Plant:
    """Two sumps; seven tanks and two side tanks fed by overflow at the large one, a ward at the small one."""
    made = Plant()
    made.vessel("sump", 30.0, 1.5, flow=450.0, mass=0.0, dosing=6e-5 * MOLE)
    made.vessel("little sump", 5.0, 1.0, flow=45.0, dosing=1e-6 * MOLE)
    made.vessel("reef", 120.0, 4.0, mass=210.0, flow=100.0, lamps=9e3, photo=1.5e-4)
    made.vessel("lagoon", 40.0, 1.2, mass=60.0, flow=45.0, lamps=4e3, photo=2e-4)
    made.vessel("mangrove", 15.0, 0.7, mass=18.0, flow=15.0, lamps=2.5e3, photo=1e-4)
    made.vessel("drift", 2.5, 1.6, mass=2.0, flow=4.0)
    made.vessel("grass", 1.5, 0.8, mass=1.5, flow=3.0, lamps=4e2, photo=1e-5)
    made.vessel("deep", 250.0, 5.5, mass=600.0, flow=140.0, lamps=3e3)
    made.vessel("touch", 3.0, 0.35, mass=5.0, flow=8.0, lamps=2e2)
    made.vessel("nursery", 1.0, 0.6, mass=1.2, flow=1.5)
    made.vessel("weed", 4.0, 0.5, mass=0.5, flow=6.0, lamps=1.5e3, photo=8e-5)
    made.vessel("ward", 8.0, 1.3, mass=16.0, flow=10.0)
    fall = contact("fall", 0.25, carbon=0.12)
    usual = {
        name: row[tables.AT["usual"]] for name, row in zip(made.place_names, made.place_rows, strict=True)
    }
    for name, flow in FEEDS.items():
        cone = (
            [contact("oxygen cone", 0.012, carbon=0.0, pressure=1.6e5, oxygen=0.93)] if name == "deep" else []
        )
        made.pumped(
            f"to {name}", "sump", name, flow, air("main pumps"), pump("main pumps", 22e3, MAIN),
            chiller("chiller", 160e3, MAIN), pump("lamp", 1.5e3, MAIN), contact("column", 0.55), *cone,
            dry=6.0,
        )  # fmt: skip
        made.spill(f"from {name}", name, "sump", 0.985 * usual[name], 0.25 + flow / 60.0, fall)
        made.port(f"back from {name}", name, "sump", (0.9 if name == "deep" else 0.8) * usual[name])
    made.spill("reef to nursery", "reef", "nursery", 0.9875 * usual["reef"], 0.012)
    made.spill("from nursery", "nursery", "sump", 0.97, 0.1, fall)
    made.spill("lagoon to weed", "lagoon", "weed", 0.986 * usual["lagoon"], 0.08)
    made.spill("from weed", "weed", "sump", 3.9, 0.2, fall)
    made.pumped("to ward", "little sump", "ward", 10.0, air("little pump"), pump("little pump", 900.0, 10.0),
                chiller("heater", 9e3, 10.0, 24.5), contact("little column", 0.4), dry=1.2)  # fmt: skip
    made.spill("from ward", "ward", "little sump", 7.85, 0.3, fall)
    made.port("back from ward", "ward", "little sump", 6.5)
    made.pumped("little filter", "little sump", "little sump", 12.0, bio("little filter", 0.5, 0.6), dry=1.2)
    made.pumped("skimming", "sump", "sump", 60.0, pump("skimmer pump", 3e3, 60.0),
                contact("skimmer", 0.3, pressure=1.12e5), remove("skimmer", 0.4), dry=6.0)  # fmt: skip
    made.pumped("filtering", "sump", "sump", 80.0, pump("filter pump", 2.5e3, 80.0),
                bio("filter", 0.55, 0.65), contact("trickle", 0.35), dry=6.0)  # fmt: skip
    made.pumped("sump to little", "sump", "little sump", 1.5, dry=6.0)
    made.spill("little to sump", "little sump", "sump", 4.9, 0.2, fall)
    made.way("top-up", "", "sump", tables.MAKE_UP, flow=0.6, level=29.7, band=0.6, outside=FRESH)
    made.way("new water", "", "sump", tables.PUMPED, flow=1.2, outside=NEW)
    made.spill("used water", "sump", "", 29.9, 0.4)
    made.spill("over the rim", "sump", "", 42.0, 4.0)
    made.spill("over the little rim", "little sump", "", 7.5, 2.0)
    made.port("hole in sump", "sump", "", 0.0)
    made.port("hole in deep", "deep", "", 100.0)
    _limits(made)
    return made


def _limits(made: Plant) -> None:
    """Forty-four."""
    for name in made.place_names:
        if name not in ("sump", "little sump"):
            made.limit(name, "temperature", 25.0 if name not in ("ward", "drift") else 26.0, True)
            made.limit(name, "oxygen", 5.0 if name != "grass" else 4.5, False)
    for name in ("reef", "lagoon", "mangrove", "drift", "weed"):
        made.limit(name, "ph", 7.6, False)
    for name in ("reef", "deep", "ward", "touch"):
        made.limit(name, "tan", 0.25, True)
    for name in ("reef", "deep", "drift"):
        made.limit(name, "delta_p", 15.0, True)
    for name in ("reef", "touch"):
        made.limit(name, "temperature", 22.5, False)
    made.limit("deep", "co2", 42.0, True)
    made.limit("grass", "oxygen_percent", 70.0, False)
    made.limit("ward", "ammonia", 0.012, True)
    made.limit("reef", "salinity", 31.0, False)
    made.limit("ward", "nitrite", 0.12, True)
    made.limit("weed", "level", 2.5, False)
    made.limit("lagoon", "tgp", 104.0, True)
    made.limit("sump", "level", 9.0, False)
    made.limit("sump", "level", 40.0, True)
    made.limit("deep", "level", 228.0, False)


def times(factor: float) -> Callable[[float], float]:
    return lambda value: factor * value


def as_told(told: float) -> Callable[[float], float]:
    return lambda value: told


def _feeds(now: Rows, factor: float) -> None:
    for name in FEEDS:
        now.set_way(f"to {name}", "flow", times(factor))


def _siphons(now: Rows) -> None:
    """Feed lines without check valves run back until they draw air."""
    for name, diameter in (("reef", 0.04), ("deep", 0.05), ("lagoon", 0.03), ("touch", 0.02)):
        now.set_way(f"back from {name}", "scale", as_told(now.plant.hole(name, diameter)))


def _stopped(now: Rows, phase: int) -> None:
    _feeds(now, 0.0)
    _siphons(now)


def machine_off(name: str, *columns: str) -> Effect:
    def effect(now: Rows, phase: int) -> None:
        for column in columns:
            now.set_op(name, column, as_told(0.0))

    return effect


GASES = ("oxygen", "nitrogen", "argon", "carbon")


def _changed(now: Rows, phase: int) -> None:
    if phase == 0:
        _stopped(now, phase)


def _half(now: Rows, phase: int) -> None:
    _feeds(now, 0.6)


def _chiller_full(now: Rows, phase: int) -> None:
    now.set_op("chiller", "setpoint", as_told(-50.0))


def _little_off(now: Rows, phase: int) -> None:
    for name in ("to ward", "little filter"):
        now.set_way(name, "flow", as_told(0.0))


def _power(now: Rows, phase: int) -> None:
    """Everything electrical; the make-up is mechanical. Somebody sets up air after eight hours."""
    _stopped(now, phase)
    _little_off(now, phase)
    for name in ("skimming", "filtering", "sump to little", "new water"):
        now.set_way(name, "flow", as_told(0.0))
    now.set_place("", "lamps", as_told(0.0))
    now.set_place("", "photo", as_told(0.0))
    if phase == 2:
        now.set_place("deep", "velocity", times(2.5))
        now.set_place("deep", "still", as_told(1.0))


def _board(now: Rows, phase: int) -> None:
    """One board: half the pumps, the chiller, the skimmer."""
    _feeds(now, 0.5)
    machine_off("chiller", "cooling", "warming")(now, phase)
    now.set_way("skimming", "flow", as_told(0.0))


def _filling(now: Rows, phase: int) -> None:
    now.set_way("top-up", "flow", times(8.0))
    now.set_way("top-up", "level", as_told(1e3))


def _dry(now: Rows, phase: int) -> None:
    now.set_way("top-up", "flow", as_told(0.0))
    now.set_way("new water", "flow", as_told(0.0))


def _hole(way: str, place: str, diameter: float) -> Effect:
    def effect(now: Rows, phase: int) -> None:
        now.set_way(way, "scale", as_told(now.plant.hole(place, diameter)))

    return effect


def _valve(way: str, factor: float) -> Effect:
    def effect(now: Rows, phase: int) -> None:
        now.set_way(way, "flow", times(factor))

    return effect


def _fed(now: Rows, phase: int) -> None:
    now.set_place("", "ammonia", times(3.0))
    now.set_place("", "breath", times(1.4))


def _room(now: Rows, phase: int) -> None:
    now.set_place("", "room", as_told(33.0))


def _drawn(now: Rows, phase: int) -> None:
    for column, value in (("oxygen", 4.0), ("nitrogen", 12.0), ("argon", 0.2)):
        now.set_op("main pumps", column, as_told(value))


def _lost(now: Rows, phase: int) -> None:
    now.set_way("filtering", "flow", as_told(0.0))


SINGLES: dict[str, Effect] = {
    "main pump, changed over": _changed,
    "main pump, not changed over": _stopped,
    "one main pump of two": _half,
    "little pump": _little_off,
    "chiller off": machine_off("chiller", "cooling", "warming"),
    "chiller full on": _chiller_full,
    "heater off": machine_off("heater", "cooling", "warming"),
    "column fan": machine_off("column", *GASES),
    "skimmer": machine_off("skimmer", *GASES, "first"),
    "filter pump": _lost,
    "power": _power,
    "board": _board,
    "top-up open": _filling,
    "top-up shut": _dry,
    "hole in sump": _hole("hole in sump", "sump", 0.03),
    "hole in deep": _hole("hole in deep", "deep", 0.025),
    "valve to drift shut": _valve("to drift", 0.0),
    "valve to reef half shut": _valve("to reef", 0.35),
    "fed three times": _fed,
    "room": _room,
    "air at the suction": _drawn,
}


def settled(name: str, made: Plant) -> tuple[np.ndarray, np.ndarray]:
    """Water from which the courses of a plant begin, kept beside this file; made by `make_crossings.py`."""
    kept = json.loads(STARTS.read_text("utf-8"))[name] if STARTS.exists() else None
    if kept is None:
        return rough(made)
    return np.array(kept["x"]), np.array(kept["volume"])


def rough(made: Plant) -> tuple[np.ndarray, np.ndarray]:
    """Sea water everywhere, vessels as they are usually filled."""
    volume = np.array([row[tables.AT["usual"]] for row in made.place_rows])
    return np.tile(np.array(SEA)[:, None], (1, len(volume))), volume


def twelve() -> tuple[tables.Structure, tables.Tables, list[str]]:
    """The plant as it runs, 21 failures, and all 210 pairs of them."""
    made = hall()
    effects = list(SINGLES.items())
    told: list[tuple[str, list[Effect]]] = [("as it runs", [])]
    told += [(name, [effect]) for name, effect in effects]
    told += [(f"{a} and {b}", [one, two]) for (a, one), (b, two) in itertools.combinations(effects, 2)]
    x, volume = settled("twelve", made)
    return made.structure(), made.batch([one[1] for one in told], x, volume), [one[0] for one in told]
