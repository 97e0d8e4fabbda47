"""Limits along one step, from values and slopes at its ends."""

import math

import numpy as np
import pytest
from tests.network.transients import uncompiled

crossings = uncompiled.load().crossings
SIZE, START = 100.0, 1000.0


def checked(before, after, *, margin=math.inf, crossed=math.inf):
    """One limit over a step from ``START``: (crossed, margin, when)."""
    out = [np.array([crossed]), np.array([margin]), np.array([0.0])]
    crossings.check(np.array([before]), np.array([after]), SIZE, START, *out)
    return tuple(float(one[0]) for one in out)


def along(curve, slope):
    """Ends of a curve in seconds since the step began."""
    return (curve(0.0), slope(0.0)), (curve(SIZE), slope(SIZE))


def test_a_line_is_crossed_where_it_meets_nothing():
    assert checked((3.0, -0.04), (-1.0, -0.04)) == pytest.approx((1075.0, -1.0, 1100.0))


def test_a_limit_that_is_not_met_is_told_by_how_much():
    assert checked((3.0, -0.02), (1.0, -0.02)) == pytest.approx((math.inf, 1.0, 1100.0))


def test_a_curve_that_grazes_and_turns_back_within_a_step_is_seen():
    crossed, margin, when = checked(
        *along(lambda t: (t - 40.0) ** 2 / 1000.0 - 0.1, lambda t: (t - 40.0) / 500.0)
    )
    assert crossed == pytest.approx(1030.0)
    assert (margin, when) == pytest.approx((-0.1, 1040.0))


def test_a_curve_that_only_comes_near_within_a_step_is_not_crossed_but_told():
    crossed, margin, when = checked(
        *along(lambda t: (t - 40.0) ** 2 / 1000.0 + 0.1, lambda t: (t - 40.0) / 500.0)
    )
    assert crossed == math.inf
    assert (margin, when) == pytest.approx((0.1, 1040.0))


def test_the_first_of_two_crossings_counts_and_a_later_step_does_not_move_it():
    assert checked((1.0, -0.03), (-1.0, -0.01), crossed=77.0)[0] == 77.0
    cubic = np.polynomial.Polynomial.fromroots([20.0, 60.0, 90.0]) * -1e-4
    found = checked(*along(cubic, cubic.deriv()))
    assert found[0] == pytest.approx(1020.0)


def test_a_margin_met_before_is_kept():
    assert checked((3.0, -0.02), (1.0, -0.02), margin=0.5) == (math.inf, 0.5, 0.0)


def test_what_is_not_a_number_crosses_nothing():
    nan = math.nan
    assert checked((nan, nan), (nan, nan)) == (math.inf, math.inf, 0.0)


def test_a_limit_beyond_at_the_start_is_crossed_at_once():
    out = [np.full(3, 9.0) for _ in range(3)]
    crossings.begin(np.array([[-0.5, 1.0], [0.0, 0.0], [0.5, -1.0]]), *out)
    np.testing.assert_array_equal(out[0], [0.0, 0.0, math.inf])
    np.testing.assert_array_equal(out[1], [-0.5, 0.0, 0.5])
