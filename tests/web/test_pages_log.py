"""The log by hand: written, asked about, refused, corrected, taken back, and never overwritten."""

import datetime as dt
import re

import pytest

from brinehouse.web import forms
from brinehouse.workbench import clock

READING = {
    "place": "mangrove",
    "quantity": "temperature",
    "value": "25.4 °C",
    "at": "2026-03-14T06:30",
    "by": "Test Person",
}


def write(visitor, **changed):
    return visitor.post("/log/new", data={**READING, **changed})


def head(visitor):
    return visitor.app.state.desk.revision()


def test_a_reading_is_stored_and_shown(small):
    answer = write(small)
    assert answer.status_code == 303
    shown = small.get(answer.headers["location"])
    assert "temperature 25.4 °C" in shown.text
    assert "Test Person" in shown.text
    assert "25.4 °C" in small.get("/log").text


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"value": "254 °C"}, "glossary/impossible"),
        ({"value": "25.4"}, "units/no-unit"),
        ({"value": " "}, "page/nothing-read"),
        ({"value": "warm"}, "units/not-a-number"),
        ({"place": "mangroove"}, "typed/unknown-place"),
        ({"place": ""}, "typed/unknown-place"),
        ({"quantity": "heat of it"}, "typed/unknown-quantity"),
        ({"instrument": "meter-Z"}, "typed/unknown-instrument"),
        ({"at": "2026-03-14T09:30"}, "typed/future"),
        ({"at": "yesterday"}, "workbench/not-a-time"),
        ({"at": "2025-03-30T01:30"}, "workbench/skipped-hour"),
        ({"at": "2025-10-26T01:30"}, "workbench/doubled-hour"),
        ({"depth": "deep"}, "units/"),
    ],
    ids=str,
)
def test_what_cannot_be_is_not_stored_and_says_why(small, changed, code):
    before = head(small)
    answer = write(small, **changed)
    assert answer.status_code == 422
    assert code in answer.text
    assert "thing" in re.search(r"<h1>(.*?)</h1>", answer.text, re.DOTALL).group(1)
    assert head(small) == before
    assert small.app.state.desk.hall().book.people() == []  # nor was the person taken in


def test_what_was_typed_stands_in_the_form_again(small):
    text = write(small, value="254 °C").text
    assert 'value="254 °C"' in text
    assert '<option value="mangrove" selected>' in text


def test_an_unusual_value_is_asked_about_once_and_kept_with_its_reason(small):
    asked = write(small, value="38 °C")
    assert asked.status_code == 422
    assert 'name="sure"' in asked.text
    kept = write(small, value="38 °C", sure="yes", reason="heater stuck on")
    assert kept.status_code == 303
    assert "heater stuck on" in small.get(kept.headers["location"]).text


def test_a_bound_and_not_measured_are_readings_too(small):
    assert write(small, quantity="total ammonia nitrogen", value="<0.02 mg/L", basis="N").status_code == 303
    assert write(small, value="not measured: tap closed").status_code == 303


def test_a_correction_keeps_the_old_version_in_its_trail(small):
    first = write(small).headers["location"]
    done = small.post(
        f"{first}/supersede",
        data={
            "value": "25.6 °C",
            "place": "mangrove",
            "at": READING["at"],
            "reason": "read the wrong line",
            "by": "Test Person",
        },
    )
    assert done.status_code == 303
    text = small.get(done.headers["location"]).text
    assert "2 versions" in text
    assert "25.4 °C" in text
    assert "25.6 °C" in text
    assert "read the wrong line" in text
    assert text.count("replaced") == 1
    assert "25.4 °C" not in small.get("/log").text
    assert "25.4 °C" in small.get("/log?versions=all").text


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"reason": ""}, "workbench/no-reason"),
        ({"value": "25.4 °C"}, "workbench/nothing-changed"),
        ({"value": "900 °C"}, "glossary/impossible"),
        ({"at": "never"}, "workbench/not-a-time"),
    ],
    ids=str,
)
def test_a_correction_that_cannot_be_says_why(small, changed, code):
    first = write(small).headers["location"]
    before = head(small)
    given = {"value": "25.6 °C", "place": "mangrove", "at": READING["at"], "reason": "wrong line", **changed}
    answer = small.post(f"{first}/supersede", data=given)
    assert answer.status_code == 422
    assert code in answer.text
    assert head(small) == before


def test_an_entry_can_be_taken_back(small):
    first = write(small).headers["location"]
    assert (
        small.post(f"{first}/supersede", data={"withdraw": "yes", "reason": "another tank"}).status_code
        == 303
    )
    text = small.get(first).text
    assert "taken back" in text
    assert "another tank" in text
    assert "<form" not in text
    assert "25.4 °C" not in small.get("/log").text


def test_the_log_is_filtered_and_turned_by_its_address(demo):
    text = demo.get("/log?place=pipefish&quantity=temperature").text
    rows = re.findall(r'data-label="what"><span class="cell">([^<]*)', text)
    assert rows
    assert set(rows) == {"temperature"}
    assert 'rel="next"' in text
    older = demo.get("/log?place=pipefish&quantity=temperature&page=2").text
    assert 'rel="prev"' in older
    assert older != text
    assert "Nothing fits" in demo.get("/log?since=2030-01-01").text


