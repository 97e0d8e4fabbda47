"""A hand-over is written by the day itself, signed by two, and can be held against the chain."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import records
from brinehouse.facility import model
from brinehouse.workbench import clock, day_lines, handing_over, logging_book, mishaps, now, told

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)


def fact(number, kind, hours, place="mangrove", note="", **details):
    at = NOW - timedelta(hours=hours)
    return records.Fact(
        id=f"{number:032x}", kind=kind, measured=at, entered=at, place=place, note=note, details=details
    )


def warm(number, value, hours):
    at = NOW - timedelta(hours=hours)
    return records.Reading(
        id=f"a{number:031x}", measured=at, entered=at, place="mangrove", quantity="temperature", value=value,
        unit="°C", text=f"{value} °C",
    )  # fmt: skip


@pytest.fixture
def day(hall):
    """A day in which something happened."""
    hall.write([
        warm(1, 27.0, 3),
        fact(1, "observation", 5, animals="mullet", sign="behaviour", answer="rubbing", words="on stones"),
        fact(2, "observation", 4, animals="mullet", sign="appetite", answer="as usual"),
        fact(3, "observation", 3, animals="mullet", sign="found dead", count=1),
        fact(4, "feeding", 3, food="krill", grams=40, eaten="little"),
        fact(5, "stop", 2, round="morning", stop="mangrove-low", what="skipped", reason="no ladder"),
        fact(6, "instrument-setting", 6, instrument="meter-B", setting="salinity", value="34"),
        fact(7, "pump-run", 5, place="", pump="P-1", running=True),
        fact(8, "pump-run", 2, place="", pump="P-1", running=False),
        fact(9, "event", 30, what="long ago"),
    ])  # fmt: skip
    return hall


def lines(hall, name):
    made = handing_over.draft(hall, now.look(hall))
    return [line for part in made.parts if part.name == name for line in part.lines]


def test_the_day_writes_it_by_itself(day):
    assert "mangrove: temperature 27.0 °C (watch)" in lines(day, "out")[0]
    dead, *rest = lines(day, "animals")
    assert "found dead (1)" in dead
    assert any("rubbing: on stones" in line for line in rest)
    assert any("krill, eaten: little" in line for line in rest)
    assert not any("as usual" in line for line in rest)
    assert "mangrove-low of morning: no ladder" in lines(day, "skipped")[0]
    assert any("meter-B" in line and "34" in line for line in lines(day, "changed"))
    assert lines(day, "pumps") == ["P-1: off since 14 Mar 04:40 (2 times switched)"]
    assert "long ago" not in str(handing_over.draft(day, now.look(day)).parts)


def test_a_quiet_time_has_nothing_to_hand_over(hall):
    made = handing_over.draft(hall, now.look(hall))
    assert list(made.parts) == []
    assert made.head.startswith("0:")


def test_corrections_and_plant_edits_are_told(day):
    clock.freeze(NOW + timedelta(minutes=5))
    logging_book.supersede(day, warm(1, 27.0, 3).id, {"value": "25.0 °C", "reason": "slip"}, None)
    day.file.write_text(day.file.read_text("utf-8") + "\n# a remark\n", "utf-8")
    day.write([fact(20, "event", 0, what="looked")])
    told_lines = lines(day, "changed")
    assert any("put right to 25.0 °C (slip)" in line for line in told_lines)
    assert any("facility file was changed" in line for line in told_lines)


def test_the_next_one_begins_where_the_last_ended(day):
    anna, ben = day.person("Anna"), day.person("Ben")
    made = handing_over.draft(day, now.look(day))
    id = handing_over.sign_over(day, made, "All well.", anna)
    clock.freeze(NOW + timedelta(hours=8))
    again = handing_over.draft(day, now.look(day))
    assert again.since == NOW
    assert not [part for part in again.parts if part.name in ("animals", "skipped", "pumps")]
    handing_over.sign_read(day, id, ben)
    (shown,) = handing_over.kept(day)
    assert (shown.by, shown.words, [by for by, _ in shown.read]) == ("Anna", "All well.", ["Ben"])
    assert [part.lines for part in shown.parts] == [part.lines for part in made.parts]


def test_what_was_signed_can_be_held_against_the_chain(day):
    made = handing_over.draft(day, now.look(day))
    id = handing_over.sign_over(day, made, "", None)
    number, _, digest = handing_over.of(day, id).head.partition(":")
    assert logging_book.verify(day, f"{number}:{digest[:12]}")[0] == []
    found, _ = logging_book.verify(day, f"{number}:{'0' * 12}")
    assert found  # another head is found out


def test_no_name_stands_in_the_text(day):
    anna = day.person("Anna Quartermain")
    id = handing_over.sign_over(day, handing_over.draft(day, now.look(day)), "", anna)
    (kept,) = day.facts(["hand-over"])
    assert "Quartermain" not in str(kept.details)
    assert told.line(kept).startswith("2026-03-13 06:40 UTC to")
    assert handing_over.of(day, id).by == "Anna Quartermain"


def test_whoever_signs_it_over_does_not_sign_it_as_read(day):
    anna = day.person("Anna")
    id = handing_over.sign_over(day, handing_over.draft(day, now.look(day)), "", anna)
    with pytest.raises(mishaps.Refused) as refused:
        handing_over.sign_read(day, id, anna)
    assert refused.value.findings[0].code == "hand-over/own"
    with pytest.raises(mishaps.Refused) as refused:
        handing_over.sign_read(day, "0" * 32, None)
    assert refused.value.findings[0].code == "hand-over/unknown"


def test_an_unread_one_is_told_after_two_hours(day):
    id = handing_over.sign_over(day, handing_over.draft(day, now.look(day)), "", None)
    assert handing_over.concerns_of(day) == []
    clock.freeze(NOW + timedelta(hours=3))
    (told_one,) = handing_over.concerns_of(day)
    assert (told_one.code, told_one.href) == ("hand-over/unread", f"/hand-over/{id}")
    handing_over.sign_read(day, id, None)
    assert handing_over.concerns_of(day) == []


def test_pinned_notes_stand_until_their_day_and_promises_beyond_it(hall):
    handing_over.pin(
        hall, "left side: no food", about="mangrove", until="2026-03-15", promised=False, person=None
    )
    handing_over.pin(hall, "batch for Saturday", about="", until="2026-03-14", promised=True, person=None)
    assert lines(hall, "promised") == [
        "batch for Saturday (promised for 2026-03-14)",
        "mangrove: left side: no food (pinned until 2026-03-15)",
    ]
    clock.freeze(NOW + timedelta(days=3))
    assert lines(hall, "promised") == [
        "batch for Saturday (promised for 2026-03-14, and not taken back since)"
    ]


@pytest.mark.parametrize(
    ("text", "about", "until", "code"),
    [
        (" ", "", "2026-03-15", "hand-over/no-note"),
        ("x" * 501, "", "2026-03-15", "hand-over/no-note"),
        ("look", "nowhere", "2026-03-15", "workbench/unknown-place"),
        ("look", "", "", "hand-over/no-day"),
        ("look", "", "2026-03-13", "hand-over/no-day"),
    ],
)
def test_a_pinned_note_has_words_a_place_and_an_end(hall, text, about, until, code):
    with pytest.raises(mishaps.Refused) as refused:
        handing_over.pin(hall, text, about=about, until=until, promised=False, person=None)
    assert refused.value.findings[0].code == code


def test_words_that_fill_the_page_are_refused(day):
    with pytest.raises(mishaps.Refused) as refused:
        handing_over.sign_over(day, handing_over.draft(day, now.look(day)), "x" * 5000, None)
    assert refused.value.findings[0].code == "hand-over/too-long"


def test_a_page_is_shared_fairly_and_what_is_left_out_is_counted():
    full = {name: [f"{name} {at} " + "word " * 40 for at in range(30)] for name in handing_over.PARTS}
    parts = handing_over.fitted(full)
    assert [part.name for part in parts] == list(handing_over.PARTS)
    assert all(1 <= len(part.lines) < 30 and len(part.lines) + part.more == 30 for part in parts)
    assert max(len(line) for part in parts for line in part.lines) <= handing_over.LONGEST_LINE
    few = handing_over.fitted({"out": ["one"], "pumps": []})
    assert few == [handing_over.Part(name="out", lines=("one",))]


def test_a_text_comes_back_as_it_was_kept():
    parts = [
        handing_over.Part(name="out", lines=("a: b (watch)", "- c"), more=3),
        handing_over.Part(name="pumps", lines=("P-1: on",)),
    ]
    words = "first\n\nOut:\n- not a part"
    assert handing_over.from_text(handing_over.as_text(parts, words)) == (parts, words)
    assert handing_over.from_text(handing_over.as_text([], "only words")) == ([], "only words")


def test_the_shift_in_the_house_is_named_over_midnight():
    night = model.Shift(id="n", name="night", begins=1320, ends=390)
    facility = model.Facility(name="Hall", timezone="Europe/London", shifts={"n": night})
    assert day_lines.shift(facility, NOW.replace(hour=3)) == "night"
    assert day_lines.shift(facility, NOW.replace(hour=12)) == ""
