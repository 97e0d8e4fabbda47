"""From nothing to an accepted facility file, and every fault of one with its place."""

import click.testing
import pytest

from brinehouse.cli import starting

FIVE = ("--name", "Test Hall", "--altitude", "412 m", "--zone", "Europe/London",
        "--tank", "mangrove, 58 m3, 2.6 m", "--meter", "meter A: total gas pressure, oxygen")  # fmt: skip


def test_five_answers_make_a_file_that_passes_check(run, tmp_path):
    folder = tmp_path / "new" / "hall"
    made = run("init", *FIVE, folder)
    assert (made.status, made.err) == (0, "")
    assert "passes" in made.out
    text = (folder / "facility.toml").read_text("utf-8")
    assert text.lstrip().startswith("#")
    assert 'volume = "58 m3"' in text
    checked = run("check", folder, "--json")
    assert checked.status == 0
    assert checked.json["accepted"]
    assert checked.json["counts"]["tanks"] == 1


def test_five_questions_are_asked_where_nothing_was_said(tmp_path):
    typed = "Test Hall\n412 m\nEurope/London\nmangrove, 58 m3, 2.6 m\nreef, 3 m3\n\nmeter A: oxygen\n\n"
    answer = click.testing.CliRunner().invoke(starting.init, [str(tmp_path / "h")], input=typed)
    assert answer.exit_code == 0, answer.output
    for number in range(1, 6):
        assert f"{number} of 5" in answer.stderr
    assert "of 5" not in answer.stdout
    text = (tmp_path / "h" / "facility.toml").read_text("utf-8")
    assert "[tank.reef]" in text
    assert "[instrument.meter-a]" in text


def test_a_file_that_is_there_is_never_overwritten(run, hall):
    before = (hall / "facility.toml").read_bytes()
    again = run("init", *FIVE, hall)
    assert again.status == 2
    assert "workbench/already-there" in again.out
    assert (hall / "facility.toml").read_bytes() == before


@pytest.mark.parametrize(
    ("fault", "answer", "word"),
    [(("--altitude", "412"), "altitude", "unit"), (("--zone", "Nowhere/Else"), "zone", "Nowhere/Else"),
     (("--tank", "reef, wet"), "tanks", "wet"), (("--tank", "mangrove, 3 m3"), "tanks", "mangrove"),
     (("--meter", "meter B"), "meters", "meter B")],
)  # fmt: skip
def test_a_fault_names_the_answer_it_came_from_and_nothing_is_written(run, tmp_path, fault, answer, word):
    made = run("init", *FIVE, *fault, tmp_path / "h", "--json")
    assert made.status == 2
    stops = [found for found in made.json["findings"] if found["level"] == "stop"]
    assert {found["spot"]["field"] for found in stops} == {answer}
    assert any(word in found["text"] for found in stops)
    assert all(found["hint"] for found in stops)
    assert not (tmp_path / "h" / "facility.toml").exists()


def test_check_says_what_is_in_a_good_file(run, hall):
    checked = run("check", hall)
    assert checked.status == 0
    assert "2 tanks" in checked.out
    assert "1 instrument" in checked.out


def test_check_refuses_with_line_column_and_way_out(run, hall):
    page = hall / "facility.toml"
    page.write_text(page.read_text("utf-8").replace('depth = "2.6 m"', 'dpeth = "2.6 m"'), "utf-8")
    checked = run("check", hall)
    assert checked.status == 2
    assert "facility.toml:11:1" in checked.out
    assert "try:" in checked.out
    assert "[facility/unknown-word]" in checked.out
    assert "refused, 1 thing to put right" in checked.out


def test_check_asks_where_a_person_must_say_what_is_meant(run, hall):
    page = hall / "facility.toml"
    page.write_text(page.read_text("utf-8").replace('depth = "2.2 m"', 'depth = "3.2 m"'), "utf-8")
    checked = run("check", hall, "--json")
    assert checked.status == 1, checked.out
    assert checked.json["accepted"]
    asked = [found["code"] for found in checked.json["findings"] if found["level"] == "ask"]
    assert asked == ["facility/too-deep-for-tank"]


def test_check_without_a_file_names_the_command_that_makes_one(run, tmp_path):
    checked = run("check", tmp_path)
    assert checked.status == 2
    assert "workbench/no-facility" in checked.out
    assert "brinehouse init" in checked.out


def test_words_lists_every_word_with_what_it_expects(run):
    plain, table = run("words"), run("words", "--json").json
    assert plain.status == 0
    assert "[tank]" in plain.out
    volume = next(word for word in table["tank"] if word["word"] == "volume")
    assert volume["required"]
    assert volume["meaning"].endswith(".")
