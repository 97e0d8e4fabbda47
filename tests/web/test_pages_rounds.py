"""Rounds page by page, without scripts: due, walked, asked about, skipped, resumed, ended."""

import re

import pytest

from brinehouse import answers
from brinehouse.web import round_view
from brinehouse.workbench import rounds

HALL = """
schema = 1
[facility]
name = "Two zones"
altitude = "12 m"
timezone = "Europe/London"
[zone.hall]
order = 1
[zone.apart]
name = "quarantine"
order = 2
foot_bath = true
own_tools = true
[tank.reef]
name = "Reef"
volume = "2 m3"
depth = "1 m"
zone = "hall"
stands_alone = true
[tank.q-1]
name = "Quarantine 1"
volume = "1 m3"
depth = "1 m"
zone = "apart"
stands_alone = true
[[animals]]
at = "reef"
species = "wrasse"
[point.reef-low]
at = "reef"
depth = "0.8 m"
quantity = "temperature"
expected = ["24 °C", "26 °C"]
possible = ["10 °C", "40 °C"]
[instrument.T-2]
measures = ["temperature"]
accuracy = ["0.2 °C"]
[round.morning]
name = "Morning round"
at = ["06:00"]
within = "2 h"
[[round.morning.stop]]
at = "reef-low"
note = "wipe the probe first"
[[round.morning.stop]]
at = "reef"
look = ["appetite", "breathing"]
feed = "mysis"
ration = "40 g"
[[round.morning.stop]]
at = "q-1"
read = ["nitrite"]
"""
READ, LOOK, FEED, APART = "reef-low.temperature", "reef.look", "reef.feed", "q-1.nitrite"


@pytest.fixture
def walked(small):
    small.app.state.desk.hall().file.write_text(HALL, "utf-8")
    small.hall = small.app.state.desk.hall()
    return small


def do(visitor, key, **given):
    return visitor.post(f"/rounds/morning/{key}", data={"do": "save", **given})


def heading(answer):
    return re.sub(r"\s+", " ", re.search(r"<h1[^>]*>(.*?)</h1>", answer.text, re.DOTALL).group(1)).strip()


def test_the_sheet_says_which_round_is_due_and_when_it_would_be_overdue(walked):
    shown = walked.get("/rounds")
    assert heading(shown) == "Morning round is due"
    assert "due since 2026-03-14 06:00, until 2026-03-14 08:00" in shown.text
    assert heading(walked.get("/rounds/morning")) == "Morning round is due: 4 stops"


def test_a_round_is_walked_stop_by_stop_to_its_end(walked):
    begun = walked.post("/rounds/morning/begin", data={})
    assert begun.headers["location"] == f"/rounds/morning/{READ}"
    shown = walked.get(begun.headers["location"])
    assert heading(shown) == "Reef, temperature"
    assert "stop 1 of 4" in shown.text
    assert "Wipe the probe first" in shown.text
    assert 'inputmode="decimal"' in shown.text
    assert "± 0.2 °C" in shown.text
    saved = do(walked, READ, value="25,1", unit="°C")
    assert (saved.status_code, saved.headers["location"]) == (303, f"/rounds/morning/{LOOK}")
    assert do(walked, LOOK, all="usual").headers["location"] == f"/rounds/morning/{FEED}"
    assert do(walked, FEED, eaten="most", grams="38").headers["location"] == f"/rounds/morning/{APART}"
    shown = walked.get(f"/rounds/morning/{APART}")
    assert heading(shown) == "quarantine comes next"
    refused = do(walked, APART, do="zone", tools="yes")
    assert (refused.status_code, "round/zone-first" in refused.text) == (422, True)
    assert do(walked, APART, do="zone", tools="yes", foot_bath="yes").status_code == 303
    assert do(walked, APART, value="<0,02", unit="mg/L", basis="N").headers["location"].endswith("/end")
    assert heading(walked.get("/rounds/morning/end")) == "Morning round: every stop is passed"
    walked.post("/rounds/morning/end")
    assert heading(walked.get("/rounds")) == "No round is waiting"
    [warm, ion] = sorted(walked.hall.history(), key=lambda one: one.quantity, reverse=True)
    assert (warm.value, warm.text, warm.instrument, warm.point) == (25.1, "25.1 °C", "T-2", "reef-low")
    assert (ion.bound, ion.basis) == ("<", "N")
    [look, look_too] = walked.hall.facts(["observation"])
    assert {one.details["sign"]: one.details["answer"] for one in (look, look_too)} == {
        "appetite": "as usual", "breathing": "as usual",
    }  # fmt: skip
    [fed] = walked.hall.facts(["feeding"])
    assert fed.details == {"food": "mysis", "grams": 38.0, "eaten": "most"}


