"""One tank from a few amounts."""

import pytest

from brinehouse.engines.time_in_hand import asked

TYPED = {"volume": "20 m3", "mass": "30 kg", "least": "4.5 mg/L", "surface": "15 m2", "temperature": "25 °C"}


def test_more_fish_in_the_same_water_leave_less_time():
    few, many = (asked.answer(TYPED | {"mass": mass}).values["hours"].value for mass in ("20 kg", "60 kg"))
    assert many < few


def test_cold_water_leaves_more_time_than_warm():
    cold, warm = (asked.answer(TYPED | {"temperature": t}).values["hours"].value for t in ("12 °C", "27 °C"))
    assert warm < cold


def test_without_a_limit_no_time_is_invented():
    made = asked.answer({"volume": "20 m3", "mass": "30 kg"})
    assert "time/no-limits" in {one.code for one in made.findings}


@pytest.mark.parametrize("name", ["volume", "mass"])
def test_an_amount_of_nothing_is_refused_with_an_example(name):
    made = asked.answer(TYPED | {name: "0"})
    assert made.state == "refused"
    made = asked.answer(TYPED | {name: "0 " + TYPED[name].split()[1]})
    assert [one.code for one in made.findings] == ["time/cannot"]
    assert "for example" in made.findings[0].hint


def test_a_limit_that_is_none_is_refused_in_a_sentence():
    made = asked.answer(TYPED | {"least": "blue"})
    assert made.state == "refused"
    assert made.findings
