"""``time-in-hand`` in the terminal: shortest first, one failure with its steps, and the promised JSON."""

import json
import pathlib
import sys
import types

import pytest

from brinehouse.workbench import time_in_hand

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "workbench"))
import invented_hours as invented


@pytest.fixture
def told(monkeypatch):
    """The failures are invented; what the command asked with is kept."""
    asked = {}

    def survey(hall, wanted, **more):
        asked.update(more, wanted=wanted)
        made = invented.table(hall.facility, wanted, "ready" if more["wait"] else "none")
        question = types.SimpleNamespace(cautions=("Life safety first.",))
        answer = types.SimpleNamespace(next_readings=(), question=question, working=made.working)
        return types.SimpleNamespace(table=made, sentence="The power is off: 54 min.", answer=answer)

    monkeypatch.setattr(time_in_hand, "survey", survey)
    return asked


def test_failures_stand_shortest_first_with_what_helps(run, hall, told):
    said = run("time-in-hand", hall)
    assert said.status == 1  # the invented table holds a finding that needs a person
    order = [said.out.index(title) for title in ("The power is off ", "Board B2 is off", "The chiller stops")]
    assert order == sorted(order)
    for words in (
        "54 min",
        "36 min … 1.5 h",
        "oxygen below 4.5 mg/L, pipefish",
        "gains 8.4 h",
        "Two at once",
    ):
        assert (words in said.out) == (words != "Two at once")
    assert "P-204 would not start: bites when Board B2 is off" in said.out
    assert "1 failure crosses no limit within 72 h" in said.out
    assert "Advice, not a command" in said.out


def test_one_failure_shows_what_is_reached_and_what_to_do_first(run, hall, told):
    said = run("time-in-hand", hall, "--failure", "power-off", "--from", "worst", "--intervals")
    assert "1  Ring whoever is on call." in said.out
    assert "battery air into Pipefish (gains 8.4 h)" in said.out
    assert "a first sign" in said.out
    assert told["wanted"].begin == "worst"
    assert told["wait"] is True


def test_pairs_are_asked_for_by_a_word_or_by_an_id_of_two(run, hall, told):
    assert "The UV is off and P-204 would not start" in run("time-in-hand", "--pairs", hall).out
    said = run("time-in-hand", hall, "--failure", "uv-off + P-204-dead")
    assert "3.5 h until oxygen below 4.5 mg/L, pipefish" in " ".join(said.out.split())


def test_a_failure_that_is_not_there_is_refused(run, hall, told):
    said = run("time-in-hand", hall, "--failure", "nothing")
    assert said.status == 2
    assert "drill/no-failure" in said.err


def test_json_has_the_promised_shape_and_working_is_left_to_people(run, hall, told):
    said = run("time-in-hand", hall, "--within", "6", "--json", "--working")
    made = json.loads(said.out)
    assert {"failures", "cut_sets", "assumed", "findings"} <= made.keys()
    assert made["less_than"] == 6.0
    assert [one["id"] for one in made["failures"]][:2] == ["power-off", "board-B2-off"]


def test_hours_that_are_none_are_refused_by_the_command(run, hall, told):
    assert run("time-in-hand", hall, "--within", "100").status == 2


def test_on_a_real_hall_the_engine_gives_what_was_promised(run, hall):
    made = run("time-in-hand", hall, "--json").json
    shortest = made["failures"][0]
    assert shortest["kind"] == "leak"
    crossing = shortest["crossings"][0]
    assert 0.0 < crossing["hours"] < 1.0
    assert (crossing["place"], crossing["low"], crossing["high"]) == ("pipefish", None, None)
    assert shortest["first_steps"]
    assert shortest["title"] in run("time-in-hand", hall).out
