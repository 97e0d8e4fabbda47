"""Drills: what a form says of each step, what stands in the way, and what the log keeps."""

from datetime import timedelta

from brinehouse.workbench import clock, drills

STEPS = ("open V-3", "battery air", "stop feeding")


def test_a_step_with_a_minute_counts_as_done():
    done = drills.result({"done-1": "yes", "minute-2": "4,5", "minute-3": ""}, STEPS)
    assert [(one.done, one.minute) for one in done] == [(True, None), (True, 4.5), (False, None)]


def test_a_minute_that_is_none_and_a_clock_that_was_not_started_are_told(still_clock):
    found = drills.faults({"minute-1": "soon"}, None, 3)
    assert [one.code for one in found] == ["drill/not-a-minute", "drill/not-started"]
    assert not drills.faults({"minute-1": "2"}, clock.now() - timedelta(minutes=3), 3)


def test_a_clock_of_yesterday_or_of_tomorrow_was_not_started(still_clock):
    for away in (timedelta(hours=30), timedelta(hours=-1)):
        found = drills.faults({}, clock.now() - away, 0)
        assert [one.code for one in found] == ["drill/not-started"]


def test_the_result_goes_into_the_log_at_the_time_it_began(hall):
    began = clock.now() - timedelta(minutes=20)
    done = drills.result({"minute-1": "2", "minute-2": "6.5"}, STEPS)
    id = drills.note(hall, "The power is off", 0.9, began, done, "the key was missing", "Test Person")
    (fact,) = hall.facts(["event"])
    assert (fact.id, fact.measured) == (id, began)
    assert fact.details["what"] == (
        "drill, The power is off: 2 of 3 steps done, the last after 6.5 min, against 0.9 h in hand; "
        "not done: stop feeding; the key was missing"
    )
