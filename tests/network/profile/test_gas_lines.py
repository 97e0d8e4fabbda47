"""The gas line against cases worked by hand."""

import pytest

from brinehouse.facility import model
from brinehouse.network.profile import gas_lines, parts
from brinehouse.science import seawater

MMHG = 133.322387415  # one conventional millimetre of mercury [Pa]: NIST SP 811, appendix B.8


def excess(mmhg, half=0.0):
    return parts.Excess(value=mmhg * MMHG, low=(mmhg - half) * MMHG, high=(mmhg + half) * MMHG)


def dot(s, z):
    return parts.Dot(s=s, z=z, low=z, high=z)


def places(lines):
    return [[(round(one.s, 6), round(one.z, 6)) for one in line] for line in lines]


@pytest.mark.parametrize(("mmhg", "deep"), [(21.0, 0.28), (34.0, 0.45)])
def test_an_excess_in_mmhg_stands_as_deep_as_in_the_sketch_of_the_sheet(mmhg, deep):
    # the sketch of the look prints 21 mmHg at 0.28 m and 34 mmHg at 0.45 m; half its last digit
    value, _, _ = gas_lines.metres(excess(mmhg), float(seawater.density(25.4, 34.0)))
    assert value == pytest.approx(deep, abs=0.005)


def test_a_metre_of_water_by_hand():
    # 1000 kg/m3 x 9.80665 m/s2 x 1 m = 9806.65 Pa
    assert gas_lines.metres(parts.Excess(value=9806.65, low=0.0, high=19613.3), 1000.0) == pytest.approx(
        (1, 0, 2)
    )


def test_denser_water_holds_the_gas_line_higher():
    fresh, salt = (gas_lines.below(5.0, 5.0, 5.0, excess(30.0), rho).value for rho in (1000.0, 1030.0))
    assert fresh < salt < 5.0


def test_too_little_gas_puts_the_line_above_the_water():
    assert gas_lines.below(5.0, 5.0, 5.0, excess(-10.0), 1025.0).value > 5.0


def test_the_two_intervals_are_added_as_independent():
    line = gas_lines.below(5.0, 4.7, 5.3, parts.Excess(value=0.0, low=-4020.73, high=4020.73), 1025.0)
    assert line.high - line.value == pytest.approx(0.5, abs=1e-4)  # sides 0.3 and 0.4 by hand


@pytest.mark.parametrize(("shallow", "state"), [(0.1, "above"), (0.28, "may be"), (0.6, "below")])
def test_animals_are_judged_by_the_whole_interval(shallow, state):
    group = model.Animals(at="m", species="blenny", depth=(shallow, 1.0))
    found = gas_lines.animals(group, 2.0, excess(21.0, 4.0), 1022.0)
    assert found.state == state
    assert found.above == pytest.approx(0.279 - shallow, abs=0.001)


def test_without_a_reading_nothing_is_said_of_the_animals():
    group = model.Animals(at="m", species="blenny", depth=(0.1, 1.0))
    assert gas_lines.animals(group, 2.0, None, 1022.0).state == "unknown"


def test_a_riser_is_tinted_only_above_the_line():
    found = gas_lines.above([(dot(1, 0), dot(1, 4))], [(dot(0, 1.5), dot(2, 1.5))])
    assert places(found) == [[(1, 1.5), (1, 4)]]


def test_a_level_pipe_under_the_line_is_not_tinted():
    assert gas_lines.above([(dot(0, 1), dot(2, 1))], [(dot(0, 1.5), dot(2, 1.5))]) == ()


def test_a_slope_is_tinted_from_where_it_crosses():
    # z = s crosses 1 + s/4 at s = 4/3, by hand
    found = gas_lines.above([(dot(0, 0), dot(4, 4))], [(dot(0, 1), dot(4, 2))])
    assert places(found) == [[(1.333333, 1.333333), (4, 4)]]


def test_where_the_line_is_broken_nothing_is_tinted():
    found = gas_lines.above([(dot(0, 5), dot(6, 5))], [(dot(0, 1), dot(2, 1)), (dot(4, 1), dot(6, 1))])
    assert places(found) == [[(0, 5), (2, 5)], [(4, 5), (6, 5)]]


def test_a_line_without_its_break_would_be_found():
    whole = gas_lines.above([(dot(0, 5), dot(6, 5))], [(dot(0, 1), dot(6, 1))])
    assert places(whole) == [[(0, 5), (6, 5)]]  # the planted fault of the test above
