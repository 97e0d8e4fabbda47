"""Plants drawn by chance, two to fourteen places, with failures of several kinds."""

from __future__ import annotations

import numpy as np
from tests.network.transients import batches

from brinehouse.network.transients import tables

FLOWS_ONLY = 9  # the plant of this number has neither animals nor air nor machines: water, salt, tracer
IDLE = (
    "velocity", "warmth", "lamps", "evaporation", "vapour_heat", "vapour_slope", "breath", "photo", "ammonia",
    "dosing", "first", "second", "kept",
)  # fmt: skip


def drawn(seed: int) -> tuple[batches.Plant, list[str]]:
    """A plant of 2 to 14 places, and its tanks."""
    chance = np.random.default_rng([seed, 4])
    made = batches.Plant()
    many = int(chance.integers(2, 15)) if seed != FLOWS_ONLY else 5
    bare = dict.fromkeys(IDLE, 0.0) if seed == FLOWS_ONLY else {}
    sumps = ["s0", "s1"] if many > 6 and chance.random() < 0.6 else ["s0"]
    tanks = [f"t{at}" for at in range(many - len(sumps))]
    made.day = (
        float(chance.uniform(11, 15)), float(chance.uniform(-0.2, 0.3)), float(chance.uniform(0.2, 0.8)), 1.0,
        float(chance.uniform(0.0, 0.4)), float(chance.uniform(0, 24)), float(chance.uniform(0.0, 0.6)),
        float(chance.uniform(0, 24)),
    )  # fmt: skip
    volume = {name: float(np.exp(chance.uniform(np.log(0.8), np.log(200.0)))) for name in tanks}
    flow = {name: float(volume[name] * chance.uniform(0.5, 3.0)) for name in tanks}
    home = {name: str(chance.choice(sumps)) for name in tanks}
    for sump in sumps:
        mine = [name for name in tanks if home[name] == sump]
        size = max(0.08 * sum(volume[name] for name in mine), 1.0)
        more = {
            "flow": 1.3 * sum(flow[name] for name in mine),
            "dosing": 3e-8 * sum(volume[name] for name in mine) * batches.MOLE,
        }
        made.vessel(sump, size, float(chance.uniform(0.8, 1.6)), **(more | bare))
    for name in tanks:
        lit = float(chance.random() < 0.6) * volume[name]
        depth, mass = float(chance.uniform(0.4, 4.0)), volume[name] * float(chance.uniform(0.3, 2.5))
        more = {
            "mass": mass, "flow": flow[name], "lamps": 70.0 * lit, "photo": 1e-6 * lit,
            "room": float(chance.uniform(20, 27)), "still": float(chance.uniform(0.2, 0.7)),
        }  # fmt: skip
        made.vessel(name, volume[name], depth, **(more | bare))
    _joined(made, chance, sumps, home, flow, volume, seed == FLOWS_ONLY)
    for name in tanks:
        made.limit(name, "temperature", float(chance.uniform(24.6, 26.5)), True)
        made.limit(name, "oxygen", float(chance.uniform(4.5, 5.8)), False)
        made.limit(name, "salinity", 32.0, False)
        told = [
            ("tan", 0.25, True), ("ph", 7.65, False), ("tgp", 101.5, True), ("temperature", 22.0, False),
            ("co2", 35.0, True), ("ammonia", 0.008, True), ("nitrite", 0.1, True), ("tracer", 0.012, False),
        ]  # fmt: skip
        made.limit(name, *told[int(chance.integers(len(told)))])
    for sump in sumps:
        made.limit(sump, "level", 0.3 * volume_of(made, sump), False)
        made.limit(sump, "level", 1.25 * volume_of(made, sump), True)
    return made, tanks


def volume_of(made: batches.Plant, name: str) -> float:
    return made.place_rows[made.place_names.index(name)][tables.AT["usual"]]


