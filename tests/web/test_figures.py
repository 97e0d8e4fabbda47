"""Numbers: their spread, their unit, and no digit that the interval does not support."""

import math

import pytest

from brinehouse import answers
from brinehouse.web import drawing


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
