"""The dimension line of a failure, and the course of one quantity."""

import re

from brinehouse.web import time_drawing


def test_the_first_hours_have_most_of_the_room():
    places = [time_drawing.at(hours) for hours in (0.0, 1.0, 4.0, 24.0, 72.0)]
    assert places == sorted(places)
    assert places[1] - places[0] > places[4] - places[3]  # one hour, and two days
    assert time_drawing.at(1e6) == time_drawing.at(72.0)


def test_time_that_is_gone_is_hatched_and_never_beyond_the_limit():
    drawn = time_drawing.line(0.2, lost=1.0, label="x")
    width = float(re.search(r'class="t-gone"', drawn) and re.search(r'width="([\d.]+)"', drawn).group(1))
    assert width <= time_drawing.at(0.2) - time_drawing.at(0.0) + 0.01
    assert "t-hatch" not in time_drawing.line(3.0, label="x")


def test_an_interval_is_a_box_and_none_is_drawn_while_it_is_not_known():
    assert "t-reach" in time_drawing.line(3.0, low=2.0, high=float("inf"), label="x")
    assert "t-reach" not in time_drawing.line(3.0, label="x")


def test_what_is_abnormal_has_a_shape_of_its_own_and_what_is_not_has_none():
    marks = [time_drawing.line(1.0, level=level, label="x") for level in ("act", "watch", "")]
    assert "d-act-fill" in marks[0]
    assert "d-watch-fill" in marks[1]
    assert "fill" not in marks[2].replace("d-act-fill", "").replace("t-end", "")
    assert len(set(marks)) == 3


def test_a_line_without_a_limit_stays_open():
    drawn = time_drawing.line(None, lost=1.0, label="none < all")
    assert "t-open" in drawn
    assert "none &lt; all" in drawn


def test_nights_are_shaded_from_dusk_to_dawn_on_the_hall_s_clock():
    one = time_drawing.Course(hours=[0.0, 24.0], values=[1.0, 2.0], clock=12.0, night=(20.0, 8.0))
    drawn = time_drawing.course(one)
    boxes = [float(x) for x in re.findall(r'<rect x="([\d.]+)"[^>]*t-night', drawn)]
    wide, narrow = boxes[:1], boxes[1:]
    assert len(wide) == len(narrow) == 1
    assert abs(wide[0] - (52.0 + 500.0 * 8.0 / 24.0)) < 0.1


def test_strokes_stand_on_the_wrong_side_of_a_limit():
    edges = [time_drawing.Edge(value=5.0, upper=True, level="act"),
             time_drawing.Edge(value=2.0, upper=False, level="watch")]  # fmt: skip
    drawn = time_drawing.course(time_drawing.Course(hours=[0.0, 1.0], values=[1.0, 6.0], edges=edges))
    up, down = (
        re.search(rf'd="[^"]*l5 (-?\d)[^"]*" class="t-wrong {level}"', drawn) for level in ("act", "watch")
    )
    assert (up.group(1), down.group(1)) == ("-5", "5")


def test_a_course_of_one_point_is_not_drawn():
    assert time_drawing.course(time_drawing.Course(hours=[0.0], values=[1.0])) == ""
