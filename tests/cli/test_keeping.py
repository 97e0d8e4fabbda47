"""The ways out and back, by command."""

import json

import pytest

from brinehouse.cli import running
from brinehouse.workbench import starting

FACILITY = """
schema = 1
[facility]
name = "Test Hall"
timezone = "UTC"
[tank.reef]
volume = "1 m3"
depth = "1 m"
"""


@pytest.fixture
def hall(tmp_path):
    place = tmp_path / "hall"
    place.mkdir()
    (place / "facility.toml").write_text(FACILITY, "utf-8")
    assert starting.check(place).accepted
    from brinehouse import records
    from brinehouse.workbench import clock
    from brinehouse.workbench import hall as halls

    with halls.open_hall(place) as made:
        at = clock.now()
        made.write([records.Fact(id="ab" * 16, kind="note", measured=at, entered=at, note="seen")])
    return place


def told(capsys, *words):
    """The status and what a command says as JSON."""
    capsys.readouterr()
    status = running.run([*map(str, words), "--json"])
    return status, json.loads(capsys.readouterr().out)


def test_a_hall_is_copied_listed_and_brought_back(hall, tmp_path, capsys):
    status, made = told(capsys, "backup", hall, "--to", tmp_path / "copies")
    assert status == 0
    status, there = told(capsys, "backup", hall, "--to", tmp_path / "copies", "--list")
    assert (status, len(there["copies"])) == (0, 1)
    status, back = told(capsys, "restore", made["copy"], tmp_path / "back")
    assert (status, back["head"]) == (0, made["head"])
    assert told(capsys, "verify", tmp_path / "back", "--against", made["head"])[0] == 0
    status, again = told(capsys, "restore", made["copy"], tmp_path / "back")
    assert (status, again["findings"][0]["code"]) == (2, "copy/folder-used")


def test_everything_goes_out_and_in(hall, tmp_path, capsys):
    status, out = told(capsys, "export", hall, "--to", tmp_path / "out")
    assert (status, out["findings"]) == (0, [])
    assert out["rows"]["facts.csv"] >= 1
    status, back = told(capsys, "move-in", tmp_path / "out", tmp_path / "in")
    assert (status, back["head"]) == (0, out["head"])


def test_the_doctor_says_what_needs_a_person_and_how_bad_it_is(hall, tmp_path, capsys):
    status, found = told(capsys, "doctor", hall)
    assert (status, found["status"]) == (1, 1)
    assert "copy/none-asked" in [one["code"] for one in found["findings"]]
    assert running.run(["doctor", str(hall)]) == 1
    assert "need a person" in capsys.readouterr().out
    assert told(capsys, "doctor", tmp_path / "nowhere")[0] == 2


def test_words_of_people_for_a_copy_and_a_way_back(hall, tmp_path, capsys):
    assert running.run(["backup", str(hall), "--to", str(tmp_path / "copies"), "--one-file"]) == 0
    said = capsys.readouterr().out
    assert "made and tried" in said
    copy = next((tmp_path / "copies").glob("*.tar"))
    assert running.run(["backup", str(hall), "--to", str(tmp_path / "copies"), "--list"]) == 0
    assert copy.name in capsys.readouterr().out
    assert running.run(["restore", str(copy), str(tmp_path / "back")]) == 0
    assert "Test Hall as of" in capsys.readouterr().out
    assert running.run(["export", str(hall), "--to", str(tmp_path / "out")]) == 0
    assert "readings.csv" in capsys.readouterr().out


def test_a_copy_that_goes_nowhere_is_refused(hall, capsys):
    status, said = told(capsys, "backup", hall)
    assert (status, said["findings"][0]["code"]) == (2, "copy/not-there")
