"""One day of a ship's own measurements, which nobody here wrote.

R. W. Izett and P. D. Tortell (2020), Oceanography 33(2), doi 10.5670/oceanog.2020.214; data
doi 10.5281/zenodo.4024952. Their optode stood at salinity 0 (its settings file says so); their example
assumes salinity 32 and 1013.25 mbar where no ship data are at hand.
"""

import functools
import pathlib

import numpy as np
import pytest

from brinehouse.engines import gas_budget
from brinehouse.science import gases, seawater

FILE = pathlib.Path(__file__).parents[2] / "data" / "underway_gas_2019-08-10.csv"
ASSUMED = {"salinity": 32.0, "barometer": 1013.25}


@functools.cache
def columns():
    rows = np.genfromtxt(FILE, delimiter=",", skip_header=1, usecols=range(1, 6))
    names = ("oxygen_percent", "oxygen", "temperature", "total_gas_pressure", "second_temperature")
    return dict(zip(names, rows.T, strict=True))


@functools.cache
def examined():
    return gas_budget.examine_series(columns(), assumed=ASSUMED)


def codes(answer):
    return [one.code for one in answer.findings]


def test_the_licence_stands_beside_the_data():
    text = FILE.with_suffix(".LICENSE.txt").read_text("utf-8")
    assert "MIT License" in text
    assert "10.5281/zenodo.4024952" in text


def test_the_concentration_column_was_made_at_salinity_zero():
    # the optode's own settings file says 0
    answer = examined()
    assert answer.explanations[0].code == "gas/oxygen-salinity-zero"
    assert answer.explanations[0].weight > 0.9
    assert answer.values["implied_salinity"].value == pytest.approx(0.0, abs=0.3)
    assert "gas/oxygen-salinity-zero" in codes(answer)


def test_that_is_seen_whatever_salinity_is_assumed():
    answer = gas_budget.examine_series(columns(), assumed=ASSUMED | {"salinity": 28.0})
    assert answer.values["implied_salinity"].value == pytest.approx(0.0, abs=0.3)
    assert answer.explanations[0].code == "gas/oxygen-salinity-zero"


def test_the_true_oxygen_is_told_at_the_salinity_assumed():
    data = columns()
    litre = seawater.density(data["temperature"], 32.0) * 1e-3
    true = 0.01 * data["oxygen_percent"] * gases.oxygen_at_saturation(data["temperature"], 32.0) * litre
    value = examined().values["oxygen_true"]
    assert value.value == pytest.approx(float(np.median(true)), rel=1e-6)
    assert value.u > 1.0


def test_nitrogen_is_told_by_both_thermometers_and_neither_is_chosen():
    table = examined().tables[0]
    by = {row["thermometer"]: row["nitrogen_percent"].value for row in table.rows}
    assert by["water's thermometer"] == pytest.approx(110, abs=1)
    assert by["gauge's thermometer"] == pytest.approx(95, abs=1)
    finding = next(one for one in examined().findings if one.code == "gas/two-temperatures")
    assert finding.data["apart"] == pytest.approx(5.4, abs=0.05)
    assert "cannot decide" in finding.text
    assert "leaves the gauge" in finding.hint


def test_salinity_and_air_pressure_stay_marked_as_assumed():
    said = [one.text for one in examined().findings if one.code == "gas/assumed"]
    assert len(said) == 2
    assert any("32" in text for text in said)
    assert any("1013.25" in text for text in said)
    measured = gas_budget.examine_series(
        {**columns(), "salinity": np.full(1441, 32.0)}, assumed={"barometer": 1013.25}
    )
    assert sum(one.code == "gas/assumed" for one in measured.findings) == 1


def test_a_column_made_at_the_right_salinity_raises_nothing():
    data = columns()
    litre = seawater.density(data["temperature"], 32.0) * 1e-3
    good = 0.01 * data["oxygen_percent"] * gases.oxygen_at_saturation(data["temperature"], 32.0) * litre
    answer = gas_budget.examine_series({**data, "oxygen": np.round(good, 3)}, assumed=ASSUMED)
    assert answer.state == "closes"
    assert answer.values["implied_salinity"].value == pytest.approx(32.0, abs=0.5)


def test_a_series_without_salinity_is_refused_with_a_way_out():
    answer = gas_budget.examine_series(columns(), assumed={"barometer": 1013.25})
    assert codes(answer) == ["gas/not-enough"]
    assert "salinity" in answer.findings[0].text


def test_gaps_are_left_out():
    data = {name: column.copy() for name, column in columns().items()}
    data["oxygen"][:100] = np.nan
    assert gas_budget.examine_series(data, assumed=ASSUMED).used == 1341
