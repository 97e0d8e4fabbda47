"""Weather: it wanders, comes home, and is thinner on the moor."""

import numpy as np
import pytest

from brinehouse.demo import weather

HOURS = np.arange(0.0, 24.0 * 90.0, 1.0 / 6.0)
CLOCK = np.mod(HOURS + 6.0, 24.0)


def test_the_barometer_moves_with_the_weather_and_stays_where_weather_stays():
    sea = weather.sea_level_pressure(np.random.default_rng(1), HOURS)
    assert 725.0 < sea.min() < 755.0 < 768.0 < sea.max() < 795.0
    assert np.abs(np.diff(sea)).max() < 1.5


def test_the_air_on_the_moor_is_some_37_mmhg_thinner():
    # 760 (1 - 2.25577e-5 x 412)^5.25588 = 723.6 mmHg, ICAO standard atmosphere, from memory
    station = weather.station_pressure(np.array([760.0]), np.array([12.0]))
    assert station[0] == pytest.approx(723.6, abs=1.0)


def test_a_cold_day_makes_the_air_column_heavier():
    cold, warm = weather.station_pressure(np.array([760.0, 760.0]), np.array([-10.0, 20.0]))
    assert cold < warm


def test_nights_are_dark_and_noons_are_light():
    light, lamps = weather.light(np.random.default_rng(2), HOURS, CLOCK)
    assert light[(CLOCK > 22.0) | (CLOCK < 4.0)].max() == 0.0
    assert light[np.abs(CLOCK - 12.0) < 0.2].min() > 0.6
    assert 7.0 < lamps.min() <= lamps.max() < 12.0


def test_a_walk_keeps_its_size():
    walk = weather.wander(np.random.default_rng(3), HOURS, size=2.0, memory=20.0)
    assert walk.std() == pytest.approx(2.0, rel=0.25)
