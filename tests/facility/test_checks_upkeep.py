"""Work that comes round says when; nothing in use hangs on a retired thing."""

import pytest
from tests.facility.conftest import GOOD

from brinehouse.facility import reading

SEAL = '\n[[upkeep]]\nof = "P-1"\nwhat = "change the seal"\n'
DIFFERENCE = '\n[point.dp]\nat = "basin"\nquantity = "temperature"\n'


def found(text):
    checked = reading.read(text)
    return {one.code: one for one in checked.findings}, checked.facility


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ('every = "180 d"', ""),
        ('hours = "4000 h"\nstarts = 500', ""),
        ('quantity = "temperature"\nat = "dp"\nwhen = "above 29 °C"', ""),
        ("", "facility/upkeep"),
        ('quantity = "temperature"\nwhen = "above 29 °C"', "facility/upkeep"),
        ('when = "above 29 °C"\nat = "dp"', "facility/missing"),
        ('quantity = "temperature"\nat = "dp"\nwhen = "24 °C to 29 °C"', "facility/upkeep"),
        ('every = "180"', "facility/no-unit"),
    ],
)
def test_work_that_comes_round_says_when_it_is_due(words, code):
    codes, facility = found(GOOD + DIFFERENCE + SEAL + words + "\n")
    assert [one for one in codes if one in ("facility/upkeep", "facility/missing", "facility/no-unit")] == (
        [code] if code else []
    )
    asked = code == "facility/upkeep" and "when" in words  # it can be worked with, only not be told when due
    assert (facility is not None) is (code == "" or asked)


def test_hours_are_counted_of_what_runs_only():
    codes, _ = found(GOOD + SEAL.replace("P-1", "reef") + 'hours = "4000 h"\n')
    assert "pumps and equipment only" in codes["facility/upkeep"].text


def test_upkeep_of_a_thing_that_does_not_exist_is_said():
    codes, _ = found(GOOD + SEAL.replace("P-1", "P-7") + 'every = "4 d"\n')
    assert "P-7" in codes["facility/dangling"].text


def test_a_retired_pump_that_a_group_still_counts_on_is_asked_about():
    planted = GOOD.replace('flow = "22 m3/h"', 'flow = "22 m3/h"\nretired = 2026-03-01')
    codes, facility = found(planted)
    assert "P-2, which is retired since 2026-03-01" in codes["facility/retired"].text
    assert "facility/retired" not in found(planted.replace(', "P-2"', ""))[0]
    assert (facility.in_use("P-2", "2026-02-28"), facility.in_use("P-2", "2026-03-01")) == (True, False)


def test_a_point_goes_with_its_tank():
    planted = GOOD.replace('volume = "26 m3"', 'volume = "26 m3"\nretired = 2026-03-01')
    _, facility = found(planted)
    assert facility.retired("reef-low") == "2026-03-01"
    assert facility.retired("reef") == "2026-03-01"
    assert facility.retired("basin") == ""
