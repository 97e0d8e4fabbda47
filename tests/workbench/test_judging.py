"""Three answers to a typed value; the table of cases is what phones judge by too."""

import json
import pathlib

import pytest

from brinehouse import glossary
from brinehouse.facility import reading as facility_file
from brinehouse.workbench import judging, typed

TABLE = json.loads(pathlib.Path(__file__).parents[1].joinpath("data/judging_cases.json").read_text("utf-8"))
ASKS, CASES = TABLE["asks"], TABLE["cases"]
NAMES = [case["name"] for case in CASES]


def wrong(judge):
    """The cases that a way of judging answers otherwise than the table."""
    found = []
    for case in CASES:
        said = json.loads(json.dumps(judge(ASKS[case["ask"]], case["text"], case["unit"]).plain))
        want = dict(case["says"])
        for told in (said, want):
            for number in (told, told["slip"] or {}):
                if number.get("value") is not None:
                    number["value"] = round(number["value"], 9)
        if said != want:
            found.append(case["name"])
    return found


def test_the_table_is_answered_letter_by_letter():
    assert wrong(judging.judge) == []


def test_the_table_is_large_and_meets_every_answer_and_every_slip():
    assert len(CASES) >= 60
    assert len(set(NAMES)) == len(NAMES)
    assert {case["says"]["answer"] for case in CASES} == {"inside", "unusual", "impossible"}
    kinds = {case["says"]["slip"]["kind"] for case in CASES if case["says"]["slip"]}
    assert kinds >= {"x10", "/10", "x100", "/100", "x1000", "swapped", "unit", "quantity"}
    codes = {case["says"]["code"] for case in CASES} - {""}
    assert codes == {
        "round/nothing", "round/not-a-number", "round/two-signs", "round/unit", "round/impossible",
        "round/unusual", "round/slip",
    }  # fmt: skip


def test_a_judge_without_slips_or_with_another_decimal_sign_is_found_out(monkeypatch):
    with monkeypatch.context() as broken:
        broken.setattr(judging, "_slip", lambda *_: None)
        assert "the decimal sign was forgotten" in wrong(judging.judge)
    with monkeypatch.context() as broken:
        broken.setattr(judging, "_digits", lambda entry: entry["whole"])
        assert "a decimal comma is a decimal sign" in wrong(judging.judge)


def facility(ask):
    """A hall whose one point has the ranges of an ask."""
    unit = ask["unit"]
    spans = {name: [f"{end} {unit}" for end in ask[name]] for name in ("expected", "possible")}
    text = f"""
schema = 1
[facility]
name = "One point"
altitude = "412 m"
timezone = "UTC"
[tank.one]
volume = "1 m3"
depth = "1 m"
[point.tap]
at = "one"
quantity = "{ask["quantity"]}"
unit = "{unit}"
expected = {json.dumps(spans["expected"])}
possible = {json.dumps(spans["possible"])}
"""
    checked = facility_file.read(text)
    assert checked.facility is not None, [str(found) for found in checked.findings]
    return checked.facility


@pytest.mark.parametrize("name", sorted(ASKS))
def test_what_is_judged_possible_is_stored_with_the_same_value_and_nothing_else_is(name):
    ask = ASKS[name]
    hall, word = facility(ask), glossary.quantity(ask["quantity"])
    for case in (case for case in CASES if case["ask"] == name):
        judged = judging.judge(ask, case["text"], case["unit"])
        text = judged.stored or case["text"]
        basis = word.basis[0] if word.asks else ""
        made = typed.understand(hall, place="tap", quantity=word.word, text=text, basis=basis, sure=True)
        if judged.answer == "impossible":
            assert made.refused or judged.code in REFUSED_BY_KEYPAD, case["name"]
            continue
        assert made.reading is not None, case["name"]
        assert not made.refused, (case["name"], [str(found) for found in made.findings])
        assert made.reading.value == pytest.approx(judged.value), case["name"]
        assert made.reading.bound == judged.bound


REFUSED_BY_KEYPAD = {"round/unit", "round/not-a-number"}
"""A file may say 1e2, or a unit behind the number; beside a box with a unit that is a slip."""


@pytest.mark.parametrize("name", sorted(ASKS))
def test_what_the_log_asks_about_a_round_asks_about(name):
    ask = ASKS[name]
    hall, word = facility(ask), glossary.quantity(ask["quantity"])
    for case in (case for case in CASES if case["ask"] == name):
        judged = judging.judge(ask, case["text"], case["unit"])
        if judged.answer != "inside" or not judged.stored:
            continue
        basis = word.basis[0] if word.asks else ""
        made = typed.understand(hall, place="tap", quantity=word.word, text=judged.stored, basis=basis)
        assert not made.ask, case["name"]


def test_a_bound_beyond_what_the_point_can_be_is_refused_here_as_in_the_log():
    ask = {**ASKS["nitrite"], "possible": [0, 2]}
    judged = judging.judge(ask, ">5")
    made = typed.understand(
        facility(ask), place="tap", quantity="nitrite", text=">5 mg/L", basis="N", sure=True
    )
    assert (judged.answer, made.refused) == ("impossible", True)
