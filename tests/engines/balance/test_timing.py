"""How long water takes to settle, against closed forms."""

import math

import numpy as np
import pytest

from brinehouse.engines.balance import timing

FLOW = 10.0 / 3600.0
VOLUMES = np.array([20.0, 4.0, 1.0])
RING = FLOW * np.array([[-1.0, 1.0, 0.0], [1.0, -1.0, 0.0], [0.0, 0.0, 0.0]])


def losing(rate):
    return RING - np.diag(VOLUMES * rate)


def test_washout_of_one_vessel_takes_three_time_constants():
    hours = timing.settling(losing(1.0 / 86400.0), VOLUMES, np.array([0.0, 0.0, 1.0]))
    assert hours[2] == pytest.approx(24.0 * math.log(20.0), rel=0.04)


def test_two_tanks_even_out_with_the_eigenvalue_of_the_closed_form():
    """Two mixed tanks in a ring even out with rate Q (1/V1 + 1/V2)."""
    away = np.array([4.0, -20.0, 0.0])  # nothing in sum: only the fast mode
    hours = timing.settling(losing(1e-12), VOLUMES, away)
    rate = FLOW * (1.0 / 20.0 + 1.0 / 4.0)
    assert hours[1] == pytest.approx(math.log(20.0) / rate / 3600.0, rel=0.05)


def test_what_nothing_takes_away_never_settles():
    assert np.isinf(timing.settling(losing(0.0), VOLUMES, np.ones(3))).all()


def test_what_does_not_move_has_settled():
    hours = timing.settling(losing(1e-5), VOLUMES, np.array([0.0, 0.0, 1.0]))
    assert hours[:2].tolist() == [0.0, 0.0]
