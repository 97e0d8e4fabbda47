"""Written numbers: one strict grammar, and a way out for everything else."""

import csv
import json
import math
import pathlib

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from brinehouse import units
from brinehouse.units import numbers

CORPUS = pathlib.Path(__file__).parents[1] / "corpus"
INDEX = {entry["file"]: entry for entry in json.loads((CORPUS / "INDEX.json").read_text("utf-8"))["files"]}


@pytest.mark.parametrize(
    ("text", "value", "decimals"),
    [
        ("24.6", 24.6, 1),
        (" 24.6 ", 24.6, 1),
        ("+24.6", 24.6, 1),
        ("2.46e1", 24.6, 1),
        ("24.60", 24.6, 2),
        ("-1.5", -1.5, 1),
        ("0", 0.0, 0),
        ("-0", 0.0, 0),
        ("1e3", 1000.0, 0),
        ("1.5E-3", 0.0015, 4),
        ("007", 7.0, 0),
    ],
)
def test_a_plain_number_is_read_with_the_decimals_it_was_typed_with(text, value, decimals):
    got = units.read_number(text)
    assert (got.value, got.decimals, got.text, got.bound, got.notes) == (value, decimals, text, "", ())
    assert math.copysign(1, got.value) == (1 if value >= 0 else -1)


def test_a_true_minus_sign_is_read_and_said():
    got = units.read_number("−1.5")
    assert got.value == -1.5
    assert "U+2212" in got.notes[0]


@pytest.mark.parametrize(
    ("text", "bound", "value", "noted"),
    [("<0.05", "<", 0.05, False), (">5", ">", 5.0, False), ("< 0.05", "<", 0.05, False),
     ("≤0.05", "<", 0.05, True), (">=5", ">", 5.0, True), ("<=0.1", "<", 0.1, True), ("<-1", "<", -1.0,
         False)],
)  # fmt: skip
def test_a_result_below_or_above_a_limit_keeps_its_bound(text, bound, value, noted):
    got = units.read_number(text)
    assert (got.bound, got.value, bool(got.notes)) == (bound, value, noted)


NO_NUMBERS = [
    "1_000", "٢٤٫٦", "２４.６", "0x18", "24.6°C", "½", "24..6", "2 4.6", "nan", "NaN", "inf", "-Infinity",
    "1e999", "-1e999", "1e-999", "~0.1", "0.1*", "0.05-0.1", "1/2", "1 1/2", ".5", "5.", "1,234", "24,6",
    "1,234.5", "1.234,5", "--1", "+-1", "1e", "e5", "1e1.5", "0b11", "1j", "1L", "5 %", "<", ">", "<<1",
    "<>1", "1;2", "=1+1", "'1", "1\n2", "1\x00", "1\u200b", "²", "①", "Ⅳ", "一", "1" * 41, "-", "–",
    "#N/A", "#DIV/0!", "n.d.", "true", "one", "∞", "1 000", "1'000", "1\u202f000",
]  # fmt: skip


@pytest.mark.parametrize("text", NO_NUMBERS)
def test_what_is_not_plainly_one_number_is_refused_with_a_way_out(text):
    with pytest.raises(units.NotUnderstood) as caught:
        units.read_number(text)
    fault = caught.value
    assert fault.code in {"units/not-a-number", "units/not-finite", "units/decimal-sign"}
    assert fault.why
    assert fault.hint
    assert units.read_plain(text) is None


@pytest.mark.parametrize(
    ("text", "named"),
    [("٢٤٫٦", "arabic-indic digit two"), ("２４.６", "fullwidth digit two"), ("½",
        "vulgar fraction one half"), ("1_000", "'_'"),
     ("1\u200b", "zero width space"), ("1\x00", "U+0000"), ("24.6·", "middle dot")],
)  # fmt: skip
def test_the_odd_character_is_named(text, named):
    with pytest.raises(units.NotUnderstood) as caught:
        units.read_number(text)
    assert named.casefold() in caught.value.why.casefold()
    assert caught.value.why.isprintable()


@pytest.mark.parametrize(
    ("text", "decimal", "choices"),
    [
        ("1,234", ".", ("1.234", "1234")),
        ("1.234", ",", ("1,234", "1234")),
        ("-1,234", ".", ("-1.234", "-1234")),
    ],
)
def test_a_thousand_that_may_be_one_and_a_bit_shows_both_readings(text, decimal, choices):
    with pytest.raises(units.NotUnderstood) as caught:
        units.read_number(text, decimal=decimal)
    assert caught.value.code == "units/decimal-sign"
    assert caught.value.choices == choices
    assert all(choice in caught.value.hint for choice in choices)


