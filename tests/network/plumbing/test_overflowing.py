"""Water over crests: by published forms, through the three regimes of a standpipe and back."""

import math

import pytest

from brinehouse.facility import model
from brinehouse.network.plumbing import overflowing

PIPE = model.Overflow(kind="standpipe", size=0.11)
M3H = 1 / 3600


def heads(overflow, flows, **more):
    return [overflowing.standing(overflow, q * M3H, **more).head for q in flows]


def test_a_weir_follows_the_three_halves_law():
    low, high = heads(model.Overflow(kind="weir", size=0.6), (10, 80))
    assert high / low == pytest.approx(8 ** (2 / 3))


@pytest.mark.parametrize("flow", [20, 40, 60])
def test_a_weir_agrees_with_the_rectangular_form_of_the_textbooks(flow):
    # Kindsvater-Carter: Q = 2/3 Cd sqrt(2g) b h^1.5, Cd = 0.602 + 0.075 h/P (fluids' documentation), P = 1 m
    head = heads(model.Overflow(kind="weir", size=0.6), [flow])[0]
    back = 2 / 3 * (0.602 + 0.075 * head) * math.sqrt(2 * 9.80665) * 0.6 * head**1.5
    assert back == pytest.approx(flow * M3H, rel=0.04)


def test_a_right_angled_notch_agrees_with_the_common_form():
    # Q = 1.37 h^2.5 for 90° at Cd 0.58 (from memory of the ISO 1438 form)
    head = heads(model.Overflow(kind="notch", size=90.0), [20])[0]
    assert 1.37 * head**2.5 == pytest.approx(20 * M3H, rel=0.005)


def test_a_standpipe_runs_as_a_weir_then_drowns_then_sucks_then_chokes():
    told = [overflowing.standing(PIPE, q * M3H, drop=2.0).regime for q in (3, 30, 300)]
    assert told == ["weir", "siphon", "choked"]
    small = model.Overflow(kind="standpipe", size=0.05)
    assert overflowing.standing(small, 8 * M3H).regime == "hole"


def test_a_siphon_once_begun_goes_on_at_a_flow_at_which_it_would_not_begin():
    assert overflowing.standing(PIPE, 6 * M3H, drop=2.0).regime == "weir"
    assert overflowing.standing(PIPE, 6 * M3H, drop=2.0, siphoning=True).regime == "siphon"


def test_without_a_known_drop_no_siphon_is_told():
    assert overflowing.standing(PIPE, 30 * M3H).regime in ("weir", "hole")


def test_a_choked_pipe_lets_the_water_rise_with_the_flow():
    low, high = (overflowing.standing(PIPE, q * M3H, drop=1.0).head for q in (150, 200))
    assert high > low > 0


@pytest.mark.parametrize("overflow", [PIPE, model.Overflow(kind="weir", size=1.0)])
def test_nothing_over_a_crest_at_no_flow_and_bounds_hold_the_head(overflow):
    assert overflowing.standing(overflow, 0.0).head == 0.0
    for flow in (1, 5, 20, 50, 120):
        found = overflowing.standing(overflow, flow * M3H, drop=1.5)
        assert found.low <= found.head <= found.high
