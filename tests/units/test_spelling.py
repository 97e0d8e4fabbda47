"""Units as people write them: understood, or asked about, never guessed."""

import csv
import json
import pathlib

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from brinehouse import glossary, units
from brinehouse.units import spelling, table

CORPUS = pathlib.Path(__file__).parents[1] / "corpus"
INDEX = {entry["file"]: entry for entry in json.loads((CORPUS / "INDEX.json").read_text("utf-8"))["files"]}


@pytest.mark.parametrize(
    ("symbol", "ways"),
    [
        ("°C", ["°C", "ºC", "℃", "deg C", "degC", "celsius", "degrees Celsius", " °C "]),
        ("°F", ["°F", "ºF", "℉", "deg F", "degF", "fahrenheit"]),
        ("µg/L", ["µg/L", "μg/L", "ug/l", "mcg/L", "µg·L⁻¹", "micrograms per litre", "µg L^-1", "ug l-1"]),
        (
            "mg/L",
            [
                "mg/L",
                "mg/l",
                "mg·L⁻¹",
                "mg L-1",
                "mg / L",
                "milligrams per liter",
                "mg⋅L⁻¹",
                "mg*L^-1",
                "mg\u00a0L-1",
            ],
        ),
        ("m³", ["m3", "m³", "m^3", "cubic metres", "cubic meter", "cu m", "cbm"]),
        ("m³/h", ["m3/h", "m³/h", "m3 h-1", "cubic metres per hour", "m^3/hr", "m3 per hour", "m³·h⁻¹"]),
        ("L/min", ["l/min", "L/min", "lpm", "LPM", "litres per minute", "L min-1"]),
        ("US gal/min", ["US gal/min", "US gpm", "gpm (US)", "US gallons per minute"]),
        ("imp gal", ["imp gal", "imperial gallons", "UK gal", "gal (imp)"]),
        ("hp", ["hp", "HP", "horsepower"]),
        ("PS", ["PS", "metric hp"]),
        ("mmHg", ["mmHg", "mm Hg", "mmhg"]),
        ("µmol/m²/s", ["µmol/m2/s", "µmol m-2 s-1", "umol/(m2 s)", "PAR", "µmol·m⁻²·s⁻¹", "µmol/s/m2"]),
        ("W/m²/K", ["W/m2/K", "W/(m2 K)", "W m-2 K-1", "W/(m²·K)"]),
        ("1/h", ["1/h", "/h", "per hour", "h-1", "h⁻¹"]),
        ("%", ["%", "percent", "per cent"]),
        ("PSU", ["ppt", "‰", "PSU", "psu", "PSS-78"]),
        ("dKH", ["dKH", "°dKH", "dkh", "°KH"]),
        ("mg/L CaCO3", ["mg/L CaCO3", "mg/L as CaCO3", "mg CaCO3/L", "mg/L CaCO₃"]),
        ("g/m²/d", ["g/m2/d", "g m-2 d-1", "g/m²/day"]),
        ("1/100 mL", ["CFU/100 mL", "MPN/100mL"]),
    ],
)
def test_the_spellings_of_a_unit_are_one_unit(symbol, ways):
    assert {units.unit(way).symbol for way in ways} == {symbol}


@pytest.mark.parametrize(
    ("text", "choices"),
    [("C", ("°C",)), ("F", ("°F",)), ("gal", ("US gal", "imp gal")), ("gallons", ("US gal", "imp gal")),
        ("gpm", ("US gal/min", "imp gal/min")),
     ("gal/min", ("US gal/min", "imp gal/min")), ("degrees", ("°C", "°F")), ("deg", ("°C", "°F")), ("°",
         ("°C", "°F")),
     ("ppm", ("mg/L", "mg/kg")), ("ppb", ("µg/L", "µg/kg")), ("MG/L", ("mg/L",)), ("Mg/L", ("mg/L",)),
         ("Mg", ("mg",)), ("KG", ("kg",)),
     ("tons", ("t", "ton of refrigeration")), ("S", ("PSU", "mS/cm")), ("months", ("d", "week")),
         ("fl oz", ("US fl oz", "imp fl oz"))],
)  # fmt: skip
def test_what_can_be_read_two_ways_is_asked_with_its_choices(text, choices):
    with pytest.raises(units.NotUnderstood) as caught:
        units.unit(text)
    assert caught.value.code == "units/ambiguous-unit"
    assert caught.value.choices == choices
    for choice in choices:
        units.unit(choice)


