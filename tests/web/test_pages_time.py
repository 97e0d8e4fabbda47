"""Sheet "time in hand", cards and drills: shortest first, cautions in view, all without JavaScript."""

import datetime as dt
import pathlib
import re
import sys
import types

import pytest

from brinehouse.web import catalogue, time_sheet
from brinehouse.web.pages import time as page
from brinehouse.workbench import clock, time_told

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "workbench"))
import invented_hours as invented

COURSE = time_told.Course(
    place="pipefish", quantity="oxygen", unit="mg/L", hours=[n / 4 for n in range(289)],
    values=[max(7.2 - 3.0 * n / 4, 0.5) for n in range(289)], lines=[invented.OXYGEN, invented.PALE],
)  # fmt: skip


@pytest.fixture
def visitor(small, monkeypatch):
    """A visitor to a small hall whose failures are invented."""

    def survey(hall, wanted):
        made = invented.table(hall.facility, wanted)
        return types.SimpleNamespace(table=made, sentence="The power is off: 54 min.", as_of=None, used=4)

    monkeypatch.setattr(page, "survey", survey)
    monkeypatch.setattr(page, "courses", lambda *_: [COURSE])
    return small


def plain(text):
    return " ".join(re.sub(r"<[^>]+>", " ", text.replace("\u00a0", " ")).split())


def test_failures_stand_shortest_first_with_limit_place_and_what_helps(visitor):
    said = plain(visitor.get("/time").text)
    order = [said.index(title) for title in ("The power is off", "Board B2 is off", "The chiller stops")]
    assert order == sorted(order)
    assert "54 min 36 min to 1.5 h" in said
    assert "oxygen below 4.5 mg/L pipefish" in said
    assert "Battery air into Pipefish gains 8.4 h" in said
    assert "then no limit within 72 h" in said
    assert "Intervals are still being computed" in said
    assert "before anybody is there" in said
    assert "less than 4 h" in said


def test_what_crosses_no_limit_is_folded_away_and_what_nobody_sees_is_not(visitor):
    text = visitor.get("/time").text
    folded = re.search(r"<details[^>]*><summary>One failure crosses no limit[\s\S]*?</details>", text).group()
    assert "The UV is off" in folded
    assert "1.7 °C away" in plain(folded)
    assert "P-204 would not start" not in folded
    assert "What nobody would notice" in text
    assert "hidden Board B2 is off" in plain(text)


@pytest.mark.parametrize(
    "address", ["/time", "/time/power-off", "/time/card/power-off", "/time/drill/power-off"]
)
def test_cautions_stand_on_every_face(visitor, address):
    said = plain(visitor.get(address).text).lower()
    first = "anybody in danger|life safety comes first"
    for word in (first, "lock off", "alone", "licensed trade", "veterinarian", "local codes"):
        assert re.search(word, said), word


def test_pairs_and_filters_are_addresses(visitor):
    text = visitor.get("/time?show=pairs&within=6&kind=standby").text
    assert "The UV is off and P-204 would not start" in plain(text)
    assert "What leaves less than 6 h" in plain(text)
    assert "One pair of failures leaves less time together than either alone: 3.5 h" in plain(text)
    assert 'href="/time?show=pairs&amp;kind=standby&amp;within=6"' in text or "aria-current" in text
    assert visitor.get("/time?system=nothing&kind=%3Cb%3E&within=x").status_code == 200


def test_one_failure_shows_its_courses_limits_and_steps(visitor):
    text = visitor.get("/time/power-off").text
    said = plain(text)
    assert "The power is off: 54 min until oxygen below 4.5 mg/L, pipefish" in said
    assert text.count('class="t-night"') >= 2
    assert "oxygen, pipefish" in said
    assert "a first sign" in said
    assert "Ring whoever is on call" in said
    assert "Nobody resets a breaker twice." in said


def test_a_pair_has_its_page_and_an_unknown_failure_has_none(visitor):
    assert visitor.get("/time/uv-off%20%2B%20P-204-dead").status_code == 200
    answer = visitor.get("/time/nothing")
    assert answer.status_code == 404
    assert "drill/no-failure" in answer.text


def test_a_card_says_hours_steps_when_it_was_made_and_that_it_never_commands(visitor):
    said = plain(visitor.get("/time/card/power-off").text)
    for word in ("54 min", "Ring whoever is on call", "What gains most time", "Made 2026-03-14 06:40",
                 "It advises, it never commands.", "Nobody resets a breaker twice."):  # fmt: skip
        assert word in said


def test_all_cards_are_one_document_and_may_be_larger(visitor):
    text = visitor.get("/time/card?paper=a4").text
    assert text.count("<article") == 3
    assert "card-a4.css" in text
    assert text.count("<h1>") == 1


def test_a_drill_begins_by_a_button_and_its_result_goes_into_the_log(visitor):
    before = visitor.get("/time/drill/power-off").text
    assert "<script" not in before
    assert "Start the clock" in before
    started = visitor.post("/time/drill/power-off")
    assert started.status_code == 303
    address = started.headers["location"]
    clock.freeze(clock.now() + dt.timedelta(minutes=12, seconds=5))
    running = visitor.get(address).text
    assert ">0:12:05</time>" in running
    assert 'value="725"' in running
    began = re.search(r'name="began" value="([^"]+)"', running).group(1)
    result = {"began": began, "minute-1": "2", "done-2": "yes", "by": "Test Person", "remark": "key missing"}
    written = visitor.post("/time/drill/power-off/note", data=result)
    assert written.status_code == 303
    said = plain(visitor.get(written.headers["location"]).text)
    assert "drill, The power is off: 2 of 3 steps done, the last after 2 min" in said
    assert "key missing" in said


def test_a_result_without_a_started_clock_is_refused_and_kept_in_the_form(visitor):
    answer = visitor.post("/time/drill/power-off/note", data={"minute-1": "soon", "began": "x"})
    assert answer.status_code == 422
    assert "drill/not-started" in answer.text
    assert "drill/not-a-minute" in answer.text
    assert 'value="soon"' in answer.text


def test_a_course_is_drawn_over_hours_that_show_its_crossing(visitor):
    hall = visitor.app.state.desk.hall()
    made = invented.table(hall.facility)
    teller = time_sheet.Teller(made, hall.facility, catalogue.Words())
    ((name, drawn),) = teller.courses(made.rows[0], [COURSE])
    assert name == "pipefish, oxygen"
    assert ">6</text>" in drawn
    assert ">72</text>" not in drawn
