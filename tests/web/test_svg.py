"""Parts of a drawing: coordinates, ticks and labels that keep apart."""

import itertools
import math
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.web import svg

HEIGHTS = st.lists(st.floats(0.0, 300.0), min_size=1, max_size=12)


@given(HEIGHTS)
def test_labels_keep_their_distance_and_their_order(wanted):
    placed = svg.apart(wanted, 0.0, 300.0)
    ordered = [height for _, height in sorted(zip(wanted, placed, strict=True))]
    assert all(b - a >= svg.APART - 1e-9 for a, b in zip(sorted(placed), sorted(placed)[1:], strict=False))
    assert sorted(ordered) == pytest.approx(sorted(placed))
    assert max(placed) <= 300.0


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6), st.integers(2, 9))
def test_ticks_are_round_inside_and_few(low, width, most):
    marks = svg.ticks(low, low + width, most)
    assert len(marks) <= most + 1
    assert all(low - 1e-6 * width <= mark <= low + width * (1 + 1e-6) for mark in marks)
    steps = {round((b - a) / width, 6) for a, b in itertools.pairwise(marks)}
    assert len(steps) <= 1


@given(st.floats(allow_nan=True, allow_infinity=True))
def test_a_number_never_prints_a_hyphen_for_a_minus(value):
    assert "-" not in svg.digits(value)


def test_a_scale_without_width_puts_its_value_in_the_middle():
    assert svg.scale(5.0, 5.0, 0.0, 100.0)(5.0) == 50.0


def test_a_value_outside_the_scale_is_held_at_its_end():
    flipped = svg.scale(0.0, 10.0, 100.0, 0.0)
    assert flipped.within(math.inf) == 0.0
    assert flipped.within(-3.0) == 100.0


@pytest.mark.parametrize("text", ["<b>", "&", '"', "'", "</svg><script>"])
def test_text_and_attributes_are_escaped(text):
    drawn = ET.fromstring(svg.tag("text", text, aria_label=text))
    assert (drawn.text, drawn.get("aria-label"), len(drawn)) == (text, text, 0)