def _joined(
    made: batches.Plant, chance: np.random.Generator, sumps: list[str], home: dict[str, str],
    flow: dict[str, float], volume: dict[str, float], plain: bool,
) -> None:  # fmt: skip
    """Feeds, returns, side tanks, loops, make-up and holes."""
    dead = {sump: 0.15 * volume_of(made, sump) for sump in sumps}
    fall = [] if plain else [batches.contact("fall", float(chance.uniform(0.1, 0.4)))]
    for name, sump in home.items():
        whole = sum(flow[one] for one in home if home[one] == sump)
        ops = [batches.air(f"pump {sump}"), batches.pump(f"pump {sump}", 60.0 * whole, whole),
               batches.chiller(f"chiller {sump}", 500.0 * whole, whole)]  # fmt: skip
        if chance.random() < 0.7:
            ops.append(batches.contact(f"column {sump}", float(chance.uniform(0.2, 0.7))))
        if chance.random() < 0.4:
            ops.append(
                batches.bio(
                    f"filter {sump}", float(chance.uniform(0.1, 0.5)), float(chance.uniform(0.1, 0.6))
                )
            )
        if chance.random() < 0.3:
            ops.append(batches.contact("oxygen", 0.01, carbon=0.0, pressure=1.5e5, oxygen=0.92))
        ops = [] if plain else ops
        if chance.random() < 0.3:
            ops.append(batches.remove("carbon", 0.3))
        made.pumped(f"to {name}", sump, name, flow[name], *ops, dry=dead[sump])
        made.spill(f"from {name}", name, sump, 0.985 * volume[name], 0.1 + flow[name] / 50.0, *fall)
        made.port(f"back from {name}", name, sump, 0.9 * volume[name])
        made.port(f"hole in {name}", name, "", 0.2 * volume[name])
    names = list(home)
    if len(names) > 4:
        made.spill("overflow", names[0], names[1], 0.987 * volume[names[0]], 0.02)
    for sump in sumps:
        whole = sum(flow[one] for one in home if home[one] == sump) or 2.0
        loop = [
            batches.bio(f"reactor {sump}", 0.5, 0.6),
            batches.contact(f"skimmer {sump}", 0.3, pressure=1.1e5),
        ]
        loop = [*([] if plain else loop), batches.remove(f"skimmer {sump}", 0.3)]
        made.pumped(f"loop {sump}", sump, sump, 0.3 * whole, *loop, dry=dead[sump])
        size = volume_of(made, sump)
        made.way(f"top-up {sump}", "", sump, tables.MAKE_UP, flow=0.01 * whole + 0.05, level=0.97 * size,
                 band=0.03 * size, outside=batches.FRESH)  # fmt: skip
        made.way(f"new water {sump}", "", sump, tables.PUMPED, flow=0.004 * whole, outside=batches.NEW)
        made.spill(f"used water {sump}", sump, "", 1.1 * size, 0.3)
    if len(sumps) == 2:
        size = volume_of(made, "s1")
        made.pumped("across", "s0", "s1", 0.02 * sum(flow.values()), dry=dead["s0"])
        made.spill("back across", "s1", "s0", 1.0 * size, 0.3)


def random_batch(seed: int) -> tuple[tables.Structure, tables.Tables]:
    """Seven scenarios of a drawn plant: as it runs, and failures of several kinds, some together."""
    made, tanks = drawn(seed)
    chance = np.random.default_rng([seed, 5])
    sumps = [name for name in made.place_names if name not in tanks]

    def still(now: batches.Rows, phase: int) -> None:
        for name in tanks:
            now.set_way(f"to {name}", "flow", batches.times(0.0))
            if chance_of[name]:
                now.set_way(f"back from {name}", "scale", batches.as_told(made.hole(name, 0.02)))

    def dark(now: batches.Rows, phase: int) -> None:
        still(now, phase)
        for sump in sumps:
            now.set_way(f"loop {sump}", "flow", batches.as_told(0.0))
            now.set_way(f"new water {sump}", "flow", batches.as_told(0.0))
        now.set_place("", "lamps", batches.as_told(0.0))
        now.set_place("", "photo", batches.as_told(0.0))

    def warm(now: batches.Rows, phase: int) -> None:
        for sump in sumps:
            batches.machine_off(f"chiller {sump}", "cooling", "warming")(now, phase)  # where there is one
        now.set_place("", "room", batches.as_told(29.0))

    def leaking(now: batches.Rows, phase: int) -> None:
        name = tanks[0]
        now.set_way(
            f"hole in {name}", "scale", batches.as_told(made.hole(name, 0.012 * volume_of(made, name) ** 0.5))
        )

    def filling(now: batches.Rows, phase: int) -> None:
        now.set_way(f"top-up {sumps[0]}", "flow", batches.times(4.0))
        now.set_way(f"top-up {sumps[0]}", "level", batches.as_told(1e4))

    def fed(now: batches.Rows, phase: int) -> None:
        if phase > 0:
            now.set_place("", "ammonia", batches.times(3.0))
            now.set_place("", "breath", batches.times(1.5))

    chance_of = {name: chance.random() < 0.4 for name in tanks}
    told: list[list[batches.Effect]] = [[], [still], [dark], [warm], [leaking], [filling, fed], [warm, still]]
    x, volume = batches.rough(made)
    x = x * (1.0 + 0.01 * chance.standard_normal(x.shape))
    until = (float(chance.uniform(30, 600)), float(chance.uniform(3, 20)) * batches.HOUR, 1e9)
    return made.structure(), made.batch(told, x, volume, until=until, clock=float(chance.uniform(0, 24)))


def named(plant: str) -> tuple[tables.Structure, tables.Tables]:
    """``twelve``, or ``random 3``."""
    kind, _, seed = plant.partition(" ")
    return random_batch(int(seed)) if kind == "random" else batches.twelve()[:2]
