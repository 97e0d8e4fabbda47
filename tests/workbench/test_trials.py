"""Gas trials: begun, added to, ended; a trial that had not settled leaves a doubtful reading."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse.workbench import clock, limits, mishaps, trials

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)
SETTLED = [(0, 100.4), (2, 102.0), (4, 103.0), (6, 103.7), (8, 104.1), (12, 104.6), (16, 104.8), (20, 104.9),
           (25, 104.95), (30, 105.0)]  # fmt: skip
RISING = SETTLED[:4]


def begin(hall, **changed):
    told = {"at": "mangrove", "instrument": "meter-B", "depth": 2.2, "unit": "%", "person": None}
    return trials.begin(hall, **(told | changed))


def sat(hall, rows, **changed):
    id = begin(hall, **changed)
    one = trials.trial(hall, id)
    for minute, value in rows:
        trials.add(hall, one, minute=minute, value=value, person=None)
    return trials.trial(hall, id)


def ended(hall, rows):
    one = sat(hall, rows)
    clock.freeze(NOW + timedelta(minutes=31))
    trials.conclude(hall, one, person=None)
    (reading,) = hall.history()
    return one, reading


def refusal(call, *told, **named):
    with pytest.raises(mishaps.Refused) as refused:
        call(*told, **named)
    return refused.value.findings


def test_a_trial_remembers_where_and_with_what_it_was_begun(hall):
    one = trials.trial(hall, begin(hall))
    assert (one.place, one.instrument, one.depth, one.unit) == ("mangrove", "meter-B", 2.2, "%")
    assert (one.began, one.concluded, list(one.values)) == (NOW, False, [])


def test_readings_stand_in_the_order_of_their_minutes(hall):
    one = sat(hall, [SETTLED[2], SETTLED[0], SETTLED[1]])
    assert list(one.minutes) == [0.0, 2.0, 4.0]
    assert list(one.values) == [100.4, 102.0, 103.0]


def test_a_settled_trial_leaves_a_good_reading(hall):
    one, reading = ended(hall, SETTLED)
    assert one.settle().state == "settled"
    assert (reading.quality, reading.value, reading.unit) == ("good", 105.0, "%")
    assert reading.marks == ()
    assert (reading.sitting, reading.depth, reading.instrument) == (one.id, 2.2, "meter-B")
    assert reading.measured == NOW + timedelta(minutes=30)
    assert trials.trial(hall, one.id).concluded


def test_planted_fault_a_trial_ended_while_it_rises_leaves_a_doubtful_reading(hall):
    one, reading = ended(hall, RISING)
    assert one.settle().state != "settled"
    assert (reading.quality, reading.marks) == ("doubtful", ("trial/not-settled",))
    assert reading.note == "taken before the trial had settled"
    assert reading.value == 103.7


def test_a_doubtful_reading_is_left_out_of_limits(hall):
    one = sat(hall, RISING, at="pipefish")
    trials.conclude(hall, one, person=None)
    rules = hall.facility.limits_for("total gas pressure", "pipefish")
    assert limits.crossing(hall.history(), hall.facility, rules) is None


def test_a_trial_without_a_reading_cannot_be_ended(hall):
    one = trials.trial(hall, begin(hall))
    (found,) = refusal(trials.conclude, hall, one, person=None)
    assert found.code == "trial/empty"
    assert "no reading yet" in found.text
    assert not trials.trial(hall, one.id).concluded
    assert hall.history() == []


def test_a_trial_that_nobody_began_is_not_found(hall):
    begin(hall)
    (found,) = refusal(trials.trial, hall, "f" * 32)
    assert found.code == "trial/unknown"
    assert "no gas trial" in found.text


def test_names_that_the_facility_does_not_have_are_told_together(hall):
    found = refusal(begin, hall, at="mangroev", instrument="meter-Z")
    assert [one.code for one in found] == ["trial/unknown-name"] * 2
    assert "'mangroev' is not a place" in found[0].text
    assert "mangrove" in found[0].hint
    assert "'meter-Z' is not an instrument" in found[1].text
    assert hall.facts(["gas-trial"]) == []


def test_trials_of_the_last_month_come_newest_first(hall):
    clock.freeze(NOW - timedelta(days=40))
    begin(hall)
    clock.freeze(NOW - timedelta(days=2))
    early = begin(hall)
    clock.freeze(NOW)
    late = begin(hall)
    assert [one.id for one in trials.trials(hall)] == [late, early]
    assert len(trials.trials(hall, since=NOW - timedelta(days=50))) == 3


def test_two_trials_at_once_keep_their_readings_apart(hall):
    first, second = begin(hall), begin(hall, at="pipefish")
    trials.add(hall, trials.trial(hall, first), minute=1, value=101.0, person=None)
    trials.add(hall, trials.trial(hall, second), minute=1, value=99.0, person=None)
    assert list(trials.trial(hall, first).values) == [101.0]
    assert list(trials.trial(hall, second).values) == [99.0]