@pytest.mark.parametrize(
    "query",
    [
        "page=0",
        "page=-1",
        "page=9999999999",
        "page=²",
        "since=never",
        "place=%00",
        "kind=%F0%9F%90%9F",
        "quantity=" + "x" * 5000,
    ],
)
def test_a_strange_address_is_answered(demo, query):
    assert demo.get(f"/log?{query}").status_code == 200


def test_the_last_reading_stands_beside_the_form(demo):
    text = demo.get("/log/new/beside?place=pipefish&quantity=total+gas+pressure").text
    assert "104" in text
    assert "watch above 101 %" in text
    assert "<html" not in text
    assert "Last" not in demo.get("/log/new/beside?place=nowhere&quantity=temperature").text
    assert not demo.get("/log/new/beside?place=pipefish&quantity=nothing").text.strip()


def test_the_next_reading_begins_where_the_last_one_was(small):
    text = small.get(write(small).headers["location"]).text
    assert "/log/new?place=mangrove&amp;by=Test+Person" in text
    assert 'value="Test Person"' in small.get("/log/new?place=mangrove&by=Test+Person").text


def test_a_box_that_is_far_too_long_is_left_out(small):
    assert write(small, note="x" * (forms.LONGEST + 1)).status_code == 303
    assert "xxxxxxxxxx" not in small.get("/log").text


def test_control_characters_never_reach_the_logbook():
    assert forms.clean("a\x00b\x1b[31m\u202e") == "ab[31m\u202e"
    assert forms.clean("\ud800x") == "x"


def test_in_the_hour_that_comes_twice_a_reading_is_written_when_it_was_taken(small):
    second = dt.datetime(2026, 10, 25, 1, 30, tzinfo=dt.UTC)  # 01:30 for the second time that night
    clock.freeze(second)
    opened = re.search(r'name="opened" value="([^"]*)"', small.get("/log/new").text).group(1)
    entry = write(small, at="2026-10-25T01:30", opened=opened).headers["location"]
    hall = small.app.state.desk.hall()
    assert hall.history()[0].measured == second
    corrected = small.post(
        f"{entry}/supersede",
        data={"value": "25.6 °C", "place": "mangrove", "at": "2026-10-25T01:30", "reason": "wrong line"},
    )
    assert corrected.status_code == 303
    assert hall.history()[0].measured == second


@pytest.mark.parametrize("opened", ["", "soon", "2026-03-14T06:30", "9999-99-99"])
def test_a_time_that_was_changed_or_sent_strangely_is_read_from_its_box(small, opened):
    assert write(small, opened=opened).status_code == 303
    assert small.app.state.desk.hall().history()[0].measured == dt.datetime(2026, 3, 14, 6, 30, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("value", "unit", "kept"),
    [("25.4", "°C", 25.4), ("25,4", "°C", 25.4), ("78 °F", "°C", 25.6), ("<25", "°C", 25.0)],
)
def test_a_number_is_in_the_unit_that_stands_beside_its_box(small, value, unit, kept):
    assert write(small, value=value, unit=unit).status_code == 303
    reading = small.app.state.desk.hall().history()[0]
    assert reading.unit == "°C"
    assert round(reading.value, 1) == kept


def test_a_comma_that_may_part_thousands_is_asked_about(small):
    answer = write(small, quantity="oxygen", value="1,234", unit="µmol/kg")
    assert answer.status_code == 422
    assert "units/decimal-sign" in answer.text


def test_the_form_offers_the_units_of_what_was_chosen(small):
    text = small.get("/log/new?quantity=oxygen").text
    assert '<option value="mg/L" selected>' in text
    assert '<option value="µmol/kg">' in text
    beside = small.get("/log/new/beside?place=mangrove&quantity=oxygen").text
    assert 'data-units="mg/L µmol/L µmol/kg"' in beside


def test_a_reading_typed_with_a_decimal_comma_can_be_corrected(copied_demo):
    text = copied_demo.get("/log?quantity=oxygen&place=ledge").text
    entry = re.search(r'href="(/log/[0-9a-f]{32})"', text).group(1)
    page = copied_demo.get(entry).text
    given = {
        name: re.search(rf'name="{name}"[^>]* value="([^"]*)"', page).group(1) for name in ("value", "at")
    }
    chosen = re.findall(r'<option value="([^"]*)" selected', page)
    given |= dict(zip(("place", "instrument"), chosen, strict=True))
    assert "," in given["value"]
    same = copied_demo.post(f"{entry}/supersede", data={**given, "reason": "none"})
    assert "workbench/nothing-changed" in same.text
    given |= {"value": "8,12 mg/L", "reason": "read the wrong line"}
    done = copied_demo.post(f"{entry}/supersede", data=given)
    assert done.status_code == 303
    assert "8.12 mg/L" in copied_demo.get(done.headers["location"]).text


def test_who_took_a_reading_can_be_put_right(small):
    entry = write(small).headers["location"]
    given = {
        "value": "25.4 °C",
        "place": "mangrove",
        "at": READING["at"],
        "reason": "wrong name",
        "by": "Test Person",
    }
    done = small.post(f"{entry}/supersede", data={**given, "taken_by": "Other Person"})
    assert done.status_code == 303
    assert "Other Person" in small.get("/log").text
