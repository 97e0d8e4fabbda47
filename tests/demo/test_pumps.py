"""Which pumps run: three of four, by turns of a day and a half, whatever the light does."""

import itertools

import numpy as np
import pytest

from brinehouse.demo import pumps

HOURS = 24.0 * 90.0


def turns(seed, pump="P-203"):
    return pumps.turns(np.random.default_rng(seed), HOURS, 6.67, pump)


@pytest.mark.parametrize("seed", range(12))
def test_three_of_four_pumps_run_at_any_time(seed):
    changes, _ = turns(seed)
    at = np.linspace(0.0, HOURS, 5000)
    assert np.all(sum(pumps.running(changes, name, at) for name in pumps.RETURNS) == 3.0)
    assert all(a.pump != b.pump and a.hour < b.hour for a, b in itertools.pairwise(changes))


@pytest.mark.parametrize("seed", range(12))
def test_the_pump_in_question_is_in_and_out_by_day_and_by_night(seed):
    changes, _ = turns(seed)
    at = np.arange(0.0, HOURS, 0.5)
    on = pumps.running(changes, "P-203", at)
    day = (np.abs(np.mod(at + 6.67, 24.0) - 12.5) < 4.5).astype(float)
    assert abs(np.corrcoef(on, day)[0, 1]) < 0.15
    assert 0.6 < on.mean() < 0.88


@pytest.mark.parametrize("seed", range(12))
def test_it_is_started_on_purpose_once_and_runs_through_the_last_night(seed):
    changes, test = turns(seed)
    assert any(change.why == "P-203 started on purpose" and change.hour == test for change in changes)
    assert pumps.running(changes, "P-203", np.array([test - 0.5, test + 0.5])).tolist() == [0.0, 1.0]
    assert pumps.running(changes, "P-203", np.linspace(HOURS - 12.0, HOURS, 50)).min() == 1.0
    assert (test + 6.67) % 24.0 == pytest.approx(10.0)


def test_rests_are_where_it_does_not_run():
    changes, _ = turns(3)
    rests = pumps.rests(changes, "P-203", HOURS)
    middle = np.array([(a + b) / 2.0 for a, b in rests])
    assert pumps.running(changes, "P-203", middle).max() == 0.0
    assert len(rests) > 8
