"""Turns from a hall's own log, what is written back, the calendar, and what is told as a concern."""

import datetime as dt

import icalendar
import pytest

from brinehouse import records
from brinehouse.workbench import clock, hall, lock_outs, mishaps, told, turns, turns_calendar, upkeep

NOW = dt.datetime(2026, 3, 14, 6, 40, tzinfo=dt.UTC)
FILE = """schema = 1
[facility]
name = "Small hall"
timezone = "Europe/London"
[tank.reef]
volume = "26 m3"
[sump.basin]
volume = "5 m3"
[pump.P-1]
flow = "22 m3/h"
overhaul = "10000 h"
[pump.P-2]
flow = "22 m3/h"
overhaul = "10000 h"
[duty.return]
name = "return pumps"
pumps = ["P-1", "P-2"]
turn = "24 h"
standby = "automatic"
test_change_over = "30 d"
[run.supply]
from = "basin"
through = ["return"]
to = "reef"
flow = "18 m3/h"
[run.overflow]
from = "reef"
to = "basin"
flow = "18 m3/h"
[[upkeep]]
of = "P-1"
what = "change the shaft seal"
every = "30 d"
"""


@pytest.fixture
def small(tmp_path):
    clock.freeze(NOW)
    (tmp_path / "facility.toml").write_text(FILE, "utf-8")
    with hall.open_hall(tmp_path) as made:
        yield made
    clock.freeze(None)


def change(**told):
    return turns.Change(duty="return", **told)


def codes(place):
    return {one.code for one in turns.survey(place).answer.findings}


def test_a_hall_that_wrote_nothing_yet_has_a_plan(small):
    made = turns.survey(small)
    assert made.groups
    assert "turns/not-logged" in codes(small)


def test_who_runs_and_what_turned_over_come_back_as_the_plan_knows_them(small):
    turns.log_running(small, change(start=["P-1"], at=NOW - dt.timedelta(hours=9)))
    assert [one.running for one in turns.survey(small).groups[0].units] == [True, False]
    turns.log_change(small, change(start=["P-2"], stop=["P-1"]))
    assert [one.running for one in turns.survey(small).groups[0].units] == [False, True]
    assert turns.survey(small).groups[0].unit("P-1").logged == pytest.approx(9.0)
    kinds = [fact.kind for fact in small.facts()]
    assert kinds.count("change-over") == 1
    assert kinds.count("pump-run") == 4


def test_a_change_over_sent_twice_is_written_once(small):
    for _ in range(2):
        turns.log_change(small, change(start=["P-2"], stop=["P-1"], id="a" * 32))
    assert len(small.facts(kinds=["change-over"])) == 1
    turns.log_change(small, change(start=["P-2"], stop=["P-1"], id="b" * 32))
    assert len(small.facts(kinds=["change-over"])) == 2


def test_counters_and_overhauls_of_the_log_are_counted(small):
    turns.log_running(small, change(start=["P-1"], at=NOW - dt.timedelta(hours=100)))
    clock.freeze(NOW - dt.timedelta(hours=50))
    upkeep.count(small, of="P-1", hours="4000")
    upkeep.count(small, of="P-2", hours="900")
    clock.freeze(NOW)
    assert turns.survey(small).groups[0].unit("P-1").wear == pytest.approx(4050.0)
    clock.freeze(NOW - dt.timedelta(hours=10))
    upkeep.renew(small, of="P-1", what="Overhaul, bearings and seal")
    clock.freeze(NOW)
    assert turns.survey(small).groups[0].unit("P-1").wear == pytest.approx(10.0, abs=0.01)


def test_a_tag_takes_a_pump_out_of_the_plan_and_nobody_writes_it_down_as_started(small):
    lock_outs.hang(small, of="P-2", tag="17", why="seal out")
    assert "turns/locked-out" in codes(small)
    with pytest.raises(mishaps.Refused) as refused:
        turns.log_change(small, change(start=["P-2"], stop=["P-1"]))
    assert refused.value.findings[0].code == "turns/locked"


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ({"duty": "nobody", "start": ["P-1"]}, "turns/no-group"),
        ({"duty": "return", "start": ["P-9"]}, "turns/other-pump"),
        ({"duty": "return"}, "turns/nothing-done"),
    ],
)
def test_what_was_not_done_is_not_written(small, told, code):
    with pytest.raises(mishaps.Refused) as refused:
        turns.log_change(small, turns.Change(**told))
    assert refused.value.findings[0].code == code
    assert small.facts() == []


