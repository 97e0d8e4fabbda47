"""How sure a balance is, and which limits it crosses."""

import datetime as dt
import math

import pytest

from brinehouse.engines.balance import comparing, question
from brinehouse.facility import model, reading

HALL = """
schema = 1
[facility]
name = "One tank"
timezone = "UTC"
[tank.reef]
volume = "20 m3"
[sump.low]
volume = "3 m3"
[[limit]]
quantity = "total gas pressure"
at = "reef"
watch = "above 102 %"
act = "above 104 %"
[[limit]]
quantity = "oxygen"
act = "below 5 mg/L"
"""
KEY = ("reef", "tgp")


@pytest.fixture
def hall():
    return reading.read(HALL).facility


def test_assumptions_add_up_as_squares_and_the_largest_is_named():
    base = {KEY: 102.0}
    shifted = {"feed": [{KEY: 102.3}, {KEY: 101.7}], "air": [{KEY: 102.4}, {KEY: 101.6}]}
    got = comparing.spreads(base, shifted)[KEY]
    assert got.u == pytest.approx(0.5)
    assert got.most == "air"


def test_an_assumption_that_changes_nothing_brings_no_doubt():
    got = comparing.spreads({KEY: 102.0}, {"feed": [{KEY: 102.0}, {KEY: 102.0}]})[KEY]
    assert got.u == 0.0
    assert got.most == ""


def test_a_number_that_does_not_settle_has_no_interval():
    got = comparing.spreads({KEY: math.nan}, {"feed": [{KEY: 1.0}]})[KEY]
    assert got.u == 0.0


@pytest.mark.parametrize(
    ("value", "u", "verdict", "level"),
    [
        (105.0, 0.1, "crossed", "act"),
        (103.0, 0.1, "crossed", "watch"),
        (101.9, 0.2, "may be crossed", "watch"),
    ],
)
def test_a_limit_is_crossed_or_may_be(hall, value, u, verdict, level):
    got = comparing.crossing(hall, KEY, value, u)
    assert (got.verdict, got.level.value) == (verdict, level)


def test_inside_every_limit_nothing_is_said(hall):
    assert comparing.crossing(hall, KEY, 100.5, 0.1) is None


def test_a_limit_of_the_whole_hall_counts_where_animals_live(hall):
    assert comparing.crossing(hall, ("reef", "oxygen"), 4.0, 0.1) is not None
    assert comparing.crossing(hall, ("low", "oxygen"), 4.0, 0.1) is None


def test_a_difference_inside_its_own_doubt_is_not_told():
    spread = comparing.Spread(u=1.0, parts={"air": 1.0})
    assert comparing.worth_telling(KEY, 1.5, spread) == 0.0
    assert comparing.worth_telling(KEY, 3.0, spread) > 0.0


def test_a_reading_that_the_balance_does_not_explain_stands_apart():
    at = dt.datetime(2026, 3, 14, tzinfo=dt.UTC)
    known = {"reef": {"total gas pressure": question.Known(value=104.7, u=0.2, at=at)}}
    spread = {KEY: comparing.Spread(u=0.3, parts={})}
    got = comparing.apart({KEY: 100.4}, spread, known)
    assert got[KEY][1] == pytest.approx(4.3)
    assert comparing.apart({KEY: 104.5}, spread, known) == {}


def test_a_limit_counted_as_the_ion_is_not_laid_against_a_number_counted_as_nitrogen(hall):
    limit = model.Limit(quantity="nitrate", at="reef", act=model.Band(low=None, high=40.0), basis="ion")
    other = model.Facility(name="", vessels=hall.vessels, limits=(limit,))
    assert comparing.crossing(other, ("reef", "nitrate"), 50.0, 0.0) is None
