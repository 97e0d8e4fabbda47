import math

import numpy as np
import pytest

from brinehouse.science import statistics_profile

T = np.array([0.0, 1, 2, 4, 8])
Y = np.array([100.0, 102, 103.2, 104.6, 105.1])


def test_the_shape_goes_from_a_straight_line_to_a_step():
    profile = statistics_profile.Profile(T, Y, 8.0, None)
    line, nearly, step = profile.shape(np.array([0.0, 1e-9, math.inf]), T)
    assert line == pytest.approx(T / 8)
    assert nearly == pytest.approx(T / 8, rel=1e-6)
    assert step == pytest.approx([0, 1, 1, 1, 1])


@pytest.mark.parametrize("start", [None, 100.0])
def test_the_linear_part_is_ordinary_least_squares(start):
    profile = statistics_profile.Profile(T, Y, 8.0, start)
    first, change, rss, cover = (part[0] for part in profile.project(np.array([2.5])))
    shape = profile.shape(np.array([2.5]), T)[0]
    X = shape[:, None] if start is not None else np.column_stack([np.ones(5), shape])
    by_hand, left, *_ = np.linalg.lstsq(X, Y - (start or 0.0), rcond=None)
    assert change == pytest.approx(by_hand[-1])
    assert rss == pytest.approx(left[0])
    inverse = np.linalg.inv(X.T @ X)
    assert cover[-inverse.shape[0] :, -inverse.shape[0] :] == pytest.approx(inverse)
    assert first == pytest.approx(by_hand[0] if start is None else start)


def test_the_jacobian_is_the_slope_of_the_curve():
    profile = statistics_profile.Profile(T, Y, 8.0, None)

    def curve(plateau, start, steep):
        return plateau + (start - plateau) * np.exp(-steep * T / 8)

    k = 2.5
    first, change, _, _ = (part[0] for part in profile.project(np.array([k])))
    at = np.array([first + change / -math.expm1(-k), first, k])
    for column in range(3):
        step = np.zeros(3)
        step[column] = 1e-5
        slope = (curve(*(at + step)) - curve(*(at - step))) / 2e-5
        assert profile.jacobian(k)[:, column] == pytest.approx(slope, abs=1e-6)


def test_two_valleys_do_not_trap_the_search():
    rng = np.random.default_rng(5)
    t = np.sort(rng.uniform(0, 50, 12))
    for _ in range(30):
        y = rng.normal(0, 1, 12) + np.exp(-t / rng.uniform(0.5, 40))
        profile = statistics_profile.Profile(t - t[0], y, float(np.ptp(t)), None)
        every = np.concatenate(([0.0], np.geomspace(1e-4, profile.grid[-1], 20000), [math.inf]))
        assert profile.rss <= profile.project(every)[2].min() * (1 + 1e-6)
