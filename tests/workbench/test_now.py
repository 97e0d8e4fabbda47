"""What is not as it should be, oldest first; then the water."""

import dataclasses
from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import findings, records
from brinehouse.workbench import clock, now

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)  # where the halls' clock stands still


def reading(number, value, hours, quantity="temperature", place="mangrove", unit="°C", **more):
    told = {"text": f"{value} {unit}"} | more
    told |= {"measured": NOW - timedelta(hours=hours), "entered": NOW, "quantity": quantity}
    return records.Reading(id=f"{number:032x}", place=place, value=value, unit=unit, **told)


def test_an_empty_hall_is_quiet_and_makes_no_logbook(hall):
    sheet = now.look(hall)
    assert now.title(sheet) == "Nothing is out of order."
    assert (sheet.as_of, sheet.points) == (None, 0)
    assert sheet.silent == ["mangrove", "pipefish"]
    assert not (hall.folder / "logbook.sqlite").exists()


def test_concerns_stand_oldest_first_among_what_the_engines_found(hall):
    hall.write([
        reading(1, 27.0, 5, text="27.0 °C", instrument="probe-1"),
        reading(2, 104.0, 30, "total gas pressure", "pipefish", "%", instrument="meter-B"),
    ])  # fmt: skip
    told = now.Concern(level=findings.Level.WATCH, since=NOW - timedelta(hours=12), what="meter-B reads high")
    sheet = now.look(hall, [told])
    assert [concern.what for concern in sheet.concerns] == [
        "pipefish: total gas pressure", "meter-B reads high", "mangrove: temperature",
    ]  # fmt: skip
    assert now.title(sheet) == "Three things are not as they should be; the oldest is 30 hours old."
    assert [concern.code for concern in sheet.concerns] == ["limit/crossed", "", "limit/crossed"]
    assert sheet.concerns[2].value == "27.0 °C"
    assert sheet.concerns[0].href == "/log?place=pipefish&quantity=total+gas+pressure"


def test_one_reading_that_may_be_over_asks_for_a_second_one(hall):
    hall.write([reading(1, 26.4, 1, instrument="probe-1")])
    concern = now.look(hall).concerns[0]
    assert concern.code == "limit/may-be-crossed"
    assert "another meter" in concern.next
    assert "may be crossed" in concern.why


def test_each_tank_is_one_line_with_its_newest_value_and_last_day(hall):
    hall.write([reading(1, 25.0, 30), reading(2, 25.2, 20), reading(3, 25.44, 2, text="25.44 °C")])
    sheet = now.look(hall)
    cell = next(line for lines in sheet.lines.values() for line in lines if line.place == "mangrove").cells[
        "temperature"
    ]
    assert (cell.value, cell.decimals, cell.stale, cell.level) == (25.44, 2, False, None)
    assert [round(hour, 6) for hour, _ in cell.trace] == [6.0, 24.0]
    assert cell.aim == (24.5, 26.0)
    assert sheet.as_of == NOW - timedelta(hours=2)
    assert sheet.silent == ["pipefish"]


@pytest.mark.parametrize(("hours", "stale"), [(35, False), (37, True)])
def test_a_reading_two_rounds_old_is_said_to_be_old(hall, hours, stale):
    hall.write([reading(1, 25.0, hours)])
    sheet = now.look(hall)
    cells = [line.cells for lines in sheet.lines.values() for line in lines if line.cells]
    assert cells[0]["temperature"].stale is stale
    assert ("mangrove" in sheet.silent) is stale


def test_what_was_taken_back_or_is_doubtful_is_not_shown(hall):
    hall.write([reading(1, 25.0, 3), reading(2, 40.0, 1, quality="doubtful"), reading(3, 30.0, 2)])
    hall.withdraw(f"{3:032x}", reason="other tank", entered=NOW)
    sheet = now.look(hall)
    cells = [line.cells for lines in sheet.lines.values() for line in lines if line.cells]
    assert cells[0]["temperature"].value == 25.0
    assert sheet.concerns == []


def test_plain_data_says_the_same(hall):
    hall.write([reading(1, 27.0, 5)])
    told = now.as_json(now.look(hall))
    assert told["sentence"].startswith("One thing is not as it should be")
    assert told["concerns"][0]["code"] == "limit/crossed"
    value = next(line for line in told["water"] if line["place"] == "mangrove")["values"]["temperature"]
    assert (value["value"], value["unit"], value["stale"]) == (27.0, "°C", False)


def test_many_things_are_counted_in_figures_and_days(still_clock):
    one = now.Concern(level=findings.Level.WATCH, since=clock.now() - timedelta(days=3), what="x")
    sheet = now.Now(concerns=[dataclasses.replace(one, what=str(i)) for i in range(40)])
    assert now.title(sheet) == "40 things are not as they should be; the oldest is 3 days old."
