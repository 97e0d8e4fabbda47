"""Every engine behind one counter: its question, and its answer to what was typed."""

import pytest

from brinehouse import answers
from brinehouse.workbench import asking, mishaps

MINUTES, VALUES = "0 2 4 6 8 12 16 20", "100.4 102.0 103.0 103.7 104.1 104.6 104.8 104.9"


def refusal(name, given):
    with pytest.raises(mishaps.Refused) as refused:
        asking.ask(name, given)
    return refused.value.findings


@pytest.mark.parametrize("name", asking.names())
def test_every_question_has_a_title_inputs_and_outputs(name):
    question = asking.question(name)
    assert question.title.endswith("?")
    assert question.inputs
    assert question.outputs


def test_a_question_is_found_however_its_name_is_joined():
    assert asking.question("gas-budget") is asking.question("gas_budget") is asking.question("gas budget")


def test_a_question_that_is_not_there_is_told_with_those_that_are():
    (found,) = refusal("gas budgets", {})
    assert found.code == "workbench/no-engine"
    assert "'gas budgets'" in found.text
    assert all(name in found.hint for name in asking.names())


def test_a_typed_series_is_read_as_numbers():
    typed = asking.ask("settling", {"minutes": MINUTES, "value": VALUES})
    listed = asking.ask(
        "settling", {"minutes": [float(one) for one in MINUTES.split()],
                     "value": [float(one) for one in VALUES.split()]}
    )  # fmt: skip
    assert isinstance(typed, answers.Answer)
    assert typed.values["plateau"].value == pytest.approx(listed.values["plateau"].value)
    assert 104.8 < typed.values["plateau"].value < 105.5


def test_semicolons_and_new_lines_part_a_series_too():
    spaced = asking.ask("settling", {"minutes": MINUTES, "value": VALUES})
    parted = asking.ask(
        "settling", {"minutes": MINUTES.replace(" ", "; "), "value": VALUES.replace(" ", "\n")}
    )
    assert parted.values == spaced.values


def test_what_is_needed_and_was_left_empty_is_named_all_at_once():
    found = refusal("settling", {"minutes": "  "})
    assert [one.code for one in found] == ["workbench/needed"] * 2
    assert [one.spot.field for one in found] == ["minutes", "value"]
    assert "0 2 4" in found[0].hint


def test_planted_fault_a_word_among_numbers_is_named_by_its_place():
    (found,) = refusal("settling", {"minutes": MINUTES, "value": VALUES.replace("103.7", "soon")})
    assert found.spot.field == "value"
    assert found.spot.item == 4
    assert "number 4" in found.text
    assert found.hint


def test_an_empty_answer_that_is_not_needed_is_left_out():
    assert asking.ask("settling", {"minutes": MINUTES, "value": VALUES, "u": " ", "start": ""}).values
