"""The demo hall in a folder: built once, left alone afterwards, and never mixed into another hall."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse.demo import building
from brinehouse.workbench import clock, mishaps
from brinehouse.workbench import hall as halls

END = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)
DAYS = 12


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo") / "hall"
    clock.freeze(END)
    yield building.build(folder, seed=3, days=DAYS, end="2026-03-14 06:40")
    clock.freeze(None)


def test_the_hall_says_that_it_is_invented(built):
    assert "invented" in (built.folder / building.MARK).read_text("utf-8")
    assert "seed 3" in (built.folder / building.MARK).read_text("utf-8")
    assert "(invented)" in built.sentence


def test_everything_that_was_told_is_in_the_logbook(built):
    with halls.open_hall(built.folder) as hall:
        assert len(hall.history(superseded=True)) == built.readings
        assert hall.book.verify() == []
        assert hall.checked.facility.name == "Highmoor Sea Hall"


def test_the_history_ends_at_the_time_that_was_asked_for(built):
    with halls.open_hall(built.folder) as hall:
        measured = [one.measured for one in hall.history()]
    assert END - timedelta(hours=12) < max(measured) <= END
    assert min(measured) >= END - timedelta(days=DAYS + 1)


def test_asked_again_the_hall_is_left_as_it_is(built):
    book = built.folder / "logbook.sqlite"
    with halls.open_hall(built.folder) as hall:
        head = hall.book.head()
    again = building.build(built.folder, seed=99)
    assert again.again
    assert "is here already" in again.sentence
    with halls.open_hall(built.folder) as hall:
        assert hall.book.head() == head
    assert "seed 3" in (built.folder / building.MARK).read_text("utf-8")
    assert book.is_file()


def test_a_demo_left_from_another_day_says_how_old_it_is(built):
    clock.freeze(END + timedelta(days=20))
    try:
        told = building.build(built.folder).sentence
    finally:
        clock.freeze(END)
    assert "20 days old" in told
    assert "delete the folder" in told
    assert "days old" not in building.build(built.folder).sentence


def test_planted_fault_a_hall_of_ones_own_is_never_mixed_with_the_demo(tmp_path):
    own = tmp_path / "facility.toml"
    own.write_text("schema = 1\n", "utf-8")
    with pytest.raises(mishaps.Refused) as refused:
        building.build(tmp_path)
    (found,) = refused.value.findings
    assert found.code == "demo/other-hall"
    assert str(tmp_path) in found.text
    assert "another folder" in found.hint
    assert own.read_text("utf-8") == "schema = 1\n"
    assert [path.name for path in tmp_path.iterdir()] == ["facility.toml"]


def test_an_end_that_is_no_time_makes_no_folder(tmp_path):
    with pytest.raises(mishaps.Refused) as refused:
        building.build(tmp_path / "new", end="tomorrow")
    assert refused.value.findings[0].code == "workbench/not-a-time"
    assert not (tmp_path / "new").exists()
