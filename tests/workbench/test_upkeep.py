"""Work that comes round: due by date, hours, starts or a reading; what is not known is said."""

from datetime import UTC, datetime, timedelta

import pytest
from tests.workbench.conftest import FACILITY, NOW

from brinehouse import records
from brinehouse.workbench import clock, lock_outs, mishaps, register, running, told, upkeep, works
from brinehouse.workbench import hall as halls

PLANT = (
    FACILITY
    + """
[point.pump-tap]
at = "P-1"

[pump.P-1]
flow = "20 m3/h"
tag = "P-01"
bought = 2026-01-13
spares = ["2 shaft seals"]
board = "board-A"

[pump.P-2]
flow = "20 m3/h"

[duty.return]
pumps = ["P-1", "P-2"]

[run.supply]
from = "sump-m"
through = ["return"]
to = "mangrove"

[board.board-A]

[[upkeep]]
of = "P-1"
what = "change the shaft seal"
every = "90 d"
hours = "1000 h"

[[upkeep]]
of = "P-2"
what = "grease"
starts = 3

[[upkeep]]
of = "meter-B"
what = "membrane"
every = "30 d"
counts = "renewal"

[[upkeep]]
of = "probe-1"
what = "calibration"
every = "30 d"
counts = "check"

[[upkeep]]
of = "mangrove"
what = "look at the heater"
quantity = "temperature"
at = "mangrove-low"
when = "above 26 °C"
"""
)


@pytest.fixture
def plant(folder):
    (folder / "facility.toml").write_text(PLANT, "utf-8")
    with halls.open_hall(folder) as made:
        yield made


def fact(kind, days_ago, **details):
    at = NOW - timedelta(days=days_ago)
    return records.Fact(id=halls.new_id(), kind=kind, measured=at, entered=at, details=details)


def turned(pump, *starts_and_stops):
    return [
        fact("pump-run", days, pump=pump, running=index % 2 == 0)
        for index, days in enumerate(starts_and_stops)
    ]


def due(plant, what):
    return next(one for one in upkeep.due(plant) if one.what == what)


def test_a_date_counts_from_when_it_was_bought_until_it_was_done_once(plant):
    seal = due(plant, "change the shaft seal")
    assert seal.when.date().isoformat() == "2026-04-13"
    assert "bought, 2026-01-13" in seal.said[0]
    order = works.ask(plant, of="P-1", title="seal", upkeep=seal.key)
    assert due(plant, "change the shaft seal").order == order
    works.step(plant, order, "done", did="new seal", parts=["1 shaft seal"], minutes=80)
    again = due(plant, "change the shaft seal")
    assert (again.order, again.last.at) == ("", NOW)
    assert again.when == NOW + timedelta(days=90)


def test_hours_that_nobody_wrote_down_are_not_guessed_and_the_counter_tells(plant):
    seal = due(plant, "change the shaft seal")
    assert seal.state == "unknown"
    assert "the counter of P-1 would tell" in seal.cannot[0]
    plant.write([fact("run-hours", 59, of="P-1", hours=40.0), fact("run-hours", 0, of="P-1", hours=960.0)])
    assert due(plant, "change the shaft seal").state == "soon"
    assert due(plant, "change the shaft seal").said[1] == "960 of 1000 running hours"
    plant.write([fact("run-hours", 0, of="P-1", hours=1100.0)])
    assert due(plant, "change the shaft seal").state == "due"
    concern = upkeep.concerns_of(plant)[0]
    assert (concern.what, concern.code) == ("upkeep due: change the shaft seal", "upkeep/due")


def test_hours_count_from_when_it_was_last_done(plant):
    key = upkeep.key_of("P-1", "change the shaft seal")
    plant.write(
        [
            fact("run-hours", 59, of="P-1", hours=40.0),
            fact("work", 30, order="0" * 32, of="P-1", what="done", did="new seal", upkeep=key),
            *turned("P-1", 40, 20),
            fact("run-hours", 10, of="P-1", hours=960.0),
        ]
    )
    assert due(plant, "change the shaft seal").said[1] == "240 of 1000 running hours"


