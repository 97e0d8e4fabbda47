"""All of one tank: what was read, what is pinned, what was done, and nothing of its neighbour."""

import datetime as dt

import pytest

from brinehouse import records
from brinehouse.workbench import clock, concern, mishaps, tank
from brinehouse.workbench import hall as halls

NOW = dt.datetime(2026, 3, 14, 6, 40, tzinfo=dt.UTC)
HALL = """schema = 1
[facility]
name = "Test Hall"
timezone = "Europe/London"
[tank.T-1]
name = "Shallow"
volume = "3 m3"
depth = "0.8 m"
[tank.T-2]
volume = "5 m3"
[[animals]]
at = "T-1"
species = "wrasse"
count = 4
depth = ["0.1 m", "0.6 m"]
[[limit]]
quantity = "temperature"
at = "T-1"
aim = "24 to 26 °C"
watch = "above 26 °C"
"""


@pytest.fixture
def hall(tmp_path):
    (tmp_path / "facility.toml").write_text(HALL, "utf-8")
    clock.freeze(NOW)
    with halls.open_hall(tmp_path) as made:
        yield made
    clock.freeze(None)


def reading(place, value, hours, quantity="temperature"):
    at = NOW - dt.timedelta(hours=hours)
    return records.Reading(
        id=halls.new_id(), measured=at, entered=at, place=place, quantity=quantity, value=value, unit="°C",
        text=f"{value} °C",
    )  # fmt: skip


def note(place, text, **details):
    return records.Fact(
        id=halls.new_id(), kind="note", measured=NOW, entered=NOW, place=place, note=text, details=details
    )


def test_the_newest_reading_stands_with_its_week_and_its_limit(hall):
    hall.write(
        [reading("T-1", 25.0, 200), reading("T-1", 26.4, 1), reading("T-1", 25.2, 30), reading("T-2", 9.0, 1)]
    )
    (line,) = tank.look(hall, "T-1").lines
    assert (line.value, line.unit, line.decimals) == (26.4, "°C", 1)
    assert [value for _, value in line.trace] == [25.2, 26.4]
    assert line.level.value == "watch"
    assert line.aim == (24.0, 26.0)
    assert tank.look(hall, "T-1").away == 1


def test_an_old_reading_is_shown_as_old(hall):
    hall.write([reading("T-1", 25.0, 40)])
    assert tank.look(hall, "T-1").lines[0].stale


def test_a_pinned_note_stands_until_its_day_and_then_only_in_the_log(hall):
    hall.write(
        [
            note("T-1", "lid is loose", pinned=True, until="2026-03-14"),
            note("T-1", "gone by", pinned=True, until="2026-03-13"),
            note("T-1", "for ever", pinned=True),
            note("T-1", "not pinned"),
            note("T-2", "elsewhere", pinned=True),
        ]
    )
    sheet = tank.look(hall, "T-1")
    assert {one.text for one in sheet.pinned} == {"lid is loose", "for ever"}
    assert {one.text for one in sheet.last} == {"lid is loose", "gone by", "for ever", "not pinned"}


def test_only_what_is_not_as_it_should_be_here_is_told(hall):
    told = [
        concern.Concern(level="watch", since=NOW, what=place, place=place) for place in ("T-1", "T-2", "")
    ]
    assert [one.place for one in tank.look(hall, "T-1", told).concerns] == ["T-1"]


def test_a_hall_that_wrote_nothing_has_tanks_too(hall):
    sheet = tank.look(hall, "T-1")
    assert (sheet.lines, sheet.last, sheet.as_of) == ([], [], None)
    assert [one.species for one in sheet.animals] == ["wrasse"]
    assert len(sheet.code) == 4


def test_a_tank_that_is_not_there_is_refused(hall):
    with pytest.raises(mishaps.Refused) as refused:
        tank.look(hall, "T-9")
    assert refused.value.findings[0].code == "workbench/no-such-place"
