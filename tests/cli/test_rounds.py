"""The verb ``round``: how rounds stand, their stops, a sheet to write on."""

import json
from datetime import UTC, datetime

import pytest

from brinehouse.cli import running
from brinehouse.workbench import clock
from brinehouse.workbench import hall as halls


@pytest.fixture
def walked(hall):
    folder = hall
    clock.freeze(datetime(2026, 3, 14, 6, 40, tzinfo=UTC))
    text = (folder / "facility.toml").read_text("utf-8")
    tank = next(line for line in text.splitlines() if line.startswith("[tank."))[6:-1]
    (folder / "facility.toml").write_text(
        f'{text}\n[round.morning]\nname = "Morning round"\nat = ["00:01"]\nwithin = "1 min"\n'
        f'[[round.morning.stop]]\nat = "{tank}"\nread = ["temperature"]\nlook = ["appetite"]\n',
        "utf-8",
    )
    yield folder
    clock.freeze(None)


def test_rounds_are_listed_with_what_is_missing_and_an_overdue_one_needs_a_person(walked, capsys):
    with halls.open_hall(walked) as opened:
        opened.person("Lark")
    assert running.run(["round", str(walked)]) == 1
    said = capsys.readouterr().out
    assert "Morning round" in said
    assert "overdue" in said
    assert "2 of 2" in said


def test_json_has_the_same_and_of_one_round_the_plan_that_phones_take_along(walked, capsys):
    running.run(["round", str(walked), "--json"])
    [told] = json.loads(capsys.readouterr().out)["rounds"]
    assert (told["round"], told["state"], len(told["missing"])) == ("morning", "overdue", 2)
    assert running.run(["round", "--of", "morning", "--json", str(walked)]) == 0
    plan = json.loads(capsys.readouterr().out)
    assert [stop["asks"][0]["kind"] for stop in plan["stops"]] == ["reading", "observation"]


def test_a_sheet_to_write_on_has_ranges_and_the_version_of_its_file(walked, capsys):
    assert running.run(["round", "--of", "morning", "--sheet", str(walked)]) == 0
    said = capsys.readouterr().out
    assert "-2 to 30 °C" in said
    assert "as usual / less than usual / none" in said
    assert "facility file" in said


def test_one_round_shows_its_stops(walked, capsys):
    running.run(["round", "--of", "morning", str(walked)])
    assert "temperature" in capsys.readouterr().out


def test_a_round_that_is_not_there_is_refused_with_those_that_are(walked, capsys):
    assert running.run(["round", "--of", "noon", str(walked)]) == 2
    assert "round/unknown" in capsys.readouterr().err


def test_a_hall_that_names_none_has_one_made_and_says_so(hall, capsys):
    assert running.run(["round", str(hall)]) == 0
    assert "made from the tanks" in capsys.readouterr().out
