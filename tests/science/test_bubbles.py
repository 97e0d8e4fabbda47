import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import bubbles, excess, gases, seawater

AIR = 101325.0


@pytest.mark.parametrize(("depth", "rise"), [(0.5, 4.95), (1.0, 9.90), (2.0, 19.8)])
def test_air_in_balance_at_depth_lifts_total_gas(depth, rise):  # independent calculation, salinity 35
    vapour = gases.vapour_pressure(25.5, 35.0)
    total = vapour + sum(
        bubbles.bubble_pressure(share, AIR, depth, 25.5, 35.0) for share in (0.20946, 0.78084, 0.0097)
    )
    assert float(100 * (total / AIR - 1)) == pytest.approx(rise, abs=0.01)
    known = excess.bubble_rise(depth, AIR, 25.5, 35.0)
    oxygen = bubbles.bubble_pressure(0.20946, AIR, depth, 25.5, 35.0)
    at_surface = bubbles.bubble_pressure(0.20946, AIR, 0.0, 25.5, 35.0)
    assert float(100 * (oxygen / at_surface - 1)) == pytest.approx(float(known.oxygen), rel=1e-12)


def test_water_weighed_as_if_it_were_fresh_is_seen(monkeypatch):
    monkeypatch.setattr(bubbles.seawater, "weight_per_metre", lambda t, s: np.asarray(9780.0))
    with pytest.raises(AssertionError):
        test_air_in_balance_at_depth_lifts_total_gas(1.0, 9.90)


@given(units=st.floats(0, 20), ratio=st.floats(0.01, 100))
def test_bubbles_never_give_more_than_they_hold(units, ratio):
    reached = float(bubbles.bubble_effectiveness(units, ratio))
    assert 0 <= reached <= ratio / (1 + ratio) + 1e-12
    assert reached <= float(bubbles.bubble_effectiveness(units)) + 1e-12


@given(units=st.floats(0.01, 5), ratio=st.floats(0.05, 50))
def test_bubbles_agree_with_the_balance_taken_in_small_steps(units, ratio):
    # dc/dx = -N (c - g), dg/dx = (N/lambda)(c - g); c(0) = 1, g(0) = 0, exact for the difference
    step = np.exp(-units * (1 + 1 / ratio))
    water = (1 + step * ratio) / (1 + ratio)
    assert float(bubbles.bubble_effectiveness(units, ratio)) == pytest.approx(1 - water, rel=1e-9)


def test_what_bubbles_carry_beside_what_water_takes():
    # 1 L of air in 1 L of water at 20 °C: oxygen in air over oxygen in water is near 37 in seawater
    solubility = gases.oxygen_at_saturation(20.0, 35.0) / (
        0.20946 * (AIR - gases.vapour_pressure(20.0, 35.0))
    )
    moles = AIR * 1e-3 / (8.314462618 * 293.15)
    kilograms = seawater.density(20.0, 35.0) * 1e-3
    ratio = float(bubbles.capacity_ratio(moles, AIR, kilograms, solubility))
    # Henry's constant of oxygen in seawater at 20 °C, dimensionless, near 37 (from memory)
    assert ratio == pytest.approx(37, rel=0.05)


def test_a_dissolver_cannot_give_more_gas_than_it_is_fed():
    plenty = bubbles.pressurised_outlet(200.0, 3000.0, 0.5, 10.0, 0.02)
    scarce = bubbles.pressurised_outlet(200.0, 3000.0, 0.5, 10.0, 0.005)
    assert float(plenty.outlet) == pytest.approx(1600.0)
    assert float(scarce.lost) == 0.0
    assert float(scarce.outlet) == pytest.approx(200.0 + 500.0)


@given(
    inlet=st.floats(0, 5000), balance=st.floats(0, 5000), share=st.floats(0, 1),
    flow=st.floats(0.1, 100), supply=st.floats(0, 1),
)  # fmt: skip
def test_no_gas_is_made_or_lost_on_the_way(inlet, balance, share, flow, supply):
    made = bubbles.pressurised_outlet(inlet, balance, share, flow, supply)
    assert float(made.taken + made.lost) == pytest.approx(supply, abs=1e-12)
    assert flow * (float(made.outlet) - inlet) * 1e-6 == pytest.approx(float(made.taken), abs=1e-9)
    low, high = sorted((inlet, balance))
    assert low - 1e-6 <= float(made.outlet) <= high + 1e-6


def test_a_vessel_at_two_atmospheres_of_oxygen():
    held = gases.oxygen_concentration(2 * AIR - gases.vapour_pressure(20.0, 35.0), 20.0, 35.0)
    # near ten times what air gives: twice the pressure, nearly five times the share
    assert float(held / gases.oxygen_at_saturation(20.0, 35.0)) == pytest.approx(2 / 0.20946, rel=0.02)
