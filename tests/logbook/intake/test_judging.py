"""One row: what is said of each cell."""

import pytest


def only(seen, now):
    (reading,) = seen.readings(now)
    return reading


def test_value_and_unit_may_stand_in_one_cell_of_a_form_without_a_unit_column(row):
    assert row(value="8.1", quantity="pH", unit="").verdict == "accept"


def test_a_hand_written_fault_code_is_refused_and_an_automatic_one_kept(row, now):
    assert row(value="-127").verdict == "reject-rows"
    kept = only(row(value="-127", by="logger"), now)
    assert (kept.quality, kept.source, kept.marks) == ("fault", "sensor", ("intake/sensor-fault",))


def test_another_impossible_automatic_value_is_kept_as_sent(row, now):
    kept = only(row(value="-300", by="logger"), now)
    assert (kept.value, kept.quality, kept.marks) == (-300.0, "fault", ("intake/sensor-impossible",))


def test_a_bound_beyond_the_usual_range_says_nothing_unusual_on_its_open_side(row, now):
    kept = only(row(quantity="salinity", unit="PSU", value="<2.5"), now)
    assert (kept.bound, kept.quality) == ("<", "good")


def test_a_note_may_have_line_breaks_and_accents_but_no_terminal_codes(row, codes):
    assert row(note="Zeile eins\nZeile zwei: Müller").verdict == "accept"
    assert codes(row(note="a\x07")) == {"intake/control-characters"}
    assert codes(row(note="a\u202eb")) == {"intake/control-characters"}


def test_fahrenheit_is_kept_in_celsius_with_the_text_as_typed(row, now):
    # 76.28 °F is 24.6 °C by definition
    kept = only(row(value="76.28", unit="°F"), now)
    assert (kept.value, kept.unit, kept.text) == (pytest.approx(24.6), "°C", "76.28 °F")


def test_a_reason_is_held_to_the_rules_of_a_note(row, codes):
    assert codes(row(value="not measured: a\x07")) == {"intake/control-characters"}
    assert codes(row(value="not measured: " + "x" * 3000)) == {"intake/long-note"}


def test_what_was_not_measured_needs_no_unit(row, now):
    kept = only(row(value="not measured: probe in repair", unit=""), now)
    assert (kept.value, kept.unit, kept.missing) == (None, "°C", "probe in repair")
    assert row(value="24.6", unit="").verdict == "reject-rows"
