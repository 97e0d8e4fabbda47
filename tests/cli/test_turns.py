"""Turns by command: tomorrow in a sentence, as data, and as a calendar."""

import json

import icalendar
import pytest

FILE = """schema = 1
[facility]
name = "Small hall"
timezone = "Europe/London"
[tank.reef]
volume = "26 m3"
stands_alone = true
[pump.P-1]
flow = "22 m3/h"
[pump.P-2]
flow = "22 m3/h"
[duty.return]
name = "return pumps"
pumps = ["P-1", "P-2"]
turn = "24 h"
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "facility.toml").write_text(FILE, "utf-8")
    return tmp_path


def run(capsys, *arguments):
    from brinehouse.cli import running

    status = running.run(["turns", *map(str, arguments)])
    return status, capsys.readouterr().out


def test_who_runs_and_what_is_not_known_is_told(folder, capsys):
    status, out = run(capsys, folder)
    assert status == 1  # nobody wrote down who runs
    assert "omorrow" in out
    assert "return pumps: 1 of 2 run" in out
    assert "never written down" in out


def test_the_same_as_data_and_as_a_calendar(folder, capsys):
    _, out = run(capsys, "--json", folder)
    data = json.loads(out)
    assert data["question"] == "turns"
    assert {table["name"] for table in data["tables"]} >= {"changes", "pumps", "days", "groups"}
    status, out = run(capsys, "--ics", "--days", "20", folder)
    assert status == 0
    assert icalendar.Calendar.from_ical(out).walk("VEVENT")