def test_what_is_unusual_asks_once_more_and_is_kept_with_its_reason(walked):
    asked = do(walked, READ, value="27.5", unit="°C")
    assert asked.status_code == 422
    assert "27.5 °C is unusual: 24 to 26 °C is expected" in asked.text
    assert walked.hall.history() == []
    kept = do(walked, READ, value="27.5", unit="°C", sure="yes", reason="the sun is on it")
    assert kept.status_code == 303
    [one] = walked.hall.history()
    assert (one.value, one.quality, one.note) == (27.5, "unusual", "the sun is on it")
    assert "Reef, temperature" in walked.get("/rounds/morning/end").text
    assert "the sun is on it" in walked.get("/rounds/morning/end").text


def test_a_likely_slip_is_asked_about_and_what_cannot_be_is_not_kept(walked):
    do(walked, READ, value="24.6", unit="°C")
    asked = do(walked, READ, value="246", unit="°C", sure="yes")
    assert asked.status_code == 422
    assert "246 °C cannot be" in asked.text
    assert "Was 24.6 °C meant?" in asked.text
    assert len(walked.hall.history()) == 1
    assert 'value="246"' in asked.text


def test_fahrenheit_may_be_chosen_and_is_kept_as_it_was_entered(walked):
    assert do(walked, READ, value="77", unit="°F").status_code == 303
    [one] = walked.hall.history()
    assert (round(one.value, 6), one.text) == (25.0, "77 °F")


def test_a_second_tap_on_the_same_button_stores_nothing_twice(walked):
    for _ in range(2):
        assert do(walked, READ, value="25.1", unit="°C", id="ab" * 16).status_code == 303
    assert len(walked.hall.history()) == 1


def test_a_stop_is_skipped_with_a_reason_only(walked):
    assert heading(walked.get(f"/rounds/morning/{READ}?skip=1")) == "Reef, temperature"
    refused = do(walked, READ, do="skip")
    assert (refused.status_code, "round/no-reason" in refused.text) == (422, True)
    assert do(walked, READ, do="skip", reason="meter flat").status_code == 303
    assert "skipped: meter flat" in walked.get("/rounds/morning").text
    assert "meter flat" in walked.get("/rounds/morning/end").text


@pytest.mark.parametrize(
    ("key", "given", "code"),
    [
        (LOOK, {"appetite": "as usual"}, "round/not-answered"),
        (LOOK, {"appetite": "great", "breathing": "as usual"}, "round/no-such-answer"),
        (FEED, {}, "round/not-answered"),
        (FEED, {"eaten": "all", "grams": "much"}, "round/not-a-weight"),
        (READ, {"value": "", "unit": "°C"}, "round/nothing"),
        (READ, {"value": "25", "unit": "mg/L"}, "round/unit"),
    ],
)
def test_what_is_not_answered_is_said_and_nothing_is_kept(walked, key, given, code):
    answer = do(walked, key, **given)
    assert answer.status_code == 422
    assert code in answer.text
    assert walked.hall.history() == []
    assert walked.hall.facts(["observation", "feeding", "stop"]) == []


def test_a_walk_is_taken_up_again_on_another_phone(walked):
    walked.hall.person("Lark")
    walked.post("/rounds/morning/begin", data={"by": "Lark"})
    do(walked, READ, value="25.1", unit="°C")
    assert heading(walked.get("/rounds/morning")) == "Morning round: 1 of 4 stops are passed"
    again = walked.post("/rounds/morning/begin", data={"by": "Moss"})
    assert again.headers["location"] == f"/rounds/morning/{LOOK}"
    assert len({walk.id for walk in rounds.walks(walked.hall)}) == 1
    assert walked.hall.history()[0].person == 1


def test_a_stop_that_was_passed_can_be_read_again_and_both_are_kept(walked):
    do(walked, READ, value="25.1", unit="°C")
    shown = walked.get(f"/rounds/morning/{READ}")
    assert "Last 25.1 °C, 2026-03-14 06:40" in shown.text
    assert "passed already" in shown.text
    do(walked, READ, value="25.2", unit="°C")
    assert len(walked.hall.history()) == 2


@pytest.mark.parametrize("address", ["/rounds/nothing", "/rounds/morning/nothing", "/rounds/nothing/end"])
def test_a_round_or_stop_that_is_not_there_is_said_so(walked, address):
    answer = walked.get(address)
    assert answer.status_code == 404
    assert re.search("round/unknown|round/no-stop", answer.text)


def test_a_hall_that_names_no_round_has_one_made_and_says_so(small):
    assert "made from its tanks" in small.get("/rounds").text
    assert heading(small.get("/rounds/round/mangrove.temperature")) == "mangrove, temperature"


