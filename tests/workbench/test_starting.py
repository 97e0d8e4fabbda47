"""A first facility file from five answers, and the check of a folder."""

import pytest

from brinehouse import findings
from brinehouse.workbench import hall as halls
from brinehouse.workbench import starting

FIVE = {"name": "Test Hall", "altitude": "412 m", "zone": "Europe/London",
        "tanks": ["reef, 12 m3, 2 m"], "meters": ["meter A: total gas pressure, oxygen"]}  # fmt: skip


def test_five_answers_make_a_file_that_passes_the_check(tmp_path):
    made = starting.begin(tmp_path / "new", **FIVE)
    assert made.written
    check = starting.check(tmp_path / "new")
    assert check.accepted
    assert check.status == 0
    assert (check.counts["tanks"], check.counts["instruments"]) == (1, 1)
    assert "1 tank, " in check.sentence
    with halls.open_hall(tmp_path / "new") as hall:
        assert hall.facility.tanks["reef"].volume == 12.0
        assert hall.facility.altitude == 412.0


def test_a_file_that_is_there_is_never_overwritten(tmp_path):
    file = tmp_path / "facility.toml"
    file.write_text("mine", "utf-8")
    made = starting.begin(tmp_path, **FIVE)
    assert not made.written
    assert made.findings[0].code == "workbench/already-there"
    assert str(file) in made.findings[0].text
    assert file.read_text("utf-8") == "mine"


def test_an_answer_that_does_not_pass_writes_nothing_and_is_named(tmp_path):
    made = starting.begin(
        tmp_path / "new", **(FIVE | {"zone": "Europe/Atlantis", "tanks": ["reef, 12, 2 m"]})
    )
    assert not made.written
    assert not (tmp_path / "new").exists()
    assert {"zone", "tanks"} <= {found.spot.field for found in made.findings}
    assert findings.worst(made.findings) is findings.Level.STOP


def test_a_folder_without_a_facility_file_is_told_the_command_that_makes_one(tmp_path):
    check = starting.check(tmp_path)
    assert check.findings[0].code == "workbench/no-facility"
    assert check.status == 2
    assert "init" in check.findings[0].hint


def test_a_file_can_be_named_outright(folder):
    assert starting.check(folder / "facility.toml").accepted


@pytest.mark.parametrize(
    ("text", "count"),
    [("schema = 1\n[facility]\nname = 3\n", 1), ('schema = 1\n[tank.a]\nvolume = "-1 m3"\n', 1)],
)
def test_planted_fault_a_broken_file_is_refused_with_a_count(tmp_path, text, count):
    (tmp_path / "facility.toml").write_text(text, "utf-8")
    check = starting.check(tmp_path)
    stops = sum(found.level is findings.Level.STOP for found in check.findings)
    assert not check.accepted
    assert check.status == 2
    assert stops >= count
    assert f"refused, {stops} thing" in check.sentence


def test_a_question_that_a_person_must_answer_has_a_status_of_its_own(tmp_path):
    ask = findings.Finding(code="facility/no-runs", level=findings.Level.ASK, text="Is it so?")
    check = starting.Check(file=tmp_path, findings=(ask,), accepted=True, counts={"tanks": 2})
    assert check.status == 1
    assert check.sentence.endswith("2 tanks")


def test_every_word_of_the_file_has_a_meaning_and_its_table():
    words = starting.words()
    assert {"tank", "pump", "limit", "instrument"} <= set(words)
    assert all(row["meaning"] for rows in words.values() for row in rows)
    volume = next(row for row in words["tank"] if row["word"] == "volume")
    assert "m3" in volume["example"]


def test_the_zone_that_is_proposed_is_a_zone():
    import zoneinfo

    assert zoneinfo.ZoneInfo(starting.likely_zone())
