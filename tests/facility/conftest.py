"""A small good facility file, and a way to plant one fault in it."""

import pytest

from brinehouse.facility import reading

GOOD = """\
schema = 1

[facility]
name = "Small hall"
altitude = "120 m"
timezone = "Europe/London"

[tank.reef]
volume = "26 m3"
working = "25 m3"
depth = "2 m"
length = "5 m"
width = "2.6 m"
elevation = "1.8 m"
crest = "3.78 m"
temperature = "25 °C"
salinity = "34 ppt"

[sump.basin]
volume = "5 m3"

[[animals]]
at = "reef"
species = "wrasse"
mass = "14 kg"
depth = ["0.4 m", "1.9 m"]

[pump.P-1]
curve = [["0 m3/h", "12 m"], ["20 m3/h", "9 m"], ["34 m3/h", "4 m"]]
power = "1.1 kW"

[pump.P-2]
flow = "22 m3/h"

[duty.return]
pumps = ["P-1", "P-2"]
keep = 1

[run.supply]
from = "basin"
through = ["return"]
to = "reef"
flow = "18 m3/h"

[run.overflow]
from = "reef"
to = "basin"
flow = "18 m3/h"

[point.reef-low]
at = "reef"
depth = "1.9 m"

[point.TT-1]
at = "reef"
quantity = "temperature"
unit = "°C"
expected = ["24 °C", "26 °C"]
possible = ["-5 °C", "50 °C"]
instrument = "thermometer"

[instrument.thermometer]
measures = ["temperature"]
accuracy = ["0.2 °C"]

[[limit]]
quantity = "temperature"
at = "reef"
aim = "24.5 °C to 25.5 °C"
watch = "outside 24 °C to 26 °C"
act = "outside 22 °C to 28 °C"

[[source]]
id = "plc"
kind = "modbus-tcp"
host = "127.0.0.1"
username = "brinehouse"
secret = "env:PLC_SECRET"

[[source.map]]
point = "TT-1"
register = 40001
"""


def plant(old, new):
    """The good file with one fault: `old` replaced by `new`, or `new` put at the end where `old` is empty."""
    if not old:
        return GOOD + "\n" + new + "\n"
    assert GOOD.count(old) == 1, f"{old!r} is {GOOD.count(old)} times in the good file"
    return GOOD.replace(old, new)


@pytest.fixture
def good():
    return GOOD


@pytest.fixture
def planted():
    """Read the good file with one fault in it."""
    return lambda old, new: reading.read(plant(old, new))


@pytest.fixture
def only(planted):
    """The one finding that a planted fault brings, of a code; its line must hold the fault."""

    def look(code, old, new, level=None):
        found = [one for one in planted(old, new).findings if one.code == code]
        assert found, [str(one) for one in planted(old, new).findings]
        if level is not None:
            assert found[0].level == level, str(found[0])
        return found[0]

    return look
