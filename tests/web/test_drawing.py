"""Small drawings: what they say, that they escape what they are given, that gaps stay gaps."""

import re

from pieces import kinds, tree

from brinehouse import findings
from brinehouse.web import drawing

EVIL = '<script>alert("x")</script>'


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


def test_a_reading_alone_between_two_gaps_is_still_seen():
    trace = [(0.0, 1.0), (1.0, 1.1), (2.0, None), (3.0, 1.2), (4.0, None), (5.0, 1.1), (6.0, 1.0)]
    assert len(kinds(drawing.spark(trace, label="x"), "d-dot")) == 2


def test_an_aim_far_away_does_not_press_the_readings_flat():
    drawn = drawing.spark([(0, 10.0), (1, 10.2), (2, 10.1)], (0.0, 500.0), label="x")
    heights = [float(y) for _, y in re.findall(r"[ML]([\d.]+) ([\d.]+)", kinds(drawn, "d-trace")[0].get("d"))]
    assert max(heights) - min(heights) > 2.0


def test_an_explanation_weighs_between_nothing_and_all():
    widths = [
        float(kinds(drawing.bar(w, label="x"), "d-bar")[0].get("width")) for w in (-1.0, 0.0, 0.5, 1.0, 7.0)
    ]
    assert widths == [0.5, 0.5, 59.0, 118.0, 118.0]
