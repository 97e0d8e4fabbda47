"""The house that the nasty files belong to, and a way to examine a text."""

import datetime as dt
import pathlib

import pytest

from brinehouse.facility import reading
from brinehouse.logbook.intake import plan

CORPUS = pathlib.Path(__file__).parents[2] / "corpus"
NOW = dt.datetime(2026, 11, 15, 12, tzinfo=dt.UTC)
PEOPLE = {
    name: number
    for number, name in enumerate(
        ["a.meyer", "b.okafor", "logger", "lead.admin", "former.staff", "Müller"], 1
    )
}
# f00_good.toml in the words of the facility file, with the two places that the corpus adds
FACILITY = """schema = 1
[facility]
name = "Sample hall"
timezone = "Europe/Berlin"
[tank.T-1]
name = "Reef"
volume = "12 m3"
stands_alone = true
[tank.T-2]
name = "Kelp"
volume = "8 m3"
stands_alone = true
[tank.T-4]
name = "Cold sea water"
volume = "8 m3"
stands_alone = true
[tank."Café"]
volume = "8 m3"
stands_alone = true
[sump.S-1]
volume = "3 m3"
stands_alone = true
[point.TT-1]
at = "T-1"
depth = "0.4 m"
quantity = "temperature"
expected = ["24 °C", "26 °C"]
possible = ["-5 °C", "50 °C"]
[instrument.gauge-2]
measures = ["temperature", "total gas pressure"]
"""
HEAD = "time,place,quantity,value,unit,method,by,note\n"


@pytest.fixture(scope="session")
def facility():
    checked = reading.read(FACILITY)
    assert checked.facility is not None, [str(found) for found in checked.findings]
    return checked.facility


@pytest.fixture(scope="session")
def examine(facility):
    def run(data, name="readings.csv", answers=None, **more):
        data = data.encode() if isinstance(data, str) else data
        more.setdefault("people", PEOPLE)
        return plan.examine(data, name, facility=facility, now=NOW, answers=answers, **more)

    return run


@pytest.fixture(scope="session")
def row(examine):
    """Examine one row of the long table; what is not given is as in a good row."""

    def run(answers=None, **cells):
        good = {
            "time": "2026-03-02T08:00:00+01:00", "place": "T-1", "quantity": "temperature", "value": "24.6",
            "unit": "degC", "method": "probe", "by": "a.meyer", "note": "",
        }  # fmt: skip
        good |= cells
        line = ",".join('"' + str(text).replace('"', '""') + '"' for text in good.values())
        return examine(f"{','.join(good)}\n{line}\n", answers=answers)

    return run


@pytest.fixture
def now():
    return NOW


@pytest.fixture(scope="session")
def corpus():
    return CORPUS


@pytest.fixture(scope="session")
def codes():
    return lambda seen: {finding.code for finding in seen.findings}
