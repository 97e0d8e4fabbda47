"""Whole columns say what one reading typed by hand says, for every row."""

import numpy as np
import pytest

from brinehouse import findings
from brinehouse.engines import gas_budget
from brinehouse.engines.gas_budget import kernel, many_rows

TABLE = {
    "temperature": np.array([25.5, 12.0, 18.3]),
    "salinity": np.array([35.0, 33.0, 30.0]),
    "barometer": np.array([760.0, 725.0, 741.0]),
    "tgp": np.array([104.5, 101.2, 98.7]),
    "oxygen": np.array([8.0, 8.21, 7.4]),
    "nitrogen": np.array([106.0, 101.4, 98.9]),
    "depth": np.array([0.3, 0.5, 1.0]),
}
HEADERS = {
    "temperature": "degC",
    "salinity": "ppt",
    "barometer": "mmHg",
    "tgp": "%",
    "oxygen": "mg/L",
    "nitrogen": "%",
    "depth": "m",
}


def typed(row):
    return gas_budget.answer(
        {
            "temperature": f"{TABLE['temperature'][row]:.1f} °C",
            "salinity": f"{TABLE['salinity'][row]:.0f} PSU",
            "barometer": f"{TABLE['barometer'][row]:.0f} mmHg",
            "tgp": f"{TABLE['tgp'][row]:.1f} %",
            "oxygen": f"{TABLE['oxygen'][row]:.2f} mg/L",
            "nitrogen": f"{TABLE['nitrogen'][row]:.1f} %",
            "depth": f"{TABLE['depth'][row]:.1f} m",
        }
    )


@pytest.mark.parametrize("row", range(3))
def test_a_row_of_a_file_gives_what_the_same_reading_typed_by_hand_gives(row):
    got, answer = gas_budget.columns(TABLE), typed(row)
    for name, value in answer.values.items():
        assert got[name][row] == pytest.approx(value.value, rel=1e-5), name


def test_every_output_of_the_question_comes_with_its_uncertainty():
    got = gas_budget.columns(TABLE)
    for output in gas_budget.QUESTION.outputs:
        assert output.name in got
        assert np.all(got[f"u_{output.name}"] > 0)


@pytest.mark.parametrize(("unit", "factor"), [("µmol/L", 1 / 0.0319988), ("mg/L", 1.0), ("g/m3", 1.0)])
def test_oxygen_may_come_in_any_of_its_units(unit, factor):
    other = TABLE | {"oxygen": TABLE["oxygen"] * factor}
    got = gas_budget.columns(other, {"oxygen": unit})
    np.testing.assert_allclose(got["oxygen_percent"], gas_budget.columns(TABLE)["oxygen_percent"], rtol=1e-6)


def test_oxygen_for_each_kilogram_is_turned_by_density():
    litre = kernel.density(TABLE["temperature"], TABLE["salinity"]) / 1000.0
    other = TABLE | {"oxygen": TABLE["oxygen"] / 0.0319988 / litre}
    got = gas_budget.columns(other, {"oxygen": "µmol/kg"})
    np.testing.assert_allclose(got["oxygen_percent"], gas_budget.columns(TABLE)["oxygen_percent"], rtol=1e-6)


def test_delta_p_and_absolute_pressure_serve_as_well_as_percent():
    base = gas_budget.columns(TABLE)
    rest = {name: column for name, column in TABLE.items() if name != "tgp"}
    delta = gas_budget.columns(rest | {"delta_p": base["delta_p"]})
    total = gas_budget.columns(rest | {"tgp": base["total_pressure"]}, {"tgp": "mmHg"})
    for name in ("nitrogen_percent", "total_gas_pressure", "compensation_depth"):
        np.testing.assert_allclose(delta[name], base[name], rtol=1e-9)
        np.testing.assert_allclose(total[name], base[name], rtol=1e-9)


def test_oxygen_left_out_is_worked_out_from_the_residual():
    base = gas_budget.columns(TABLE)
    rest = {name: column for name, column in TABLE.items() if name != "oxygen"}
    got = gas_budget.columns(rest | {"nitrogen": base["nitrogen_percent"]})
    np.testing.assert_allclose(got["oxygen_concentration"], TABLE["oxygen"], rtol=1e-9)


def test_a_percentage_serves_for_oxygen():
    base = gas_budget.columns(TABLE)
    rest = {name: column for name, column in TABLE.items() if name not in ("oxygen", "nitrogen")}
    got = gas_budget.columns(rest | {"saturation": base["oxygen_percent"]})
    np.testing.assert_allclose(got["oxygen_concentration"], TABLE["oxygen"], rtol=1e-9)


