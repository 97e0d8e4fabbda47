"""The table of units, checked against another program and against printed definitions."""

import pathlib
import re
import tomllib

import pint
import pytest

from brinehouse import units
from brinehouse.units import table

REGISTRY = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
WORDS = {
    "m": "meter", "cm": "centimeter", "mm": "millimeter", "µm": "micrometer", "km": "kilometer",
        "in": "inch", "ft": "foot",
    "L": "liter", "mL": "milliliter", "µL": "microliter", "US gal": "US_liquid_gallon",
        "imp gal": "imperial_gallon",
    "US fl oz": "US_fluid_ounce", "imp fl oz": "imperial_fluid_ounce", "s": "second",
        "ms": "millisecond", "min": "minute", "h": "hour",
    "d": "day", "week": "week", "Pa": "pascal", "mPa": "millipascal", "hPa": "hectopascal",
        "kPa": "kilopascal", "MPa": "megapascal", "mbar": "millibar",
    "bar": "bar", "dbar": "decibar", "mmHg": "millimeter_Hg", "inHg": "inch_Hg", "Torr": "torr",
        "atm": "atm", "µatm": "microatm",
    "matm": "milliatm", "psi": "psi", "mH2O": "meter_H2O", "cmH2O": "centimeter_H2O",
        "mmH2O": "millimeter_H2O", "inH2O": "inch_H2O",
    "ftH2O": "foot_H2O", "W": "watt", "mW": "milliwatt", "µW": "microwatt", "kW": "kilowatt",
        "MW": "megawatt", "hp": "horsepower",
    "PS": "metric_horsepower", "BTU": "Btu_it", "kcal": "(1000 * international_calorie)",
        "ton of refrigeration": "(12000 * Btu_it / hour)",
    "J": "joule", "mJ": "millijoule", "kJ": "kilojoule", "MJ": "megajoule", "Wh": "watt_hour",
        "kWh": "kilowatt_hour", "MWh": "megawatt_hour",
    "kg": "kilogram", "g": "gram", "mg": "milligram", "µg": "microgram", "ng": "nanogram", "t": "tonne",
        "lb": "pound", "oz": "ounce",
    "µmol": "micromole", "mmol": "millimole", "mol": "mole", "nmol": "nanomole", "S": "siemens",
        "mS": "millisiemens",
    "µS": "microsiemens", "%": "percent", "‰": "permille", "1": "dimensionless", "K": "kelvin",
        "Hz": "hertz", "kHz": "kilohertz",
    "rpm": "revolutions_per_minute", "mV": "millivolt", "V": "volt", "kV": "kilovolt", "A": "ampere",
        "mA": "milliampere",
    "lx": "lux", "klx": "kilolux", "100 mL": "(100 * milliliter)",
}  # fmt: skip
BY_DEFINITION = {
    ("PSU", "salinity"), ("SG", "specific gravity"), ("pH", "pH"), ("1", "count"),
    ("NTU", "turbidity"), ("FNU", "turbidity"), ("FTU", "turbidity"),
    ("meq/L", "alkalinity"), ("mmol/L", "alkalinity"), ("µeq/L", "alkalinity"), ("µmol/L", "alkalinity"),
    ("dKH", "alkalinity"), ("mg/L CaCO3", "alkalinity"),
}  # fmt: skip
"""What the other program has no word for: one by definition, or checked below against its own source."""
TURNS = {("rpm", "frequency")}
TEMPERATURES = {"°C": "degree_Celsius", "°F": "degree_Fahrenheit", "K": "kelvin"}


def in_pint(symbol):
    """A symbol of ours as an expression of the other program's."""
    parts = []
    for part in symbol.split("/"):
        words = []
        for piece in [part] if part in WORDS else part.split(" "):
            met = re.fullmatch(r"(.+?)([²³]?)", piece)
            words.append(WORDS[met[1]] + {"": "", "²": "**2", "³": "**3"}[met[2]])
        parts.append("(" + " * ".join(words) + ")")
    return "/".join(parts)


CHECKED = [
    unit
    for unit in table.UNITS
    if not unit.note
    and (unit.symbol, unit.kind) not in BY_DEFINITION
    and not unit.kind.startswith("temperature")
]


def ratio(unit):
    """Factor by the other program, to the base of the unit's kind."""
    base = units.SYMBOLS[unit.kind][0]
    if (unit.symbol, unit.kind) in TURNS:
        return 1 / 60  # a turn, not a radian
    there = REGISTRY.Quantity(REGISTRY.parse_expression(in_pint(unit.symbol)))
    return (there / REGISTRY.parse_expression(in_pint(base))).to("dimensionless").magnitude


@pytest.mark.parametrize("unit", CHECKED, ids=lambda u: f"{u.kind}: {u.symbol}")
def test_every_factor_is_the_one_of_another_program(unit):
    assert unit.factor == pytest.approx(ratio(unit), rel=1e-12)


@pytest.mark.parametrize("start", TEMPERATURES)
@pytest.mark.parametrize("end", TEMPERATURES)
@pytest.mark.parametrize("value", [-40.0, 0.0, 25.5, 84.0, 300.0])
def test_temperatures_agree_with_another_program(start, end, value):
    wanted = REGISTRY.Quantity(value, TEMPERATURES[start]).to(TEMPERATURES[end]).magnitude
    assert units.convert(value, start, end, "temperature") == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("unit", ["K", "°C", "°F"])
def test_a_difference_of_temperature_has_no_offset(unit):
    assert units.convert(9.0, unit, "K", "temperature difference") == pytest.approx(
        5.0 if unit == "°F" else 9.0
    )


