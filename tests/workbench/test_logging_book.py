"""The logbook's sheet: what was written is found, corrected with a reason, and never lost."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import records
from brinehouse.workbench import clock, logging_book, mishaps
from brinehouse.workbench import hall as halls

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)
ID = f"{1:032x}"


def reading(number=1, value=25.0, *, hours=2.0, **changed):
    at = NOW - timedelta(hours=hours)
    told = {"place": "mangrove", "quantity": "temperature", "unit": "°C", "text": f"{value} °C"} | changed
    return records.Reading(id=f"{number:032x}", measured=at, entered=at, value=value, **told)


@pytest.fixture
def written(hall):
    ada = hall.person("Ada")
    hall.write([reading(1, 25.0, person=ada), reading(2, 26.0, hours=30.0, place="pipefish")], person=ada)
    return hall


def shown(hall, **wanted):
    return logging_book.look(hall, logging_book.Wanted.read(wanted), size=10)


def only(findings_, code):
    (found,) = findings_
    assert found.code == code
    return found


# -- looking --------------------------------------------------------------------------------------------


def test_the_log_is_shown_newest_first_with_who_wrote_it(written):
    rows = shown(written).rows
    assert [(row.place, row.text, row.by) for row in rows] == [
        ("mangrove", "25.0 °C", "Ada"), ("pipefish", "26.0 °C", "")
    ]  # fmt: skip
    assert shown(written).newest == NOW - timedelta(hours=2)


def test_a_filter_leaves_only_what_was_asked_for(written):
    assert [row.place for row in shown(written, place="pipefish").rows] == ["pipefish"]
    assert [row.place for row in shown(written, since="2026-03-14").rows] == ["mangrove"]
    assert [row.place for row in shown(written, until="2026-03-13").rows] == ["pipefish"]
    assert shown(written, kind="note").rows == []


def test_a_page_holds_its_size_and_says_that_there_is_more(written):
    first = logging_book.look(written, logging_book.Wanted(), size=1)
    second = logging_book.look(written, logging_book.Wanted(page=2), size=1)
    assert (first.more, second.more) == (True, False)
    assert first.rows[0].id != second.rows[0].id


def test_looking_at_an_empty_hall_makes_no_logbook(hall):
    assert shown(hall).rows == ()
    assert not halls.Hall.has_book(hall.folder)


def test_a_filter_that_names_nothing_known_is_told(hall):
    wanted = logging_book.Wanted(place="mangroev", kind="gossip", since="soon")
    found = logging_book.faults(hall, wanted)
    assert [one.code for one in found] == ["workbench/no-such"] * 2 + ["workbench/not-a-time"]
    assert "did you mean 'mangrove'?" in found[0].hint
    assert "'soon' is not a day" in found[2].text
    assert logging_book.faults(hall, logging_book.Wanted(place="mangrove", since="2026-03-14")) == ()


def test_an_address_says_the_same_filter_again():
    wanted = logging_book.Wanted.read({"place": "mangrove", "versions": "all", "page": "3"})
    assert wanted.address() == "/log?place=mangrove&versions=all&page=3"
    assert wanted.address(page="") == "/log?place=mangrove&versions=all"


# -- correcting -----------------------------------------------------------------------------------------


def test_a_correction_keeps_the_old_version_beside_the_new_one(written):
    done = logging_book.supersede(written, ID, {"value": "24.0 °C", "reason": "misread", "by": "Ben"}, None)
    assert done.findings == ()
    trail = logging_book.trail(written, done.id)
    assert [version.fact.text for version in trail.versions] == ["25.0 °C", "24.0 °C"]
    assert trail.stands.fact.value == 24.0
    assert trail.stands.reason == "misread"
    assert [row.text for row in shown(written, place="mangrove").rows] == ["24.0 °C"]
    assert len(shown(written, place="mangrove", versions="all").rows) == 2


def test_an_entry_that_was_taken_back_is_no_longer_shown(written):
    done = logging_book.supersede(written, ID, {"withdraw": "yes", "reason": "other tank"}, None)
    assert done.findings == ()
    assert shown(written, place="mangrove").rows == []


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"value": "24.0 °C"}, "workbench/no-reason"),
        ({"value": "24.0 °C", "reason": "  "}, "workbench/no-reason"),
        ({"reason": "misread"}, "workbench/nothing-changed"),
        ({"reason": "misread", "value": "25.0 °C"}, "workbench/nothing-changed"),
        ({"reason": "misread", "place": "mangroev"}, "typed/unknown-place"),
        ({"reason": "misread", "value": "32 °C"}, "typed/unusual"),
        ({"reason": "misread", "value": "120 °C"}, "glossary/impossible"),
    ],
)
def test_planted_fault_a_correction_that_cannot_be_changes_nothing(written, given, code):
    head = written.book.head()
    found = only(logging_book.supersede(written, ID, given, None).findings, code)
    assert found.text
    assert found.hint
    assert written.book.head() == head


def test_a_correction_to_a_time_still_to_come_is_refused(written):
    found = logging_book.supersede(written, ID, {"reason": "late"}, NOW + timedelta(days=1)).findings
    assert "still to come" in only(found, "typed/future").text


def test_an_entry_that_nobody_wrote_has_no_trail(written):
    with pytest.raises(mishaps.Refused) as refused:
        logging_book.trail(written, "f" * 32)
    assert "no entry of that id" in only(refused.value.findings, "workbench/no-entry").text


def test_first_digits_are_enough_where_they_are_of_one_entry_only(hall):
    hall.write([reading(0xAB << 120), reading(0xAC << 120, hours=3.0)])
    assert logging_book.whole_id(hall, "ab") == f"{0xAB << 120:032x}"
    assert logging_book.whole_id(hall, "ff") == "ff"
    with pytest.raises(mishaps.Refused) as refused:
        logging_book.whole_id(hall, "a")
    assert "2 entries" in only(refused.value.findings, "workbench/no-entry").text


# -- notes ----------------------------------------------------------------------------------------------


def test_a_note_is_kept_with_its_words_place_and_writer(hall):
    logging_book.note(hall, " pump hums ", about="mangrove-low", by="Ada")
    logging_book.note(hall, "new column", kind="event")
    rows = {row.kind: row for row in shown(hall).rows}
    assert (rows["note"].text, rows["note"].place, rows["note"].by) == ("pump hums", "mangrove", "Ada")
    assert rows["event"].text == "new column"


@pytest.mark.parametrize(
    ("text", "more", "code", "said"),
    [
        ("  ", {}, "workbench/no-text", "no words"),
        ("hums", {"about": "mangroev"}, "workbench/unknown-place", "'mangroev'"),
        ("hums", {"at": NOW + timedelta(days=1)}, "typed/future", "still to come"),
    ],
)
def test_a_note_that_cannot_be_is_refused_and_not_written(hall, text, more, code, said):
    with pytest.raises(mishaps.Refused) as refused:
        logging_book.note(hall, text, **more)
    assert said in only(refused.value.findings, code).text
    assert not halls.Hall.has_book(hall.folder)


# -- the head -------------------------------------------------------------------------------------------


def test_a_printed_head_without_its_logbook_is_told(hall):
    found, head = logging_book.verify(hall, f"7:{'a' * 64}")
    assert "There is no logbook" in only(found, "workbench/no-logbook").text
    assert head == (0, "0" * 64)
    assert logging_book.verify(hall, None) == ((), (0, "0" * 64))


def test_a_logbook_that_nobody_touched_verifies(written):
    found, (seq, _) = logging_book.verify(written, None)
    assert list(found) == []
    assert seq >= 2
    assert clock.now() == NOW
