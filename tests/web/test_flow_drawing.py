"""A run drawn beside what agrees with all of them: one scale, edges for what lies outside, and words."""

import re

from brinehouse import answers
from brinehouse.web import flow_drawing


def value(number, u=0.1):
    return answers.Value(value=number, unit="m³/h", u=u)


def row(**more):
    return {"flow": value(10.0), "stated": None, "measured": None, "computed": None, "mark": "solved", **more}


def test_the_reconciled_flow_stands_in_the_middle_with_its_interval():
    drawn = flow_drawing.beside(row(), label="supply")
    box = re.search(r'<rect x="([0-9.]+)" y="2" width="([0-9.]+)"', drawn)
    left, width = float(box[1]), float(box[2])
    assert abs(left + width / 2 - flow_drawing.MIDDLE) < 0.02
    assert 'aria-label="supply"' in drawn


def test_a_meter_that_reads_high_stands_to_the_right_and_one_that_does_not_fit_is_marked():
    fine = flow_drawing.beside(row(measured=value(11.0), mark="checked"), label="a")
    at = float(re.search(r'<circle cx="([0-9.]+)"', fine)[1])
    assert flow_drawing.MIDDLE < at < flow_drawing.WIDE
    assert "d-watch-fill" not in fine
    assert "d-watch-fill" in flow_drawing.beside(row(measured=value(11.0), mark="suspect"), label="a")


def test_what_lies_far_outside_stands_at_the_edge():
    drawn = flow_drawing.beside(row(measured=value(160.0), mark="checked"), label="a")
    assert float(re.search(r'<circle cx="([0-9.]+)"', drawn)[1]) == flow_drawing.WIDE - flow_drawing.EDGE


def test_a_flow_that_is_not_known_draws_nothing_but_its_words():
    drawn = flow_drawing.beside(row(flow=None), label="not known")
    assert "<rect" not in drawn
    assert "not known" in drawn


def test_stated_and_computed_have_signs_of_their_own_and_a_key():
    drawn = flow_drawing.beside(row(stated=value(9.0), computed=value(10.5)), label="a")
    assert "d-axis" in drawn
    assert "d-ring" in drawn
    assert [name for _, name in flow_drawing.key()] == ["reconciled", "stated", "measured", "computed"]


def test_the_scale_says_how_far_its_ends_are():
    assert "−25 %" in flow_drawing.scale("scale")
    assert "+25 %" in flow_drawing.scale("scale")
