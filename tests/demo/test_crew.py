"""The crew write as people write, and the form refuses what cannot be."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from brinehouse.demo import crew

START = datetime(2026, 1, 1, tzinfo=UTC)


def ledger(**more):
    return crew.Ledger(rng=np.random.default_rng(5), start=START, end=START + timedelta(days=20), **more)


def test_each_person_writes_in_their_own_hand():
    book = ledger(slips=0.0)
    for person in crew.CREW:
        book.read(person, 1.0, "mangrove", "temperature", 25.42, "°C")
    assert [row.text for row in book.readings] == ["25.4 °C", "25.4°C", "25,4 °C", "25.4"]
    assert {row.value for row in book.readings} == {25.4}
    assert [row.person for row in book.readings] == [1, 2, 3, 4]


def test_slips_are_kept_only_where_the_form_would_have_kept_them():
    book = ledger(slips=1e6)
    for k in range(400):
        book.read(crew.CREW[0], 0.1 * k, "mangrove", "temperature", 25.4, "°C", slips=True)
    values = {row.value for row in book.readings if not row.supersedes}
    assert values == {25.4, 2.54, 24.5}  # 254 and 52.4 °C were refused


def test_what_is_put_right_names_what_it_replaces_and_why():
    book = ledger(slips=1e6)
    for k in range(100):
        book.read(crew.CREW[0], 0.1 * k, "mangrove", "oxygen", 6.51, "mg/L", decimals=2, slips=True)
    ids = {row.id: row for row in book.readings}
    right = [row for row in book.readings if row.supersedes]
    assert right
    for row in right:
        assert ids[row.supersedes].value != row.value == 6.51
        assert row.reason.startswith("slip of the pen")
        assert row.entered >= ids[row.supersedes].entered


def test_what_is_odd_but_kept_is_marked_unusual():
    book = ledger(slips=1e6)
    for k in range(200):
        book.read(crew.CREW[0], 0.1 * k, "kelp", "oxygen", 8.12, "mg/L", decimals=2, slips=True)
    odd = [row for row in book.readings if row.value is not None and row.value < 3.0]
    assert odd
    assert all(row.quality == "unusual" and row.marks == (crew.UNUSUAL,) for row in odd)


def test_nothing_is_written_after_the_end():
    book = ledger()
    book.read(crew.CREW[0], 24.0 * 20.5, "mangrove", "temperature", 25.4, "°C")
    assert book.readings == []
    assert book.tell("note", 24.0 * 21.0, note="late") == ""
    book.read(crew.CREW[0], 24.0 * 20.0, "mangrove", "temperature", 25.4, "°C", delay=5.0)
    assert book.readings[0].entered == book.end


def test_two_people_share_each_day():
    shifts = crew.on_shift(np.random.default_rng(1), 30)
    assert len(shifts) == 30
    assert all(first is not second for first, second in shifts)


@pytest.mark.parametrize("kind", range(6))
def test_a_slip_is_never_longer_than_one_more_sign(kind):
    assert len(crew.slip("25.4", kind)) <= 5
