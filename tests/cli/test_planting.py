"""One value of the plant changed at the terminal: looked at first, written with a reason."""

import json

import pytest


def test_without_a_reason_the_difference_is_shown_and_nothing_is_written(run, hall):
    before = (hall / "facility.toml").read_bytes()
    said = run("set", "tank.pipefish.volume", "1.1 m3", hall)
    assert said.status == 1
    assert "tank pipefish: volume is now 1.1 m3, and was 1.2 m3" in said.out
    assert '+ 14: volume = "1.1 m3"' in said.out
    assert (hall / "facility.toml").read_bytes() == before


def test_with_a_reason_it_is_written_and_kept_in_the_log(run, hall):
    said = run("set", "limit[0].act", "above 103 %", hall, "--reason", "vet's word", "--by", "Lark")
    assert said.status == 0, said.err
    assert "kept in the log" in said.out
    assert 'act = "above 103 %"' in (hall / "facility.toml").read_text("utf-8")
    assert "plant: limit total gas pressure, pipefish" in run("log", hall).out


@pytest.mark.parametrize(
    ("path", "value", "code"),
    [
        ("tank.pipefish.volume", "1.1", "facility/no-unit"),
        ("tank.pipefish.colour", "blue", "plant/no-path"),
        ("tank.none.volume", "1 m3", "plant/gone"),
        ("tnak.pipefish.volume", "1 m3", "plant/no-table"),
    ],
)
def test_what_cannot_be_is_refused_with_its_code(run, hall, path, value, code):
    said = run("set", path, value, hall, "--reason", "x")
    assert said.status == 2
    assert code in said.out + said.err


def test_as_json_the_same_is_said_for_another_program(run, hall):
    looked = run("set", "tank.pipefish.volume", "1.1 m3", hall, "--json")
    told = json.loads(looked.out)
    assert (looked.status, told["written"], told["findings"]) == (1, "", [])
    assert [(line["kind"], line["line"]) for line in told["lines"]] == [("old", 14), ("new", 14)]
    refused = run("set", "tank.pipefish.volume", "1.1", hall, "--json")
    assert refused.status == 2
    assert "facility/no-unit" in {one["code"] for one in json.loads(refused.out)["findings"]}
    done = run("set", "tank.pipefish.volume", "1.1 m3", hall, "--reason", "measured", "--json")
    assert (done.status, len(json.loads(done.out)["written"])) == (0, 32)
