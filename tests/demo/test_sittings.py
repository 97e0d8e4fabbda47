"""When and where the crew hangs its meters."""

import numpy as np
import pytest

from brinehouse.demo import sittings

HOURS, TEST = 24.0 * 90.0, 24.0 * 86.0


def plans(seed, rested=()):
    return sittings.plans(np.random.default_rng(seed), HOURS, 6.67, TEST, list(rested))


@pytest.mark.parametrize("seed", range(8))
def test_there_is_a_visit_every_one_to_three_days(seed):
    hours = np.array([plan.hour for plan in plans(seed)])
    assert np.all(np.diff(hours) > 0.0)
    assert np.diff(hours).max() < 4.2 * 24.0
    assert 40 <= hours.size <= 80


@pytest.mark.parametrize("seed", range(8))
def test_a_rest_without_a_visit_gets_one(seed):
    rest = (TEST - 24.0 * 20.0 + 14.0, TEST - 24.0 * 20.0 + 26.0)
    assert any(rest[0] < plan.hour < rest[1] for plan in plans(seed, [rest]))


def test_the_start_on_purpose_is_read_before_and_after_at_the_tap():
    near = [plan for plan in plans(1) if abs(plan.hour - TEST) < 6.0]
    assert [round((plan.hour - TEST) * 60.0) for plan in near] == [-45, 10, 240]
    assert [plan.pairs[0][0] for plan in near] == ["m-supply", "m-supply", "mangrove"]


def test_every_third_visit_swaps_the_meters():
    swapped = [plan for plan in plans(2) if len(plan.pairs) == 2 and plan.pairs[0] == plan.pairs[1][::-1]]
    assert len(swapped) >= 12
    assert plans(2)[-1] in swapped


def test_every_place_of_a_visit_has_a_spot():
    assert {
        place for seed in range(8) for plan in plans(seed) for pair in plan.pairs for place in pair
    } <= set(sittings.SPOTS)
