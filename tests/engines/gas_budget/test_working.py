"""Each number can be worked again by hand from what its line shows."""

import pytest

from brinehouse.engines import gas_budget

ANSWER = gas_budget.answer(
    {"temperature": "25.5 °C", "salinity": "35 PSU", "barometer": "760 mmHg", "tgp": "103.0 %",
     "oxygen": "6.56 mg/L", "carbon_dioxide": "1 mmHg", "depth": "0.5 m"}
)  # fmt: skip


def line(name):
    step = next(one for one in ANSWER.working if one.name == name)
    return step, {key: value for key, (value, _) in step.inputs.items()}


def test_nitrogen_can_be_worked_by_hand():
    step, given = line("nitrogen_percent")
    over = given["BP"] + given["ΔP"] - given["pO2"] - given["pH2O"] - given["pCO2"]
    assert 100.0 * over / (0.7902 * (given["BP"] - given["pH2O"])) == pytest.approx(step.result, abs=1e-3)


def test_what_is_left_at_depth_can_be_worked_by_hand():
    step, given = line("uncompensated_delta_p")
    # check value: 75.262 mmHg for each metre at S 35, 25.5 °C
    assert given["ΔP"] - 75.262 * given["z"] == pytest.approx(step.result, abs=0.01)


def test_each_uncertainty_says_where_it_is_from():
    step, given = line("uncertainty")
    assert set(given) == {
        f"u({n})" for n in ("temperature", "salinity", "barometer", "total", "oxygen", "depth")
    }
    assert step.source == "JCGM 100:2008, 5.1.2, independent inputs"


def test_carbon_dioxide_taken_as_none_is_said():
    bare = gas_budget.answer({name: text for name, text in ANSWER.inputs.items() if name != "carbon_dioxide"})
    step = next(one for one in bare.working if one.name == "nitrogen_percent")
    assert "taken as none" in step.note
