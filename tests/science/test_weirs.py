"""Crests against worked values, and each head turned round to its flow."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as some

from brinehouse.science import weirs


def test_a_suppressed_weir_is_kindsvater_and_carter_s():
    # Kindsvater and Carter 1957 via Blevins 1984, computed by fluids 1.3.1: h 0.10, b 1.0, P 0.5 m
    assert float(weirs.weir_flow(0.10, 1.0, 0.5)) == pytest.approx(0.05841397890613667, abs=1e-6)


def test_rehbock_lies_within_one_percent_of_it():
    # Rehbock 1929 via Blevins, computed by fluids 1.3.1, the same weir
    assert float(weirs.weir_flow(0.10, 1.0, 0.5)) == pytest.approx(0.05884568485030595, rel=0.01)


def test_a_right_angled_notch():
    # ISO 1438 form with Cd 0.58 from memory, computed; Cone's 2.49 h^2.48 in feet, from memory, gives 0.00445
    assert float(weirs.notch_flow(0.10, 90.0)) == pytest.approx(0.00433213575082263, abs=1e-6)
    assert float(weirs.notch_flow(0.10, 90.0)) == pytest.approx(0.00445, rel=0.03)


def test_the_form_that_gives_a_third_more_is_not_ours():
    # fluids 1.3.1 Q_weir_V_Shen(0.1, 90): about a third over the ISO form
    assert float(weirs.notch_flow(0.10, 90.0)) < 0.8 * 0.005862944199464858


def test_water_that_comes_back_fills_the_sump_as_far():
    # computed: 100 m2 with 0.08 m over its crest, 20 m2 with 0.06 + 0.05 m, 30 m of 200 mm and 15 m of 150 mm
    pipes = math.pi / 4 * (30 * 0.2**2 + 15 * 0.15**2)
    made = weirs.drain_back(100 * 0.08 + 20 * 0.11 + pipes, 30.0, 1.5, 2.2)
    assert [float(one) for one in made] == pytest.approx(
        [11.407549676223576, 21.000000000000007, 1.8802516558741191], abs=1e-6
    )


def test_without_the_pipes_it_would_not_be_that_level():
    made = weirs.drain_back(100 * 0.08 + 20 * 0.11, 30.0, 1.5, 2.2)
    assert float(made.level) != pytest.approx(1.8802516558741191, abs=1e-3)


@given(some.floats(1e-4, 0.5), some.floats(0.1, 5.0), some.floats(0.1, 3.0))
def test_a_weir_s_head_gives_its_flow_back(head, width, height):
    head = min(head, 2 * height)
    flow = weirs.weir_flow(head, width, height)
    assert float(weirs.weir_head(flow, width, height)) == pytest.approx(head, rel=1e-6)


@given(some.floats(1e-4, 1.0), some.floats(20.0, 120.0))
def test_a_notch_s_head_gives_its_flow_back(head, angle):
    assert float(weirs.notch_head(weirs.notch_flow(head, angle), angle)) == pytest.approx(head, rel=1e-9)


@given(some.floats(0.0, 0.05), some.floats(0.04, 0.3))
def test_more_water_never_stands_lower_over_a_standpipe(flow, bore):
    less, more = (weirs.standpipe_mouth(q, bore).head for q in (flow, flow + 1e-3))
    assert float(more) > float(less)


def test_nothing_runs_at_the_crest_or_without_a_drop():
    assert float(weirs.weir_flow(-0.1, 1.0, 0.5)) == 0.0
    assert float(weirs.notch_flow(0.0, 90.0)) == 0.0
    assert float(weirs.siphon_flow(-1.0, 0.1, 2.0)) == 0.0
    assert float(weirs.weir_head(0.0, 1.0, 0.5)) == 0.0


def test_a_longer_siphon_carries_less():
    assert float(weirs.siphon_flow(2.0, 0.1, 8.0)) == pytest.approx(
        float(weirs.siphon_flow(2.0, 0.1, 0.0)) / 3
    )
