"""Rounds as plans and walks: what each stop asks, what is due, what was missed, and who goes on."""

import dataclasses
from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import records
from brinehouse.facility import reading
from brinehouse.workbench import (
    clock,
    concerns,
    mishaps,
    now,
    recent,
    round_asks,
    round_stops,
    round_writing,
    rounds,
    told,
)

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)  # where the halls' clock stands still
ROUNDS = """
[zone.hall]
order = 1
[zone.apart]
name = "quarantine"
order = 2
foot_bath = true
[round.morning]
name = "Morning round"
at = ["06:00", "16:30"]
within = "2 h"
[[round.morning.stop]]
at = "mangrove-low"
with = ["probe-1"]
[[round.morning.stop]]
at = "mangrove"
read = ["total gas pressure"]
[[round.morning.stop]]
at = "pipefish"
read = ["temperature"]
look = ["appetite"]
[round.weekly]
every = "7 d"
[[round.weekly.stop]]
at = "pipefish"
read = ["nitrite"]
"""
KEYS = ["mangrove-low.temperature", "mangrove.total-gas-pressure", "pipefish.temperature", "pipefish.look"]


@pytest.fixture
def walked(hall):
    text = hall.file.read_text("utf-8")
    text = text.replace("[tank.mangrove]\n", '[tank.mangrove]\nname = "Mangrove"\nzone = "hall"\n')
    text = text.replace("[tank.pipefish]\n", '[tank.pipefish]\nname = "Pipefish"\nzone = "apart"\n')
    hall.file.write_text(text + ROUNDS, "utf-8")
    assert hall.checked.facility is not None, [str(found) for found in hall.checked.findings]
    return hall


def put(
    hall, value, at=NOW - timedelta(hours=1), point="mangrove-low", quantity="temperature", unit="°C", **more
):
    number = len(hall.history(superseded=True)) + 1
    place = hall.facility.place(point).id
    one = records.Reading(
        id=f"{number:032x}", measured=at, entered=at, place=place, quantity=quantity, value=value, unit=unit,
        text=f"{value} {unit}", point=point if point in hall.facility.points else "", **more,
    )  # fmt: skip
    hall.write([one])


def asked(hall, key):
    plan = rounds.plan(hall, "morning")
    return next(stop for stop in plan["stops"] if stop["key"] == key)["asks"][0]


def state(hall, name="morning"):
    return rounds.look_at(hall, name).state


# What a plan holds


def test_a_plan_has_the_stops_in_walking_order_and_says_where_a_zone_begins(walked):
    plan = rounds.plan(walked, "morning")
    assert [stop["key"] for stop in plan["stops"]] == KEYS
    assert [stop["zone_change"] for stop in plan["stops"]] == [
        None, None, {"foot_bath": True, "tools": False}, None,
    ]  # fmt: skip
    assert plan["stops"][0]["title"] == "Mangrove, temperature"
    assert (plan["zone"], plan["hall"], plan["walk"]) == ("Europe/London", "Test Hall", None)


def test_a_retired_place_is_not_asked_for(walked):
    text = walked.file.read_text("utf-8")
    text = text.replace("[tank.pipefish]\n", "[tank.pipefish]\nretired = 2026-03-01\n")
    walked.file.write_text(text, "utf-8")
    assert [stop["key"] for stop in rounds.plan(walked, "morning")["stops"]] == KEYS[:2]


def test_the_points_own_range_is_expected_and_the_meter_says_how_exact_it_is(walked):
    ask = asked(walked, KEYS[0])
    assert (ask["expected"], ask["possible"]) == ([24.0, 26.0], [15.0, 35.0])
    assert (ask["instrument"], ask["unit"], ask["negative"]) == ("probe-1", "°C", False)
    assert ask["instrument_note"].startswith("± 0.2")
    assert ask["aim"] == [24.5, 26.0]


def test_without_a_range_the_watch_limit_is_expected_then_where_it_has_been_then_what_is_plausible(walked):
    assert asked(walked, KEYS[2])["expected"] == [-2.0, 30.0]
    for hour in range(8):
        put(walked, 25.0 + 0.1 * hour, NOW - timedelta(hours=20 - hour), point="pipefish")
    narrow = asked(walked, KEYS[2])
    assert narrow["expected"] == [24.45, 26.25]
    assert narrow["expected_why"] == "as in the last two weeks"
    text = (
        walked.file.read_text("utf-8")
        + '[[limit]]\nquantity = "temperature"\nat = "pipefish"\n'
        + 'watch = "above 27 °C"\nsource = "house rule"\n'
    )
    walked.file.write_text(text, "utf-8")
    assert asked(walked, KEYS[2])["expected"] == [-2.0, 27.0]