def test_starts_are_counted_from_the_turns_and_unknown_ones_are_said(plant):
    assert "starts of P-2 are not written down" in due(plant, "grease").cannot[0]
    plant.write(turned("P-2", 9, 8, 7, 6, 5))
    assert due(plant, "grease").state == "due"


def test_a_renewal_counts_for_its_own_and_its_lot_expires_before_its_time(plant):
    assert due(plant, "membrane").state == "unknown"
    upkeep.renew(plant, of="meter-B", what="Membrane", lot="L7", expires="2026-03-20")
    membrane = due(plant, "membrane")
    assert (membrane.state, membrane.last.lot) == ("later", "L7")
    assert membrane.when.date().isoformat() == "2026-03-21"
    upkeep.renew(plant, of="meter-B", what="reagent", expires="2026-03-13")
    assert due(plant, "reagent").state == "due"


def test_a_check_of_the_meter_counts_as_its_calibration(plant):
    plant.write([fact("instrument-check", 31, instrument="probe-1", check="air", reads=1, should_read=1)])
    assert due(plant, "calibration").state == "due"
    plant.write([fact("instrument-check", 2, instrument="meter-B", check="air", reads=1, should_read=1)])
    assert due(plant, "calibration").state == "due"
    plant.write([fact("instrument-check", 2, instrument="probe-1", check="air", reads=1, should_read=1)])
    assert due(plant, "calibration").state == "later"


@pytest.mark.parametrize(("value", "state"), [(25.0, "later"), (26.5, "due"), (None, "unknown")])
def test_a_reading_tells_that_it_is_due(plant, value, state):
    reading = records.Reading(
        id=halls.new_id(), measured=NOW, entered=NOW, place="mangrove", point="mangrove-low",
        quantity="temperature", value=value or 30.0, unit="°C", text=f"{value} °C",
        quality="good" if value else "doubtful",
    )  # fmt: skip
    plant.write([reading])
    heater = due(plant, "look at the heater")
    assert heater.state == state
    assert state != "unknown" or "one reading would tell" in heater.cannot[0]


def test_what_is_retired_comes_round_no_more(plant):
    text = plant.file.read_text("utf-8").replace("[pump.P-2]", "[pump.P-2]\nretired = 2026-03-01")
    plant.file.write_text(text, "utf-8")
    assert "grease" not in [one.what for one in upkeep.due(plant)]


def test_hours_are_a_span_where_it_is_not_known_whether_it_ran():
    turns = [records.Turn(at=NOW, pump="P", running=True)]
    course = running.Course(turns=turns)
    ran = running.between(course, NOW - timedelta(hours=5), NOW + timedelta(hours=2))
    assert (ran.hours.low, ran.hours.high) == (2.0, 7.0)
    assert not ran.hours.sure
    assert running.between(course, NOW, NOW + timedelta(hours=2)).hours.sure


def test_a_counter_that_was_changed_does_not_take_hours_back():
    counters = [
        running.Counter(at=NOW, hours=900.0),
        running.Counter(at=NOW + timedelta(hours=10), hours=3.0),
        running.Counter(at=NOW + timedelta(hours=20), hours=11.0),
    ]
    ran = running.between(running.Course(counters=counters), NOW, NOW + timedelta(hours=20))
    assert (ran.hours.low, ran.hours.high) == (8.0, 18.0)


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"of": "P-9", "hours": "4"}, "upkeep/unknown-thing"),
        ({"of": "P-1", "hours": "-4"}, "upkeep/no-count"),
        ({"of": "P-1", "hours": "four"}, "upkeep/no-count"),
        ({"of": "P-1"}, "upkeep/no-count"),
    ],
)
def test_what_a_counter_cannot_show_is_refused(plant, given, code):
    with pytest.raises(mishaps.Refused) as refusal:
        upkeep.count(plant, **given)
    assert refusal.value.findings[0].code == code


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"of": "P-1", "what": ""}, "upkeep/nothing"),
        ({"of": "P-1", "what": "lamp", "expires": "soon"}, "upkeep/no-day"),
    ],
)
def test_a_renewal_names_what_and_until_when(plant, given, code):
    with pytest.raises(mishaps.Refused) as refusal:
        upkeep.renew(plant, **given)
    assert refusal.value.findings[0].code == code


