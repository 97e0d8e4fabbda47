import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import chains


def solved(rates):
    """Shares by the ordinary linear solve, as a second way."""
    matrix = np.array(rates, dtype=float)
    np.fill_diagonal(matrix, 0.0)
    matrix -= np.diag(matrix.sum(axis=1))
    square = matrix.T.copy()
    square[-1] = 1.0
    return np.linalg.solve(square, np.eye(len(square))[-1])


@given(st.lists(st.floats(1e-3, 1e3), min_size=12, max_size=12))
def test_the_steady_state_is_that_of_the_ordinary_solve(values):
    rates = np.zeros((4, 4))
    rates[~np.eye(4, dtype=bool)] = values
    assert chains.steady_state(rates) == pytest.approx(solved(rates), rel=1e-7)


def test_a_state_that_is_never_left_is_refused():
    with pytest.raises(ValueError, match="never left"):
        chains.steady_state([[0.0, 1.0], [0.0, 0.0]])


def test_a_chain_that_is_walked_from_its_start_leaves_out_what_is_never_reached():
    found = chains.long_run(0, lambda n: {1: 2.0} if n == 0 else {0: 6.0}, lambda n: n == 1)
    assert found.unavailability == pytest.approx(0.25)  # closed form: 2/(2+6)
    assert found.failures_per_year == pytest.approx(1.5 * chains.YEAR)  # 0.75 of the time, at 2 a second
    assert found.time_to_first == pytest.approx(0.5)


def test_what_is_never_lost_has_no_time_to_its_loss():
    found = chains.long_run(0, lambda n: {1 - n: 1.0}, lambda n: n == 2)
    assert found == (0.0, 0.0, float("inf"), 0.0)


def test_shares_read_along_the_wrong_axis_are_seen(monkeypatch):
    real = chains.steady_state
    monkeypatch.setattr(chains, "steady_state", lambda rates: real(np.transpose(rates)))
    with pytest.raises(AssertionError):
        test_a_chain_that_is_walked_from_its_start_leaves_out_what_is_never_reached()
