"""The logbook as its sheet shows it: filter, page, trail, supersede, note."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import records
from brinehouse.workbench import logging_book, mishaps

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
    assert not shown.stands.stands


@pytest.mark.parametrize(
    ("fact", "told"),
    [({"kind": "gas-trial", "details": {"values": [100.0, 103.0], "unit": "%"}}, "2 readings, last 103.0 %"),
     ({"kind": "pump-run", "details": {"pump": "P-201", "running": False}}, "P-201 off"),
     ({"kind": "event", "details": {"what": "new column"}}, "new column"),
     ({"kind": "feeding", "details": {"food": "krill", "grams": 40}}, "food krill, grams 40"),
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
