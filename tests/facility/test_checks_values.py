"""Values: what cannot be, what is upside down, what there is no room for."""

import pytest


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('volume = "5 m3"', 'volume = "0 m3"'),
        ('depth = "2 m"', 'depth = "-2 m"'),
        ('temperature = "25 °C"', 'temperature = "250 °C"'),
        ('salinity = "34 ppt"', 'salinity = "-1 ppt"'),
        ('altitude = "120 m"', 'altitude = "12000 m"'),
        ('mass = "14 kg"', 'mass = "0 kg"'),
        ('power = "1.1 kW"', 'power = "-1 kW"'),
        ('flow = "22 m3/h"', 'flow = "-22 m3/h"'),
        ('depth = ["0.4 m", "1.9 m"]', 'depth = ["-0.4 m", "1.9 m"]'),
        ('["0 m3/h", "12 m"]', '["-1 m3/h", "12 m"]'),
        ("keep = 1", "keep = -1"),
    ],
)
def test_what_cannot_be_is_refused(only, old, new):
    assert only("facility/impossible", old, new, "stop").hint


def test_a_time_zone_must_exist(only):
    found = only("facility/timezone", "Europe/London", "Europe/Lundon", "stop")
    assert "'Europe/London'" in found.hint


def test_a_duty_group_cannot_keep_more_pumps_than_it_has(only):
    found = only("facility/duty-keep", "keep = 1", "keep = 3", "stop")
    assert found.text == "duty return keeps 3 of 2 pumps running"


def test_a_pump_takes_turns_in_one_group_only(only):
    assert (
        "in duty return already" in only("facility/twice", "", '[duty.spare]\npumps = ["P-2"]', "stop").text
    )


def test_a_meter_names_each_quantity_once(only):
    old, new = 'measures = ["temperature"]', 'measures = ["temperature", "temp"]'
    assert "names 'temperature' twice" in only("facility/twice", old, new, "stop").text


def test_a_curve_is_written_by_rising_flow(only):
    assert only("facility/curve", '["20 m3/h", "9 m"]', '["40 m3/h", "9 m"]', "stop")


def test_a_curve_whose_head_rises_is_asked_about(only):
    assert only("facility/curve", '["20 m3/h", "9 m"]', '["20 m3/h", "19 m"]', "ask")
    assert only("facility/curve", '["20 m3/h", "9 m"]', '["20 m3/h", "12 m"]', "ask")


def test_a_point_below_the_floor_is_asked_about(only):
    found = only("facility/too-deep-for-tank", 'depth = "1.9 m"', 'depth = "2.6 m"', "ask")
    assert "2.6 m down; reef has 2 m" in found.text


def test_animals_below_the_floor_are_asked_about(only):
    assert only("facility/too-deep-for-tank", '["0.4 m", "1.9 m"]', '["0.4 m", "3 m"]', "ask")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('["0.4 m", "1.9 m"]', '["1.9 m", "0.4 m"]'),
        ('["24 °C", "26 °C"]', '["26 °C", "24 °C"]'),
        ('["-5 °C", "50 °C"]', '["50 °C", "-5 °C"]'),
        ("24.5 °C to 25.5 °C", "25.5 °C to 24.5 °C"),
    ],
)
def test_a_range_upside_down_is_refused_and_not_turned(only, old, new):
    assert "upside down" in only("facility/upside-down", old, new, "stop").text


def test_the_expected_range_lies_inside_the_possible_one(only):
    assert only("facility/range-outside", '["-5 °C", "50 °C"]', '["25 °C", "50 °C"]', "stop")


def test_the_bands_of_a_limit_stand_in_their_order(only):
    found = only("facility/limits-inverted", "outside 22 °C to 28 °C", "outside 24.2 °C to 28 °C", "stop")
    assert found.text == "limit 1 (temperature): 'act' is met before 'watch'"


def test_a_limit_that_no_value_can_reach_is_asked_about(only):
    assert only("facility/impossible", "outside 22 °C to 28 °C", "outside 22 °C to 280 °C", "ask")


def test_a_limit_without_a_band_says_nothing(only):
    assert "says nothing" in only("facility/missing", "", '[[limit]]\nquantity = "oxygen"', "stop").text


def test_two_limits_for_one_place_are_asked_about(only):
    assert only("facility/twice", "", '[[limit]]\nquantity = "temp"\nat = "reef"\nact = "above 29 °C"', "ask")


def test_a_limit_on_nitrate_says_what_it_is_counted_as(only, planted):
    text = '[[limit]]\nquantity = "nitrate"\nwatch = "above 20 mg/L{}"'
    assert "counted as" in only("facility/basis", "", text.format(""), "ask").text
    checked = planted("", text.format(" as N"))
    assert checked.findings == ()
    assert checked.facility.limits[-1].basis == "N"


def test_a_meter_must_measure_what_its_point_is_for(only, good):
    old, new = 'measures = ["temperature"]\naccuracy = ["0.2 °C"]', 'measures = ["oxygen"]'
    line = good.splitlines().index('instrument = "thermometer"') + 1
    assert only("facility/instrument", old, new, "ask").spot.line == line


def test_a_sea_level_barometer_needs_the_altitude(only, planted):
    text = '[instrument.b]\nmeasures = ["barometer"]\nbarometer = "sea level"'
    assert planted("", text).findings == ()
    without = planted('altitude = "120 m"\n', "")
    assert without.findings == ()
    both = only("facility/altitude", 'altitude = "120 m"\ntimezone = "Europe/London"\n',
                'timezone = "Europe/London"\n\n' + text + "\n", "ask")  # fmt: skip
    assert "altitude" in both.hint
