"""Halls for the workbench's tests: a small one that passes check, and a clock that stands still."""

import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from brinehouse.workbench import clock, starting
from brinehouse.workbench import hall as halls

sys.path.append(str(Path(__file__).parent))

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)
FACILITY = """
schema = 1

[facility]
name = "Test Hall"
altitude = "412 m"
timezone = "Europe/London"

[tank.mangrove]
volume = "58 m3"
depth = "2.6 m"

[tank.pipefish]
volume = "1.2 m3"
depth = "0.9 m"

[sump.sump-m]
volume = "7.5 m3"

[point.mangrove-low]
at = "mangrove"
depth = "2.2 m"
quantity = "temperature"
expected = ["24 °C", "26 °C"]
possible = ["15 °C", "35 °C"]

[instrument.meter-B]
measures = ["total gas pressure", "oxygen"]
accuracy = ["0.7 %", "0.2 mg/L"]

[instrument.probe-1]
measures = ["temperature"]
accuracy = ["0.2 K"]
resolution = ["0.1 K"]

[[limit]]
quantity = "total gas pressure"
at = "pipefish"
watch = "above 101 %"
act = "above 102 %"
source = "house rule"

[[limit]]
quantity = "temperature"
at = "mangrove"
aim = "24.5 °C to 26 °C"
watch = "outside 24 °C to 26.5 °C"
source = "house rule"
"""


@pytest.fixture
def still_clock():
    """The same moment in every test of a hall."""
    clock.freeze(NOW)
    yield
    clock.freeze(None)


def make(place):
    """A hall's folder with nothing written down yet."""
    place.mkdir()
    (place / "facility.toml").write_text(FACILITY, "utf-8")
    checked = starting.check(place)
    assert checked.accepted, [str(found) for found in checked.findings]
    return place


@pytest.fixture
def folder(tmp_path, still_clock):
    return make(tmp_path / "hall")


@pytest.fixture(scope="module")
def lasting_folder(tmp_path_factory):
    """One for several tests, where the clock runs."""
    return make(tmp_path_factory.mktemp("lasting") / "hall")


@pytest.fixture
def hall(folder):
    with halls.open_hall(folder) as made:
        yield made


@pytest.fixture
def cheap():
    """Hashes cost next to nothing while a test runs; `test_sealing` looks at the product's own cost."""
    import peopled_hall

    from brinehouse.workbench import sealing

    before, sealing.cost = sealing.cost, peopled_hall.CHEAP
    yield
    sealing.cost = before


@pytest.fixture
def peopled_place(hall, cheap):
    """The hall with an administrator, number 1, and a keeper, number 2, who has not chosen a password yet."""
    import peopled_hall

    from brinehouse.workbench import people

    people.first(hall, "Ada Wren", peopled_hall.PASSWORD)
    people.add(hall, "Bo Tern", "keeper", people.OPEN)
    yield hall
    clock.freeze(None)
