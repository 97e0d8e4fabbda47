"""What rows alike have in common."""

import pytest

from brinehouse.logbook.intake import subjects


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


def test_an_instrument_column_is_looked_up(row, now):
    assert only(row(instrument="gauge-2"), now).instrument == "gauge-2"
    assert row(instrument="gauge-9").verdict == "reject-rows"


def test_a_depth_carries_its_unit(row, now, codes):
    assert only(row(depth="40 cm"), now).depth == pytest.approx(0.4)
    assert row(depth="40").verdict == "reject-rows"


def test_a_basis_column_is_heard(row, now):
    assert only(row(quantity="nitrate", unit="mg/L", value="5", basis="ion"), now).basis == "ion"
    assert only(row(quantity="nitrate", unit="mg/L as N", value="5"), now).basis == "N"


def test_the_methods_are_words_of_the_trade():
    assert {"probe", "titration", "test kit"} <= set(subjects.METHODS)