@pytest.mark.parametrize(
    ("text", "kind", "choices"),
    [("C", "temperature", ("°C",)), ("ppm", "mass concentration", ("mg/L",)), ("ppm", "alkalinity",
        ("mg/L CaCO3", "dKH", "meq/L")),
     ("ppt", "mass concentration", ("g/L", "ng/L")), ("ton", "power", ("ton of refrigeration",)), ("ppb",
         "mass content", ("µg/kg",))],
)  # fmt: skip
def test_the_choices_are_those_of_the_kind_that_was_asked_for(text, kind, choices):
    with pytest.raises(units.NotUnderstood) as caught:
        units.unit(text, kind)
    assert (caught.value.code, caught.value.choices) == ("units/ambiguous-unit", choices)


def test_a_capital_that_changes_the_meaning_is_named():
    with pytest.raises(units.NotUnderstood, match="M is mega"):
        units.unit("MG/L")


@pytest.mark.parametrize(
    ("text", "near"),
    [("hpp", "hp"), ("m3/hh", "m³/h"), ("celcius", "°C"), ("litrse", "L"), ("mg/Ll", "mg/L")],
)
def test_an_unknown_unit_is_refused_with_the_nearest_one(text, near):
    with pytest.raises(units.NotUnderstood) as caught:
        units.unit(text)
    assert caught.value.code == "units/unknown-unit"
    assert near in caught.value.choices


@pytest.mark.parametrize(
    ("text", "kind", "says"),
    [("m", "volume", "unit of length, not of volume"), ("%", "pressure", "barometer"), ("g/L",
        "salinity", "temperature"),
     ("mS/cm", "salinity", "temperature"), ("SG", "salinity", "own scale"), ("µmol/kg", "alkalinity",
         "density"),
     ("BTU", "power", "unit of energy"), ("m", "time", "unit of length"), ("lux", "photon flux",
         "spectrum"), ("ppt", "temperature", "salinity")],
)  # fmt: skip
def test_a_unit_of_another_kind_says_what_it_measures_and_what_a_conversion_takes(text, kind, says):
    with pytest.raises(units.NotUnderstood) as caught:
        units.unit(text, kind)
    fault = caught.value
    if text == "ppt":
        assert fault.code == "units/ambiguous-unit"
        return
    assert fault.code == "units/wrong-kind"
    assert says in fault.why
    assert fault.choices == units.SYMBOLS[kind]


def test_nothing_is_no_unit_except_where_none_is_needed():
    with pytest.raises(units.NotUnderstood, match="units/no-unit"):
        units.unit("", "temperature")
    with pytest.raises(units.NotUnderstood, match="units/no-unit"):
        units.unit(" ")
    assert units.unit("", "pH").symbol == "pH"
    assert units.unit("1", "pH").symbol == "pH"
    assert units.unit("", "specific gravity").symbol == "SG"


def test_a_kind_that_does_not_exist_is_our_own_fault():
    with pytest.raises(ValueError, match="no such kind"):
        units.unit("m", "beauty")


@pytest.mark.parametrize(
    ("text", "basis"),
    [("mg/L as N", "N"), ("mg/L-N", "N"), ("mg N/L", "N"), ("mg/L N", "N"), ("mg/L NO3-N", "N"),
        ("mg/L (as N)", "N"), ("mg NH4-N/L", "N"),
     ("mg/l NO2-N", "N"), ("mg/L NO3", "ion"), ("mg/L NO₃⁻", "ion"), ("mg NO3/L", "ion"), ("mg/L as PO4",
         "ion"), ("mg/L PO4-P", "P"),
     ("mg/L NH3", "NH3"), ("mg/L O2", "O2"), ("mg O2/L", "O2"), ("mg/L as Cl2", "Cl2"), ("mg·L⁻¹ as N",
         "N"), ("mg/L", "")],
)  # fmt: skip
def test_as_nitrogen_or_as_the_ion_is_a_basis_and_no_unit(text, basis):
    got = units.unit(text)
    assert (got.symbol, got.basis, got.factor) == ("mg/L", basis, 1.0)


@pytest.mark.parametrize(
    ("text", "symbol", "basis"),
    [("barg", "bar", "gauge"), ("bar g", "bar", "gauge"), ("psig", "psi", "gauge"), ("kPa abs", "kPa",
        "absolute"), ("% sat", "%", "saturation"),
     ("pH NBS", "pH", "NBS"), ("pHT", "pH", "total")],
)  # fmt: skip
def test_gauge_saturation_and_scale_are_kept_as_the_basis(text, symbol, basis):
    got = units.unit(text)
    assert (got.symbol, got.basis) == (symbol, basis)


