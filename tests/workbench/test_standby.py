"""What the standbys of a hall are worth: its file, and the pumps that ran by its logbook."""

from datetime import timedelta

from brinehouse import records
from brinehouse.workbench import clock, standby
from brinehouse.workbench import hall as halls


def ran(pump, hours, running):
    return records.Fact(
        id=halls.new_id(), kind="pump-run", measured=clock.now() - timedelta(hours=hours),
        entered=clock.now(), details={"pump": pump, "running": running},
    )  # fmt: skip


def test_starts_and_stops_come_in_order_of_time_and_others_are_left_out(still_clock):
    note = records.Fact(id=halls.new_id(), kind="note", measured=clock.now(), entered=clock.now(), note="x")
    found = standby.turns([ran("P-2", 1, "false"), note, ran("P-1", 3, True)])
    assert [(one.pump, one.running) for one in found] == [("P-1", True), ("P-2", False)]


def test_a_hall_without_duty_groups_says_so_and_is_kept(hall):
    answer = standby.survey(hall)
    assert "no duty group" in answer.sentence
    assert standby.survey(hall) is answer
