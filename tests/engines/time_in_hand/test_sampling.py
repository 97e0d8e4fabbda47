"""Samples of biomass, exchange and volumes."""

import numpy as np
import pytest

from brinehouse.engines.time_in_hand import question, sampling


def test_a_part_of_the_samples_is_the_part_itself_wherever_it_is_worked():
    whole = sampling.factors({}, 0, 200)
    parts = np.concatenate([sampling.factors({}, at, at + 8) for at in range(0, 200, 8)])
    assert np.array_equal(whole, parts)


def test_samples_have_the_middle_and_the_spread_that_is_stated():
    told = {
        "biomass": question.Doubt(name="biomass", label="", u=0.3, source=""),
        "volume": question.Doubt(name="volume", label="", u=0.1, source=""),
    }
    found = sampling.factors(told, 0, 2000)
    assert np.median(found, axis=0) == pytest.approx([1.0, 1.0, 1.0], abs=0.01)
    assert found[:, 0].std() / found[:, 0].mean() == pytest.approx(0.3, abs=0.01)
    assert found[:, 2].std() == pytest.approx(0.1, abs=0.003)
    assert (found > 0.0).all()


def test_the_three_are_independent_of_one_another():
    told = np.corrcoef(np.log(sampling.factors({}, 0, 200)).T)
    assert np.abs(told - np.eye(3)).max() < 0.05


def test_an_interval_holds_the_middle_and_is_open_where_many_samples_never_cross():
    found = np.full((200, 1, 2), 5.0) + np.linspace(-1.0, 1.0, 200)[:, None, None]
    found[:20, 0, 1] = np.inf
    low, high = sampling.spans(found, np.array([[5.0, 5.0]]))
    assert low[0, 0] == pytest.approx(4.05, abs=0.02)
    assert high[0, 0] == pytest.approx(5.95, abs=0.02)
    assert np.isinf(high[0, 1])


def test_an_interval_never_leaves_out_the_hours_it_belongs_to():
    found = np.full((50, 1, 1), 5.0)
    low, high = sampling.spans(found, np.array([[7.0]]))
    assert (low[0, 0], high[0, 0]) == (5.0, 7.0)
