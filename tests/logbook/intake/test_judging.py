"""One row: what is said of each cell."""

import pytest

from brinehouse.logbook.intake import judging


def only(seen, now):
    (reading,) = seen.readings(now)
    return reading


def test_every_fault_of_a_row_is_said_at_once(row, codes):
    seen = row(
        place="T-9", quantity="temprature", method="prob", by="nobody", value="x", time="y", unit="blub"
    )
    assert codes(seen) == {
        "intake/unknown-place", "glossary/unknown-quantity", "intake/unknown-method", "intake/unknown-person",
        "units/not-a-number", "intake/not-a-time", "units/unknown-unit",
    }  # fmt: skip


def test_the_nearest_known_name_is_offered(row):
    hints = {one.spot.field: one.hint for one in row(place="TT1", by="b.okafr", method="photmeter").findings}
    assert "TT-1" in hints["place"]
    assert hints["by"] == "did you mean 'b.okafor'?"
    assert hints["method"].startswith("did you mean 'photometer'")


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


def test_an_instrument_column_is_looked_up(row, now):
    assert only(row(instrument="gauge-2"), now).instrument == "gauge-2"
    assert row(instrument="gauge-9").verdict == "reject-rows"


def test_a_depth_carries_its_unit(row, now, codes):
    assert only(row(depth="40 cm"), now).depth == pytest.approx(0.4)
    assert row(depth="40").verdict == "reject-rows"


def test_a_basis_column_is_heard(row, now):
    assert only(row(quantity="nitrate", unit="mg/L", value="5", basis="ion"), now).basis == "ion"
    assert only(row(quantity="nitrate", unit="mg/L as N", value="5"), now).basis == "N"


def test_fahrenheit_is_kept_in_celsius_with_the_text_as_typed(row, now):
    # 76.28 °F is 24.6 °C by definition
    kept = only(row(value="76.28", unit="°F"), now)
    assert (kept.value, kept.unit, kept.text) == (pytest.approx(24.6), "°C", "76.28 °F")


def test_a_reason_is_held_to_the_rules_of_a_note(row, codes):
    assert codes(row(value="not measured: a\x07")) == {"intake/control-characters"}
    assert codes(row(value="not measured: " + "x" * 3000)) == {"intake/long-note"}


def test_the_methods_are_words_of_the_trade():
    assert {"probe", "titration", "test kit"} <= set(judging.METHODS)
