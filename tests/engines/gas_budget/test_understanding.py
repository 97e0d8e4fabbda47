"""What was typed is read strictly, and where each uncertainty comes from is known."""

import pytest

from brinehouse.engines import gas_budget
from brinehouse.engines.gas_budget import understanding

BASE = {
    "temperature": "25.5 °C",
    "salinity": "35 PSU",
    "barometer": "760 mmHg",
    "tgp": "103.0 %",
    "oxygen": "6.56 mg/L",
}


def codes(answer):
    return [one.code for one in answer.findings]


def ask(**more):
    given = BASE | more
    return gas_budget.answer({name: text for name, text in given.items() if text})


def test_rounding_follows_the_digits_that_were_typed():
    coarse, faults = understanding.read({"tgp": "103 %"})
    fine, _ = understanding.read({"tgp": "103.0 %"})
    assert not faults
    assert coarse.total.rounding == pytest.approx(1.0 / 12**0.5)
    assert fine.total.rounding == pytest.approx(0.1 / 12**0.5)


def test_a_typed_uncertainty_replaces_the_usual_one():
    known, _ = understanding.read({"tgp": "103.00 %", "u_tgp": "0.25 %"})
    assert known.total.u == pytest.approx(0.25, rel=1e-3)
    assert known.total.source == "as given"


def test_the_usual_uncertainties_name_their_source():
    assert all(source for _, source in understanding.DEFAULTS.values())
    # ±1 % as a uniform distribution: USGS SIR 2004-5249, GUM 4.3.7
    assert understanding.DEFAULTS["tgp"][0] == pytest.approx(1.0 / 3**0.5)


@pytest.mark.parametrize("bound", ["<8 mg/L", ">8 mg/L"])
def test_a_bound_is_refused_with_a_sentence(bound):
    answer = ask(oxygen=bound)
    assert codes(answer) == ["gas/bound"]
    assert "only known to lie" in answer.findings[0].text


@pytest.mark.parametrize("text", ["1013 hPa", "29.92 inHg", "101.3 kPa", "1 atm"])
def test_air_pressure_may_come_in_any_of_its_units(text):
    assert ask(barometer=text).values["nitrogen_percent"].value == pytest.approx(104.6, abs=0.1)


@pytest.mark.parametrize("text", ["29.92 mmHg", "1013 mmHg", "0.76 mmHg"])
def test_air_pressure_that_stands_above_no_hall_is_refused_with_a_way_out(text):
    answer = ask(barometer=text)
    assert codes(answer) == ["gas/barometer-range"]
    assert "unit" in answer.findings[0].hint


def test_a_sea_level_pressure_needs_the_altitude():
    assert codes(ask(barometer_kind="sea level")) == ["gas/altitude-needed"]
    answer = ask(barometer_kind="sea level", altitude="412 m")
    assert answer.values["total_pressure"].value == pytest.approx(1.03 * 723.6, abs=0.3)


def test_an_unknown_kind_of_air_pressure_is_refused():
    assert codes(ask(barometer_kind="guess")) == ["gas/barometer-kind"]


def test_near_760_at_412_metres_looks_like_a_sea_level_pressure():
    assert "gas/barometer-sea-level" in codes(ask(altitude="412 m"))
    assert "gas/barometer-sea-level" not in codes(ask(altitude="412 m", barometer="726 mmHg"))


def test_without_a_barometer_the_altitude_serves_and_the_weather_stays_open():
    answer = ask(barometer="", altitude="412 m")
    # standard atmosphere at 412 m, from memory: 723.6 mmHg
    assert answer.values["total_pressure"].value == pytest.approx(1.03 * 723.6, abs=0.3)
    assert any("weather" in one.text for one in answer.findings)
    assert answer.values["nitrogen_percent"].u > ask(barometer="723.6 mmHg").values["nitrogen_percent"].u


@pytest.mark.parametrize("text", ["35.9 g/L", "53.6 mS/cm", "35 ‰", "35 g/kg"])
def test_salinity_may_be_typed_as_the_hall_measures_it(text):
    # published: 53.594 mS/cm at 25.5 °C is S 35; 35.98 g/L at 25 °C
    assert ask(salinity=text).values["oxygen_percent"].value == pytest.approx(97.7, abs=0.2)


def test_conductivity_without_the_temperature_is_refused():
    assert "gas/needs-temperature" in codes(ask(salinity="53.6 mS/cm", temperature=""))


def test_a_total_of_a_few_mmhg_looks_like_delta_p():
    assert codes(ask(tgp="23 mmHg")) == ["gas/looks-like-delta-p"]
    answer = ask(tgp="", delta_p="22.8 mmHg")
    assert answer.values["total_gas_pressure"].value == pytest.approx(103.0, abs=0.01)


def test_total_gas_pressure_may_be_absolute():
    assert ask(tgp="782.8 mmHg").values["total_gas_pressure"].value == pytest.approx(103.0, abs=0.01)


def test_oxygen_typed_as_a_percentage_is_taken_as_one():
    answer = ask(oxygen="97.7 %")
    assert answer.values["oxygen_concentration"].value == pytest.approx(6.56, abs=0.01)


@pytest.mark.parametrize("text", ["205 µmol/L", "200.35 µmol/kg"])
def test_oxygen_may_be_an_amount_of_substance(text):
    assert ask(oxygen=text).values["oxygen_concentration"].value == pytest.approx(6.56, abs=0.005)


@pytest.mark.parametrize(
    ("name", "text"), [("temperature", "77 °C"), ("salinity", "77 PSU"), ("depth", "-1 m")]
)
def test_what_lies_outside_the_known_range_is_refused(name, text):
    answer = ask(**{name: text})
    assert "gas/out-of-range" in codes(answer)


def test_a_word_that_is_no_amount_is_refused_by_the_units_own_code():
    answer = ask(tgp="high")
    assert answer.state == "not-enough"
    assert codes(answer)[0].startswith("units/")


def test_a_bare_number_is_refused():
    assert codes(ask(tgp="103.0"))[0] == "units/no-unit"


def test_what_was_assumed_in_reading_is_said():
    assert "gas/read-as" in codes(ask(salinity="35 ppt"))
