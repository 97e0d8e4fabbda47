"""The flows sheet: its sentence, a row for every run, the working behind each number, and an empty hall."""

import re

import pytest

from brinehouse.web import catalogue, flow_sheet
from brinehouse.workbench import flows

T = catalogue.Words()


@pytest.fixture
def facility(demo):
    return demo.app.state.desk.hall().facility


@pytest.fixture
def answer(demo):
    return flows.survey(demo.app.state.desk.hall())


def test_every_run_stands_once_under_its_system_with_its_working(answer, facility):
    groups = flow_sheet.groups(answer, facility, T)
    lines = [line for group in groups for line in group.lines]
    assert sorted(line.id for line in lines) == sorted(facility.runs)
    assert [group.name for group in groups] == ["mangrove loop", "kelp loop", "cold bench loop"]
    assert all(line.step is not None for line in lines if line.flow is not None)
    assert all(line.word and not line.word.startswith("flows.") for line in lines)


def test_a_row_is_also_said_in_words(answer, facility):
    lines = [line for group in flow_sheet.groups(answer, facility, T) for line in group.lines]
    supply = next(line for line in lines if line.id == "m-supply")
    said = re.search(r'aria-label="([^"]+)"', supply.picture)[1]
    assert re.match(r"supply to mangrove: reconciled [0-9.]+ m³/h, stated 48.0 m³/h, measured", said)


def test_the_title_is_what_was_found_and_the_meter_is_marked(demo, answer):
    page = demo.get("/flows")
    assert page.status_code == 200
    title = re.search(r"<h1>(.*?)</h1>", page.text, re.DOTALL)[1]
    assert title.strip() == answer.sentence.removesuffix(".")
    assert page.text.count("does not fit") >= 2
    assert "Working: mangrove loop" in page.text
    assert "Take care" in page.text


def test_the_tests_of_the_parts_have_their_working_too(answer):
    assert any(step.name.startswith("misfit") for step in flow_sheet.tests(answer))


def test_every_meter_is_listed_with_what_the_others_say(answer):
    meters = flow_sheet.meters(answer, T)
    assert len(meters) == 7
    assert sum(bool(row["level"]) for row in meters) == len(answer.explanations)


def test_no_word_is_missing_and_no_id_stands_twice(demo):
    page = demo.get("/flows").text
    assert "flows." not in re.sub(r'(href|src)="[^"]*"', "", page)
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_a_hall_without_runs_says_so(small):
    page = small.get("/flows")
    assert page.status_code == 200
    assert "No flow is stated or measured" in page.text