def test_a_basis_makes_no_sense_behind_a_length():
    with pytest.raises(units.NotUnderstood, match="units/unknown-unit"):
        units.unit("m as N")


def test_grams_in_a_kilogram_are_salinity_or_a_content_by_what_was_asked():
    assert units.unit("g/kg").kind == "salinity"
    assert "0.5 %" in units.unit("ppt", "salinity").note
    assert units.unit("g/kg", "mass content").factor == 1000
    assert units.unit("PSU").note == ""
    assert units.unit("S", "salinity").symbol == "PSU"


@pytest.mark.parametrize("name", ["r13_unit_spellings.csv", "r15_unit_missing.csv"])
def test_the_corpus_of_units_is_understood_or_asked_where_it_must_be(name):
    rows = list(csv.DictReader((CORPUS / name).read_text("utf-8").splitlines()))
    refused = set()
    for line, row in enumerate(rows, start=2):
        try:
            units.unit(row["unit"], glossary.quantity(row["quantity"]).kind)
        except units.NotUnderstood:
            refused.add(line)
    assert refused == {where["line"] for where in INDEX[name]["where"]}


def test_the_corpus_facility_with_a_bare_number_gallons_and_degrees():
    assert units.read_amount("3 cubic metres", "volume").si() == 3.0
    with pytest.raises(units.NotUnderstood, match="units/no-unit"):
        units.read_amount("12", "volume")
    with pytest.raises(units.NotUnderstood, match=r"3\.785 L.*4\.546 L"):
        units.read_amount("2100 gal", "volume")
    with pytest.raises(units.NotUnderstood, match="is not a unit of temperature"):
        units.unit("degrees", "temperature")


def test_no_spelling_of_one_kind_means_two_units():
    for way, meant in spelling._INDEX.items():
        kinds = [unit.kind for unit in meant]
        for kind in set(kinds):
            same = {(u.symbol, u.factor, u.offset) for u in meant if u.kind == kind}
            assert len(same) == 1, (way, same)


def test_no_ambiguous_word_is_also_a_spelling_of_what_it_may_mean():
    free = {way for way in spelling._AMBIGUOUS_WORDS if spelling.meanings(way)}
    assert free == {"ppt", "S"}  # salinity's own, and only there


@settings(max_examples=400, deadline=None)
@given(st.text(max_size=25), st.none() | st.sampled_from(table.KINDS))
@example("/", None)
@example("//", "flow")
@example("()", None)
@example("m/(", "speed")
@example("-1", None)
@example("1", None)
@example("⁻¹", "rate")
def test_no_text_raises_anything_but_a_refusal(text, kind):
    try:
        got = units.unit(text, kind)
    except units.NotUnderstood as fault:
        assert fault.code.startswith("units/")  # noqa: PT017 (most texts are refused, some are not)
        assert fault.hint  # noqa: PT017 (most texts are refused, some are not)
    else:
        assert kind in {None, got.kind}


@settings(max_examples=200, deadline=None)
@given(
    st.lists(
        st.sampled_from(
            ["m", "g", "L", "µ", "h", "/", " ", "-1", "3", "(", ")", "per ", "US ", "gal", "°", "N", " as "]
        ),
        max_size=7,
    )
)
def test_heaps_of_parts_are_units_of_the_table_or_refused(parts):
    try:
        got = units.unit("".join(parts))
    except units.NotUnderstood:
        return
    assert got.symbol in units.SYMBOLS[got.kind]


def test_a_forgotten_micro_sign_is_caught(monkeypatch):
    """Planted fault: the Greek letter is no longer the micro sign."""
    signs = {key: value for key, value in spelling._SIGNS.items() if key != ord("μ")}
    monkeypatch.setattr(spelling, "_SIGNS", signs)
    for cached in (spelling.unit, spelling.meanings, spelling.key):
        cached.cache_clear()
    try:
        with pytest.raises(units.NotUnderstood):
            test_the_spellings_of_a_unit_are_one_unit("µg/L", ["µg/L", "μg/L"])
    finally:
        monkeypatch.undo()
        for cached in (spelling.unit, spelling.meanings, spelling.key):
            cached.cache_clear()
