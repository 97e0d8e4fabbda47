"""From a facility file and a log to hours, dates, what is due, and what the plan is worth."""

import datetime as dt
import math

import pytest

from brinehouse import records
from brinehouse.engines import turns
from brinehouse.engines.turns import question, surveying
from brinehouse.facility import reading

NOW = dt.datetime(2026, 3, 2, 8, tzinfo=dt.UTC)
HOUR, DAY = question.HOUR, question.DAY
HALL = """schema = 1
[facility]
name = "Small hall"
timezone = "Europe/London"
[tank.reef]
volume = "26 m3"
[sump.basin]
volume = "5 m3"
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
LIFE = 'overhaul = "10000 h"\n'


def facility(pumps=2, duty='turn = "24 h"\n', more="", life=LIFE):
    names = [f"P-{n + 1}" for n in range(pumps)]
    text = HALL + "".join(f'[pump.{name}]\nflow = "22 m3/h"\n{life}' for name in names)
    text += f'[duty.return]\nname = "return pumps"\npumps = {names}\n{duty}'.replace("'", '"') + more
    checked = reading.read(text)
    assert checked.facility is not None, [str(one) for one in checked.findings]
    return checked.facility


def turn(hours_ago, pump, running):
    return records.Turn(at=NOW - hours_ago * HOUR, pump=pump, running=running)


def counter(hours_ago, pump, hours):
    return question.Counter(at=NOW - hours_ago * HOUR, pump=pump, hours=hours)


def asked(made, **known):
    return turns.survey(made, question.History(**known), NOW)


def codes(made):
    return {one.code for one in made.answer.findings}


def units(made):
    return {one.pump: one for one in made.groups[0].units}


def test_hours_are_what_the_counter_showed_and_what_was_run_since():
    made = asked(
        facility(),
        turns=[turn(50, "P-1", True), turn(10, "P-1", False), turn(10, "P-2", True)],
        counters=[counter(40, "P-1", 3000.0), counter(40, "P-2", 500.0)],
    )
    assert units(made)["P-1"].wear == pytest.approx(3030.0)
    assert units(made)["P-2"].wear == pytest.approx(510.0)
    assert made.answer.state == "planned"


def test_hours_count_from_the_overhaul():
    made = asked(
        facility(),
        turns=[turn(200, "P-1", True)],
        counters=[counter(190, "P-1", 9000.0), counter(190, "P-2", 10.0)],
        overhauls=[question.Overhaul(at=NOW - 100 * HOUR, pump="P-1")],
    )
    assert units(made)["P-1"].wear == pytest.approx(100.0, abs=0.01)


def test_without_a_counter_nothing_is_foretold_and_the_reading_that_would_tell_is_named():
    made = asked(facility(), turns=[turn(50, "P-1", True)], counters=[counter(5, "P-1", 10.0)])
    assert "turns/hours-unknown" in codes(made)
    assert made.answer.state == "partly"
    assert "P-2" in made.answer.next_readings[0]
    assert made.groups[0].overhauls == {}
    both = asked(
        facility(), turns=[turn(50, "P-1", True)], counters=[counter(5, p, 10.0) for p in ("P-1", "P-2")]
    )
    assert "turns/hours-unknown" not in codes(both)


def test_without_hours_between_overhauls_the_offset_is_nought_and_it_is_said():
    counters = [counter(5, "P-1", 10.0), counter(5, "P-2", 400.0)]
    made = asked(facility(life=""), counters=counters)
    assert made.groups[0].spacing == 0.0
    assert "turns/no-overhaul" in codes(made)
    told = asked(facility(), counters=counters)
    assert told.groups[0].spacing == pytest.approx(2500.0)  # a quarter of 10 000 h
    assert "turns/no-overhaul" not in codes(told)


@pytest.mark.parametrize(
    ("pumps", "share", "apart"), [(4, "20 %", 2000.0), (4, "30 %", 2500.0), (2, "30 %", 3000.0)]
)
def test_pumps_are_kept_apart_by_their_share_but_no_more_than_evenly(pumps, share, apart):
    made = asked(
        facility(pumps, f'turn = "24 h"\noffset = "{share}"\n'),
        counters=[counter(5, f"P-{n + 1}", 10.0 * n) for n in range(pumps)],
    )
    assert made.groups[0].spacing == pytest.approx(apart)


def test_a_counter_that_tells_other_hours_than_the_log_is_asked_about():
    def with_counter(hours):
        return asked(
            facility(),
            turns=[turn(300, "P-1", True), turn(200, "P-1", False), turn(200, "P-2", True)],
            counters=[counter(300, "P-1", 1000.0), counter(10, "P-1", hours), counter(10, "P-2", 5.0)],
        )

    assert "turns/counter-disagrees" in codes(with_counter(1240.0))
    assert "turns/counter-disagrees" not in codes(with_counter(1101.0))


def test_one_pump_that_runs_without_a_rest_is_due_when_its_hours_are_over():
    made = asked(facility(1), turns=[turn(900, "P-1", True)], counters=[counter(0, "P-1", 9000.0)])
    due = made.groups[0].overhauls["P-1"]
    assert due.at == NOW + 1000 * HOUR
    assert due.low <= due.at <= due.high
    assert due.high - due.low < 3 * HOUR  # it has run every week whole


def test_a_pump_near_the_end_of_its_hours_or_past_it_is_told_and_one_far_from_it_is_not():
    def told(hours):
        made = asked(facility(1), turns=[turn(900, "P-1", True)], counters=[counter(0, "P-1", hours)])
        return [one.text for one in made.answer.findings if one.code == "turns/overhaul-due"]

    assert told(9900.0) == ["P-1 comes to its hours on 2026-03-06"]  # 100 h from 2 March, 8 h
    assert told(10250.0) == ["P-1 is 250 h over its hours"]
    assert told(9000.0) == []  # 1000 h are six weeks


def test_a_date_is_as_sure_as_the_weeks_before_it_were_alike():
    def sure(weeks):
        return surveying.scatter_of(weeks, 0.5)

    assert sure([0.5] * 6) == 0.0
    assert sure([1.0, 0.0] * 3) == pytest.approx(math.sqrt(0.3))
    assert sure([0.5]) == 0.5  # under four weeks: the widest a share of a half can scatter


def test_two_pumps_taking_turns_are_due_after_twice_the_hours():
    made = asked(
        facility(2, 'turn = "24 h"\noffset = "0 %"\n'),
        turns=[turn(10, "P-1", True), turn(10, "P-2", False)],
        counters=[counter(0, "P-1", 9000.0), counter(0, "P-2", 9000.0)],
    )
    due = made.groups[0].overhauls
    assert (min(one.at for one in due.values()) - NOW) / HOUR == pytest.approx(2000.0, abs=50.0)
    assert "turns/worn-together" not in codes(made)  # the one overhauled first runs on, the other rests


def test_two_pumps_that_always_run_wear_out_together_and_it_is_said():
    made = asked(
        facility(2, 'keep = 2\nturn = "24 h"\n'),
        turns=[turn(10, "P-1", True), turn(10, "P-2", True)],
        counters=[counter(0, "P-1", 9000.0), counter(0, "P-2", 8950.0)],
    )
    assert (made.groups[0].overhauls["P-1"].at - NOW) / HOUR == pytest.approx(1000.0, abs=1.0)
    assert "turns/worn-together" in codes(made)


def test_a_pump_over_its_hours_is_told():
    counters = [counter(5, "P-1", 10100.0), counter(5, "P-2", 400.0)]
    found = [
        one.text
        for one in asked(facility(), counters=counters).answer.findings
        if "over its hours" in one.text
    ]
    assert found == ["P-1 is 100 h over its hours"]


def test_a_standby_that_rested_too_long_is_told_and_started_at_once():
    known = [turn(300, "P-2", True), turn(250, "P-1", True), turn(250, "P-2", False)]
    counters = [counter(5, "P-1", 10.0), counter(5, "P-2", 3000.0)]
    made = asked(facility(), turns=known, counters=counters)
    assert "turns/standby-idle" in codes(made)
    assert made.groups[0].plan.changes[0].at == NOW
    fresh = asked(
        facility(),
        turns=[turn(30, "P-2", True), turn(25, "P-2", False)],
        counters=counters,
    )
    assert "turns/standby-idle" not in codes(fresh)


AUTOMATIC = 'turn = "24 h"\nstandby = "automatic"\ntest_change_over = "30 d"\n'


@pytest.mark.parametrize(("days_ago", "due"), [(20, False), (31, True)])
def test_a_test_of_the_change_over_is_due_after_its_interval(days_ago, due):
    test = question.ChangeOver(at=NOW - days_ago * DAY, duty="return", test=True)
    made = asked(facility(2, AUTOMATIC), change_overs=[test], turns=[turn(1, "P-1", True)])
    assert ("turns/change-over-due" in codes(made)) is due
    assert made.groups[0].test_due == test.at + 30 * DAY


def test_a_turn_is_no_test_of_the_change_over():
    taken = question.ChangeOver(at=NOW - 1 * DAY, duty="return", test=False)
    made = asked(facility(2, AUTOMATIC), change_overs=[taken], turns=[turn(800, "P-1", True)])
    assert "turns/change-over-due" in codes(made)


def test_a_test_that_failed_asks_for_a_person():
    test = question.ChangeOver(at=NOW - 1 * DAY, duty="return", test=True, worked=False)
    assert "turns/change-over-failed" in codes(asked(facility(2, AUTOMATIC), change_overs=[test]))


def test_a_pump_that_is_locked_out_is_planned_for_nothing():
    lock = question.Lock(at=NOW - 1 * DAY, pump="P-2", on=True, why="seal out")
    made = asked(facility(), locks=[lock], turns=[turn(30, "P-1", True)])
    assert "turns/locked-out" in codes(made)
    assert not [one for one in made.groups[0].plan.spells if one.pump == "P-2"]
    assert "turns/too-few" not in codes(made)
    both = asked(facility(2, 'keep = 2\nturn = "24 h"\n'), locks=[lock], turns=[turn(30, "P-1", True)])
    assert "turns/too-few" in codes(both)


def test_who_runs_by_the_log_is_held_against_who_should():
    assert "turns/not-logged" in codes(asked(facility()))
    assert "turns/other-number" in codes(
        asked(facility(), turns=[turn(3, "P-1", True), turn(2, "P-2", True)])
    )
    assert not {"turns/not-logged", "turns/other-number"} & codes(
        asked(facility(), turns=[turn(3, "P-1", True)])
    )


def test_tomorrow_is_told_first():
    made = asked(facility(), turns=[turn(2, "P-1", True), turn(2, "P-2", False)], counters=[
        counter(0, "P-1", 2600.0), counter(0, "P-2", 90.0)])  # fmt: skip
    assert made.answer.sentence == "Tomorrow at 06:00 P-2 takes over from P-1 (return pumps)."
    still = asked(facility(2, 'turn = "14 d"\n'), turns=[turn(2, "P-1", True), turn(2, "P-2", False)])
    assert still.answer.sentence == "Nothing changes over tomorrow: P-1 runs of the return pumps."


def test_shifts_and_windows_of_the_file_are_kept():
    more = '[shift.early]\nhours = "07:00 to 15:00"\n[[window]]\nof = ["return"]\ndays = ["Tuesday"]\n'
    made = asked(facility(3, 'turn = "12 h"\noffset = "0 %"\n', more), turns=[turn(12, "P-1", True)])
    for change in made.groups[0].plan.changes:
        assert 7 <= change.at.hour < 15
        assert change.at.weekday() != 1
    assert made.groups[0].plan.changes


RATES = """
[[rate]]
of = "pump"
mode = "fails running"
typical = "3e-5 1/h"
repair = "24 h"
source = "for this check"
[[rate]]
of = "pump"
mode = "fails at rest"
typical = "3e-6 1/h"
source = "for this check"
[[rate]]
of = "return"
mode = "change-over fails"
typical = "5 %"
source = "for this check"
"""


# Four-state chain of duty and standby, an independent calculation: 4812 years with a change-over that always
# works, 75 with one that works 95 times in a hundred; resting pumps are started at once there
def test_the_worth_of_the_plan_agrees_with_a_chain_worked_out_elsewhere():
    duty = 'turn = "6 h"\nkeep = 1\nstandby = "automatic"\nhand_start = "2 h"\noffset = "0 %"\n'
    made = asked(facility(2, duty, RATES), turns=[turn(1, "P-1", True), turn(1, "P-2", False)])
    worth = made.groups[0].worth
    assert worth.years == pytest.approx(75.0, rel=0.01)
    assert worth.sure == pytest.approx(4812.0, rel=0.03)  # up to 6 h dead at rest cost 2 in 100
    assert worth.unstarted < worth.years


def test_without_rates_the_worth_is_not_told():
    assert asked(facility()).groups[0].worth is None


def test_a_hall_without_duty_groups_is_told_so():
    made = asked(reading.read(HALL.replace('through = ["return"]\n', "")).facility)
    assert made.answer.state == "no-groups"


def test_the_generic_page_plans_from_the_hours_typed():
    got = turns.answer({"hours": "0 500 1000 1500", "keep": "2", "turn": "24 h"})
    assert got.state == "partly"
    assert "turns/no-overhaul" in {one.code for one in got.findings}
    told = turns.answer({"hours": [0.0, 4000.0], "keep": "1", "life": "16000 h", "offset": "25 %"})
    assert told.state == "planned"
    assert told.sentence.startswith("Now pump")


@pytest.mark.parametrize(
    "given",
    [
        {"hours": "twelve"},
        {"hours": "-1 5"},
        {"hours": "1 2", "keep": "3"},
        {"hours": "1 2", "keep": "x"},
        {"hours": "1 2", "turn": "1 s"},
        {"hours": "1 2", "turn": "5 m3"},
        {"hours": "1 2", "life": "soon"},
        {"hours": "1 2", "offset": "a bit"},
        {"hours": " ".join("1" for _ in range(17))},
    ],
)
def test_what_cannot_be_planned_is_refused_with_why(given):
    got = turns.answer(given)
    assert got.state == "refused"
    assert got.findings
    assert all(one.hint for one in got.findings)


def test_what_the_file_does_not_tell_is_noted():
    made = asked(facility(2, 'standby = "automatic"\n'))
    assert {"turns/no-turn", "turns/change-over-untold"} <= codes(made)
    assert not {"turns/no-turn", "turns/change-over-untold"} & codes(asked(facility(2, AUTOMATIC)))


def test_pumps_that_are_not_yet_apart_are_noted_until_they_are():
    def apart(hours):
        return asked(facility(), counters=[counter(0, "P-1", 100.0), counter(0, "P-2", 100.0 + hours)])

    assert "turns/not-yet-apart" in codes(apart(0.0))
    assert "turns/not-yet-apart" not in codes(apart(2500.0))


def test_a_refusal_names_its_code():
    assert "turns/cannot" in {one.code for one in turns.answer({"hours": "1 2", "keep": "3"}).findings}
