"""Charts of one answer: nothing runs together, and every mark tells its number."""

import itertools
import math

import pytest
from pieces import kinds, tree

from brinehouse.web import drawing

TRIAL = [(0.0, 102.1), (2.0, 103.0), (5.0, 103.8), (8.0, 104.2), (12.0, 104.6)]


@pytest.mark.parametrize(("low", "high"), [(104.89, 104.91), (104.6, 105.4), (104.0, math.inf), (None, None)])
def test_numbers_beside_a_trial_never_run_together(low, high):
    drawn = drawing.settling(TRIAL, plateau=104.9, low=low, high=high, label="t", x_label="min", y_label="%")
    for picture in tree(drawn).iter("svg"):
        right = max(float(node.get("x")) for node in picture.iter("text"))
        heights = sorted(
            float(node.get("y")) for node in picture.iter("text") if float(node.get("x")) == right
        )
        assert all(b - a >= 14.0 for a, b in itertools.pairwise(heights))


def test_every_reading_of_a_trial_tells_its_number_to_the_keyboard():
    drawn = drawing.settling(TRIAL, label="t", x_label="min", y_label="%")
    said = [node.get("aria-label") for node in tree(drawn).iter("circle")]
    assert said[: len(TRIAL)] == [
        "0 min: 102.1",
        "2 min: 103",
        "5 min: 103.8",
        "8 min: 104.2",
        "12 min: 104.6",
    ]


def test_an_open_interval_reaches_the_edge_of_the_picture_and_no_further():
    drawn = drawing.settling(
        TRIAL, plateau=107.0, low=104.0, high=math.inf, label="t", x_label="min", y_label="%"
    )
    for band in kinds(drawn, "d-gas-water"):
        assert float(band.get("y")) == 30.0


def test_intervals_share_one_scale_and_say_their_numbers():
    rows = [
        {"label": "A", "value": -0.1, "low": -0.4, "high": 0.2},
        {"label": "B", "value": 1.2, "low": 0.9, "high": 1.5},
    ]
    drawn = drawing.intervals(rows, heads=("meter", "reads too high by", "interval"), zero=0.0, unit="points")
    assert 'aria-label="A: −0.1 ± 0.3 points"' in drawn
    assert len({node.get("d") for node in kinds(drawn, "d-rule")}) == 1


def test_where_a_reading_falls_never_prints_one_number_over_another():
    drawn = drawing.among(100.9, [99.0, 100.0], (98.0, 101.0), label="x")
    places = sorted(float(node.get("x")) for node in tree(drawn).iter("text"))
    assert all(b - a >= 40.0 for a, b in itertools.pairwise(places))
