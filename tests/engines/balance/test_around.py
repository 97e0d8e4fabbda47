"""What stands around the water: read, stated or assumed, and each assumption with its doubt."""

import datetime as dt

import pytest

from brinehouse.engines.balance import around, question
from brinehouse.facility import reading

HALL = """
schema = 1
[facility]
name = "Two places"
timezone = "UTC"
altitude = "412 m"
[system.m]
name = "m"
[tank.reef]
system = "m"
volume = "20 m3"
temperature = "24 °C"
[sump.low]
system = "m"
volume = "4 m3"
[[animals]]
at = "reef"
species = "wrasse"
mass = "20 kg"
"""
AT = dt.datetime(2026, 3, 14, tzinfo=dt.UTC)


@pytest.fixture
def hall():
    return reading.read(HALL).facility


def known(value, u=0.1):
    return question.Known(value=value, u=u, at=AT, instrument="meter-A")


def test_a_reading_goes_before_what_the_file_states(hall):
    stated = around.of(hall)
    read = around.of(hall, {"reef": {"temperature": known(25.6)}})
    assert stated.temperature["reef"] == 24.0
    assert read.temperature["reef"] == 25.6


def test_a_place_without_a_word_has_what_its_system_has(hall):
    assert around.of(hall).temperature["low"] == 24.0


def test_feed_is_told_by_the_logbook_or_assumed_by_mass(hall):
    assumed, told = around.of(hall), around.of(hall, feed={"reef": 0.5})
    assert assumed.feed == {"reef": pytest.approx(0.2)}
    assert "common practice, no source" in assumed.knobs["feed"].source
    assert told.feed == {"reef": 0.5}
    assert told.knobs["feed"].u < assumed.knobs["feed"].u


def test_air_pressure_is_read_or_follows_from_the_altitude(hall):
    high = around.of(hall)
    read = around.of(hall, pressure=known(96000.0, 150.0))
    assert high["pressure"] == pytest.approx(96470.0, abs=60.0)  # ISA at 412 m: 964.7 hPa
    assert (read["pressure"], read.knobs["pressure"].u) == (96000.0, 150.0)
    assert read.knobs["pressure"].source == "read with meter-A"


def test_an_assumption_moves_by_its_own_doubt_and_never_past_what_can_be(hall):
    made = around.of(hall)
    up, down = made.shifted("column", 1.0), made.shifted("column", -1.0)
    assert up["column"] - made["column"] == pytest.approx(made["column"] - down["column"])
    far = made.shifted("column", 100.0), made.shifted("velocity", -100.0)
    assert far[0]["column"] == 0.98
    assert far[1]["velocity"] == made.knobs["velocity"].least
    assert made.shifted("activity", 1.0)["activity"] > 1.0


def test_every_assumption_names_where_it_is_from(hall):
    for name, knob in around.of(hall).knobs.items():
        assert knob.source, name
        assert knob.u > 0.0, name


def test_what_the_file_states_of_the_room_and_the_feed_goes_before_what_is_assumed():
    text = HALL.replace(
        'altitude = "412 m"', 'altitude = "412 m"\nroom_temperature = "23 °C"\nroom_humidity = "70 %"'
    )
    text = text.replace('volume = "20 m3"', 'volume = "20 m3"\nfeed = "1.1 kg/d"')
    made = around.of(reading.read(text).facility)
    assert (made["room"], made["humidity"]) == (23.0, pytest.approx(0.7))
    assert made.feed == {"reef": pytest.approx(1.1)}
    assert made.knobs["feed"].source == "stated in the facility file"
    assert around.of(reading.read(text).facility, feed={"reef": 0.4}).feed == {"reef": 0.4}
