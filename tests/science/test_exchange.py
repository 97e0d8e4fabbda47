import numpy as np
import published
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import exchange
from brinehouse.science.constants import MMHG

RELATIONS = {
    "column number": exchange.packed_column_number,
    "column outlet": exchange.packed_column_outlet,
    "transfer coefficient": lambda temperature: exchange.transfer_coefficient(1.0, temperature),
}
PERCENT = st.floats(50, 200)


def test_every_printed_value_is_reproduced():
    assert published.misses("packed_column", RELATIONS) == []


def test_a_wrong_growth_or_a_wrong_equilibrium_is_seen(monkeypatch):
    wrong = {
        **RELATIONS,
        "transfer coefficient": lambda temperature: exchange.transfer_coefficient(1.0, temperature, 1.025),
        "column number": lambda inlet, outlet: exchange.packed_column_number(inlet, outlet, 101.0),
    }
    assert published.misses("packed_column", wrong) == ["PC-01", "PC-02", "PC-04"]


@pytest.mark.parametrize(("outlet", "number"), [(102.0, 1.10), (101.0, 1.79)])  # independent calculation
def test_the_number_that_a_column_needs(outlet, number):
    assert float(exchange.packed_column_number(106.0, outlet)) == pytest.approx(number, abs=0.005)


@given(inlet=PERCENT, number=st.floats(0, 6), equilibrium=PERCENT)
def test_a_column_brings_water_nearer_and_never_past(inlet, number, equilibrium):
    outlet = float(exchange.packed_column_outlet(inlet, number, equilibrium))
    low, high = sorted((inlet, equilibrium))
    assert low - 1e-9 <= outlet <= high + 1e-9
    if abs(inlet - equilibrium) > 1:
        assert float(exchange.packed_column_number(inlet, outlet, equilibrium)) == pytest.approx(
            number, abs=1e-9
        )


def test_a_column_cannot_carry_water_past_its_balance():
    assert np.isnan(float(exchange.packed_column_number(105.0, 99.0)))


def test_a_column_and_its_build():
    assert float(exchange.packed_column_number_from_build(2, 1.5, 0.1, 1.0)) == pytest.approx(1.7)


@given(units=st.floats(0.01, 8), ratio=st.floats(0.05, 50))
def test_a_membrane_never_does_more_than_plentiful_gas_would(units, ratio):
    with_sweep = float(exchange.contactor_effectiveness(units, ratio))
    assert 0 < with_sweep <= float(exchange.contactor_effectiveness(units)) + 1e-12
    assert with_sweep <= ratio + 1e-9  # the sweep cannot carry more than it holds


@given(units=st.floats(0.01, 8), ratio=st.floats(0.05, 50))
def test_a_membrane_agrees_with_the_balance_solved_step_by_step(units, ratio):
    # Counter-current: dc/dx = -N (c - g) and dg/dx = -(N/lambda)(c - g), with c(0) = 1 and g(1) = 0.
    slope = -units * (1 - 1 / ratio)
    decay = np.exp(slope)
    mean = (np.expm1(slope) / slope) if abs(slope) > 1e-9 else 1.0
    # c - g starts at 1 - g0 with g0 = (1 - c1)/lambda, and 1 - c1 = N (1 - g0) mean.
    gone = units * mean / (1 + units * mean / ratio)
    assert decay > 0
    assert float(exchange.contactor_effectiveness(units, ratio)) == pytest.approx(gone, rel=1e-6)


def test_the_limit_of_equal_capacities_joins_on_smoothly():
    near = exchange.contactor_effectiveness(2.0, [1 - 1e-7, 1.0, 1 + 1e-7])
    assert near == pytest.approx(2 / 3, abs=1e-6)


def test_a_membrane_under_vacuum():
    reached = exchange.vacuum_equilibrium_percent(664.0 * MMHG, 740.0 * MMHG, 10.0, 0.0)
    assert float(reached) == pytest.approx(89.6, abs=0.05)  # independent calculation
    units = -np.log(1 - 0.39)
    assert float(exchange.contactor_outlet(105.0, reached, units)) == pytest.approx(99.0, abs=0.05)


def test_no_vacuum_means_one_hundred_per_cent():
    assert float(exchange.vacuum_equilibrium_percent(98000.0, 98000.0, 20.0, 35.0)) == pytest.approx(100)
    assert float(exchange.vacuum_equilibrium_percent(98000.0, 98000.0, 20.0, 35.0, 4.0)) == pytest.approx(400)


