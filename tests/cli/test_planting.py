"""One value of the plant changed at the terminal: looked at first, written with a reason."""

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