def test_the_line_holds_hand_readings_of_this_very_point_and_of_seven_days(walked):
    put(walked, 25.0, NOW - timedelta(days=8))
    put(walked, 25.2, NOW - timedelta(days=2))
    put(walked, 25.4, NOW - timedelta(hours=1))
    put(walked, 19.0, point="mangrove")
    put(walked, 30.0, source="sensor")
    ask = asked(walked, KEYS[0])
    assert ask["trace"] == [[48.0, 25.2], [1.0, 25.4]]
    assert (ask["last"]["value"], ask["last"]["text"]) == (25.4, "25.4 °C")


def test_gas_in_mmhg_is_told_from_gas_in_percent_by_the_newest_barometer(walked):
    assert asked(walked, KEYS[1])["slips"][-1]["says"] == "the total pressure itself"
    put(walked, 725.0, point="mangrove", quantity="barometer", unit="mmHg", basis="air")
    assert asked(walked, KEYS[1])["slips"] == [{"unit": "mmHg", "factor": 100.0 / 725.0, "offset": 0.0}]


def test_a_quantity_whose_basis_nobody_states_is_asked_for_it(walked):
    ask = rounds.plan(walked, "weekly")["stops"][0]["asks"][0]
    assert (ask["basis"], ask["bases"]) == ("", ["N", "ion"])


def test_a_basis_counts_for_the_quantities_that_can_be_counted_so(walked):
    text = walked.file.read_text("utf-8")
    walked.file.write_text(
        text.replace('read = ["nitrite"]', 'read = ["nitrite", "temperature"]\nbasis = "N"'), "utf-8"
    )
    nitrite, warm = (stop["asks"][0] for stop in rounds.plan(walked, "weekly")["stops"])
    assert (nitrite["basis"], nitrite["bases"], warm["basis"]) == ("N", [], "")


def test_a_round_that_is_not_there_is_refused_with_those_that_are(walked):
    with pytest.raises(mishaps.Refused) as refusal:
        rounds.plan(walked, "noon")
    assert refusal.value.findings[0].code == "round/unknown"
    assert "morning" in refusal.value.findings[0].hint


def test_a_hall_without_rounds_has_one_made_in_the_order_of_its_zones(hall):
    text = hall.file.read_text("utf-8")
    text = text.replace("[tank.mangrove]\n", '[tank.mangrove]\nzone = "apart"\n')
    text = text.replace("[tank.pipefish]\n", '[tank.pipefish]\nzone = "hall"\n')
    hall.file.write_text(text + ROUNDS[: ROUNDS.index("[round.morning]")], "utf-8")
    [whole] = round_stops.rounds(hall.facility).values()
    assert whole.made
    assert [screen.key for screen in round_stops.screens(hall.facility, whole)] == [
        "pipefish.temperature", "mangrove-low.temperature",
    ]  # fmt: skip


# When, and what was missed


def test_a_round_is_due_then_overdue_and_walked_once_it_is_walked(walked):
    assert state(walked) == "due"
    clock.freeze(NOW + timedelta(hours=2))
    assert state(walked) == "overdue"
    [concern] = rounds.concerns_of(walked)
    assert (concern.code, concern.what, concern.why) == (
        "round/overdue", "Morning round: not walked", "4 of 4 stops are missing",
    )  # fmt: skip
    walk = round_writing.begin(walked, "morning", None)
    assert rounds.concerns_of(walked)[0].what == "Morning round: begun and not ended"
    round_writing.end(walked, walk, None)
    assert (state(walked), rounds.concerns_of(walked)) == ("walked", [])
    clock.freeze(datetime(2026, 3, 14, 17, 0, tzinfo=UTC))
    assert state(walked) == "due"


def test_a_round_may_be_begun_a_little_before_it_is_due_and_not_the_night_before(walked):
    for begun, expected in (
        (datetime(2026, 3, 14, 4, 30, tzinfo=UTC), "walked"),
        (NOW - timedelta(hours=5), "due"),
    ):
        clock.freeze(begun)
        walk = round_writing.begin(walked, "morning", None, round_writing.derived(f"{begun}"))
        round_writing.end(walked, walk, None)
        clock.freeze(NOW)
        looked = [one for one in rounds.walks(walked) if one.id == walk.id]
        assert rounds._look(walked, round_stops.find(walked.facility, "morning"), looked).state == expected


def test_a_round_that_was_only_written_down_counts_as_walked_and_says_what_is_missing(walked):
    put(walked, 25.1)
    put(walked, 25.0, point="pipefish")
    assert state(walked) == "due"
    put(walked, 100.0, point="mangrove", quantity="total gas pressure", unit="%")
    look = rounds.look_at(walked, "morning")
    assert look.state == "walked"
    assert [screen.key for screen in look.missing] == ["pipefish.look"]