@pytest.mark.parametrize(
    ("text", "decimal", "right"),
    [("24,6", ".", "24.6"), ("24.6", ",", "24,6"), ("1,234.5", ".", "1234.5"), ("1.234,5", ",",
        "1234,5"), (",5", ".", "0.5"),
     ("1,234,567", ".", "1234567"), ("1 234", ".", "1234"), ("1'234.5", ".", "1234.5"), ("-,5", ".",
         "-0.5"), ("1.234.567", ".", "1234567")],
)  # fmt: skip
def test_the_other_decimal_sign_is_refused_with_the_number_as_it_should_stand(text, decimal, right):
    with pytest.raises(units.NotUnderstood) as caught:
        units.read_number(text, decimal=decimal)
    assert caught.value.code == "units/decimal-sign"
    assert caught.value.choices == (right,)
    assert units.read_number(right, decimal=decimal)


def test_a_decimal_comma_is_a_decimal_sign_where_the_source_uses_it():
    assert units.read_number("24,60", decimal=",") == units.Number(24.6, "24,60", "", 2)
    assert units.read_number("<0,05", decimal=",").bound == "<"
    with pytest.raises(ValueError, match="decimal"):
        units.read_number("1", decimal=";")


@pytest.mark.parametrize(
    ("text", "says"),
    [("n.d.", "'<'"), ("not detected", "'<'"), ("over", "'>'"), ("-", "not measured"), ("#N/A",
        "not measured"),
     ("#DIV/0!", "formula"), ("~0.1", "note"), ("0.1*", "note"), ("0.05-0.1", "two readings"), ("2 4.6",
         "24.6"), ("1_000", "1000")],
)  # fmt: skip
def test_each_way_not_to_give_a_number_has_its_own_way_out(text, says):
    with pytest.raises(units.NotUnderstood) as caught:
        units.read_number(text)
    assert says in caught.value.hint


@pytest.mark.parametrize(
    ("text", "why"),
    [("", "not measured"), ("  ", "not measured"), ("not measured", "not measured"),
        ("Not measured: probe in repair", "probe in repair"),
     ("not measured (no reagent)", "no reagent"), ("not measured:  x ", "x")],
)  # fmt: skip
def test_a_blank_is_not_measured_and_never_nought(text, why):
    assert units.read_entry(text) == units.Missing(text, why)
    assert units.read_plain(text) is None
    with pytest.raises(units.NotUnderstood) as caught:
        units.read_number(text)
    assert caught.value.code in {"units/blank", "units/not-a-number"}


def test_words_that_only_begin_like_it_are_not_missing():
    assert units.read_missing("not measured5") is None
    assert units.read_missing("0") is None
    assert units.read_entry("24.6") == units.read_number("24.6")


def test_a_blank_has_its_own_code():
    with pytest.raises(units.NotUnderstood, match="units/blank"):
        units.read_number("")


@pytest.mark.parametrize("name", ["r10_not_numbers.csv", "r43_number_spellings.csv"])
def test_the_corpus_of_wrong_numbers_is_refused_where_it_must_be(name):
    rows = list(csv.DictReader((CORPUS / name).read_text("utf-8").splitlines()))
    refused = set()
    for line, row in enumerate(rows, start=2):
        try:
            if isinstance(units.read_entry(row["value"]), units.Missing):
                refused.add(line)
        except units.NotUnderstood:
            refused.add(line)
    wanted = {where["line"] for where in INDEX[name]["where"]}
    kept_with_a_mark = {"r10_not_numbers.csv": {11, 12}, "r43_number_spellings.csv": {16}}[
        name
    ]  # bounds; 1e3 is a number
    assert refused == wanted - kept_with_a_mark


@settings(max_examples=400, deadline=None)
@given(st.text(max_size=45), st.sampled_from(".,"))
@example("1_000", ".")
@example("٢", ".")
@example("１", ".")
@example("−", ".")
@example("<", ",")
def test_no_text_raises_anything_but_a_refusal(text, decimal):
    try:
        got = units.read_number(text, decimal=decimal)
    except units.NotUnderstood as fault:
        assert fault.hint  # noqa: PT017 (most texts are refused, some are not)
        assert units.read_plain(text) is None or decimal == ","
    else:
        assert math.isfinite(got.value)
        assert got.decimals >= 0


@settings(max_examples=400, deadline=None)
@given(st.text(alphabet="0123456789.,eE+-_ xnaif٢²\u2212", max_size=12))
def test_the_fast_path_agrees_with_the_strict_one_and_never_with_more(text):
    fast = units.read_plain(text)
    if fast is None:
        return
    assert fast == float(text)
    got = units.read_number(text)
    assert (got.value, got.bound, got.notes) == (fast, "", ())


@settings(max_examples=300, deadline=None)
@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_finite_number_written_plainly_is_read_back(value):
    assert units.read_number(repr(value)).value == value
    assert units.read_number(repr(value).replace(".", ","), decimal=",").value == value


def test_a_grammar_of_pythons_own_is_caught(monkeypatch):
    """Planted fault: float() in place of the strict grammar."""

    class Loose:
        def fullmatch(self, text):
            try:
                return float(text)
            except ValueError:
                return None

    monkeypatch.setattr(numbers, "_PLAIN", Loose())
    with pytest.raises(pytest.fail.Exception):
        test_what_is_not_plainly_one_number_is_refused_with_a_way_out("1_000")
