"""What may be added, and what is refused."""

import pytest

from brinehouse.logbook import appending, kept


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"supersedes": "nowhere", "reason": "slip"}, "logbook/unknown-entry"),
        ({"supersedes": "first"}, "logbook/no-reason"),
        ({"supersedes": "note", "reason": "slip"}, "logbook/other-kind"),
    ],
)
def test_a_correction_names_what_it_replaces_and_why(book, reading, fact, change, code):
    book.append([reading(1, id="first"), fact(1, id="note")])
    with pytest.raises(kept.Refused) as refused:
        book.append([reading(2), reading(3, **change)])
    assert refused.value.finding.code == code
    assert refused.value.finding.spot.item == 2
    assert len(book.readings()) == 1


def test_a_correction_may_come_in_the_same_batch_as_what_it_corrects(book, reading):
    book.append([reading(1), reading(2, supersedes=reading(1).id, reason="slip"), reading(3)])
    assert [r.id for r in book.readings()] == [reading(2).id, reading(3).id]
    assert book.verify() == []


def test_two_corrections_of_one_reading_in_one_batch_are_refused(book, reading):
    twice = [reading(i, supersedes=reading(1).id, reason="slip") for i in (2, 3)]
    with pytest.raises(kept.Refused, match="logbook/already-superseded"):
        book.append([reading(1), *twice])
    assert book.readings() == []


def test_one_id_twice_in_a_batch_is_the_same_or_a_conflict(book, reading):
    done = book.append([reading(1), reading(1), reading(1, value=3.0), reading(2)])
    assert [(o.state, o.seq) for o in done] == [("new", 1), ("same", 1), ("conflict", 1), ("new", 3)]
    assert book.verify() == []


def test_a_kind_that_is_the_logbooks_own_cannot_be_added(book, fact):
    for kind in ("facility-text", "reading", "weather"):
        with pytest.raises(kept.Refused, match="logbook/unknown-kind"):
            book.append([fact(1, kind)])


def test_a_withdrawal_names_something_and_says_why(book, fact):
    for details, reason, code in (
        ({}, "slip", "logbook/unknown-entry"),
        ({"target": "nowhere"}, "slip", "logbook/unknown-entry"),
        ({"target": "x"}, " ", "logbook/no-reason"),
    ):
        with pytest.raises(kept.Refused, match=code):
            book.append([fact(1, "withdrawal", details=details, reason=reason)])


def test_what_was_replaced_is_taken_back_by_its_newest_version(book, reading, start):
    book.append([reading(1)])
    newer = book.supersede(reading(1).id, value=1.0, reason="slip", entered=start)
    with pytest.raises(kept.Refused, match="logbook/already-superseded"):
        book.withdraw(reading(1).id, reason="slip", entered=start)
    book.withdraw(newer.id, reason="slip", entered=start)
    assert book.readings() == []


def test_a_correction_says_what_changes(book, reading, start):
    book.append([reading(1)])
    for changes, code in (
        ({}, "logbook/nothing-changed"),
        ({"value": reading(1).value}, "logbook/nothing-changed"),
        ({"colour": "blue"}, "logbook/unknown-field"),
        ({"kind": "note"}, "logbook/unknown-field"),
    ):
        with pytest.raises(kept.Refused, match=code):
            book.supersede(reading(1).id, reason="slip", entered=start, **changes)
    with pytest.raises(kept.Refused, match="logbook/unknown-entry"):
        book.supersede("nowhere", reason="slip", value=1.0, entered=start)


def test_a_correction_keeps_a_text_that_fits_its_value(book, reading, start):
    book.append([reading(1, value=None, text="", missing="spilt")])
    done = book.supersede(reading(1).id, value=6.0, reason="found the slip of paper", entered=start)
    new = book.get(done.id)
    assert (new.text, new.missing) == ("6.0 mg/L", "")
    assert appending.corrected(new, "again", start, {"value": 5.0, "text": "5 mg/L"}).text == "5 mg/L"


def test_who_wrote_it_down_and_who_took_it_are_two_things(book, reading):
    book.append([reading(1, person=2)], person=1)
    assert book.readings()[0].person == 2
    assert book.trail(reading(1).id)[0].person == 1


def test_a_batch_that_breaks_off_leaves_nothing(book, reading):
    def facts():
        yield reading(1)
        raise LookupError("the file ended too early")

    with pytest.raises(LookupError):
        book.append(facts())
    assert book.readings() == []
    book.append([reading(2)])
    assert book.verify() == []
