"""Pipes, fittings, pumps and suctions against print."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as some

from brinehouse.science import hydraulics

FOOT, GPM, PSI = 0.3048, 6.30902e-5, 6894.757


def test_swamee_and_jain_give_what_the_manual_s_form_gives():
    # EPANET 2.2 user manual ch. 12, computed from its form
    assert float(hydraulics.friction_factor(1e5, 1e-4)) == pytest.approx(0.01845244530757, abs=1e-9)


def test_colebrook_is_met_to_the_last_digit():
    # Colebrook 1939, computed by fluids 1.3.1 and an independent calculation
    assert hydraulics.friction_factor_colebrook(1e5, 1e-4) == pytest.approx(0.01851386607747, abs=1e-9)


def test_the_quick_form_stays_within_a_few_hundredths_of_colebrook():
    for re in (5e3, 1e4, 1e5, 1e6):
        for rough in (1e-6, 1e-4, 1e-3, 1e-2):
            quick = float(hydraulics.friction_factor(re, rough))
            assert quick == pytest.approx(hydraulics.friction_factor_colebrook(re, rough), rel=0.035)


def test_a_smooth_pipe_of_the_handbook():
    # Crane TP-410 example 7.1 as reproduced in the documentation of fluids: Re 100600, f 0.0179
    re = float(hydraulics.reynolds(200e-3 / 60, 0.05, 8.437e-7))
    assert re == pytest.approx(100600, abs=600)
    assert float(hydraulics.friction_factor(re, 0.0)) == pytest.approx(0.0179, abs=3e-4)


def test_a_pumped_line_of_the_handbook():
    # Crane TP-410 example 7.15: 421 ft for 100 gpm through 500 ft of 3 inch schedule 40, 400 ft static
    # (30 + 100 + 70 + 300 ft, a lift check behind a 2.5 inch reducer), fittings by Crane's rules in fluids
    from fluids import fittings

    bore, narrow, flow = 3.068 * 0.0254, 2.469 * 0.0254, 100 * GPM
    turbulent = 0.0175  # friction factor of complete turbulence in 3 inch
    loss = (
        fittings.K_lift_check_valve_Crane(D1=narrow, D2=bore, angled=False) + (4 * 30 + 8) * turbulent + 1.0
    )
    viscosity = 0.95e-3 / (62.298 * 16.018463)
    lost = hydraulics.pipe_loss(flow, 500 * FOOT, bore, 0.0022 * 0.0254, viscosity)
    lost = lost + hydraulics.minor_loss(flow, bore, loss)
    assert 400 + float(lost) / FOOT == pytest.approx(421, abs=1.0)


def test_npsh_of_the_handbook():
    # Crane TP-410 example 7.32: 5 psig, Pv 0.256 psi, 62.364 lb/ft3, 25 ft of lift, 6 ft lost -> 13.9 ft
    got = hydraulics.npsh_available((5 + 14.696) * PSI, 0.256 * PSI, 62.364 * 16.018463, -25 * FOOT, 6 * FOOT)
    assert float(got) / FOOT == pytest.approx(13.9, abs=0.05)


def test_a_lift_counted_as_a_flooded_suction_would_be_seen():
    wrong = hydraulics.npsh_available(
        (5 + 14.696) * PSI, 0.256 * PSI, 62.364 * 16.018463, 25 * FOOT, 6 * FOOT
    )
    assert float(wrong) / FOOT != pytest.approx(13.9, abs=1.0)


def test_affinity_of_the_handbook():
    # Crane TP-410 example 7.33: 400 gpm, 126 ft, 17.5 hp from 3500 to 1700 a minute
    got = hydraulics.scaled_by_speed(400.0, 126.0, 17.5, 1700 / 3500)
    assert got == pytest.approx((194.286, 29.7257, 2.00531), abs=1e-3)


def test_the_town_rule_is_there_for_published_networks():
    # WNTR documentation, hydraulics.rst: 10.667, 1.852, 4.871; value computed
    assert float(hydraulics.hazen_williams_loss(0.05, 100.0, 0.2, 130.0)) == pytest.approx(
        1.2829051418, abs=1e-6
    )


def test_one_point_makes_a_parabola_and_three_a_power():
    # EPANET 2.2 user manual ch. 3: shut-off 4/3 of the head, no head at twice the flow
    one = hydraulics.pump_curve([(0.02, 9.0)])
    assert float(hydraulics.pump_head(one, 0.0)) == pytest.approx(12.0)
    assert float(hydraulics.pump_head(one, 0.04)) == pytest.approx(0.0, abs=1e-12)
    points = [(0.0, 14.0), (24 / 3600, 11.0), (45 / 3600, 5.5)]
    three = hydraulics.pump_curve(points)
    for flow, head in points:
        assert float(hydraulics.pump_head(three, flow)) == pytest.approx(head)


def test_many_points_are_met_and_joined_by_straight_lines():
    points = [(0.0, 14.0), (0.01, 13.0), (0.02, 10.0), (0.03, 4.0)]
    curve = hydraulics.pump_curve(points)
    for flow, head in points:
        assert float(hydraulics.pump_head(curve, flow)) == pytest.approx(head)
    assert float(hydraulics.pump_head(curve, 0.015)) == pytest.approx(11.5)


@pytest.mark.parametrize(
    "points",
    [[], [(0.0, 5.0)], [(0.01, 5.0), (0.01, 4.0)], [(0.0, 5.0), (0.01, 6.0)], [(-0.1, 5.0), (0.1, 4.0)]],
)
def test_a_curve_that_cannot_be_is_refused(points):
    with pytest.raises(ValueError, match=r"curve|point"):
        hydraulics.pump_curve(points)


@given(some.floats(10.0, 1e7), some.floats(0.0, 0.05))
def test_the_friction_factor_s_slope_is_that_of_its_own_curve(re, rough):
    if min(abs(re - edge) / edge for edge in (2000.0, 4000.0, 8000.0)) < 1e-3:
        return
    step = 1e-6
    _, slope = hydraulics.friction_with_slope(re, rough)
    up = float(hydraulics.friction_factor(re * math.exp(step), rough))
    down = float(hydraulics.friction_factor(re * math.exp(-step), rough))
    assert float(slope) == pytest.approx((up - down) / (2 * step), rel=1e-4, abs=1e-9)


@given(some.floats(0.0, 0.05))
def test_the_three_laws_of_friction_meet(rough):
    for edge in (2000.0, 4000.0):
        low, high = (float(hydraulics.friction_factor(edge * side, rough)) for side in (1 - 1e-9, 1 + 1e-9))
        assert low == pytest.approx(high, rel=1e-3)


@given(some.floats(-0.1, 0.1), some.floats(0.01, 100.0), some.floats(0.02, 0.4))
def test_turning_the_flow_turns_the_loss(flow, length, bore):
    one = float(hydraulics.pipe_loss(flow, length, bore, 1e-5, 1e-6))
    assert one == pytest.approx(-float(hydraulics.pipe_loss(-flow, length, bore, 1e-5, 1e-6)))