def test_a_round_that_comes_again_after_so_long_is_due_from_the_last_walk_on(walked):
    assert state(walked, "weekly") == "at will"
    round_writing.end(walked, round_writing.begin(walked, "weekly", None), None)
    assert state(walked, "weekly") == "waiting"


@pytest.mark.parametrize("zone", ["Europe/London", "Pacific/Chatham", "America/St_Johns"])
def test_a_round_is_due_by_the_halls_clock_whatever_that_does_in_the_night(walked, zone):
    text = walked.file.read_text("utf-8").replace("Europe/London", zone)
    walked.file.write_text(text, "utf-8")
    for day in range(20, 40):
        clock.freeze(datetime(2026, 3, 1, 12, 0, tzinfo=UTC) + timedelta(days=day))
        look = rounds.look_at(walked, "morning")
        assert look.due is not None
        assert timedelta(0) <= clock.now() - look.due <= timedelta(hours=15)


# Walks


def test_a_walk_goes_on_on_another_phone_with_what_was_done_and_skipped(walked):
    lark = walked.person("Lark")
    walk = round_writing.begin(walked, "morning", lark)
    screens = round_stops.screens(walked.facility, round_stops.find(walked.facility, "morning"))
    made = round_writing.skip(walk, screens[1], {"reason": "meter flat"}, lark)
    asks = round_asks.ask(walked, screens[0], recent.readings(walked), {})
    saved = round_writing.save(walked, walk, screens[0], asks, {"value": "25,1"}, lark)
    walked.write([*made.facts, *saved.facts], person=lark)
    taken = rounds.plan(walked, "morning")["walk"]
    assert taken == {
        "id": walk.id, "done": [KEYS[0]], "skipped": {KEYS[1]: "meter flat"}, "zones": [], "by": "Lark",
    }  # fmt: skip
    assert round_writing.begin(walked, "morning", None).id == walk.id


def test_a_stop_that_was_skipped_and_then_done_is_done(walked):
    walk = round_writing.begin(walked, "morning", None)
    screen = round_stops.screens(walked.facility, round_stops.find(walked.facility, "morning"))[0]
    walked.write(round_writing.skip(walk, screen, {"reason": "tap closed"}, None).facts)
    asks = round_asks.ask(walked, screen, recent.readings(walked), {})
    walked.write(round_writing.save(walked, walk, screen, asks, {"value": "25"}, None).facts)
    [again] = rounds.walks(walked)
    assert (set(again.done), again.skipped) == ({KEYS[0]}, {})


def test_a_walk_that_was_left_is_not_taken_up_the_next_day(walked):
    walk = round_writing.begin(walked, "morning", None)
    clock.freeze(NOW + timedelta(hours=20))
    assert rounds.current(walked, "morning") is None
    assert round_writing.begin(walked, "morning", None).id != walk.id


def test_walks_and_stops_are_told_in_words(walked):
    walk = round_writing.begin(walked, "morning", None)
    screens = round_stops.screens(walked.facility, round_stops.find(walked.facility, "morning"))
    round_writing.enter(walked, walk, screens[2], {"foot_bath": "yes"}, None)
    walked.write(round_writing.skip(walk, screens[0], {"reason": "meter flat"}, None).facts)
    said = {told.line(fact) for fact in walked.facts(["walk", "stop"])}
    assert said == {
        "morning round begun", "morning round, into apart, by foot bath",
        "morning round, mangrove-low.temperature skipped: meter flat",
    }  # fmt: skip


def test_an_overdue_round_stands_on_the_sheet_of_now(walked):
    put(walked, 25.1)
    clock.freeze(NOW + timedelta(hours=3))
    shown = now.look(walked, concerns.of(walked))
    assert "round/overdue" in {one.code for one in shown.concerns}


def test_the_shown_hall_walks_from_the_young_animals_to_quarantine():
    import importlib.resources

    text = importlib.resources.files("brinehouse.demo").joinpath("hall.toml").read_text("utf-8")
    facility = reading.read(text).facility
    screens = round_stops.screens(facility, facility.rounds["morning"])
    assert len(screens) == 12
    orders = [screen.zone.order for screen in screens if screen.zone]
    assert orders == sorted(orders)
    assert [screen.key for screen in screens if screen.change] == ["q-1-mid.temperature"]
    turned = dataclasses.replace(facility.rounds["morning"], stops=facility.rounds["morning"].stops[::-1])
    orders = [screen.zone.order for screen in round_stops.screens(facility, turned)]
    assert orders != sorted(orders)
