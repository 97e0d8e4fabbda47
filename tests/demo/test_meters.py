"""Meters settle, lean and reckon as meters do."""

import numpy as np
import pytest

from brinehouse.demo import meters, water


def meter(**more):
    given = {"id": "m", "bias": np.full(3, 1.2), "gain": 1.0, "barometer": 0.0, "speed": 1.0} | more
    return meters.GasMeter(**given)


@pytest.mark.parametrize("kind", ["one-exponential", "two-exponential", "three-exponential"])
def test_a_probe_starts_where_it_was_and_ends_where_the_water_is(kind):
    way = meters.approach(kind, np.array([0.0, 5.0, 25.0, 1000.0]), 100.0, 104.0)
    assert way[0] == pytest.approx(100.0)
    assert way[-1] == pytest.approx(104.0)
    assert np.all(np.diff(way) > 0.0)


def test_only_the_slow_probe_is_far_from_rest_after_half_an_hour():
    left = {
        kind: 104.0 - float(meters.approach(kind, np.array([28.0]), 100.0, 104.0)[0])
        for kind in ("two-exponential", "three-exponential")
    }
    assert left["two-exponential"] < 0.1 < 0.25 < left["three-exponential"]


def test_a_meter_told_the_right_salinity_shows_the_true_oxygen():
    assert meter().oxygen(6.4, 25.4, 34.0) == pytest.approx(6.4)
    assert meter(salinity=0.0).oxygen(6.4, 25.4, 34.0) > 7.5


def test_its_nitrogen_is_what_the_other_figures_leave_over():
    free = float(water.dry(725.0, 25.4, 34.0))
    oxygen = float(water.oxygen_mg(0.2095 * free, 25.4, 34.0))
    assert meter().nitrogen(100.0, oxygen, 25.4, 725.0) == pytest.approx(100.0, abs=0.1)
    assert meter().nitrogen(103.0, oxygen, 25.4, 725.0) == pytest.approx(103.9, abs=0.2)


def test_the_hand_meter_left_at_fresh_water_shows_a_fifth_too_much():
    # 1.2195 at S 35, 25.5 °C: 8.187 over 6.714 mg/L, Benson and Krause (1984); an independent calculation
    assert meters.hand_oxygen(6.714, 25.5, 35.0, 0.0) / 6.714 == pytest.approx(1.2195, abs=0.01)