def test_a_file_is_read_by_its_headers_and_answered_in_the_same_form():
    table = {f"{name} ({HEADERS[name]})": column for name, column in TABLE.items()}
    added, found = gas_budget.bulk(table)
    assert not [one for one in found if one.level is findings.Level.STOP]
    assert added["oxygen_percent (%)"][0] == pytest.approx(119.2, abs=0.1)
    assert added["delta_p (mmHg)"][0] == pytest.approx(34.2, abs=0.01)
    assert added["compensation_depth (m)"][0] == pytest.approx(0.454, abs=0.001)
    assert added["explanation"][0] == "gas/meter-salinity-zero"
    assert added["closure_fit (1)"][0] < 1e-6
    assert all(column.shape == (3,) for column in added.values())


def test_headers_may_use_the_glossarys_words():
    table = {
        "water temperature (°F)": TABLE["temperature"] * 1.8 + 32.0,
        "salinity (PSU)": TABLE["salinity"],
        "barometric pressure (hPa)": TABLE["barometer"] * 1.33322,
        "total gas pressure (%)": TABLE["tgp"],
        "dissolved oxygen (mg/L)": TABLE["oxygen"],
    }
    added, _ = gas_budget.bulk(table)
    expected = gas_budget.columns(TABLE)["nitrogen_percent"]
    np.testing.assert_allclose(added["nitrogen_percent (%)"], expected, atol=1e-3)
    assert "explanation" not in added


def test_what_is_the_same_for_all_rows_may_be_typed_once():
    table = {f"{name} ({HEADERS[name]})": TABLE[name] for name in ("tgp", "oxygen")}
    fixed = {"temperature": "25.5 °C", "salinity": "35 PSU", "barometer": "760 mmHg", "u_tgp": "0.2 %"}
    added, found = gas_budget.bulk(table, fixed)
    assert not found
    assert added["oxygen_percent (%)"][0] == pytest.approx(119.2, abs=0.1)
    assert added["u_total_gas_pressure (%)"][0] == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("header", "code"),
    [
        ("temperature", "gas/column-unit"),
        ("temperature (mmHg)", "gas/column-unit"),
        ("colour (blue)", "gas/column-unused"),
    ],
)
def test_a_header_that_cannot_be_used_is_named(header, code):
    table = {f"{name} ({HEADERS[name]})": column for name, column in TABLE.items()}
    if code == "gas/column-unit":
        del table["temperature (degC)"]
    table[header] = TABLE["temperature"]
    added, found = gas_budget.bulk(table)
    assert code in [one.code for one in found]
    assert header in next(one.text for one in found if one.code == code)
    assert bool(added) is (code == "gas/column-unused")


def test_a_file_without_oxygen_or_residual_is_refused_whole():
    table = {
        f"{name} ({HEADERS[name]})": TABLE[name] for name in ("temperature", "salinity", "barometer", "tgp")
    }
    added, found = gas_budget.bulk(table)
    assert not added
    assert found[-1].code == "gas/not-enough"


def test_rows_outside_the_known_range_are_counted():
    table = {f"{name} ({HEADERS[name]})": column.copy() for name, column in TABLE.items()}
    table["barometer (mmHg)"][1] = 1013.0
    _, found = gas_budget.bulk(table)
    finding = next(one for one in found if one.code == "gas/out-of-range")
    assert "1 of 3" in finding.text


def test_a_column_that_no_budget_takes_is_a_bug_of_the_caller():
    with pytest.raises(KeyError, match="colour"):
        gas_budget.columns(TABLE | {"colour": np.zeros(3)})


def test_rows_with_and_without_a_second_figure_stand_side_by_side():
    nitrogen = TABLE["nitrogen"].copy()
    nitrogen[1] = np.nan
    got = gas_budget.explain_columns(
        TABLE | {"nitrogen": nitrogen, "saturation": np.array([98.0, 99.0, np.nan])}
    )
    assert got.codes[got.best[0]] == "gas/meter-salinity-zero"
    assert got.codes[got.best[1]].startswith("gas/")
    lone = gas_budget.explain_columns(TABLE | {"nitrogen": np.full(3, np.nan), "oxygen": TABLE["oxygen"]})
    assert lone.best.tolist() == [-1, -1, -1]


def test_weights_of_a_row_sum_to_one_and_follow_the_single_answer():
    got = gas_budget.explain_columns(TABLE, steps={"oxygen": 0.1, "nitrogen": 1.0})
    np.testing.assert_allclose(np.nansum(got.weights, axis=0), 1.0)
    single = gas_budget.answer(
        {"temperature": "25.5 degC", "salinity": "35.0 ppt", "barometer": "760 mmHg", "tgp": "104.5 %",
         "oxygen": "8.0 mg/L", "nitrogen": "106 %"}
    )  # fmt: skip
    for one in single.explanations:
        assert got.weights[got.codes.index(one.code), 0] == pytest.approx(one.weight, abs=1e-6)


def test_the_units_of_the_table_are_those_of_the_question():
    inputs = {item.name for item in gas_budget.QUESTION.inputs}
    assert set(many_rows.UNITS) <= inputs