@given(start=PERCENT, equilibrium=PERCENT, coefficient=st.floats(1e-5, 0.1))
def test_first_order_exchange_starts_where_it_starts_and_ends_in_balance(start, equilibrium, coefficient):
    assert float(exchange.approach(start, equilibrium, coefficient, 0.0)) == pytest.approx(start)
    assert float(exchange.approach(start, equilibrium, coefficient, 50 / coefficient)) == pytest.approx(
        equilibrium
    )
    third = float(exchange.approach(start, equilibrium, coefficient, 1 / coefficient))
    assert third - equilibrium == pytest.approx((start - equilibrium) * np.exp(-1), abs=1e-9)


@given(inlet=PERCENT, equilibrium=PERCENT, coefficient=st.floats(0, 0.1), flow=st.floats(1e-4, 1))
def test_a_tank_that_water_runs_through_balances(inlet, equilibrium, coefficient, flow):
    level = float(exchange.flow_through(inlet, equilibrium, coefficient, 10.0, flow))
    assert flow * (inlet - level) == pytest.approx(coefficient * 10.0 * (level - equilibrium), abs=1e-9)


def test_a_tank_without_flow_or_exchange_has_no_steady_value():
    assert np.isnan(float(exchange.flow_through(110.0, 100.0, 0.0, 10.0, 0.0)))


def test_shapes_follow_the_inputs():
    assert exchange.contactor_effectiveness([[1.0], [2.0]], [0.5, 1.0, np.inf]).shape == (2, 3)
    assert exchange.packed_column_outlet(105, 1.0).shape == ()


@pytest.mark.parametrize(
    ("gas", "number"), [("oxygen", 568), ("carbon dioxide", 668), ("nitrogen", 682), ("argon", 615)]
)
def test_schmidt_numbers_at_twenty_degrees(gas, number):
    # Wanninkhof (2014), table 1; nitrogen and argon from memory
    assert float(exchange.schmidt(gas, 20.0)) == pytest.approx(number, abs=0.6)


def test_a_wrong_power_in_a_schmidt_number_is_seen(monkeypatch):
    wrong = {**exchange.SCHMIDT, "oxygen": (1953.4, *exchange.SCHMIDT["oxygen"][1:])}
    monkeypatch.setattr(exchange, "SCHMIDT", wrong)
    assert float(exchange.schmidt("oxygen", 20.0)) != pytest.approx(568, abs=0.6)


def test_nitrogen_goes_slower_by_its_diffusivity_and_columns_say_otherwise():
    # Ferrell and Himmelblau (1967) give the square root 0.929 at 25 °C, ERDC's model 1.034, columns 1.07
    assert float(exchange.transfer_ratio("nitrogen", 25.0)) == pytest.approx(0.929, abs=0.02)
    assert exchange.NITROGEN_RATIOS == (0.929, 1.034, 1.07)
    assert pytest.approx(exchange.NITROGEN_RATIOS[2], abs=0.005) == 1.825 / 1.705  # Dawson and Marking (1986)


@given(gas=st.sampled_from(sorted(exchange.SCHMIDT)), temperature=st.floats(-2, 40))
def test_every_gas_moves_quicker_in_warm_water(gas, temperature):
    here, warmer = exchange.schmidt(gas, [temperature, temperature + 1])
    assert 0 < warmer < here
    calm = float(exchange.transfer_ratio(gas, temperature, exchange.STILL))
    moving = float(exchange.transfer_ratio(gas, temperature))
    assert abs(calm - 1) >= abs(moving - 1)


def test_a_gas_without_a_number_is_said():
    with pytest.raises(ValueError, match="'helium' has no Schmidt number here; write one of oxygen"):
        exchange.schmidt("helium", 20.0)


def test_stirring_sixteen_times_as_hard_doubles_the_transfer():
    calm = exchange.surface_velocity(1e-5, 1e-6, 568.0)
    assert float(exchange.surface_velocity(16e-5, 1e-6, 568.0) / calm) == pytest.approx(2.0)
    # a transfer velocity of ponds and quiet tanks, 1 to 10 cm/h: common practice, no source
    assert 0.01 < float(calm) * 3600 < 0.15


def test_a_surface_and_its_tank():
    assert float(exchange.surface_coefficient(2e-5, 100.0, 400.0)) == pytest.approx(5e-6)