def test_two_contents_under_one_id_stand_side_by_side(walked):
    do(walked, READ, value="25.1", unit="°C", id="ab" * 16)
    do(walked, READ, value="25.6", unit="°C", id="ab" * 16)
    assert "One entry came twice with two contents" in walked.get("/rounds").text
    shown = walked.get("/rounds/aside").text
    assert "25.1 °C" in shown
    assert "25.6 °C" in shown


def test_what_is_known_of_a_gas_meter_stands_beside_it_and_nobody_waits_for_it(walked, monkeypatch):
    text = HALL.replace('read = ["nitrite"]', 'read = ["total gas pressure"]\nwith = ["meter-B"]')
    text += '[instrument.meter-B]\nmeasures = ["total gas pressure"]\n'
    walked.hall.file.write_text(text, "utf-8")
    gas, ticks = (
        f"/rounds/morning/{APART.replace('nitrite', 'total-gas-pressure')}",
        {"do": "zone", "tools": "yes"},
    )
    walked.post(gas, data={**ticks, "foot_bath": "yes"})
    assert "corrected by" not in walked.get(gas).text
    known = {"meter-B": answers.Value(value=1.2, unit="%", u=0.15)}
    monkeypatch.setattr(round_view.investigation, "known_offsets", lambda _: known)
    assert "corrected by −1.2 ± 0.3 points" in walked.get(gas).text
    [ask] = walked.get("/rounds/morning/plan.json").json()["stops"][-1]["asks"]
    assert ask["instrument_note"] == "corrected by −1.2 ± 0.3 points"


# On paper, and typed in afterwards


def box(key, name):
    return f"{key}|{name}"


def type_in(visitor, **more):
    given = {"at": "2026-03-14T05:10", "by": "Lark", "id": "cd" * 16, **more}
    return visitor.post("/rounds/morning/type", data=given)


def test_the_sheet_for_the_day_without_power_has_ranges_boxes_and_the_version_of_its_file(walked):
    do(walked, READ, value="25.1", unit="°C")
    shown = walked.get("/rounds/morning/sheet").text
    for said in ("24 … 26 °C", "25.1 °C", "Quarantine", "foot bath", "as usual", "T-2", "facility file "):
        assert said in shown
    plan = walked.get("/rounds/morning/plan.json").json()
    assert plan["version"] in shown
    assert "round-a4.css" in shown
    assert "round-letter.css" in walked.get("/rounds/morning/sheet?paper=letter").text


def test_a_written_sheet_is_stored_in_one_go_with_the_time_it_was_read(walked):
    rows = {
        box(READ, "value"): "25,2", box(LOOK, "appetite"): "as usual", box(LOOK, "breathing"): "laboured",
        box(FEED, "eaten"): "little", box(APART, "value"): "0,03", box(APART, "basis"): "N",
    }  # fmt: skip
    for _ in range(2):
        assert type_in(walked, **rows).status_code == 303
    warm, ion = sorted(walked.hall.history(), key=lambda one: one.quantity, reverse=True)
    assert (warm.value, ion.value) == (25.2, 0.03)
    assert f"{warm.measured:%H:%M}" == "05:10"
    assert f"{warm.entered:%H:%M}" == "06:40"
    assert len(walked.hall.facts(["observation"])) == 2
    assert heading(walked.get("/rounds")) == "No round is waiting"
    assert {one.person for one in walked.hall.history()} == {1}


def test_lines_that_are_unusual_are_asked_together_and_nothing_typed_is_lost(walked):
    rows = {box(READ, "value"): "27.5", box(APART, "value"): "0.03", box(APART, "basis"): "N"}
    asked = type_in(walked, **rows)
    assert (asked.status_code, heading(asked)) == (422, "One line is unusual: is it so?")
    assert 'value="27.5"' in asked.text
    assert 'value="0.03"' in asked.text
    assert walked.hall.history() == []
    rows |= {box(READ, "sure"): "yes", box(READ, "reason"): "the sun"}
    assert type_in(walked, **rows).status_code == 303
    assert {one.note for one in walked.hall.history()} == {"the sun", ""}


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({box(READ, "value"): "251"}, "cannot be"),
        ({box(READ, "value"): "25", "at": ""}, "round/no-time"),
        ({box(READ, "value"): "25", "at": "2026-03-14T09:00"}, "typed/future"),
        ({box(READ, "value"): "25", "at": "yesterday"}, "workbench/not-a-time"),
        ({}, "round/empty-sheet"),
        ({box(LOOK, "appetite"): "as usual"}, "Nothing is answered for breathing"),
        ({box(APART, "value"): "0.03"}, "does not say what the nitrite is counted as"),
    ],
)
def test_a_sheet_that_cannot_be_kept_says_why_and_stores_nothing(walked, given, code):
    answer = type_in(walked, **given)
    assert answer.status_code == 422
    assert code in answer.text
    assert walked.hall.history() == []
