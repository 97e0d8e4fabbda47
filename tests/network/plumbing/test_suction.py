"""Suctions: whether air can come in, NPSH, the end of the curve."""

import pytest
from piped_hall import SUCTION

OVER = ("strainer = false\ncheck_valve = true\nnpsh", f"strainer = false\n{SUCTION}check_valve = true\nnpsh")
HIGH = ('elevation = "0.2 m"\n', 'elevation = "1.8 m"\n')


def test_a_flooded_suction_lets_no_air_in(lay, codes):
    layout = lay(OVER)
    assert layout.pumps["A"].below_air == "no"
    assert layout.pumps["A"].suction_head > 0.2
    assert "plumbing/suction-under-air" not in codes(layout)


def test_a_pump_above_its_water_lets_air_in(lay, codes):
    layout = lay(OVER, HIGH)
    assert layout.pumps["A"].below_air == "yes"
    assert "plumbing/suction-under-air" in codes(layout)
    assert "plumbing/suction-under-air" in layout.pumps["A"].codes


def test_a_strainer_of_which_nothing_is_told_leaves_it_open(lay):
    near = ('elevation = "0.2 m"\nstrainer = false', 'elevation = "0.4 m"\nstrainer = true')
    assert lay(near).pumps["A"].below_air == "may be"


def test_without_flow_curve_or_pipe_the_suction_is_still_judged(lay):
    curve = 'curve = [["0 m3/h", "14 m"], ["20 m3/h", "11 m"], ["40 m3/h", "4 m"]]\n'
    assert lay((curve, ""), HIGH).pumps["A"].below_air == "yes"


def test_without_its_height_it_may_be(lay, codes):
    layout = lay(('elevation = "0.2 m"\n', ""))
    assert layout.pumps["A"].below_air == "may be"
    assert "plumbing/no-elevation" in codes(layout)


def test_npsh_is_the_air_over_the_vapour_and_the_water_over_the_pump(lay):
    # by hand: (101325 - 3110) / (1022.4 x 9.80665) = 9.80 m, and 0.8 m of water over the pump, less losses;
    # vapour of 34 ppt at 25 °C 3.11 kPa and density 1022.4 kg/m³ after the sea water tables of UNESCO (1983)
    layout = lay(OVER, ("[sump.basin]\n", '[sump.basin]\ntemperature = "25 °C"\nsalinity = "34 ppt"\n'))
    lost = 1.0 - layout.pumps["A"].suction_head
    speed = layout.pumps["A"].flow / (3.14159 / 4 * 0.08**2)
    moving = speed**2 / 2 / 9.80665
    assert layout.pumps["A"].npsh_available == pytest.approx(9.80 + 0.8 - lost + moving, abs=0.02)


def test_too_little_npsh_is_told_with_the_margin(lay, codes):
    short = ('npsh = "2 m"', 'npsh = "8 m"')
    assert "plumbing/npsh-short" in codes(lay(short))
    assert "plumbing/npsh-short" not in codes(lay())


def test_a_pump_beyond_its_curve_is_asked_about(lay, codes):
    flows = {"supply": 30 / 3600, "second": 15 / 3600, "reef-back": 30 / 3600, "side-back": 15 / 3600}
    layout = lay(flows=flows)
    assert layout.pumps["A"].share_of_curve == pytest.approx(45 / 40)
    assert "plumbing/beyond-curve" in codes(layout)
    assert "plumbing/beyond-curve" not in codes(lay())


def test_a_resting_pump_is_judged_as_it_would_run(lay):
    layout = lay(OVER, HIGH)
    assert not layout.pumps["B"].running
    assert layout.pumps["B"].below_air == "yes"
    assert layout.pumps["B"].codes == ()