# -- work orders ------------------------------------------------------------------------------------------


def test_an_order_is_as_its_newest_step_says_and_every_step_stays(plant):
    ada, ben = plant.person("Ada"), plant.person("Ben")
    id = works.ask(plant, of="P-1", title="look at the noise", due="2026-03-13", person=ada)
    works.step(plant, id, "begun", person=ben)
    assert works.order(plant, id).overdue(works.today(plant))
    concern = works.concerns_of(plant)[0]
    assert (concern.what, concern.code) == ("work overdue: look at the noise", "work/overdue")
    works.step(plant, id, "done", did="coupling tightened", parts=["1 coupling star"], minutes=40, person=ben)
    order = works.order(plant, id)
    assert [(one.what, one.by) for one in order.steps] == [
        ("asked", "Ada"),
        ("begun", "Ben"),
        ("done", "Ben"),
    ]
    assert order.steps[-1].parts == ("1 coupling star",)
    assert works.concerns_of(plant) == []
    assert told.line(order.steps[-1].fact) == ("look at the noise done: coupling tightened (1 coupling star)")


@pytest.mark.parametrize(
    ("what", "more", "code"),
    [
        ("done", {}, "work/no-words"),
        ("dropped", {}, "work/no-words"),
        ("asked", {}, "work/not-so"),
        ("", {}, "work/not-so"),
    ],
)
def test_a_step_that_cannot_be_is_refused(plant, what, more, code):
    id = works.ask(plant, of="", title="sweep the floor")
    with pytest.raises(mishaps.Refused) as refusal:
        works.step(plant, id, what, **more)
    assert refusal.value.findings[0].code == code
    works.step(plant, id, "done", did="swept")
    with pytest.raises(mishaps.Refused):
        works.step(plant, id, "begun")


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"of": "P-1", "title": " "}, "work/nothing"),
        ({"of": "P-9", "title": "x"}, "work/unknown-thing"),
        ({"of": "P-1", "title": "x", "due": "soon"}, "work/no-day"),
    ],
)
def test_work_that_cannot_be_asked_for_is_refused(plant, given, code):
    with pytest.raises(mishaps.Refused) as refusal:
        works.ask(plant, **given)
    assert refusal.value.findings[0].code == code
    with pytest.raises(mishaps.Refused) as refusal:
        works.order(plant, "0" * 32)
    assert refusal.value.findings[0].code == "work/unknown"


# -- lock-out notes -----------------------------------------------------------------------------------------


def test_a_note_is_taken_off_by_whoever_hung_it_or_by_a_lead_with_a_reason(plant):
    ada, ben = plant.person("Ada"), plant.person("Ben")
    id = lock_outs.hang(plant, of="P-1", tag="17", why="seal", person=ada).id
    assert [lock.by for lock in lock_outs.standing(plant)] == ["Ada"]
    for told_off, code in (
        ({"person": ben, "role": "keeper", "why": "done"}, "lock/not-yours"),
        ({"person": ben, "role": "lead"}, "lock/no-why"),
    ):
        with pytest.raises(mishaps.Refused) as refusal:
            lock_outs.take_off(plant, id, **told_off)
        assert refusal.value.findings[0].code == code
    concern = lock_outs.concerns_of(plant)[0]
    assert (concern.why, concern.code, concern.asks) == ("tag 17: seal", "lock/hangs", False)
    lock_outs.take_off(plant, id, person=ada, role="keeper")
    assert lock_outs.standing(plant) == []
    other = lock_outs.hang(plant, of="P-1", tag="18", why="seal", person=ada).id
    lock_outs.take_off(plant, other, person=ben, role="lead", why="Ada went home, nobody is there")
    assert lock_outs.every(plant)[1].off_why == "Ada went home, nobody is there"
    with pytest.raises(mishaps.Refused) as refusal:
        lock_outs.take_off(plant, other, person=ada, role="keeper")
    assert refusal.value.findings[0].code == "lock/not-there"


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"of": "P-9", "tag": "1", "why": "x"}, "lock/unknown-thing"),
        ({"of": "P-1", "tag": "", "why": "x"}, "lock/no-tag"),
        ({"of": "P-1", "tag": "1", "why": ""}, "lock/no-why"),
    ],
)
def test_a_note_without_thing_tag_or_reason_is_refused(plant, given, code):
    with pytest.raises(mishaps.Refused) as refusal:
        lock_outs.hang(plant, **given)
    assert refusal.value.findings[0].code == code


