"""The sheet of turns: tomorrow first, one tap for what was done, and the calendar for who may see it."""

import datetime as dt
import re

import icalendar
import pytest

from brinehouse.workbench import clock, turns_calendar
from conftest import visiting

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
"""


@pytest.fixture
def hall(tmp_path):
    from brinehouse.web import app

    clock.freeze(NOW)
    (tmp_path / "facility.toml").write_text(FILE, "utf-8")
    with visiting(app.create_app(tmp_path)) as visitor:
        yield visitor
    clock.freeze(None)


def facts(visitor, kind):
    return visitor.app.state.desk.hall().facts(kinds=[kind])


def boxes(page, action):
    """The boxes that a form of the page sends by itself."""
    form = re.search(rf'<form method="post" action="{action}".*?</form>', page, re.DOTALL).group(0)
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))


def test_who_runs_is_written_down_and_the_sheet_then_tells_tomorrow(hall):
    assert "turns/not-logged" in hall.get("/turns").text
    given = {"start-P-1": "yes", "at": "2026-03-14T05:00", "by": "Test Person"}
    assert hall.post("/turns/return/running", data=given).status_code == 303
    page = hall.get("/turns").text
    assert "turns/not-logged" not in page
    assert re.search(r"<h1>Tomorrow at \d\d:\d\d P-\d takes over from P-\d", page)
    assert "P-1</text>" in page  # bars and strips are drawn


def test_one_tap_writes_the_change_that_was_planned_and_twice_is_once(hall):
    hall.post("/turns/return/running", data={"start-P-1": "yes", "at": "2026-03-13T20:00"})
    tap = boxes(hall.get("/turns").text, "/turns/return/turn")
    assert tap["start-P-2"] == "yes"
    assert tap["stop-P-1"] == "yes"
    for _ in range(2):
        answer = hall.post("/turns/return/turn", data=tap)
        assert answer.headers["location"] == "/turns?done=turn"
    assert len(facts(hall, "change-over")) == 1
    assert "The change-over is written down" in hall.get("/turns?done=turn").text


def test_a_trial_of_the_change_over_is_one_tap(hall):
    tap = boxes(hall.get("/turns").text, "/turns/return/test")
    hall.post("/turns/return/test", data=tap | {"worked": "no"})
    assert "turns/change-over-failed" in hall.get("/turns").text
    hall.post("/turns/return/test", data={"worked": "yes"})
    page = hall.get("/turns").text
    assert "turns/change-over-failed" not in page
    assert "and worked" in page


def test_a_trial_start_is_written_as_half_an_hour(hall):
    hall.post("/turns/return/running", data={"start-P-1": "yes", "at": "2026-03-13T20:00"})
    hall.post("/turns/return/trial", data={"start-P-2": "yes"})
    runs = [fact for fact in facts(hall, "pump-run") if fact.details["pump"] == "P-2"]
    assert [fact.measured for fact in runs][-2:] == [NOW - dt.timedelta(minutes=30), NOW]


@pytest.mark.parametrize(
    ("address", "given", "code"),
    [
        ("/turns/nobody/turn", {"start-P-1": "yes"}, "turns/no-group"),
        ("/turns/return/turn", {"start-P-9": "yes"}, "turns/other-pump"),
        ("/turns/return/turn", {}, "turns/nothing-done"),
        ("/turns/return/running", {"start-P-1": "yes", "at": "2026-03-15T08:00"}, "turns/ahead"),
    ],
)
def test_what_was_not_done_is_refused_on_the_same_sheet(hall, address, given, code):
    answer = hall.post(address, data=given)
    assert answer.status_code == 422
    assert code in answer.text
    assert facts(hall, "pump-run") == []


def test_a_pump_s_odd_name_is_shown_as_text_only(hall, tmp_path):
    text = FILE.replace("P-2", "<b>x").replace("[pump.<b>x]", '[pump."<b>x"]')
    (tmp_path / "facility.toml").write_text(text, "utf-8")
    page = hall.get("/turns").text
    assert "<b>x" not in page
    assert "&lt;b&gt;x" in page


def test_the_calendar_has_an_address_that_only_who_knows_it_can_read(hall, tmp_path, monkeypatch):
    from brinehouse.web import sheets
    from brinehouse.workbench import people

    assert hall.post("/turns/calendar", data={}).status_code == 303
    key = turns_calendar.key(tmp_path)
    assert f"key={key}" in hall.get("/turns").text
    made = icalendar.Calendar.from_ical(hall.get("/turns.ics").content)
    assert made.walk("VEVENT")
    monkeypatch.setattr(sheets, "who", lambda request: people.NOBODY)
    assert hall.get("/turns.ics").status_code == 403
    assert hall.get("/turns.ics?key=guessed").status_code == 403
    assert hall.get(f"/turns.ics?key={key}").headers["content-type"].startswith("text/calendar")
