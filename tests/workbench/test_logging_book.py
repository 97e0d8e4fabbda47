"""The logbook as its sheet shows it: filter, page, trail, supersede, note."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import records
from brinehouse.workbench import hall as halls
from brinehouse.workbench import logging_book, mishaps

ID = f"{1:032x}"
NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)  # where the halls' clock stands still


def reading(number, value=25.0, hours=1.0, place="mangrove", **more):
    told = {"quantity": "temperature", "unit": "°C", "text": f"{value} °C"} | more
    return records.Reading(
        id=f"{number:032x}",
        measured=NOW - timedelta(hours=hours),
        entered=NOW,
        place=place,
        value=value,
        **told,
    )


def texts(hall, **wanted):
    return [row.text for row in logging_book.look(hall, logging_book.Wanted(**wanted), size=10).rows]


def test_an_address_says_the_filter_and_is_read_back_the_same():
    wanted = logging_book.Wanted(place="sump & co", quantity="total gas pressure", all_versions=True, page=3)
    path, _, query = wanted.address().partition("?")
    assert path == "/log"
    from urllib.parse import parse_qsl

    assert logging_book.Wanted.read(dict(parse_qsl(query))) == wanted
    assert "page" not in wanted.address(page="")


@pytest.mark.parametrize("page", ["0", "-1", "x", "²", "9" * 400, ""])
def test_a_page_that_is_none_is_a_page_all_the_same(page):
    assert 1 <= logging_book.Wanted.read({"page": page}).page <= 100_000


def test_pages_follow_on_one_another_and_lose_nothing(hall):
    hall.write([reading(i, value=20 + i / 10, hours=i) for i in range(25)])
    pages = [logging_book.look(hall, logging_book.Wanted(page=page), size=10) for page in (1, 2, 3)]
    assert [len(page.rows) for page in pages] == [10, 10, 5]
    assert [page.more for page in pages] == [True, True, False]
    seen = [row.id for page in pages for row in page.rows]
    assert seen == [f"{i:032x}" for i in range(25)]


def test_readings_and_events_stand_in_one_order_of_time(hall):
    hall.write([reading(1, hours=5), reading(2, value=26.0, hours=1)])
    logging_book.note(
        hall, "strainer cleaned", kind="event", at=NOW - timedelta(hours=3), about="pipefish", by="Lark"
    )
    assert texts(hall) == ["26.0 °C", "strainer cleaned", "25.0 °C"]
    assert texts(hall, kind="event") == ["strainer cleaned"]
    assert texts(hall, kind="reading") == ["26.0 °C", "25.0 °C"]
    assert texts(hall, place="pipefish") == ["strainer cleaned"]
    assert texts(hall, since="2026-03-15") == []
    assert texts(hall, until="2026-03-13") == []


def test_a_filter_that_is_not_known_is_said_with_the_nearest(hall):
    found = logging_book.faults(hall, logging_book.Wanted(place="mangroev", kind="evnt", since="soon"))
    assert [one.code for one in found] == ["workbench/no-such", "workbench/no-such", "workbench/not-a-time"]
    assert (
        logging_book.faults(hall, logging_book.Wanted(place="mangrove-low", kind="event", since="2026-03-01"))
        == ()
    )


def test_an_old_reading_can_be_corrected_though_its_meter_and_unit_are_gone(hall):
    hall.write([reading(1, value=77.0, unit="°F", text="77", instrument="sold-long-ago")])
    done = logging_book.supersede(hall, f"{1:032x}", {"place": "pipefish", "reason": "other tank"}, None)
    assert done.findings == ()
    new = logging_book.trail(hall, done.id).stands.fact
    assert (new.place, new.value, new.unit, new.text, new.instrument) == (
        "pipefish",
        77.0,
        "°F",
        "77",
        "sold-long-ago",
    )


def test_a_correction_of_a_value_takes_all_that_hangs_on_it(hall):
    hall.write([reading(1, value=33.0, quality="unusual", marks=("typed/unusual",))])
    done = logging_book.supersede(
        hall, f"{1:032x}", {"value": "25.4 °C", "reason": "misread", "by": "Moss"}, None
    )
    new = logging_book.trail(hall, done.id).stands
    assert (new.fact.value, new.fact.quality, new.fact.marks) == (25.4, "good", ())
    assert new.reason == "misread"
    assert logging_book.people(hall)[new.person] == "Moss"


def test_a_value_that_becomes_not_measured_keeps_why(hall):
    hall.write([reading(1)])
    given = {"value": "not measured: probe was dry", "reason": "it was dry"}
    done = logging_book.supersede(hall, f"{1:032x}", given, None)
    new = logging_book.trail(hall, done.id).stands.fact
    assert (new.value, new.missing) == (None, "probe was dry")


def test_what_moves_to_a_test_point_moves_to_its_depth(hall):
    hall.write([reading(1)])
    done = logging_book.supersede(hall, f"{1:032x}", {"place": "mangrove-low", "reason": "deep tap"}, None)
    new = logging_book.trail(hall, done.id).stands.fact
    assert (new.place, new.point, new.depth) == ("mangrove", "mangrove-low", 2.2)


def test_a_correction_without_a_reason_takes_nobody_in_and_changes_nothing(hall):
    hall.write([reading(1)])
    done = logging_book.supersede(hall, f"{1:032x}", {"value": "26 °C", "by": "Nobody", "reason": "  "}, None)
    assert [one.code for one in done.findings] == ["workbench/no-reason"]
    assert logging_book.people(hall) == {}
    assert len(logging_book.trail(hall, f"{1:032x}").versions) == 1


def test_an_entry_taken_back_stands_no_more(hall):
    hall.write([reading(1)])
    logging_book.supersede(hall, f"{1:032x}", {"withdraw": "yes", "reason": "other hall"}, None)
    assert texts(hall) == ["00000000 taken back: other hall"]
    assert texts(hall, kind="reading") == []
    shown = logging_book.trail(hall, f"{1:032x}")
    assert (shown.stands.fact.kind, shown.stands.reason) == ("withdrawal", "other hall")
    assert not shown.versions[0].stands


@pytest.mark.parametrize(
    ("fact", "told"),
    [({"kind": "gas-trial", "details": {"values": [100.0, 103.0], "unit": "%"}}, "2 readings, last 103.0 %"),
     ({"kind": "pump-run", "details": {"pump": "P-201", "running": False}}, "P-201 off"),
     ({"kind": "event", "details": {"what": "new column"}}, "new column"),
     ({"kind": "feeding", "details": {"food": "krill", "grams": 40}}, "40 g krill"),
     ({"kind": "note", "note": "calm"}, "calm")],
)  # fmt: skip
def test_every_kind_of_fact_is_told_in_one_line(fact, told):
    assert logging_book.told(records.Fact(id="0", measured=NOW, entered=NOW, **fact)) == told


def test_a_logbook_that_was_never_written_is_whole_and_empty(hall):
    assert logging_book.verify(hall, None) == ((), (0, "0" * 64))
    assert logging_book.verify(hall, "3:aaaaaaaaaaaa")[0][0].code == "workbench/no-logbook"
    assert texts(hall) == []
    with pytest.raises(mishaps.Refused):
        logging_book.trail(hall, "0")
    assert not (hall.folder / "logbook.sqlite").exists()


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


def test_the_log_is_shown_newest_first_with_who_wrote_it(written):
    rows = shown(written).rows
    assert [(row.place, row.text, row.by) for row in rows] == [
        ("mangrove", "25.0 °C", "Ada"), ("pipefish", "26.0 °C", "Ada")
    ]  # fmt: skip
    assert shown(written).newest == NOW - timedelta(hours=1)


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


def test_a_correction_keeps_the_old_version_beside_the_new_one(written):
    done = logging_book.supersede(written, ID, {"value": "24.0 °C", "reason": "misread", "by": "Ben"}, None)
    assert done.findings == ()
    trail = logging_book.trail(written, done.id)
    assert [version.fact.text for version in trail.versions] == ["25.0 °C", "24.0 °C"]
    assert trail.stands.fact.value == 24.0
    assert trail.stands.reason == "misread"
    assert [row.text for row in shown(written, place="mangrove").rows] == ["24.0 °C"]
    assert len(shown(written, place="mangrove", versions="all").rows) == 2


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


def test_a_printed_head_without_its_logbook_is_told(hall):
    found, head = logging_book.verify(hall, f"7:{'a' * 64}")
    assert "There is no logbook" in only(found, "workbench/no-logbook").text
    assert head == (0, "0" * 64)
    assert logging_book.verify(hall, None) == ((), (0, "0" * 64))


def test_a_logbook_that_nobody_touched_verifies(written):
    found, (seq, _) = logging_book.verify(written, None)
    assert list(found) == []
    assert seq >= 2


def test_what_was_taken_back_is_not_corrected_in_silence(written):
    logging_book.supersede(written, ID, {"withdraw": "yes", "reason": "other tank"}, None)
    head = written.book.head()
    given = {"value": "24.0 °C", "reason": "misread"}
    found = only(logging_book.supersede(written, ID, given, None).findings, "workbench/taken-back")
    assert "nothing to correct" in found.text
    assert written.book.head() == head
