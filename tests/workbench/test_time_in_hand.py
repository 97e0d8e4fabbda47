"""Time in hand of a hall: kept while nothing changes, intervals behind the reader's back."""

import datetime as dt
import math

import pytest
from tests.engines.time_in_hand import still_water

from brinehouse import records
from brinehouse.engines.time_in_hand import sampling
from brinehouse.workbench import clock, time_in_hand, time_told
from brinehouse.workbench import hall as halls

NOW = dt.datetime(2026, 3, 14, 18, 40, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("hand") / "hall"
    place.mkdir()
    (place / "facility.toml").write_text(still_water.text(), "utf-8")
    return place


@pytest.fixture
def hall(folder):
    clock.freeze(NOW)
    with halls.open_hall(folder) as opened:
        yield opened
    time_in_hand.close()
    clock.freeze(None)


def reading(quantity, value, unit, ago):
    at = NOW - dt.timedelta(hours=ago)
    return records.Reading(
        id=f"{quantity}-{ago}", place="t", quantity=quantity, value=value, unit=unit,
        text=f"{value} {unit}", measured=at, entered=at,
    )  # fmt: skip


def test_a_hall_without_a_logbook_starts_from_the_balance(hall):
    found = time_in_hand.survey(hall, ahead=False)
    assert found.used == 0
    assert "there is no reading" in found.table.start.text
    assert found.table.start.clock == 18.0
    assert found.sentence.startswith("Least time is left when")
    assert found.table.intervals == "none"
    assert found.answer.question.name == "time in hand"


def test_the_same_question_is_worked_out_once_and_anew_when_the_hour_has_passed(hall):
    first = time_in_hand.survey(hall, ahead=False).table
    assert time_in_hand.survey(hall, ahead=False).table is first
    clock.freeze(NOW + dt.timedelta(hours=1))
    assert time_in_hand.survey(hall, ahead=False).table is not first


def test_other_hours_tell_other_least_sets_of_the_same_courses(hall):
    few = time_in_hand.survey(hall, time_told.Wanted(within=0.5), ahead=False).table
    many = time_in_hand.survey(hall, time_told.Wanted(within=20.0), ahead=False).table
    assert len(few.cut_sets) < len(many.cut_sets)
    assert all(one.hours < 0.5 for one in few.cut_sets)
    assert few.rows is many.rows


def test_pairs_and_intervals_follow_and_are_kept(hall, monkeypatch):
    monkeypatch.setattr(sampling, "MANY", 10)
    plain = time_in_hand.survey(hall, ahead=False)
    assert plain.table.pairs == ()
    whole = time_in_hand.survey(hall, wait=True)
    assert whole.share == 1.0
    assert whole.table.intervals == "ready"
    assert whole.table.pairs
    for row in whole.table.rows:
        if row.first is not None and row.noticed:
            assert row.first.low <= row.first.hours <= row.first.high
    assert time_in_hand.survey(hall).table is whole.table


def test_until_they_are_there_the_answer_says_that_they_are_being_worked_out(hall, monkeypatch):
    monkeypatch.setattr(time_in_hand, "_begin", lambda kept: None)
    table = time_in_hand.survey(hall).table
    assert table.intervals == "computing"
    assert all(one.low is None for row in table.rows for one in row.crossings)


def test_what_goes_wrong_behind_the_readers_back_is_told_to_the_next_one(hall, monkeypatch):
    def broken(*_, **__):
        raise RuntimeError("no more memory")

    kept = time_in_hand._of(hall, time_told.Wanted())
    monkeypatch.setattr(kept.work, "samples", broken)
    with pytest.raises(RuntimeError, match="no more memory"):
        time_in_hand.survey(hall, wait=True)
    time_in_hand.survey(hall, ahead=False)


def test_courses_of_a_failure_are_handed_to_the_faces(hall):
    told = time_in_hand.courses(hall, "power-fails")
    assert {(one.place, one.quantity) for one in told} >= {("t", "oxygen")}
    assert all(len(one.hours) == len(one.values) for one in told)
    assert all(math.isfinite(value) for one in told for value in one.values)


def test_the_newest_readings_are_where_courses_start_and_old_ones_are_left(tmp_path):
    clock.freeze(NOW)
    (tmp_path / "facility.toml").write_text(still_water.text(), "utf-8")
    with halls.open_hall(tmp_path) as hall:
        hall.write([
            reading("oxygen", 6.0, "mg/L", 2.0), reading("temperature", 25.5, "°C", 2.0),
            reading("alkalinity", 2.3, "meq/L", 3.0), reading("nitrate", 40.0, "mg/L", 24.0 * 9.0),
        ])  # fmt: skip
        found = time_in_hand.survey(hall, ahead=False)
        known = found.table.asked.known["t"]
        assert (known["oxygen"], known["temperature"]) == (6.0, 25.5)
        assert known["alkalinity"] == pytest.approx(2.3e6 / 1023.0, rel=2e-3)
        assert "nitrate" not in known
        assert found.used == 3
        oxygen = next(one for one in time_in_hand.courses(hall, "power-fails") if one.quantity == "oxygen")
        assert oxygen.values[0] == pytest.approx(6.0, abs=0.02)
    time_in_hand.close()
    clock.freeze(None)