def test_a_trial_start_ends_a_long_rest(small):
    turns.log_running(small, change(start=["P-1"], at=NOW - dt.timedelta(days=20)))
    turns.log_change(small, change(start=["P-2"], at=NOW - dt.timedelta(days=19)))
    turns.log_change(small, change(stop=["P-2"], at=NOW - dt.timedelta(days=18)))
    assert "turns/standby-idle" in {one.code for one in turns.concerns_of(small)}
    turns.log_trial(small, change(start=["P-2"]))
    assert "turns/standby-idle" not in {one.code for one in turns.concerns_of(small)}


def test_an_overdue_trial_of_the_change_over_is_a_concern_until_it_is_done(small):
    turns.log_running(small, change(start=["P-1"], at=NOW - dt.timedelta(days=40)))
    found = [one for one in turns.concerns_of(small) if one.code == "turns/change-over-due"]
    assert [one.since for one in found] == [NOW - dt.timedelta(days=10)]
    turns.log_test(small, change(start=["P-2"], stop=["P-1"]), worked=True, seconds=22.0)
    assert [one for one in turns.concerns_of(small) if one.code == "turns/change-over-due"] == []
    turns.log_test(small, change(), worked=False)
    assert "turns/change-over-failed" in {one.code for one in turns.concerns_of(small)}


def test_the_calendar_is_read_by_a_reader_of_calendars(small):
    turns.log_running(small, change(start=["P-1"], at=NOW - dt.timedelta(hours=2)))
    upkeep.renew(small, of="P-1", what="change the shaft seal")
    made = icalendar.Calendar.from_ical(turns_calendar.calendar(small))
    events = made.walk("VEVENT")
    summaries = [str(one["SUMMARY"]) for one in events]
    assert any("try the automatic change-over" in said for said in summaries)
    assert any(said.startswith("return pumps: start P-2") for said in summaries)
    uids = [str(one["UID"]) for one in events]
    assert len(set(uids)) == len(uids)
    again = icalendar.Calendar.from_ical(turns_calendar.calendar(small)).walk("VEVENT")
    assert [str(one["UID"]) for one in again] == uids  # a calendar that asks again moves, and never doubles
    assert all(one["DTEND"].dt > one["DTSTART"].dt for one in events)


def test_the_secret_of_the_calendar_is_one_s_own_and_can_be_made_anew(tmp_path):
    assert not turns_calendar.fits(tmp_path, "")
    one = turns_calendar.key(tmp_path)
    assert turns_calendar.fits(tmp_path, one)
    assert not turns_calendar.fits(tmp_path, one[:-1])
    assert (tmp_path / turns_calendar.KEY_FILE).stat().st_mode & 0o077 == 0
    two = turns_calendar.renew(tmp_path)
    assert two != one
    assert not turns_calendar.fits(tmp_path, one)


def test_a_finished_order_called_an_overhaul_counts_and_another_does_not():
    def fact(**details):
        return records.Fact(id="0", kind="work", measured=NOW, entered=NOW, details=details)

    assert turns._is_overhaul(fact(of="P-1", what="done", title="Overhaul of P-1"))
    assert not turns._is_overhaul(fact(of="P-1", what="asked", title="Overhaul of P-1"))
    assert not turns._is_overhaul(fact(of="P-1", what="done", title="new seal"))


@pytest.mark.parametrize(
    ("details", "says"),
    [
        ({"what": "turn", "started": "P-2", "stopped": "P-1"}, "return: P-2 for P-1"),
        ({"what": "turn", "started": "P-2"}, "return: P-2 started"),
        ({"what": "test", "worked": True, "seconds": 22.0}, "return: change-over tried, worked, after 22 s"),
        ({"what": "test", "worked": False}, "return: change-over tried, did not work"),
    ],
)
def test_the_log_says_what_changed_over(details, says):
    told_of = {"duty": "return", **details}
    fact = records.Fact(id="0", kind="change-over", measured=NOW, entered=NOW, details=told_of)
    assert told.line(fact) == says