@pytest.mark.parametrize(
    ("value", "start", "end", "wanted", "half_digit"),
    [
        (1, "hp", "W", 745.6999, 5e-5),  # NIST SP 811 (2008) appendix B.8, horsepower (550 ft·lbf/s)
        (1, "PS", "W", 735.4988, 5e-5),  # same, horsepower (metric)
        (1, "US gal", "L", 3.785412, 5e-7),  # same, gallon (U.S.)
        (1, "imp gal", "L", 4.54609, 5e-9),  # same, gallon (Canadian and U.K.), exact
        (1, "psi", "Pa", 6894.757, 5e-4),  # same, pound-force per square inch
        (1, "mmHg", "Pa", 133.3224, 5e-5),  # same, millimetre of mercury, conventional
        (1, "inHg", "Pa", 3386.389, 5e-4),  # same, inch of mercury, conventional
        (1, "atm", "kPa", 101.325, 1e-9),  # same, exact
        (1, "BTU/h", "W", 0.2930711, 5e-8),  # same, British thermal unit (IT) per hour
        (1, "ft³/min", "L/s", 0.4719474, 5e-8),  # same, cubic foot per minute
        (1, "lb", "kg", 0.45359237, 1e-12),  # same, exact
        (1, "ton of refrigeration", "W", 3517, 0.5),  # same, ton of refrigeration (12 000 BTU_IT/h)
        (
            1,
            "dKH",
            "mg/L CaCO3",
            17.848,
            0.0005,
        ),  # calc from 10 mg/L CaO a degree (definition in DIN 38409-7, from memory)
        (2.8, "dKH", "meq/L", 1.0, 0.002),  # common practice, no source: 2.8 degrees are 1 meq/L
        (50.04, "mg/L CaCO3", "meq/L", 1.0, 0.0005),  # equivalent weight of CaCO3, common practice, no source
    ],
)
def test_the_trades_units_agree_with_their_printed_values(value, start, end, wanted, half_digit):
    assert units.convert(value, start, end) == pytest.approx(wanted, abs=half_digit)


def test_a_wrong_factor_is_caught(monkeypatch):
    """Planted fault: an imperial gallon where a US one should be."""
    good = next(unit for unit in CHECKED if unit.symbol == "US gal/min")
    wrong = table.Unit(good.symbol, good.kind, table.IMPERIAL_GALLON / 60)
    with pytest.raises(AssertionError):
        test_every_factor_is_the_one_of_another_program(wrong)


def test_the_base_of_each_kind_is_first_and_is_one():
    for kind in units.KINDS:
        base = next(unit for unit in table.UNITS if unit.kind == kind)
        assert (base.factor, base.offset) == (1.0, 0.0), kind


def test_no_kind_has_a_symbol_twice():
    for kind in units.KINDS:
        symbols = [unit.symbol for unit in table.UNITS if unit.kind == kind and not unit.note]
        assert len(symbols) == len(set(symbols)), kind


@pytest.mark.parametrize(
    "unit", [u for u in table.UNITS if not u.note], ids=lambda u: f"{u.kind}: {u.symbol}"
)
def test_every_symbol_and_spelling_is_read_as_its_unit(unit):
    for way in (unit.symbol, *unit.spellings):
        if not way and unit.kind not in units.UNITLESS:
            continue
        got = units.unit(way, unit.kind)
        assert (got.symbol, got.kind, got.factor, got.offset) == (
            unit.symbol,
            unit.kind,
            unit.factor,
            unit.offset,
        )


@pytest.mark.parametrize(
    ("text", "it_says", "code_or_symbol"),
    [("30 ppt", "picopint", "PSU"), ("3 hpp", "hectopoint", "units/unknown-unit"), ("1 PS",
        "petasiemens", "PS"),
     ("4 TR", "teramolar_gas_constant", "ton of refrigeration"), ("5 C", "coulomb", "units/ambiguous-unit"),
     ("5 F", "farad", "units/ambiguous-unit"), ("1 gal", "gallon", "units/ambiguous-unit"),
     ("1 MG/L", "megagauss / liter", "units/ambiguous-unit"), ("3 Mg", "megagram",
         "units/ambiguous-unit"), ("10 ppm", "ppm", "units/ambiguous-unit"),
     ("7 pt", "pint", "units/ambiguous-unit"), ("1_000 m", "meter", "units/not-a-number"), ("nan m",
         "meter", "units/not-finite"),
     ("1e999 m", "meter", "units/not-finite"), ("17 m3", None, "m³"), ("12 gpm", None,
         "units/ambiguous-unit"), ("3 HP", None, "hp"),
     ("1.5 psu", None, "PSU")],
)  # fmt: skip
def test_what_the_other_program_misreads_is_right_or_refused_here(text, it_says, code_or_symbol):
    strict = pint.UnitRegistry()
    if it_says is None:
        with pytest.raises(pint.PintError):
            strict(text)
    else:
        assert str(strict(text).units) == it_says
    try:
        got = units.read_amount(text).unit
    except units.NotUnderstood as fault:
        got = fault.code
    assert got == code_or_symbol


def test_a_plain_celsius_amount_is_read():
    # the other program refuses it in some versions and takes it in others
    assert units.read_amount("25 degC").unit == "°C"


def test_the_glossarys_units_are_all_in_the_table():
    page = pathlib.Path(units.__file__).parents[1] / "glossary.toml"
    for word, entry in tomllib.loads(page.read_text("utf-8"))["quantity"].items():
        for form in (entry, *entry.get("also", ())):
            assert units.unit(form["unit"], form.get("kind")).symbol == form["unit"], word
