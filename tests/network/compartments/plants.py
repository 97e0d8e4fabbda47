"""Small plants for the tests: facility texts, and a plain one in arrays."""

from brinehouse.facility import reading
from brinehouse.network import flows
from brinehouse.network.compartments import conditions, model

QUIET = {"room_temperature": 20.0, "humidity": 0.6, "alkalinity_kept": True}


def facility(text):
    checked = reading.read(text)
    assert checked.facility is not None, [str(one) for one in checked.findings]
    return checked.facility


def loop(extra="", tank="50 m3", sump="80 m3", flow="40 m3/h", through=""):
    """A tank and a sump in a closed loop."""
    return facility(f"""
schema = 1
[facility]
name = "two"
altitude = "0 m"
timezone = "Europe/London"
[tank.a]
volume = "{tank}"
depth = "1 m"
temperature = "20 °C"
salinity = "34 ppt"
[sump.b]
volume = "{sump}"
depth = "1 m"
temperature = "20 °C"
salinity = "34 ppt"
[run.out]
from = "a"
to = "b"
flow = "{flow}"
[run.back]
from = "b"
{through}
to = "a"
flow = "{flow}"
{extra}
""")


def shut(places, **more):
    """Conditions under which nothing but the tracer moves: no surface, no evaporation, no room."""
    none = dict.fromkeys(places, 0.0)
    calm = conditions.Fall(depth=0.0, approach=0.0, air=0.0)
    told = {
        "evaporation": none, "transfer": none, "warmth": none, "falls": {"out": calm, "back": calm}, **QUIET,
    } | more  # fmt: skip
    return conditions.Conditions(**told)


def made(plant, told):
    return model.build(plant, flows.stated(plant).flows, told)
