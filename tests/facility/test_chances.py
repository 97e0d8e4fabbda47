"""How often something fails, as a person writes it."""

import pytest

from brinehouse.facility import amounts, chances


@pytest.mark.parametrize(
    ("text", "value", "by"),
    [
        ("3e-5 1/h", 3e-5 / 3600, "time"),
        ("3e-5 per hour", 3e-5 / 3600, "time"),
        ("once in 33000 h", 1 / (33000 * 3600), "time"),
        ("1 in 400 d", 1 / (400 * 86400), "time"),
        ("0.5 %", 0.005, "start"),
        ("once in 200 starts", 0.005, "start"),
        ("Once in 1000 demands", 0.001, "start"),
    ],
)
def test_by_the_hour_and_by_the_start_are_both_understood(text, value, by):
    got = chances.read(text)
    assert (got.value, got.by) == (pytest.approx(value), by)


@pytest.mark.parametrize(
    "text",
    ["often", "once in a while", "once in 0 h", "once in many starts", "once in 1 start", "0 %", "120 %"],
)
def test_what_is_no_chance_to_fail_is_refused_with_a_way_out(text):
    got = chances.read(text)
    assert isinstance(got, amounts.Fault)
    assert got.hint


@pytest.mark.parametrize("text", ["-1 1/h", "once in 200", "3e-5", "once in 30 m"])
def test_a_number_without_its_unit_is_refused_too(text):
    assert isinstance(chances.read(text), amounts.Fault)
