"""One thing written down by hand: stored, asked about once more, or refused with why."""

import sqlite3

import pytest


def stored(hall):
    book = hall / "logbook.sqlite"
    if not book.exists():
        return []
    with sqlite3.connect(book) as base:
        rows = base.execute(
            "select place, quantity, value, unit, text, bound, missing, quality, note from entry "
            "where kind not in ('facility', 'person') order by seq"
        ).fetchall()
    base.close()
    return [row for row in rows if row[4] or row[6] or row[8]]


def test_a_good_reading_is_stored_as_typed_and_as_understood(run, hall):
    said = run("read", "mangrove", "temperature", "25.4 °C", hall, "--by", "Lark")
    assert said.status == 0
    assert "stored: mangrove temperature 25.4 °C" in said.out
    assert stored(hall)[0][:5] == ("mangrove", "temperature", 25.4, "°C", "25.4 °C")


def test_fahrenheit_keeps_the_text_and_gives_the_celsius(run, hall):
    assert run("read", "mangrove", "temperature", "77 °F", hall).status == 0
    assert stored(hall)[0][2:5] == (pytest.approx(25.0), "°C", "77 °F")


def test_a_value_below_zero_is_a_value_and_no_option(run, hall):
    said = run("read", "mangrove", "ΔP", "-12 mmHg", hall)
    assert said.status == 0, said.err
    assert stored(hall)[0][2] == pytest.approx(-12.0)


def test_an_unusual_value_is_asked_about_and_kept_with_a_reason(run, hall):
    asked = run("read", "mangrove", "temperature", "33 °C", hall, "--json")
    assert asked.status == 1
    assert asked.json["stored"] is False
    assert [found["code"] for found in asked.json["findings"]] == ["typed/unusual"]
    assert stored(hall) == []
    assert run("read", "mangrove", "temperature", "33 °C", hall, "--keep", " ").status == 1
    kept = run("read", "mangrove", "temperature", "33 °C", hall, "--keep", "chiller off")
    assert kept.status == 0
    assert "kept, because chiller off" in kept.out
    assert stored(hall)[0][7:] == ("unusual", "chiller off")


def test_an_impossible_value_is_refused_even_with_a_reason(run, hall):
    said = run("read", "mangrove", "temperature", "254 °C", hall, "--keep", "it is so", "--json")
    assert said.status == 2
    assert stored(hall) == []
    assert said.json["findings"][0]["code"] in ("typed/impossible", "glossary/impossible")


def test_a_bound_and_a_reading_not_taken_are_kept_as_what_they_are(run, hall):
    assert run("read", "mangrove", "ammonia", "<0.02 mg/L", hall, "--basis", "N").status == 0
    assert run("read", "mangrove", "salinity", "not measured: tap closed", hall).status == 0
    bound, missing = stored(hall)
    assert bound[2:6] == (pytest.approx(0.02), bound[3], "<0.02 mg/L", "<")
    assert missing[2] is None
    assert "tap closed" in missing[6]


@pytest.mark.parametrize(
    ("arguments", "code", "way_out"),
    [(("mangroev", "temperature", "25 °C"), "typed/unknown-place", "'mangrove'"),
     (("mangrove", "temprature", "25 °C"), "typed/unknown-quantity", "'temperature'"),
     (("mangrove", "temperature", "25 °C", "--with", "meterB"), "typed/unknown-instrument", "'meter-B'"),
     (("mangrove", "temperature", "25"), "units/no-unit", "°C"),
     (("mangrove", "ammonia", "0.1 mg/L"), "glossary/basis", "'N'"),
     (("mangrove", "temperature", "25 °C", "--at", "2999-01-01 00:00"), "typed/future", "time"),
     (("mangrove", "temperature", "25 °C", "--at", "soon"), "workbench/not-a-time", "2026-03-14"),
     (("mangrove", "temperature", "25 °C", "--depth", "deep"), None, ""),
     (("mangrove", "temperature", "25 °C", "--at", "2026-03-29 01:30"), "workbench/skipped-hour", "again"),
     (("mangrove", "temperature", "25 °C", "--at", "2025-10-26 01:30"), "workbench/doubled-hour", "+0100")],
)  # fmt: skip
def test_what_cannot_be_stored_is_refused_with_a_way_out(run, hall, arguments, code, way_out):
    said = run("read", *arguments, hall, "--by", "Lark", "--json")
    assert said.status == 2, said.out
    found = said.json["findings"][0]
    assert code is None or found["code"] == code
    assert way_out in found["hint"]
    assert found["hint"]
    assert stored(hall) == []


def test_a_reading_at_a_test_point_is_at_its_tank_and_depth(run, hall):
    assert run("read", "mangrove-low", "temperature", "25.1 °C", hall).status == 0
    with sqlite3.connect(hall / "logbook.sqlite") as base:
        row = base.execute("select place, point, depth from entry where kind = 'reading'").fetchone()
    base.close()
    assert row == ("mangrove", "mangrove-low", 2.2)


def test_a_refused_reading_takes_nobody_in(run, hall):
    run("read", "mangrove", "temperature", "25", hall, "--by", "Nobody")
    assert not (hall / "logbook.sqlite").exists()


def test_a_note_an_event_and_a_place_that_is_not_there(run, hall):
    assert run("note", "strainer cleaned", hall, "--kind", "event", "--place", "pipefish").status == 0
    assert run("note", "-5 °C outside", hall).status == 0
    wrong = run("note", "x", hall, "--place", "pipefsh")
    assert wrong.status == 2
    assert "workbench/unknown-place" in wrong.err
    assert "'pipefish'" in wrong.err
    empty = run("note", "  ", hall)
    assert (empty.status, "workbench/no-text" in empty.err) == (2, True)
    later = run("note", "x", hall, "--at", "2999-01-01 00:00")
    assert (later.status, "typed/future" in later.err) == (2, True)


def test_control_and_direction_signs_in_a_note_are_shown_and_not_obeyed(run, hall):
    assert run("note", "tap\x1b[2J\u202eshut", hall).status == 0
    shown = run("log", hall)
    assert "\x1b" not in shown.out
    assert "\u202e" not in shown.out
    assert r"tap\x1b[2J\u202eshut" in shown.out
