"""One folder opened for the faces: the facility as its file says today, and what was written down."""

import os
from datetime import UTC, datetime

import pytest

import brinehouse
from brinehouse import records
from brinehouse.workbench import hall as halls
from brinehouse.workbench import mishaps

AT = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)


def note(number):
    return records.Fact(id=f"{number:032x}", kind="note", measured=AT, entered=AT, note="calm")


def test_a_folder_without_a_facility_is_refused_with_the_command_that_makes_one(tmp_path):
    with pytest.raises(mishaps.Refused) as refusal:
        halls.open_hall(tmp_path)
    assert refusal.value.findings[0].code == "workbench/no-facility"
    assert "brinehouse init" in refusal.value.findings[0].hint


def test_the_root_opens_a_hall_and_gives_columns(folder):
    with brinehouse.open(folder) as hall:
        hall.write([
            records.Reading(id=f"{i:032x}", measured=AT, entered=AT, place="mangrove", quantity="temperature",
                            value=25.0 + i, unit="°C", text=f"{25 + i} °C") for i in range(3)
        ])  # fmt: skip
        columns = hall.readings(quantities=["temperature"])
        assert columns["value"].mean() == 26.0
    with pytest.raises(AttributeError, match="nothing"):
        _ = brinehouse.nothing


def test_a_changed_file_is_read_again_and_the_old_one_is_kept(hall):
    hall.write([note(1)])
    first = hall.file.read_text("utf-8")
    changed = first.replace("58 m3", "57 m3")
    hall.file.write_text(changed, "utf-8")
    os.utime(hall.file, ns=(1, 1))
    assert hall.facility.tanks["mangrove"].volume == pytest.approx(57.0)
    hall.write([note(2)])
    assert [one.text for one in hall.book.facility_texts()] == [first, changed]
    hall.write([note(3)])
    assert len(hall.book.facility_texts()) == 2


def test_a_file_that_no_longer_passes_refuses_to_write_and_says_why(hall):
    hall.file.write_text("schema = 1\n", "utf-8")
    with pytest.raises(mishaps.Refused) as refusal:
        hall.write([note(1)])
    assert all(found.code.startswith("facility/") for found in refusal.value.findings)


def test_a_name_keeps_its_number(hall):
    assert [hall.person(name) for name in ("Lark", "Moss", "Lark")] == [1, 2, 1]


def test_the_newest_of_nothing_is_nothing():
    assert halls.newest([]) is None
