"""``profile``: the loop as a table, as JSON, as a drawing in a file."""

import pathlib
import sys

import pytest

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "network" / "profile"))

import oddhalls


@pytest.fixture
def loop(tmp_path):
    folder = tmp_path / "loop"
    folder.mkdir()
    (folder / "facility.toml").write_text(oddhalls.loop(), "utf-8")
    return folder


def test_the_table_names_every_place_and_machine(run, loop):
    said = run("profile", loop)
    assert said.status == 0
    for word in ("low", "high", "P-9", "static head m", "gas line m"):
        assert word in said.out


def test_a_drawing_goes_to_a_file_that_stands_by_itself(run, loop, tmp_path):
    target = tmp_path / "plain.svg"
    said = run("profile", loop, "--svg", target)
    assert said.status == 0
    text = target.read_text("utf-8")
    assert text.startswith("<svg")
    assert 'xmlns="http://www.w3.org/2000/svg"' in text
    assert "var(--" not in text


def test_json_holds_the_geometry(run, loop):
    answer = run("profile", loop, "--json").json
    reach = answer["systems"][0]["profile"]["reaches"][0]
    assert [stop["id"] for stop in reach["stops"]] == ["low", "P-9", "high", "low"]
    assert answer["advice"] == "Advice, not a command."


def test_a_what_if_is_said_in_words(run, loop, tmp_path):
    changes = tmp_path / "changes.txt"
    changes.write_text("set high crest = 4.8 m\n", "utf-8")
    said = run("profile", loop, "--what-if", changes)
    assert said.status == 0
    assert "4.8 m instead of 5.0 m" in said.out


def test_a_what_if_that_cannot_be_done_is_refused(run, loop, tmp_path):
    changes = tmp_path / "changes.txt"
    changes.write_text("remove nothing-of-this-name\n", "utf-8")
    assert run("profile", loop, "--what-if", changes).status == 2


def test_a_list_that_is_not_there_is_refused_with_its_name(run, loop, tmp_path):
    said = run("profile", loop, "--what-if", tmp_path / "nowhere.txt")
    assert said.status == 2
    assert "loop/no-list" in said.err


def test_a_system_nobody_knows_is_refused_with_those_that_are(run, loop):
    said = run("profile", loop, "--system", "q")
    assert said.status == 2
    assert "loop/no-system" in said.err
    assert "write one of: p" in said.err


def test_a_hall_without_heights_lists_what_is_missing(run, tmp_path):
    (tmp_path / "facility.toml").write_text(oddhalls.bare(), "utf-8")
    answer = run("profile", tmp_path, "--json").json
    missing = answer["systems"][0]["profile"]["missing"]
    assert {one["thing"] for one in missing} == {"one", "two", "s"}
