import numpy as np
import published
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import barometer
from brinehouse.science.constants import ATM, MMHG

RELATIONS = {
    "Colt": lambda altitude: barometer.station_pressure_from_altitude_colt_1984(altitude) / MMHG,
    "standard atmosphere": lambda altitude: barometer.station_pressure_from_altitude(altitude) / MMHG,
    "reported, at 600 ft": lambda sea_level_pressure, altitude: (
        barometer.station_pressure_from_sea_level_pressure(sea_level_pressure * MMHG, altitude) / MMHG
    ),
}


def test_every_printed_value_is_reproduced():
    assert published.misses("barometer", RELATIONS) == []


def test_the_dropped_digit_of_a_public_script_is_not_in_ours(monkeypatch):
    right = float(barometer.station_pressure_from_altitude_colt_1984(0.0)) / MMHG
    monkeypatch.setattr(barometer, "COLT", (2.88014, 19748.2))
    wrong = float(barometer.station_pressure_from_altitude_colt_1984(0.0)) / MMHG
    assert wrong - right == pytest.approx(-1.2, abs=0.05)
    assert "BP-COLT-0" in published.misses("barometer", RELATIONS)


def test_a_wrong_lapse_is_seen(monkeypatch):
    monkeypatch.setattr(barometer, "STANDARD_ATMOSPHERE", (2.27e-5, 5.25588))
    assert "BP-ISA-1000" in published.misses("barometer", RELATIONS)


def test_the_atmosphere_of_one_temperature_drifts_from_the_standard_one():
    one, other = (
        float(relation(2000.0))
        for relation in (
            barometer.station_pressure_from_altitude_colt_1984,
            barometer.station_pressure_from_altitude,
        )
    )
    assert one / other - 1 == pytest.approx(0.0095, abs=5e-4)  # independent calculation


@given(altitude=st.floats(-400, 5000), more=st.floats(1, 500))
def test_higher_up_the_air_is_thinner(altitude, more):
    relation = barometer.station_pressure_from_altitude
    assert relation(altitude + more) < relation(altitude)


@given(pressure=st.floats(95000, 105000), altitude=st.floats(-400, 3500))
def test_a_report_and_the_barometer_at_the_place_are_two_ways_to_say_one_thing(pressure, altitude):
    here = barometer.station_pressure_from_sea_level_pressure(pressure, altitude)
    back = barometer.sea_level_pressure_from_station_pressure(here, altitude)
    assert float(back) == pytest.approx(pressure, rel=1e-12)
    assert (float(here) < pressure) == (altitude > 0) or altitude == pytest.approx(0, abs=1e-6)


def test_shapes_follow_the_inputs():
    got = barometer.station_pressure_from_sea_level_pressure([[101000.0], [102000.0]], [0.0, 250.0, np.nan])
    assert got.shape == (2, 3)
    assert np.isnan(got[:, 2]).all()
    assert float(barometer.station_pressure_from_altitude(0)) == ATM
