"""The written form of an entry, worked out here a second time with the standard library alone."""

import hashlib
import json
from datetime import datetime, timedelta, timezone

import pytest

from brinehouse.logbook import canon, kept


def plain(value):
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode()


def test_a_chain_can_be_checked_without_this_program(file_book, reading, fact, folder):
    """The page `canon` describes the form; this follows it word by word from the raw table."""
    import sqlite3

    file_book.append(
        [reading(1, note='say "µ"\n'), fact(2, "feeding", details={"grams": 1.5, "food": "ä"})], person=1
    )
    file_book.close()
    raw = sqlite3.connect(folder / "logbook.sqlite")
    raw.row_factory = sqlite3.Row
    before = "0" * 64
    for row in raw.execute("SELECT * FROM entry ORDER BY seq"):
        content = [row[name] for name in canon.CONTENT]
        digest = hashlib.sha256(plain(content)).hexdigest()
        whole = [row["seq"], row["entered"], row["writer"], row["marks"], digest, *content]
        assert row["digest"] == digest
        assert row["prev"] == before
        before = hashlib.sha256(before.encode() + plain(whole)).hexdigest()
        assert row["hash"] == before
    raw.close()


def test_entries_hold_a_number_and_never_a_name(file_book, reading, folder):
    file_book.append([reading(1)], person=1)
    file_book.blank_person(1, "left the hall", at=reading(2).entered)
    file_book.close()
    stored = b"".join(path.read_bytes() for path in folder.iterdir() if path.suffix == ".sqlite")
    assert b"Late Shift" in stored  # the other one: the measure can see names
    import sqlite3

    raw = sqlite3.connect(folder / "logbook.sqlite")
    rows = raw.execute("SELECT * FROM entry").fetchall()
    raw.close()
    assert "Shift" not in repr(rows)


def test_a_digest_leaves_out_when_it_was_entered_but_not_what_it_says(reading):
    def digest(fact):
        return canon.digest_of(canon.written(canon.content_of(fact)))

    assert digest(reading(1)) == digest(reading(1, entered=reading(5).entered, marks=("a/b",)))
    for change in (
        {"value": 1.0},
        {"text": "x"},
        {"place": "x"},
        {"person": 1},
        {"quality": "fault"},
        {"basis": "N"},
    ):
        assert digest(reading(1)) != digest(reading(1, **change)), change


def test_times_of_any_zone_are_kept_as_the_same_moment():
    there = datetime(2026, 3, 1, 10, 0, 0, 123456, tzinfo=timezone(timedelta(hours=2)))
    assert canon.moment(canon.microseconds(there)) == there
    assert canon.moment(canon.microseconds(there)).utcoffset() == timedelta(0)
    assert canon.microseconds(datetime(1969, 12, 31, 23, 59, 59, tzinfo=timezone.utc)) == -1_000_000  # noqa: UP017


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"measured": datetime(2026, 3, 1)}, "logbook/time-without-zone"),  # noqa: DTZ001
        ({"entered": datetime(2026, 3, 1)}, "logbook/time-without-zone"),  # noqa: DTZ001
        ({"value": float("nan")}, "logbook/not-a-number"),
        ({"value": float("inf")}, "logbook/not-a-number"),
        ({"depth": float("-inf")}, "logbook/not-a-number"),
        ({"note": "a\0b"}, "logbook/not-text"),
        ({"note": "\ud800"}, "logbook/not-text"),
        ({"id": ""}, "logbook/no-id"),
        ({"person": 77}, "logbook/unknown-person"),
    ],
)
def test_what_cannot_be_kept_is_refused_with_its_place_in_the_batch(book, reading, change, code):
    with pytest.raises(kept.Refused) as refused:
        book.append([reading(1), reading(2, **change)])
    assert refused.value.finding.code == code
    assert refused.value.finding.spot.item == 2
    assert book.readings() == []


def test_a_typed_backslash_is_not_a_zero_character(book, reading):
    book.append([reading(1, note=r"a\u0000b")])
    assert book.readings()[0].note == r"a\u0000b"
    assert book.verify() == []


@pytest.mark.parametrize("details", [{"x": float("nan")}, {"x": {1, 2}}, {"x": object()}])
def test_details_that_are_not_plain_data_are_refused(book, fact, details):
    with pytest.raises(kept.Refused, match="logbook/not-plain"):
        book.append([fact(1, details=details)])


def test_whole_numbers_and_numpy_numbers_are_kept_as_numbers(book, reading):
    import numpy as np

    book.append([reading(1, value=7), reading(2, value=np.float64(7.25)), reading(3, value=-0.0)])
    assert [r.value for r in book.readings()] == [7.0, 7.25, 0.0]
    assert book.verify() == []
