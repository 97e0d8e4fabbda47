"""One reading typed by hand: the budget, the closure, and what is named when the numbers disagree."""

import pytest

from brinehouse import findings
from brinehouse.engines import gas_budget

# common practice, no source: three figures as a meter showed them in warm sea water
FIRST = {
    "temperature": "25.5 degC",
    "salinity": "35 ppt",
    "barometer": "760 mmHg",
    "tgp": "104.5 %",
    "oxygen": "8.0 mg/L",
    "nitrogen": "106 %",
    "depth": "0.3 m",
}
SECOND = {name: FIRST[name] for name in ("temperature", "salinity", "barometer")} | {
    "tgp": "103.2 %",
    "nitrogen": "104 %",
}


def codes(answer):
    return [finding.code for finding in answer.findings]


def explanation(answer, code):
    return next(one for one in answer.explanations if one.code == code)


def test_three_figures_that_cannot_all_be_true_are_said_to_be_so():
    answer = gas_budget.answer(FIRST)
    assert answer.state == "does-not-close"
    assert "gas/cannot-all-be-true" in codes(answer)
    assert explanation(answer, "gas/closes").fit < 1e-6


def test_the_salinity_setting_left_at_zero_comes_first_with_the_true_oxygen():
    answer = gas_budget.answer(FIRST)
    first = answer.explanations[0]
    assert first.code == "gas/meter-salinity-zero"
    assert first.fit > 0.05
    assert first.corrected["oxygen_percent"].value == pytest.approx(98, abs=0.5)
    assert first.corrected["oxygen_concentration"].value == pytest.approx(6.56, abs=0.005)
    assert first.corrected["nitrogen_percent"].value == pytest.approx(106.5, abs=0.1)


def test_the_rival_is_named_with_the_reading_that_separates_it():
    rival = explanation(gas_budget.answer(FIRST), "gas/residual-salinity-zero")
    assert rival.weight > 0.1
    assert rival.corrected["oxygen_concentration"].value == pytest.approx(8.0)
    assert "% saturation" in rival.next_reading
    assert "wet chemistry" in rival.next_reading


@pytest.mark.parametrize(
    ("shown", "winner"), [("98 %", "gas/meter-salinity-zero"), ("119 %", "gas/residual-salinity-zero")]
)
def test_a_percent_display_decides_between_the_two(shown, winner):
    answer = gas_budget.answer(FIRST | {"saturation": shown})
    assert answer.explanations[0].code == winner
    assert answer.explanations[0].weight > 0.95


def test_weights_sum_to_one_and_fall():
    weights = [one.weight for one in gas_budget.answer(FIRST).explanations]
    assert sum(weights) == pytest.approx(1.0, abs=0.005)
    assert weights == sorted(weights, reverse=True)


def test_the_second_pair_alone_implies_oxygen_near_101_percent():
    # common practice, no source: 103.2 % with a residual of 104 %
    answer = gas_budget.answer(SECOND)
    assert answer.values["oxygen_percent"].value == pytest.approx(101, abs=0.5)
    assert answer.state == "not-tested"
    assert not answer.explanations
    assert "gas/derived" in codes(answer)


def test_every_error_that_these_numbers_cannot_show_is_left_open_with_its_reading():
    unseen = {one.code: one.next_reading for one in gas_budget.answer(FIRST).not_excluded}
    for code in (
        "zero-drift",
        "wet-membrane",
        "not-settled",
        "bubbles-on-membrane",
        "biofilm",
        "oxygen-gain",
    ):
        assert unseen[f"gas/{code}"]


def test_every_code_is_listed_with_its_meaning():
    answer = gas_budget.answer(FIRST)
    listed = findings.codes()
    said = [*codes(answer), *(e.code for e in answer.explanations), *(o.code for o in answer.not_excluded)]
    assert all(code in listed for code in said)


def test_too_little_says_what_can_be_said_and_what_to_read():
    answer = gas_budget.answer({k: v for k, v in FIRST.items() if k not in ("oxygen", "nitrogen")})
    assert codes(answer) == ["gas/not-enough"]
    assert "ΔP is 34 mmHg" in answer.findings[0].text
    assert "read oxygen" in answer.findings[0].hint
