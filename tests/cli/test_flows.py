"""The flows by command: a table of every run, what does not fit, and the same as data."""

import pytest

RUNS = """
[sump.sump-m]
volume = "7.5 m3"

[run.supply]
name = "supply"
from = "sump-m"
to = "mangrove"
flow = "20 m3/h"

[run.back]
name = "way back"
from = "mangrove"
to = "sump-m"
"""


@pytest.fixture
def plant(hall):
    file = hall / "facility.toml"
    file.write_text(file.read_text("utf-8") + RUNS, "utf-8")
    return hall


def test_stated_flows_alone_are_told_with_what_follows_from_them(run, plant):
    said = run("flows", plant)
    assert said.status == 0
    assert "No flow has been measured yet" in said.out
    assert "supply" in said.out
    assert "solved" in said.out
    assert "Advice, not a command." in said.out


def test_the_same_as_data(run, plant):
    answer = run("flows", plant, "--json").json
    assert answer["question"] == "flows"
    assert answer["state"] == "only-stated"
    table = next(table for table in answer["tables"] if table["name"] == "flows")
    assert {row["run"] for row in table["rows"]} == {"supply", "back"}
    assert table["rows"][0]["flow"]["value"] == pytest.approx(20.0, rel=0.01)


def test_a_reading_that_is_a_slip_needs_a_person(run, plant):
    assert run("read", "supply", "flow", "333 m3/h", plant).status == 0
    said = run("flows", plant)
    assert said.status == 1
    assert "slip of units" in said.out
    assert "What would explain it" in said.out


def test_the_working_is_shown_when_asked_for(run, plant):
    assert "Working" in run("flows", plant, "--working").out
