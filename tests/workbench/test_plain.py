"""Plain data for JSON."""

import json
import math

import numpy as np
import pytest

from brinehouse.workbench import plain


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, np.float64("nan"), np.float32("inf")])
def test_what_is_no_finite_number_is_null(value):
    assert plain.finite({"rows": [(value,)]}) == {"rows": [[None]]}


def test_everything_else_stays_as_it_is():
    data = {"n": np.int64(3), "x": np.float64(0.1), "on": True, "off": np.bool_(False), "s": "−1", 5: None}
    assert json.dumps(plain.finite(data), ensure_ascii=False) == (
        '{"n": 3, "x": 0.1, "on": true, "off": false, "s": "−1", "5": null}'
    )
