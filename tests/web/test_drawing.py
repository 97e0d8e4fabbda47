"""Small drawings: what they say, that they escape what they are given, and that nothing runs together."""

import itertools
import math
import re
import xml.etree.ElementTree as ET

import pytest

from brinehouse import answers, findings
from brinehouse.web import drawing

EVIL = '<script>alert("x")</script>'


def tree(markup):
    return ET.fromstring(f"<div>{markup}</div>")


def kinds(markup, word):
    return [node for node in tree(markup).iter() if word in (node.get("class") or "").split()]


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (answers.Value(value=104.68, unit="%", u=0.2), "104.7 ± 0.4 %"),
        (answers.Value(value=-1.234, unit="m", low=-1.3, high=-1.168), "−1.23 ± 0.07 m"),
        (answers.Value(value=2.0, unit="mmHg", low=0.5, high=9.0), "2 (0 … 9) mmHg"),
        (answers.Value(value=12.0, unit="h", low=3.0, high=math.inf), "12 (3 … ∞) h"),
        (answers.Value(value=34.1, unit="1"), "34.1"),
        (answers.Value(value=None, unit="%", text="below 0.02 mg/L"), "below 0.02 mg/L"),
        ({"value": math.nan, "unit": "%"}, "–"),
        ({"value": 0.00001234, "unit": "m"}, "1.23e−05 m"),
    ],
)
def test_a_number_is_printed_with_its_spread_and_unit(value, said):
    assert drawing.figure(value).striptags() == said


def test_what_a_person_typed_is_never_markup():
    column = drawing.Column(
        name=EVIL, depth=1.0, gas=0.2, shallow=0.1, level="act", verdict=EVIL, value=EVIL, href='"><script>'
    )
    for markup in (
        drawing.figure({"value": 1.0, "unit": EVIL}),
        drawing.figure({"value": None, "text": EVIL}),
        drawing.cell(EVIL),
        drawing.spark([(0, 1.0), (1, 2.0)], (0, 3), label=EVIL, level=EVIL),
        drawing.gas_depths([column]),
        drawing.gas_key(EVIL, EVIL, EVIL),
        drawing.settling([(0, 1.0), (1, 2.0)], label=EVIL, x_label=EVIL, y_label=EVIL),
        drawing.intervals(
            [{"label": EVIL, "value": 1.0, "low": 0.0, "high": 2.0, "note": EVIL}], heads=(EVIL, EVIL, EVIL)
        ),
        drawing.bar(0.4, label=EVIL),
        drawing.among(1.0, [2.0, 3.0], (1.0, 2.0), label=EVIL),
    ):
        assert "<script" not in markup
        tree(markup)


def test_a_gap_in_the_readings_stays_a_gap():
    whole = [(float(i), 10.0 + i) for i in range(10)]
    broken = [(t, None if t == 4.0 else v) for t, v in whole]
    silent = [(t, v) for t, v in whole if not 3.0 < t < 8.0]
    lines = [len(kinds(drawing.spark(trace, label="x"), "d-trace")) for trace in (whole, broken, silent)]
    assert lines == [1, 2, 2]


def test_a_line_says_its_least_and_its_most():
    assert 'aria-label="tank, temperature: 24.9 … 25.4"' in drawing.spark(
        [(0, 24.9), (1, 25.4)], label="tank, temperature"
    )
    assert 'aria-label="tank: –"' in drawing.spark([], (1.0, 2.0), label="tank")


def test_a_lone_reading_is_a_dot_and_an_abnormal_one_has_its_colour():
    drawn = drawing.spark([(0, 24.9)], label="x", level=findings.Level.ACT)
    assert kinds(drawn, "d-act-fill")
    assert not kinds(drawn, "d-trace")


def test_an_aim_far_away_does_not_press_the_readings_flat():
    drawn = drawing.spark([(0, 10.0), (1, 10.2), (2, 10.1)], (0.0, 500.0), label="x")
    heights = [float(y) for _, y in re.findall(r"[ML]([\d.]+) ([\d.]+)", kinds(drawn, "d-trace")[0].get("d"))]
    assert max(heights) - min(heights) > 2.0


PIPEFISH = drawing.Column(
    name="pipefish", depth=0.9, gas=0.45, low=0.41, high=0.49, shallow=0.2, deep=0.7, level="act"
)
MANGROVE = drawing.Column(name="mangrove", depth=2.6, gas=0.28, low=0.2, high=0.36, shallow=0.6, deep=2.2)


def test_animals_above_the_gas_line_are_drawn_above_it_with_the_mark_of_act():
    drawn = drawing.gas_depths([PIPEFISH])
    fish = float(re.search(r"translate\(50 ([\d.]+)\)", drawn)[1])
    line = float(re.search(r'M26 ([\d.]+)L90 \1" class="d-gas"', drawn)[1])
    assert fish < line
    assert kinds(drawn, "d-act-fill")


def test_animals_below_the_gas_line_carry_no_mark():
    drawn = drawing.gas_depths([MANGROVE])
    assert not kinds(drawn, "d-act-fill")
    assert not kinds(drawn, "d-watch-fill")


def test_one_depth_stands_at_one_height_in_every_tank():
    drawn = drawing.gas_depths([PIPEFISH, MANGROVE])
    lines = [float(y) for y in re.findall(r'M26 ([\d.]+)L90 \1" class="d-gas"', drawn)]
    scale = [(line - 18.0) / depth for line, depth in zip(lines, (0.45, 0.28), strict=True)]
    assert scale[0] == pytest.approx(scale[1], rel=0.01)


def test_deep_water_is_broken_off_and_says_how_deep_it_is():
    drawn = drawing.gas_depths([PIPEFISH, MANGROVE])
    assert len(kinds(drawn, "d-blank")) == 1
    assert ">2.6</text>" in drawn


def test_water_below_saturation_has_no_tint():
    drawn = drawing.gas_depths([drawing.Column(name="x", depth=1.0, gas=0.0, shallow=0.3)])
    assert not kinds(drawn, "d-gas-water")


def test_an_unknown_gas_line_is_not_drawn():
    drawn = drawing.gas_depths([drawing.Column(name="x", depth=1.0, gas=None, shallow=0.3)])
    assert not kinds(drawn, "d-gas")


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


def test_an_explanation_weighs_between_nothing_and_all():
    widths = [
        float(kinds(drawing.bar(w, label="x"), "d-bar")[0].get("width")) for w in (-1.0, 0.0, 0.5, 1.0, 7.0)
    ]
    assert widths == [0.5, 0.5, 59.0, 118.0, 118.0]


def test_where_a_reading_falls_never_prints_one_number_over_another():
    drawn = drawing.among(100.9, [99.0, 100.0], (98.0, 101.0), label="x")
    places = sorted(float(node.get("x")) for node in tree(drawn).iter("text"))
    assert all(b - a >= 40.0 for a, b in itertools.pairwise(places))
