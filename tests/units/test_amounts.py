"""Written amounts: a number and its unit, both ways."""

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from brinehouse import units
from brinehouse.units import amounts, spelling, table


@pytest.mark.parametrize(
    ("text", "value", "unit", "si"),
    [("17 m3", 17, "m³", 17), ("3 hp", 3, "hp", 2237.09961), ("84 °F", 84, "°F", 28.8888889), ("104.5 %",
        104.5, "%", 104.5),
     ("24.6°C", 24.6, "°C", 24.6), ("17m3", 17, "m³", 17), ("320 m3/h", 320, "m³/h", 320 / 3600),
         ("0.5 1/h", 0.5, "1/h", 0.5 / 3600),
     ("3 /h", 3, "1/h", 3 / 3600), ("36 h", 36, "h", 129600), ("−1.3 m", -1.3, "m", -1.3), ("1e3 L",
         1000, "L", 1), ("4 CFU/100 mL", 4, "1/100 mL", 0.04),
     ("30 ppt", 30, "PSU", 30), ("2 kPa gauge", 2, "kPa", 2000), ("  5  kW  ", 5, "kW", 5000),
         ("12 US gpm", 12, "US gal/min", 12 * 3.785411784e-3 / 60)],
)  # fmt: skip
def test_an_amount_is_read_with_its_unit(text, value, unit, si):
    got = units.read_amount(text)
    assert (got.value, got.unit, got.text) == (value, unit, text)
    assert got.si() == pytest.approx(si, rel=1e-8)


def test_an_amount_keeps_bound_decimals_basis_and_notes():
    got = units.read_amount("<0.02 mg/L as N", "mass concentration")
    assert (got.bound, got.decimals, got.basis, got.kind) == ("<", 2, "N", "mass concentration")
    assert len(units.read_amount("≤ 34.0 ppt", "salinity").notes) == 2
    assert units.read_amount("25,5 °C", decimal=",").value == 25.5


def test_an_amount_converts_within_its_kind_and_no_further():
    got = units.read_amount("84 °F", "temperature")
    assert got.to("degC") == pytest.approx(28.888889)
    assert units.read_amount("9 °F", "temperature difference").to("K") == pytest.approx(5)
    with pytest.raises(units.NotUnderstood, match="units/wrong-kind"):
        got.to("m")


@pytest.mark.parametrize(
    ("text", "code"),
    [("17", "units/no-unit"), ("", "units/blank"), ("m3", "units/not-a-number"), ("17 furlongs",
        "units/unknown-unit"),
     ("0.6-2.2 m", "units/not-a-number"), ("1,234 L", "units/decimal-sign"), ("1 234 L",
         "units/decimal-sign"), ("1_000 L", "units/not-a-number"),
     ("½ m", "units/not-a-number"), ("1/2 m", "units/not-a-number"), ("2 4.6 m", "units/not-a-number"),
         ("nan m", "units/not-finite"),
     ("inf m", "units/not-finite"), ("1e999 m", "units/not-finite"), ("٣ m", "units/not-a-number"),
         ("0x18 m", "units/unknown-unit"),
     ("24.6 C", "units/ambiguous-unit"), ("5 m 20 cm", "units/unknown-unit"), ("~5 m",
         "units/not-a-number"), ("5 m³ ± 1", "units/unknown-unit"),
     ("not measured", "units/not-a-number"), ("5,5 m", "units/decimal-sign"), ("5 .", "units/not-a-number")],
)  # fmt: skip
def test_what_is_no_amount_is_refused_with_the_whole_text_and_a_way_out(text, code):
    with pytest.raises(units.NotUnderstood) as caught:
        units.read_amount(text)
    assert caught.value.code == code
    assert caught.value.found == text
    assert caught.value.hint


def test_a_wrong_kind_names_the_unit_that_was_written():
    with pytest.raises(units.NotUnderstood, match="'m' is a unit of length, not of volume"):
        units.read_amount("17 m", "volume")


def test_a_difference_of_temperature_is_not_shifted():
    assert units.convert(9.0, "°F", "K", "temperature difference") == pytest.approx(5.0)


def test_arrays_convert_as_numbers_do_and_stay_as_they_were():
    celsius = np.array([0.0, 25.0, np.nan])
    got = units.convert(celsius, "°C", "°F")
    assert got[:2] == pytest.approx([32.0, 77.0])
    assert math.isnan(got[2])
    assert celsius[1] == 25.0
    assert units.convert(1.5, "m3/h", "m³/h") == 1.5


def test_a_unit_of_several_kinds_is_taken_as_the_one_both_share():
    assert units.convert(1.0, "g/L", "kg/m³") == 1.0
    assert units.convert(1.0, "kg/m³", "g/cm³") == pytest.approx(1e-3)
    assert units.convert(5.0, "%", "1", "ratio") == pytest.approx(0.05)
    assert units.convert(60.0, "rpm", "Hz") == pytest.approx(1.0)
    with pytest.raises(units.NotUnderstood, match="units/wrong-kind"):
        units.convert(1.0, "mmHg", "%")
    with pytest.raises(units.NotUnderstood, match="units/unknown-unit"):
        units.convert(1.0, "furlong", "m")


@pytest.mark.parametrize(
    ("value", "unit", "decimals", "text"),
    [(24.6, "°C", 2, "24.60 °C"), (104.5, "%", None, "104.5 %"), (8.1, "pH", None, "8.1"), (-0.001, "m",
        1, "0.0 m"), (17.0, "m³", None, "17 m³"),
     (1.0254, "SG", None, "1.0254"), (1e-7, "m", None, "1e-07 m"), (12.0, "1", 0, "12")],
)  # fmt: skip
def test_amounts_are_written_as_people_read_them(value, unit, decimals, text):
    assert units.format_amount(value, unit, decimals) == text


@settings(max_examples=300, deadline=None)
@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(table.UNITS))
def test_what_is_written_is_read_back_the_same(value, unit):
    got = units.read_amount(units.format_amount(value, unit.symbol), unit.kind)
    assert (got.value, got.unit, got.kind) == (value, unit.symbol, unit.kind)


@settings(max_examples=300, deadline=None)
@given(st.floats(-1e6, 1e6), st.sampled_from(table.KINDS), st.data())
def test_there_and_back_is_the_same_amount(value, kind, data):
    start, end = (data.draw(st.sampled_from(units.SYMBOLS[kind])) for _ in range(2))
    there = units.convert(value, start, end, kind)
    scale = abs(spelling.unit(start, kind).offset) + abs(value) + 600
    assert units.convert(there, end, start, kind) == pytest.approx(value, rel=1e-9, abs=1e-12 * scale)


@settings(max_examples=400, deadline=None)
@given(
    st.text(max_size=30)
    | st.from_regex(r"[<≤+-]?[0-9]{0,3}[.,]?[0-9]{0,2} ?[a-zA-Zµ°%/0-9 ]{0,8}", fullmatch=True)
)
@example("1 /")
@example("1 1/")
@example("1(")
@example("<")
@example("1\n2 m")
def test_no_text_raises_anything_but_a_refusal(text):
    try:
        got = units.read_amount(text)
    except units.NotUnderstood as fault:
        assert fault.hint  # noqa: PT017 (most texts are refused, some are not)
    else:
        assert math.isfinite(got.si())


def test_an_offset_applied_to_a_difference_is_caught(monkeypatch):
    """Planted fault: a difference of temperature converted like a temperature."""
    honest = amounts.pair
    monkeypatch.setattr(amounts, "pair", lambda start, end, kind=None: honest(start, end))
    with pytest.raises(AssertionError):
        test_a_difference_of_temperature_is_not_shifted()
