"""One reading typed by hand: understood, asked about, or refused; the point's own ranges rule."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import findings
from brinehouse.facility import reading as facility_file
from brinehouse.workbench import typed

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)  # where the halls' clock stands still


def understand(hall, text, place="mangrove", quantity="temperature", **more):
    return typed.understand(hall.facility, place=place, quantity=quantity, text=text, **more)


def test_what_is_understood_carries_text_value_unit_and_time(hall):
    made = understand(hall, " 77 °F ", instrument="probe-1", note="calm", depth="20 cm")
    got = made.reading
    assert (made.findings, made.ask, made.refused) == ((), False, False)
    assert (got.text, got.unit, got.instrument, got.note) == ("77 °F", "°C", "probe-1", "calm")
    assert got.value == pytest.approx(25.0)
    assert got.depth == pytest.approx(0.2)
    assert (got.measured, got.entered) == (NOW, NOW)
    assert len(got.id) == 32


def test_two_readings_are_never_the_same_by_accident(hall):
    assert understand(hall, "25 °C").reading.id != understand(hall, "25 °C").reading.id


def test_an_alias_is_stored_under_the_glossarys_word(hall):
    assert understand(hall, "104 %", quantity="TGP").reading.quantity == "total gas pressure"


@pytest.mark.parametrize(("text", "verdict"), [("25 °C", "good"), ("23 °C", "ask"), ("36 °C", "refused")])
def test_the_ranges_of_the_point_rule_where_it_has_some(hall, text, verdict):
    made = understand(hall, text, place="mangrove-low")
    assert {"good": not made.findings, "ask": made.ask, "refused": made.refused}[verdict]
    assert (made.reading.place, made.reading.point, made.reading.depth) == ("mangrove", "mangrove-low", 2.2)


def test_what_is_expected_at_one_point_says_nothing_of_another_place(hall):
    assert understand(hall, "23 °C").findings == ()


def test_an_unusual_value_that_a_person_keeps_is_marked_and_says_why(hall):
    made = understand(hall, "23 °C", place="mangrove-low", sure=True, reason="door left open")
    assert (made.ask, made.refused) == (False, False)
    assert made.findings[0].level is findings.Level.NOTE
    assert made.reading.quality == "unusual"
    assert made.reading.marks == ("typed/unusual",)
    assert "door left open" in made.reading.note


def test_being_sure_does_not_make_the_impossible_possible(hall):
    made = understand(hall, "36 °C", place="mangrove-low", sure=True, reason="yes")
    assert made.refused
    assert made.findings[0].code == "typed/impossible"


def test_a_bound_and_a_reading_not_taken_are_no_numbers(hall):
    bound = understand(hall, "< 0.02 mg/L", quantity="ammonia", basis="N").reading
    assert (bound.bound, bound.basis) == ("<", "N")
    missing = understand(hall, "not measured: tap closed").reading
    assert (missing.value, missing.missing, missing.quality) == (None, "tap closed", "good")


def test_every_unknown_name_is_said_at_once_with_the_nearest(hall):
    made = understand(hall, "25 °C", place="mangroev", quantity="temprature", instrument="prob-1")
    assert [found.code for found in made.findings] == [
        "typed/unknown-place", "typed/unknown-instrument", "typed/unknown-quantity",
    ]  # fmt: skip
    assert [found.hint for found in made.findings] == [
        "did you mean 'mangrove' or 'mangrove-low'?", "did you mean 'probe-1'?",
        "did you mean 'temperature' or 'air temperature'?",
    ]  # fmt: skip
    assert "is missing" in understand(hall, "25 °C", place="").findings[0].text


def test_a_phone_that_runs_ahead_is_forgiven_and_tomorrow_is_not(hall):
    assert understand(hall, "25 °C", at=NOW + timedelta(minutes=9)).findings == ()
    assert understand(hall, "25 °C", at=NOW + timedelta(minutes=11)).findings[0].code == "typed/future"


@pytest.mark.parametrize("text", ["", "warm", "25", "25 mg/L", "1,234 °C", "25..4 °C"])
def test_what_is_not_understood_is_refused_with_what_would_be(hall, text):
    made = understand(hall, text)
    assert made.refused
    assert made.reading is None
    assert all(found.hint and found.code for found in made.findings)
    assert "[" not in made.findings[0].text


def test_a_blank_is_not_taken_for_a_reading_that_was_not_made(hall):
    assert [found.code for found in understand(hall, "  ").findings] == ["typed/nothing"]


def test_where_nothing_is_near_the_known_names_are_listed(hall):
    assert typed.near("xyzzy", ["mangrove", "reef"]) == "known: mangrove, reef"
    assert "none yet" in typed.near("x", [])


RUN = """
[run.supply]
from = "sump-m"
to = "mangrove"

[point.supply-meter]
at = "supply"
"""


def test_a_flow_is_read_on_its_run_or_at_the_meter_that_sits_on_it(hall):
    text = hall.file.read_text("utf-8") + RUN
    facility = facility_file.read(text).facility
    for place in ("supply", "supply-meter"):
        made = typed.understand(facility, place=place, quantity="flow", text="17.9 m3/h").reading
        assert made.place == "supply"
        assert made.point == ("supply-meter" if place == "supply-meter" else "")
    refused = typed.understand(facility, place="suply", quantity="flow", text="17.9 m3/h")
    assert refused.findings[0].code == "typed/unknown-place"
    assert "supply" in refused.findings[0].hint


@pytest.mark.parametrize(("day", "codes"), [("2026-02-28", []), ("2026-03-01", ["typed/retired"])])
def test_a_retired_place_takes_readings_of_before_and_none_of_after(hall, day, codes):
    text = hall.file.read_text("utf-8").replace("[tank.mangrove]", "[tank.mangrove]\nretired = 2026-03-01")
    facility = facility_file.read(text).facility
    at = datetime.fromisoformat(day + "T12:00").replace(tzinfo=UTC)
    made = typed.understand(facility, place="mangrove", quantity="temperature", text="25 °C", at=at)
    assert [one.code for one in made.findings] == codes
    assert not codes or "retired since 2026-03-01" in made.findings[0].text
