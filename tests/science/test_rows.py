import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import gases, rows


def add(left, right, out, spare):
    np.multiply(left, 10.0, out=spare)
    np.add(spare, right, out=out)


@pytest.mark.parametrize("count", [0, 1, 6, 7, 8, 23])
def test_blocks_give_what_the_whole_gives(count):
    left = np.arange(count, dtype=float)
    assert rows.run(add, left, 0.5, spare=1, size=7) == pytest.approx(10 * left + 0.5)


def test_shapes_broadcast_as_numpy_has_it():
    column, row = np.arange(5.0)[:, None], np.arange(3)
    got = rows.run(add, column, row, spare=1, size=4)
    assert got.shape == (5, 3)
    assert got == pytest.approx(10 * column + row)


def test_a_scalar_in_is_a_scalar_out():
    got = rows.run(add, 2, 1, spare=1)
    assert got.shape == ()
    assert float(got) == 21.0


def test_strided_transposed_and_read_only_columns_are_welcome():
    table = np.arange(24.0).reshape(4, 6)
    table.flags.writeable = False
    want = 10 * table.T[::2] + 1
    assert rows.run(add, table.T[::2], 1.0, spare=1, size=5) == pytest.approx(want)
    assert table[1, 1] == 7.0


def test_columns_that_do_not_match_are_refused():
    with pytest.raises(ValueError, match="broadcast"):
        rows.run(add, np.zeros(3), np.zeros(4), spare=1)


def test_any_function_can_be_run_in_blocks():
    temperature = np.linspace(0, 30, 101)
    whole = gases.oxygen_partial_pressure(200.0, temperature, 35.0)
    assert (
        rows.in_blocks(gases.oxygen_partial_pressure, 200.0, temperature, 35.0, size=16).tolist()
        == whole.tolist()
    )


@given(
    st.lists(st.floats(-5, 5), min_size=2, max_size=7),
    st.lists(st.floats(-2, 2), min_size=1, max_size=9),
)
def test_horner_agrees_with_numpy(coefficients, values):
    variable = np.array(values)
    got = rows.polynomial(variable, coefficients, np.empty_like(variable))
    assert got == pytest.approx(np.polynomial.polynomial.polyval(variable, coefficients), abs=1e-9)


def test_a_formula_that_skips_its_last_block_is_caught():
    def lazy(values, out):
        out[...] = values if values.size == 4 else 0.0

    values = np.arange(1.0, 11.0)
    assert rows.run(lazy, values, size=4).tolist() != values.tolist()


def test_several_columns_come_back_as_if_called_at_once():
    left, right = np.arange(1.0, 12.0), np.array([[2.0], [3.0]])
    quotient, rest = rows.many(np.divmod, left, right, results=2, size=4)
    assert quotient.tolist() == (left // right).tolist()
    assert rest.tolist() == (left % right).tolist()
    assert [column.shape for column in rows.many(np.divmod, 7.0, 2.0, results=2)] == [(), ()]
    assert [column.shape for column in rows.many(np.divmod, [], 2.0, results=2)] == [(0,), (0,)]


def test_a_column_too_few_is_refused():
    with pytest.raises(ValueError, match="shorter"):
        rows.many(np.divmod, [7.0], 2.0, results=3)