def test_a_note_on_a_board_holds_for_what_it_feeds_and_one_on_a_pump_for_its_group(plant):
    lock_outs.hang(plant, of="board-A", tag="3", why="new breaker")
    locks = lock_outs.standing(plant)
    held = [one for one in ("P-1", "P-2", "board-A", "return") if lock_outs.at(plant.facility, locks, one)]
    assert held == ["P-1", "board-A"]
    lock_outs.hang(plant, of="P-2", tag="4", why="bearing")
    assert lock_outs.at(plant.facility, lock_outs.standing(plant), "return")


# -- the register -------------------------------------------------------------------------------------------


def test_the_register_says_hours_starts_and_what_is_due(plant):
    plant.write([*turned("P-1", 4, 3, 2), fact("run-hours", 1, of="P-1", hours=5000.0, starts=70)])
    row = next(row for row in register.rows(plant) if row.id == "P-1")
    assert (row.tag, row.where, row.board, row.runs) == ("P-01", "return", "board-A", True)
    assert (row.ran.hours.low, row.ran_since) == (5024.0, None)
    assert row.ran.starts.low == 70
    assert row.due.what == "change the shaft seal"


def test_the_sheet_of_one_thing_holds_its_data_spares_history_and_readings(plant):
    id = works.ask(plant, of="P-1", title="look at the noise")
    reading = records.Reading(
        id=halls.new_id(), measured=NOW, entered=NOW, place="", point="pump-tap", quantity="pressure",
        value=101325.0, unit="Pa", text="1 atm",
    )  # fmt: skip
    plant.write([reading])
    sheet = register.sheet(plant, "P-1")
    assert sheet.spares == ("2 shaft seals",)
    assert ("bought", "2026-01-13") in [(name, value) for name, value, _ in sheet.data]
    assert [order.id for order in sheet.orders] == [id]
    assert [past.kind for past in sheet.history] == ["work"]
    with pytest.raises(mishaps.Refused) as refusal:
        register.sheet(plant, "P-11")
    assert refusal.value.findings[0].code == "register/unknown"
    assert "P-1" in refusal.value.findings[0].hint


def test_facts_of_the_working_day_are_said_in_a_line(plant):
    clock.freeze(datetime(2026, 3, 14, 6, 40, tzinfo=UTC))
    lines = [
        told.line(upkeep.count(plant, of="P-1", hours="12840", starts="31")),
        told.line(upkeep.renew(plant, of="meter-B", what="membrane", lot="L7", expires="2026-09-01")),
        told.line(lock_outs.hang(plant, of="P-1", tag="17", why="seal")),
    ]
    assert lines == [
        "counter of P-1: 12840 hours, 31 starts",
        "membrane of meter-B renewed, lot L7, keeps until 2026-09-01",
        "P-1 locked out, tag 17: seal",
    ]


@pytest.mark.parametrize(
    ("step", "named"),
    [
        ("Start P-2 by hand", True),
        ("start the standby of return", True),
        ("start P-21", False),
        ("shut the top-up", False),
        ("look whether it returns", False),
    ],
)
def test_a_step_that_names_what_is_locked_out_is_told_apart(plant, step, named):
    lock_outs.hang(plant, of="P-2", tag="4", why="bearing")
    assert bool(lock_outs.named(plant.facility, lock_outs.standing(plant), [step])) is named
