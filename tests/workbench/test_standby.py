"""What standby pumps are worth at a hall: by its file, and by the running time its logbook holds."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import records
from brinehouse.workbench import clock, standby
from brinehouse.workbench import hall as halls

START = datetime(2026, 2, 1, tzinfo=UTC)
PUMPS = """
[pump.P-1]
flow = "22 m3/h"

[pump.P-2]
flow = "22 m3/h"

[duty.return]
name = "return pumps"
pumps = ["P-1", "P-2"]
standby = "by hand"
hand_start = "2 h"
common_cause = "5 %"
common_cause_source = "one strainer"

[run.supply]
from = "sump-m"
through = ["return"]
to = "mangrove"
flow = "20 m3/h"

[run.back]
from = "mangrove"
to = "sump-m"

[[rate]]
of = "pump"
mode = "fails running"
low = "once in 200000 h"
typical = "once in 30000 h"
high = "once in 6000 h"
source = "house rule"
seen = 0
since = 2026-01-01
repair = "24 h"

[[rate]]
of = "pump"
mode = "fails at rest"
typical = "once in 300000 h"
source = "house rule"
"""


@pytest.fixture
def hall(folder):
    file = folder / "facility.toml"
    file.write_text(file.read_text("utf-8") + PUMPS, "utf-8")
    with halls.open_hall(folder) as opened:
        yield opened


def turn(number, pump, running, after):
    at = START + timedelta(hours=after)
    details = {"pump": pump, "running": running}
    return records.Fact(id=f"{number:032x}", kind="pump-run", measured=at, entered=at, details=details)


def rows(answer, name):
    return next(table.rows for table in answer.tables if table.name == name)


def test_without_a_log_what_was_believed_stands(hall):
    answer = standby.survey(hall)
    assert answer.state == "told"
    assert standby.status(answer) == 1  # its resting pump is never started for trial
    assert {"redundancy/not-in-log", "redundancy/never-started"} <= {one.code for one in answer.findings}


def test_hours_run_in_the_log_make_a_rate_surer_and_a_new_entry_is_seen(hall):
    before = standby.survey(hall)
    assert standby.survey(hall) is before
    hall.write([turn(1, "P-1", True, 0), turn(2, "P-2", False, 0)])
    after = standby.survey(hall)
    row = rows(after, "rates")[0]
    hours = (datetime(2026, 3, 14, 6, 40, tzinfo=UTC) - START).total_seconds() / 3600
    assert row["span"] == f"{hours:.0f} h, by the logbook"
    assert after.values["years"].value > before.values["years"].value


def ran(pump, hours, running):
    return records.Fact(
        id=halls.new_id(), kind="pump-run", measured=clock.now() - timedelta(hours=hours),
        entered=clock.now(), details={"pump": pump, "running": running},
    )  # fmt: skip


def test_starts_and_stops_come_in_order_of_time_and_others_are_left_out(still_clock):
    note = records.Fact(id=halls.new_id(), kind="note", measured=clock.now(), entered=clock.now(), note="x")
    found = standby.turns([ran("P-2", 1, "false"), note, ran("P-1", 3, True)])
    assert [(one.pump, one.running) for one in found] == [("P-1", True), ("P-2", False)]


def test_a_hall_without_duty_groups_says_so(folder):
    with halls.open_hall(folder) as bare:
        assert "no duty group" in standby.survey(bare).sentence


def test_each_loss_is_joined_with_the_hours_it_leaves(hall):
    answer = standby.with_hours(hall)
    row = rows(answer, "groups")[0]
    assert row["lost"] == "no pump runs"
    assert row["hand"].unit == "h"
    assert row["hand"].value is not None or row["hand"].text == "no limit within 72 h"
    assert answer.tables[0].columns[-1].name == "hand"
    assert standby.left(hall, wait=False) == standby.left(hall)  # known by now


def test_what_goes_wrong_while_nobody_waits_is_told_to_the_next_who_asks(hall, monkeypatch):
    def broken(*_):
        raise RuntimeError("planted")

    monkeypatch.setattr(standby.answering, "Work", broken)
    standby._left.clear()
    with pytest.raises(RuntimeError, match="planted"):
        standby.left(hall)
    assert not standby._left
