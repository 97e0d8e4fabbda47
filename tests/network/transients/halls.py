"""Small halls for the tests: what acts on their water, and texts made by a seed."""

import importlib.resources

import numpy as np

from brinehouse.facility import reading
from brinehouse.network import flows
from brinehouse.network.compartments import conditions
from brinehouse.network.transients import laying

HEAD = """
schema = 1
[facility]
name = "made"
altitude = "0 m"
timezone = "Europe/London"
room_temperature = "21 °C"
room_humidity = "60 %"
"""


def facility(text):
    checked = reading.read(text)
    assert checked.facility is not None, [str(one) for one in checked.findings]
    return checked.facility


def demo():
    """The hall of the demo."""
    return facility(importlib.resources.files("brinehouse.demo").joinpath("hall.toml").read_text())


def acting(plant, **more):
    """What acts on the water of a plant: something of everything."""
    machines = plant.equipment
    told = {
        "alkalinity_kept": True,
        "nitrifying": dict.fromkeys(plant.vessels, (2e-4, 4e-4)),
        "photosynthesis": dict.fromkeys(plant.tanks, 1e-7),
        "dosing": dict.fromkeys(plant.sumps, 2e-6),
        "passing": {name: (0.3, 0.4) for name, one in machines.items() if one.kind == "biofilter"},
        "removal": {name: 0.2 for name, one in machines.items() if one.kind == "fractionator"},
        "tracer": dict.fromkeys(plant.sumps, 1e-4),
        "decay": 1e-6,
        "exchange": {name: conditions.Exchange(flow=1e-5) for name in plant.sumps},
    } | more  # fmt: skip
    return conditions.Conditions(**told)


def laid(plant, told=None, **more):
    """Its bodies of water."""
    return laying.lay(plant, flows.stated(plant).flows, told or acting(plant), **more)


def loop(pumps=2, keep=1, standby="automatic", *, tank="", sump="", duty="", supply="", extra=""):
    """A tank over a sump: one duty group without curves, 12 m³/h through a chiller and a column."""
    names = [f"P-{at + 1}" for at in range(pumps)]
    lines = "\n".join(f'[pump.{name}]\npower = "0.8 kW"' for name in names)
    return facility(
        f"""{HEAD}
[tank.reef]
volume = "20 m3"
surface = "16 m2"
elevation = "1 m"
crest = "2.2 m"
overflow = "weir 0.4 m"
feed = "0.3 kg/d"
light = "1 kW"
temperature = "25 °C"
salinity = "34 ppt"
{tank}
[sump.low]
volume = "6 m3"
working = "4 m3"
surface = "4 m2"
elevation = "-1 m"
temperature = "25 °C"
salinity = "34 ppt"
{sump}
{lines}
[duty.return]
pumps = {names}
keep = {keep}
standby = "{standby}"
{duty}
[equipment.cold]
kind = "chiller"
power = "6 kW"
[equipment.tower]
kind = "packed column"
[equipment.sieve]
kind = "screen"
[run.up]
from = "low"
through = ["return", "cold", "tower"]
to = "reef"
flow = "12 m3/h"
{supply}
[run.down]
from = "reef"
through = ["sieve"]
to = "low"
flow = "12 m3/h"
high = "2.2 m"
[[animals]]
at = "reef"
species = "bass"
mass = "30 kg"
count = 60
{extra}
""".replace("'", '"')
    )


def parting(*, curves, loss="0.4 m"):
    """Two of three pumps lead to one lamp, behind which two runs part to two tanks."""
    tank = 'volume = "8 m3"\ndepth = "1 m"\nelevation = "1 m"\ntemperature = "20 °C"\nsalinity = "34 ppt"'
    pump = 'power = "0.5 kW"' + (
        '\ncurve = [["0 m3/h", "8 m"], ["8 m3/h", "6 m"], ["16 m3/h", "2 m"]]' if curves else ""
    )
    lost = f'loss = ["12 m3/h", "{loss}"]' if curves else ""
    pipe = 'length = "9 m"\ndiameter = "57 mm"\nfittings = ["3 elbows"]' if curves else ""
    return facility(f"""{HEAD}
[tank.a]
{tank}
[tank.b]
{tank}
[sump.low]
volume = "5 m3"
working = "4 m3"
surface = "4 m2"
elevation = "-1 m"
[pump.P-1]
{pump}
[pump.P-2]
{pump}
[pump.P-3]
{pump}
[duty.return]
pumps = ["P-1", "P-2", "P-3"]
keep = 2
standby = "automatic"
[equipment.lamp]
kind = "uv"
power = "0.3 kW"
{lost}
[run.lead]
from = "low"
through = ["return"]
to = "lamp"
flow = "14 m3/h"
{pipe}
[run.to-a]
from = "lamp"
to = "a"
flow = "8 m3/h"
{pipe}
[run.to-b]
from = "lamp"
to = "b"
flow = "6 m3/h"
{pipe}
[run.of-a]
from = "a"
to = "low"
flow = "8 m3/h"
[run.of-b]
from = "b"
to = "low"
flow = "6 m3/h"
""")


def generated(seed, *, bare=False):
    """A plant made by a seed, some tanks fed by another's overflow; bare: volumes and flows only."""
    rng = np.random.default_rng(seed)
    tanks = [f"t{at}" for at in range(rng.integers(2, 7))]
    parts, supply = [], {}
    for at, name in enumerate(tanks):
        volume = float(np.round(rng.uniform(0.5, 40.0), 2))
        size = f'volume = "{volume} m3"' if bare else (
            f'volume = "{volume} m3"\ndepth = "{rng.uniform(0.5, 3.0):.2f} m"\n'
            f'feed = "{20 * volume:.0f} g/d"\n'
            f'temperature = "{rng.uniform(12, 26):.1f} °C"\nsalinity = "33 ppt"'
        )  # fmt: skip
        parts.append(f"[tank.{name}]\n{size}")
        supply[name] = float(np.round(rng.uniform(1.0, 20.0), 2))
        parts.append(f'[[animals]]\nat = "{name}"\nspecies = "fish"\nmass = "{volume:.2f} kg"')
        if at and rng.random() < 0.3:  # fed by the overflow of the one before
            supply[name] = -1.0
    size = 'volume = "9 m3"' if bare else 'volume = "9 m3"\nworking = "6 m3"\nsurface = "5 m2"'
    parts.append(f"[sump.s]\n{size}")
    keep = int(rng.integers(1, 3))
    pumps = [f"P-{at}" for at in range(keep + 1)]
    parts += [f'[pump.{name}]\npower = "0.9 kW"' for name in pumps]
    parts.append(f'[duty.d]\npumps = {pumps}\nkeep = {keep}\nstandby = "automatic"'.replace("'", '"'))
    parts.append('[equipment.c]\nkind = "chiller"\npower = "5 kW"\n[equipment.b]\nkind = "biofilter"')
    carried = 0.0
    for at, name in enumerate(tanks):
        later = at + 1 < len(tanks) and supply[tanks[at + 1]] < 0.0
        if supply[name] > 0.0:
            carried = supply[name]
            parts.append(f'[run.to-{name}]\nfrom = "s"\nthrough = ["d", "c", "b"]\nto = "{name}"\n'
                         f'flow = "{carried} m3/h"')  # fmt: skip
        target = tanks[at + 1] if later else "s"
        parts.append(f'[run.of-{name}]\nfrom = "{name}"\nto = "{target}"\nflow = "{carried} m3/h"')
    return facility(HEAD + "\n".join(parts))
