"""A reading against its limits: inside, crossed, or not to be told apart from the limit by this meter."""

import math
from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import answers, findings, records
from brinehouse.facility import model
from brinehouse.facility import reading as files
from brinehouse.workbench import limits

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)
WATCH = model.Band(low=None, high=101.0)


@pytest.fixture(scope="module")
def text(lasting_folder):
    return (lasting_folder / "facility.toml").read_text("utf-8")


@pytest.fixture(scope="module")
def facility(text):
    return files.read(text).facility


def gas(value, *, hours=0.0, instrument="meter-B", **changed):
    at = NOW + timedelta(hours=hours)
    told = {"id": f"{hours:g}", "measured": at, "entered": at, "place": "pipefish", "value": value,
            "quantity": "total gas pressure", "unit": "%", "text": f"{value} %",
            "instrument": instrument}  # fmt: skip
    return records.Reading(**(told | changed))


def crossing(facility, *history):
    return limits.crossing(history, facility, facility.limits_for("total gas pressure", "pipefish"))


# -- how sure a reading is ------------------------------------------------------------------------------


def test_a_stated_accuracy_is_the_bound_of_a_uniform_distribution(facility):
    # JCGM 100:2008 (GUM), 4.3.7: u = a / sqrt(3)
    assert limits.uncertainty(gas(101.0), facility) == pytest.approx(0.7 / math.sqrt(3.0))


def test_the_displays_digit_is_added_in_quadrature(facility):
    # JCGM 100:2008 (GUM), F.2.2.1: a digit of width d adds d / sqrt(12)
    seen = gas(25.0, place="mangrove", quantity="temperature", unit="°C", instrument="probe-1")
    assert limits.uncertainty(seen, facility) == pytest.approx(math.hypot(0.2 / 3**0.5, 0.1 / 12**0.5))


def test_a_meter_that_nobody_stated_says_nothing_of_its_accuracy(facility):
    assert limits.uncertainty(gas(101.0, instrument=""), facility) is None
    assert limits.uncertainty(gas(101.0, instrument="probe-1"), facility) is None


def test_a_width_in_fahrenheit_does_not_carry_the_scales_zero(text):
    # BIPM SI Brochure (2019), 4 and NIST SP 811, B.8: a difference of 1.8 °F is one of 1 K
    there = files.read(text.replace('accuracy = ["0.2 K"]', 'accuracy = ["0.36 °F"]')).facility
    seen = gas(25.0, place="mangrove", quantity="temperature", unit="°C", instrument="probe-1")
    assert limits.uncertainty(seen, there) == pytest.approx(math.hypot(0.2 / 3**0.5, 0.1 / 12**0.5))


# -- the verdict ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "u", "verdict"),
    [
        (100.0, 0.4, "inside"),
        (100.8, 0.4, "may be crossed"),
        (100.8, 0.0, "inside"),
        (101.2, 0.4, "crossed"),
        (101.2, 0.0, "crossed"),
        (101.0, 0.0, "inside"),
    ],
)
def test_the_interval_decides_between_inside_and_may_be(value, u, verdict):
    assert limits.judge(value, u, WATCH) == verdict


def test_the_interval_is_one_of_95_percent():
    just = 1.0 / answers.COVERAGE
    assert limits.judge(100.0, just * 0.999, WATCH) == "inside"
    assert limits.judge(100.0, just * 1.001, WATCH) == "may be crossed"


def test_a_band_with_two_ends_is_watched_at_both():
    band = model.Band(low=24.0, high=26.5)
    told = [limits.judge(value, 0.1, band) for value in (23.9, 24.1, 25.0, 26.4, 26.6)]
    assert told == ["crossed", "may be crossed", "inside", "may be crossed", "crossed"]


# -- the newest of a history ----------------------------------------------------------------------------


def test_a_crossed_limit_is_told_with_its_source_and_its_value(facility):
    told = crossing(facility, gas(101.5))
    assert (told.verdict, told.level, told.value) == ("crossed", findings.Level.WATCH, 101.5)
    assert told.limit.source == "house rule"
    assert told.band.high == 101.0


def test_the_heavier_limit_is_told_where_both_are_crossed(facility):
    told = crossing(facility, gas(102.5))
    assert (told.level, told.band.high) == (findings.Level.ACT, 102.0)


def test_a_meters_interval_over_the_act_limit_asks_for_no_action(facility):
    told = crossing(facility, gas(101.9))  # its 95 % interval is 101.1 to 102.7
    assert (told.verdict, told.level) == ("crossed", findings.Level.WATCH)


def test_a_reading_below_a_limit_may_still_be_over_it(facility):
    told = crossing(facility, gas(100.5))  # its 95 % interval is 99.7 to 101.3
    assert (told.verdict, told.level) == ("may be crossed", findings.Level.WATCH)
    assert told.u == pytest.approx(0.7 / math.sqrt(3.0))


def test_planted_fault_a_reading_well_inside_raises_nothing(facility):
    assert crossing(facility, gas(99.5)) is None


def test_what_is_doubted_or_only_a_bound_crosses_nothing(facility):
    doubted = [gas(105.0, quality="doubtful"), gas(105.0, quality="fault"), gas(105.0, bound=">")]
    assert all(crossing(facility, one) is None for one in doubted)
    kept = crossing(facility, gas(105.0, quality="unusual"))
    assert kept.level is findings.Level.ACT


def test_a_doubtful_reading_does_not_hide_the_one_before_it(facility):
    told = crossing(facility, gas(103.0), gas(99.0, hours=1, quality="doubtful"))
    assert told.value == 103.0


def test_only_the_newest_counts(facility):
    assert crossing(facility, gas(103.0), gas(99.5, hours=1)) is None


def test_a_crossing_began_with_the_first_reading_outside_in_a_row(facility):
    told = crossing(
        facility, gas(102.4, hours=-9), gas(100.0, hours=-6), gas(102.3, hours=-4), gas(102.6, hours=-1)
    )
    assert told.since == NOW + timedelta(hours=-4)


def test_order_of_entry_does_not_matter(facility):
    rows = [gas(102.3, hours=-4), gas(102.6, hours=-1), gas(100.0, hours=-6)]
    assert crossing(facility, *rows) == crossing(facility, *reversed(rows))


def test_a_value_in_another_unit_is_not_compared(facility):
    assert limits.in_glossary_unit(gas(760.0, unit="mmHg")) is None
    assert crossing(facility, gas(760.0, unit="mmHg")) is None


def test_a_place_without_limits_crosses_none(facility):
    assert limits.crossing([gas(140.0)], facility, ()) is None
    assert limits.crossing([], facility, facility.limits) is None
