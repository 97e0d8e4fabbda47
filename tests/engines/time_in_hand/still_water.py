"""Small invented plants whose time in hand is worked out, and how they are asked."""

import dataclasses

from brinehouse.engines.time_in_hand import failures, question
from brinehouse.facility import reading
from brinehouse.network import flows
from brinehouse.network.compartments import conditions as given

LIMITS = """
[[limit]]
quantity = "oxygen"
watch = "below 5.5 mg/L"
act = "below 4.5 mg/L"
[[limit]]
quantity = "temperature"
act = "outside 22 °C to 28 °C"
"""


def text(
    volume: float = 10.0,
    mass: float = 6.0,
    surface: float = 8.0,
    limits: str = LIMITS,
    standby: str = "automatic",
    more: str = "",
) -> str:
    """One tank, its sump, two pumps of which one rests, a chiller."""
    return f"""schema = 1
[facility]
name = "one loop"
timezone = "UTC"
room_temperature = "25 °C"
[tank.t]
name = "Tank"
volume = "{volume} m3"
surface = "{surface} m2"
depth = "{volume / surface} m"
elevation = "2 m"
crest = "{2.0 + volume / surface - 0.03} m"
rim = "{2.0 + volume / surface + 0.2} m"
temperature = "25 °C"
salinity = "34 ppt"
[sump.s]
name = "Sump"
volume = "3 m3"
working = "2 m3"
surface = "2 m2"
elevation = "0 m"
temperature = "25 °C"
salinity = "34 ppt"
[pump.A]
flow = "10 m3/h"
power = "0.5 kW"
[pump.B]
flow = "10 m3/h"
power = "0.5 kW"
[duty.D]
pumps = ["A", "B"]
keep = 1
standby = "{standby}"
[equipment.C]
kind = "chiller"
name = "Chiller"
power = "3 kW"
[run.up]
from = "s"
through = ["D", "C"]
to = "t"
flow = "10 m3/h"
[run.down]
from = "t"
to = "s"
flow = "10 m3/h"
[[animals]]
at = "t"
species = "bass"
mass = "{mass} kg"
depth = ["0.2 m", "1 m"]
{limits}{more}"""


def facility(**told: object):
    """The same, checked."""
    checked = reading.read(text(**told), "test")
    assert checked.facility is not None, [str(one) for one in checked.findings]
    return checked.facility


def asked(found=None, *, effects=None, **told: object) -> question.Asked:
    """Asked of one loop: its catalogue, or failures of the effects given by name."""
    plant = found or facility()
    run = flows.stated(plant)
    known = failures.catalogue(plant)
    if effects is not None:
        like = known[0]
        known = tuple(
            dataclasses.replace(
                like, id=name, title=name.capitalize(), effects=tuple(row), parts=(), noticed="One sees it."
            )
            for name, row in effects.items()
        )
    feed = {"t": given.Feed(rate=0.2 / 86400.0)} if "t" in plant.vessels else None
    acting = given.Conditions(feed=feed, setpoints={"C": 25.0}, nitrifying={"t": (1.5e-4, 3e-4)})
    return question.Asked(
        facility=plant, flows=run.flows, conditions=acting, failures=known, **({"clock": 20.0} | told)
    )
