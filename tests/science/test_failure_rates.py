import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import failure_rates
from brinehouse.science.failure_rates import Gamma, Prior

HOUR = 3600.0
GUESS = Prior(3e-6 / HOUR, 3e-5 / HOUR, 1e-4 / HOUR, "a guess made for this test")


@given(shape=st.floats(0.1, 500), hours=st.floats(1, 1e7))
def test_three_points_of_a_gamma_give_it_back(shape, hours):
    true = Gamma(shape, hours * HOUR)
    low, typical, high = failure_rates.quantiles(true)
    found = failure_rates.fitted(Prior(low, typical, high, "made"))
    assert found.shape == pytest.approx(shape, rel=1e-3)
    assert found.time == pytest.approx(hours * HOUR, rel=1e-3)


def test_an_exponential_belief_by_hand():  # -ln(1-p): closed form
    assert failure_rates.quantiles(Gamma(1.0, 1.0)) == pytest.approx(
        -np.log(1 - np.array([0.025, 0.5, 0.975]))
    )


@given(failures=st.integers(0, 50), hours=st.floats(0, 1e7))
def test_the_belief_grows_by_failures_and_by_hours(failures, hours):  # gamma-Poisson: (a+n)/(b+T)
    before = failure_rates.fitted(GUESS)
    after = failure_rates.updated(GUESS, failures, hours * HOUR)
    assert after.mean == pytest.approx((before.shape + failures) / (before.time + hours * HOUR))
    assert after.low < after.mean < after.high
    assert after.source == GUESS.source


def test_the_update_is_the_product_of_belief_and_poisson():
    # second way: Bayes' rule on a fine grid of rates
    before, (failures, time) = failure_rates.fitted(GUESS), (3, 60000 * HOUR)
    rate = np.linspace(1e-9, 8e-4, 400001) / HOUR
    belief = (before.shape - 1 + failures) * np.log(rate) - rate * (before.time + time)
    weight = np.exp(belief - belief.max())
    weight /= weight.sum()
    found = failure_rates.updated(GUESS, failures, time)
    assert found.mean == pytest.approx(rate @ weight, rel=1e-4)
    ends = np.interp([0.025, 0.975], np.cumsum(weight), rate)
    assert (found.low, found.high) == pytest.approx(tuple(ends), rel=1e-3)


def test_an_interval_of_another_width_is_seen(monkeypatch):
    real = failure_rates.quantiles
    monkeypatch.setattr(
        failure_rates, "quantiles", lambda belief, shares=(0.05, 0.5, 0.95): real(belief, shares)
    )
    with pytest.raises(AssertionError):
        test_the_update_is_the_product_of_belief_and_poisson()


def test_many_own_hours_outweigh_the_guess():
    found = failure_rates.updated(GUESS, 1000, 1000 / 2e-4 * HOUR)
    assert found.mean * HOUR == pytest.approx(2e-4, rel=0.02)
    assert (found.high - found.low) / found.mean == pytest.approx(2 * 1.96 / np.sqrt(1000), rel=0.02)


def test_hours_without_failure_lower_the_rate_but_never_to_none():
    none = failure_rates.updated(GUESS, 0, 0.0)
    quiet = failure_rates.updated(GUESS, 0, 50000 * HOUR)
    assert 0 < quiet.low < quiet.mean < none.mean


@pytest.mark.parametrize("figures", [(0.0, 1.0, 2.0), (2.0, 1.0, 3.0), (1.0, 2.0, 2.0), (1.0, 2.0, np.inf)])
def test_a_prior_that_does_not_rise_is_refused(figures):
    with pytest.raises(ValueError, match="must rise"):
        failure_rates.fitted(Prior(*figures, "made"))


def test_half_a_failure_and_negative_hours_are_refused():
    with pytest.raises(ValueError, match=r"failures is 0\.5"):
        failure_rates.updated(GUESS, 0.5, 1.0)
    with pytest.raises(ValueError, match="running_time is -1"):
        failure_rates.updated(GUESS, 1, -1.0)
