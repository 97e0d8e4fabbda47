"""An explanation tells the values that would hold if it is so."""

import numpy as np
import pytest

from brinehouse import findings
from brinehouse.engines import gas_budget
from brinehouse.engines.gas_budget import closure, explaining
from brinehouse.science import gases, seawater

GIVEN = {
    "temperature": "25.5 °C",
    "salinity": "35 PSU",
    "barometer": "760 mmHg",
    "tgp": "103.00 %",
    "oxygen": "6.556 mg/L",
    "nitrogen": "104.59 %",
}


def explained(**more):
    return {one.code: one for one in gas_budget.answer(GIVEN | more).explanations}


def test_the_factor_of_a_salinity_left_at_zero_is_the_ratio_of_what_both_waters_hold():
    # check value: 6.714 mg/L shows as 8.187 (x1.2195), vapour's share in it apart
    factor = explaining.corrected_oxygen_factor(25.5, 35.0, 0.0)
    assert 1.0 / factor == pytest.approx(1.2195, abs=0.001)
    held = [float(gases.oxygen_at_saturation(25.5, s) * seawater.density(25.5, s)) for s in (35.0, 0.0)]
    wet = [101325.0 - float(gases.vapour_pressure(25.5, s)) for s in (35.0, 0.0)]
    assert factor == pytest.approx(held[0] / held[1] * wet[1] / wet[0], rel=1e-9)
    assert explaining.corrected_oxygen_factor(25.5, 35.0, 35.0) == pytest.approx(1.0)


def test_corrected_values_close_again():
    # what is put right must pass the very test that refused it
    answer = gas_budget.answer(GIVEN | {"oxygen": "8.00 mg/L"})
    fixed = answer.explanations[0].corrected
    again = GIVEN | {
        "oxygen": f"{fixed['oxygen_concentration'].value:.3f} mg/L",
        "nitrogen": f"{fixed['nitrogen_percent'].value:.2f} %",
    }
    assert gas_budget.answer(again).state == "closes"


def test_corrected_values_carry_their_uncertainty():
    for one in gas_budget.answer(GIVEN | {"oxygen": "8.00 mg/L"}).explanations:
        for name in explaining.TOLD:
            assert one.corrected[name].u > 0, (one.code, name)


def test_a_barometer_that_stands_apart_is_told_in_mmhg():
    # the meter at 750 mmHg, 760 given: with TGP in % the residual moves by 0.035 % per mmHg
    moved = explained(nitrogen="103.89 %")
    implied = moved["gas/barometer-differs"].corrected["meter_barometer"]
    slope = 0.035
    assert implied.value == pytest.approx(760.0 - 0.70 / slope, rel=0.01)


def test_explanations_that_neither_fit_nor_weigh_are_not_shown_but_the_plain_one_always_is():
    shown = explained(oxygen="8.00 mg/L")
    assert "gas/closes" in shown
    assert "gas/nitrogen-alone" not in shown


def test_every_correction_belongs_to_an_explanation():
    assert set(explaining.CORRECTIONS) <= set(closure.CAUSES)
    assert set(closure.CAUSES) <= set(findings.codes())


def test_priors_are_shares_that_sum_to_about_one_for_the_triple():
    of_oxygen = ("gas/oxygen-salinity-zero", "gas/oxygen-salinity-other", "gas/percent-at-sea-level")
    triple = [code for code in closure.CAUSES if code not in of_oxygen]
    assert sum(closure.CAUSES[code].prior for code in triple) == pytest.approx(1.0, abs=0.02)


def test_putting_right_for_what_closes_changes_nothing():
    state = explaining.State(
        temperature=25.5, salinity=35.0, barometer=101325.0, kind="percent", total=103.0, oxygen=6.556,
        carbon_dioxide=0.0, depth=0.0, doubt=explaining.kernel.Doubt(),
    )  # fmt: skip
    case = closure.case(
        temperature=25.5, salinity=35.0, barometer=101325.0, total=1.03, oxygen=6.556, nitrogen=104.6
    )
    assert explaining.put_right("gas/closes", state, case) == state
    zero = explaining.put_right("gas/meter-salinity-zero", state, case)
    assert zero.oxygen == pytest.approx(6.556 / 1.2195, rel=1e-3)
    assert np.isclose(zero.total, state.total)
