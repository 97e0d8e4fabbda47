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


def ask(**more):
    base = {"temperature": "25.5 °C", "salinity": "35 PSU", "barometer": "760 mmHg", "tgp": "103.0 %"}
    base |= {"oxygen": "6.56 mg/L", "depth": "0.3 m"}
    return gas_budget.answer({name: text for name, text in (base | more).items() if text})


def test_undersaturated_water_is_said_to_be_so():
    answer = ask(tgp="98.0 %")
    assert "gas/undersaturated" in codes(answer)
    assert answer.values["delta_p"].value < 0
    assert answer.values["uncompensated_delta_p"].value < answer.values["delta_p"].value
    assert answer.values["compensation_depth"].value == 0
    assert answer.values["compensation_depth"].interval()[0] == 0


@pytest.mark.parametrize(
    ("watch", "expected"),
    [
        ("101 %", "gas/limit-crossed"),
        ("103.5 %", "gas/limit-may-be-crossed"),
        ("110 %", None),
        ("10 mmHg", "gas/limit-crossed"),
    ],
)
def test_a_limit_is_inside_crossed_or_may_be_crossed_by_the_interval(watch, expected):
    found = [code for code in codes(ask(watch=watch)) if code.startswith("gas/limit")]
    assert found == ([expected] if expected else [])


def test_the_act_limit_weighs_more_than_the_watch_limit():
    answer = ask(watch="101 %", act="101.5 %")
    levels = {f.level for f in answer.findings if f.code == "gas/limit-crossed"}
    assert levels == {findings.Level.WATCH, findings.Level.ACT}


def test_without_a_depth_the_animals_are_taken_to_come_up():
    answer = ask(depth="")
    assert "gas/depth-assumed" in codes(answer)
    assert answer.values["uncompensated_delta_p"].value == answer.values["delta_p"].value


def test_two_thermometers_give_two_answers_and_what_would_decide():
    finding = next(f for f in ask(second_temperature="27.5 °C").findings if f.code == "gas/two-temperatures")
    assert finding.data["apart"] == pytest.approx(2.0)
    assert "third thermometer" in finding.hint
    assert "gas/two-temperatures" not in codes(ask(second_temperature="25.6 °C"))


def test_a_setting_that_someone_looked_up_is_taken_into_account():
    answer = ask(oxygen="8.0 mg/L", meter_salinity="0 PSU", nitrogen="104.6 %")
    assert "gas/setting-applied" in codes(answer)
    assert answer.values["oxygen_concentration"].value == pytest.approx(6.56, abs=0.005)
    assert answer.state == "closes"


def test_more_oxygen_than_the_total_has_room_for_is_asked_about():
    assert "gas/negative-nitrogen" in codes(ask(oxygen="50 mg/L"))


def test_the_total_is_worked_out_where_only_oxygen_and_residual_were_read():
    answer = ask(tgp="", nitrogen="104.6 %")
    assert answer.values["total_gas_pressure"].value == pytest.approx(103.0, abs=0.05)
    assert "gas/derived" in codes(answer)


def test_oxygen_from_the_residual_leans_on_the_oxygen_channel_and_the_digits_not_on_the_cell():
    wide, narrow = (gas_budget.answer(SECOND | {"u_tgp": u}) for u in ("3 %", "0.1 %"))
    assert wide.values["oxygen_percent"].u == pytest.approx(narrow.values["oxygen_percent"].u, rel=1e-6)
    fine = gas_budget.answer(SECOND | {"nitrogen": "104.00 %"})
    assert fine.values["oxygen_percent"].u < 0.95 * wide.values["oxygen_percent"].u


def test_every_number_shows_its_working_with_a_source():
    answer = gas_budget.answer(FIRST)
    names = [step.name for step in answer.working]
    for name in ("oxygen_percent", "nitrogen_percent", "delta_p", "compensation_depth", "vapour_pressure"):
        assert name in names
    assert all(step.source for step in answer.working)
    doubt = next(step for step in answer.working if step.name == "uncertainty")
    assert "USGS" in doubt.note
    assert "common practice, no source" in doubt.note


def test_the_answer_is_plain_data_with_its_cautions():
    plain = gas_budget.answer(FIRST).as_json()
    assert set(plain["values"]) == {output.name for output in gas_budget.QUESTION.outputs}
    assert any("veterinarian" in text for text in plain["cautions"])
    assert plain["explanations"][0]["corrected"]["oxygen_percent"]["unit"] == "%"


def test_the_next_readings_begin_with_what_separates_the_likely_explanations():
    first = gas_budget.answer(FIRST).next_readings[0]
    assert "salinity setting" in first


def test_an_empty_question_is_answered_with_what_is_missing():
    answer = gas_budget.answer({})
    assert codes(answer) == ["gas/not-enough"]
    assert answer.not_excluded
