"""People, imports, facility files and answers."""

from datetime import timedelta

import pytest

from brinehouse.logbook import kept


def test_a_name_keeps_its_number_and_a_blanked_name_is_gone_for_good(book, reading):
    assert [(p.number, p.name) for p in book.people()] == [(1, "Early Shift"), (2, "Late Shift")]
    assert book.add_person(" Late Shift ") == 2
    assert book.add_person("Night Shift") == 3
    book.append([reading(1)], person=2)
    book.blank_person(2, "asked for it", at=reading(2).entered, person=1)
    assert book.people()[1] == kept.Person(2, "", True)
    assert book.readings()[0].person == 2
    assert book.verify() == []
    assert book.add_person("Late Shift") == 4


def test_a_person_needs_a_name_and_blanking_a_reason(book, reading):
    with pytest.raises(kept.Refused, match="logbook/no-name"):
        book.add_person("  ")
    with pytest.raises(kept.Refused, match="logbook/no-reason"):
        book.blank_person(1, " ", at=reading(1).entered)
    with pytest.raises(kept.Refused, match="logbook/unknown-person"):
        book.blank_person(9, "left", at=reading(1).entered)


def rows(reading, name, numbers):
    return [reading(i, origin=f"{name}:{i}", source="import") for i in numbers]


def test_an_import_is_kept_with_its_file_and_can_be_taken_back_whole(book, reading, start):
    book.append([reading(90)])
    done = book.keep_import("f1", "week.csv", b"the file", rows(reading, "f1", range(5)), at=start, person=1)
    assert {o.state for o in done} == {"new"}
    (made,) = book.imports()
    assert (made.id, made.name, made.rows, made.size, made.person, made.withdrawn) == (
        "f1",
        "week.csv",
        5,
        8,
        1,
        False,
    )
    assert book.import_content("f1") == b"the file"
    gone = book.withdraw_import("f1", reason="wrong tank", person=1, entered=start)
    assert book.readings() == [reading(90)]
    assert book.imports()[0].withdrawn
    with pytest.raises(kept.Refused, match="logbook/already-withdrawn"):
        book.withdraw_import("f1", reason="again", entered=start + timedelta(minutes=1))
    assert [v.reason for v in book.trail(reading(1).id)] == ["", "wrong tank"]
    book.withdraw(gone.id, reason="it was right", entered=start)
    assert len(book.readings()) == 6
    assert not book.imports()[0].withdrawn
    assert book.verify() == []


def test_a_corrected_row_goes_with_its_import(book, reading, start):
    book.keep_import("f1", "week.csv", b"the file", rows(reading, "f1", range(3)), at=start)
    book.supersede(reading(1).id, value=1.0, reason="slip", entered=start)
    book.withdraw_import("f1", reason="wrong file", entered=start)
    assert book.readings() == []
    with pytest.raises(kept.Refused, match="logbook/already-withdrawn"):
        book.supersede(reading(2).id, value=1.0, reason="slip", entered=start)


def test_the_same_file_twice_adds_nothing(book, reading, start):
    for state in ("new", "same"):
        done = book.keep_import("f1", "week.csv", b"the file", rows(reading, "f1", range(3)), at=start)
        assert {o.state for o in done} == {state}
    assert len(book.imports()) == 1
    with pytest.raises(kept.Refused, match="logbook/other-file"):
        book.keep_import("f1", "week.csv", b"another file", [], at=start)
    with pytest.raises(kept.Refused, match="logbook/no-id"):
        book.keep_import("f:1", "week.csv", b"", [], at=start)
    with pytest.raises(kept.Refused, match="logbook/unknown-entry"):
        book.import_content("f2")
    with pytest.raises(kept.Refused, match="logbook/unknown-entry"):
        book.withdraw_import("f2", reason="slip", entered=start)


def test_an_import_with_one_bad_row_leaves_nothing(book, reading, start):
    head = book.head()
    bad = [*rows(reading, "f1", range(3)), reading(5, value=float("nan"))]
    with pytest.raises(kept.Refused) as refused:
        book.keep_import("f1", "week.csv", b"the file", bad, at=start)
    assert refused.value.finding.spot.item == 4
    assert (book.imports(), book.readings(), book.head()) == ([], [], head)


def test_the_facility_file_is_the_one_that_held_at_the_time(book, start):
    assert book.facility_at(start) is None
    assert book.keep_facility("one", start, 1)
    assert not book.keep_facility("one", start + timedelta(days=1))
    assert book.keep_facility("two", start + timedelta(days=9), at=start + timedelta(days=10))
    assert book.facility_at(start + timedelta(days=8)) == "one"
    assert book.facility_at(start + timedelta(days=9)) == "two"
    assert book.facility_at() == "two"
    assert book.facility_at(start - timedelta(days=1)) is None
    assert [(t.text, t.person) for t in book.facility_texts()] == [("one", 1), ("two", None)]


def test_the_newest_answer_about_a_source_counts_and_none_is_lost(book, start):
    book.remember("week.csv", "zone", "UTC", at=start, person=1)
    book.remember("week.csv", "basis", "N")
    head = book.head()
    book.remember("week.csv", "basis", "N")
    assert book.head() == head
    book.remember("week.csv", "zone", "Europe/London", at=start)
    book.remember("month.csv", "zone", "UTC", at=start)
    assert book.remembered("week.csv") == {"zone": "Europe/London", "basis": "N"}
    assert book.remembered("nothing.csv") == {}
    assert book.verify() == []


def test_the_logbooks_own_entries_are_not_among_the_facts(book, start):
    book.keep_facility("one", start)
    assert book.facts() == []
    assert book.readings() == []
    assert book.head()[0] == 1
