"""Every nasty file of readings: its verdict, how many rows are good, where its faults are, what is said."""

import json
import pathlib
import re
import time
import tracemalloc

import pytest

from brinehouse.logbook.intake import (
    decoding,
    documents,
    judging,
    plan,
    runs,
    saying,
    survey,
    tables,
    times,
    workbooks,
)

CORPUS = pathlib.Path(__file__).parents[2] / "corpus"
KINDS = {"readings-csv", "readings-xlsx", "readings-json"}
INDEX = {
    entry["file"]: entry
    for entry in json.loads((CORPUS / "INDEX.json").read_text("utf-8"))["files"]
    if entry["kind"] in KINDS
}
FILES = sorted(INDEX)

SAYS = {
    "r01_semicolon_decimal_comma_good.csv": [r"';'", r"24,6 was read as 24\.6"],
    "r03_mixed_decimal_signs.csv": [
        r":4: '1,234' may be 1\.234 or 1234",
        r":5: '1\.234' may be 1\.234 or 1234",
    ],
    "r05_latin1.csv": [r"not UTF-8 at byte 93", r"Windows-1252 it would be '°C'", r"encoding=windows-1252"],
    "r06_utf16_bom.csv": [r"read as UTF-16, because of the mark"],
    "r08_mixed_encodings.csv": [r":3: unit: not UTF-8 at byte 159"],
    "r10_not_numbers.csv": [
        r":2: value 'NaN' is not a finite number",
        r":3:.*finite",
        r":4:.*finite",
        r":5:.*too large",
        r":6: value '#N/A'",
        r":7:.*spreadsheet's error",
        r":8:",
        r":9: the value is blank, which is not nought",
        r":10:.*not below which limit",
        r":11: '<0\.05' is kept as a bound",
        r":12: '>5' is kept as a bound",
        r":13:.*about",
        r":14:.*mark behind it",
        r":15:.*a range",
    ],
    "r11_sign_and_range.csv": [
        r":2: salinity -3\.0 .*outside what it can be \(0 to 300",
        r":3: pH 15\.2",
        r":4: temperature -400",
        r":7: temperature 31\.5 .*unusual",
        r":8: oxygen saturation 400 .*unusual",
    ],
    "r13_unit_spellings.csv": [
        r"'°C', 'ºC', '℃', 'deg C' as °C",
        r"'µg/L', 'μg/L', 'ug/l' as µg/L",
        r"unit:ppm=mg/L",
        r"M is mega",
    ],
    "r15_unit_missing.csv": [r":2: unit: there is no unit", r":3: unit: there is no unit"],
    "r16_excel_serial_dates.csv": [
        r"2026-03-02 08:00:00 counted from 1900",
        r"2026-03-02 10:00:00 counted from 1904",
        r"no zone",
        r":5: .*never was",
    ],
    "r18_dst_gap_and_fold.csv": [
        r":3: .*does not exist in Europe/Berlin",
        r":5: .*00:30 or 01:30 UTC",
        r":6: ",
        r"fold=file order",
    ],
    "r20_impossible_times.csv": [
        r":2: .*28 days",
        r":3: .*hour 24",
        r":4: .*hour 25",
        r":5: .*leap second",
        r":6: .*battery died",
        r":7: .*year 0",
        r":8: .*still to come",
        r":9: .*still to come",
        r":10: .*year -1",
        r":11: .*offset",
    ],
    "r21_epoch_units.csv": [
        r":2: .*seconds since 1970: 2026-03-02 07:00:00",
        r":3: .*milliseconds since 1970: 2026-03-02 07:01:00",
        r":4: .*microseconds since 1970: 2026-03-02 07:02:00",
        r":5: .*2026-03-02 07:03:00",
    ],
    "r25_xss_everywhere.csv": [
        r"place '<script>alert\(1\)</script>'",
        r"quantity '<script>",
        r"unit '<script>",
    ],
    "r26_sql_everywhere.csv": [r"place ''; DROP TABLE", r"quantity ''; DROP", r"unit ''; DROP"],
    "r28_log_and_terminal_tricks.csv": [
        r":2: the note 'ok\\x0d\\x0a2026",
        r":4: .*\\x1b\[2J",
        r":5: .*\\x08\\x08",
    ],
    "r30_unbalanced_quote.csv": [
        r":3: the quote opened on line 3 is never closed",
        r"lines 4 to 5 may have been swallowed",
        r"nothing from line 3 on was taken",
    ],
    "r33_header_faults.csv": [
        r"two columns are called 'value'",
        r"'quantitiy'.*\n.*did you mean 'quantity'\?",
    ],
    "r35_units_row.csv": [r":2: the line has no time, place or value: likely a line of units"],
    "r36_empty.csv": [r"the file is empty"],
    "r38_long_field.csv": [r":2: the note has 100000 characters; 2000 are kept"],
    "r40_unknown_names.csv": [
        r":2: place 'T-99'.*\n.*T-1",
        r":3: .*did you mean 'temperature'|:3: .*\n.*did you mean 'temperature'",
        r":4: method 'crystal ball'",
        r":5: person 'nobody'",
        r":6: who took it is missing",
    ],
    "r43_number_spellings.csv": [
        r":7: .*U\+2212 was read as '-'",
        r":8: .*arabic-indic digit two",
        r":9: .*fullwidth digit two",
        r":10: .*'_'",
        r":11: .*another base",
        r":12: .*more than a number",
        r":13: .*vulgar fraction",
        r":14: .*more than one decimal sign",
        r":15: .*blank inside",
        r":16: .*outside what it can be",
    ],
    "r45_unit_switch_midway.csv": [
        r":6: .*looks like 24\.6 °C in °F",
        r":7: .*looks like 24\.5 °C in °F",
        r":8: .*looks like 24\.6 °C in °F",
    ],
    "r46_stuck_and_spike.csv": [
        r":3: temperature stands at 24\.6 °C for 8 h",
        r":12: .*a spike",
        r":14: .*at power-up",
        r":15: .*unplugged",
    ],
    "r48_gzip_named.csv": [r"a gzip file.*\n.*unpack it first"],
    "x00_good.xlsx": [r"read in Europe/Berlin"],
    "x01_1904_dates.xlsx": [r"from 1904"],
    "x03_messy_sheet.xlsx": [
        r"the header is on row 2",
        r":3: value '24,6' has a decimal comma",
        r":5: .*was it 8\.12",
        r":6: .*true/false",
        r":7: row 7 is hidden.*'24\.6'",
        r"sheet 'more' is hidden and was not read",
    ],
    "x05_xml_entities.xlsx": [r"XML declarations that are not allowed"],
    "x06_cut_off.xlsx": [r"damaged or incomplete"],
    "j01_duplicate_keys.json": [r"item 1: 'value' comes twice"],
    "j03_deep_nesting.json": [r"nested too deeply: 2 levels"],
    "j05_bad_unicode.json": [r"item 1: .*cannot be stored", r"item 2: .*cannot be stored"],
    "j06_extra_and_proto_keys.json": [
        r"'__proto__'",
        r"'constructor'",
        r"'approved'",
        r"'created_by'",
        r"'vlaue'.*\n.*did you mean 'value'",
    ],
    "j08_lines_one_bad.ndjson": [r":2: this is not JSON", r":5: this is not JSON: it ends too early"],
}
QUIET = {name for name, entry in INDEX.items() if entry["verdict"] == "accept"}
NEVER = r"Traceback|/root|/work|/home|sqlite|SELECT .* FROM|\.py\b"


@pytest.mark.parametrize("name", FILES)
def test_a_nasty_file_gets_its_verdict_and_every_fault_its_place(name, corpus, examine, now):
    entry = INDEX[name]
    seen = examine((corpus / name).read_bytes(), name)
    assert (seen.verdict, seen.rows_ok) == (entry["verdict"], entry["rows_ok"])
    if seen.verdict != "reject-file":
        assert seen.rows == entry["rows"]
    spots = {(one.spot.line, one.spot.item, one.spot.field) for one in seen.findings}
    for where in entry["where"]:
        assert (where.get("line"), where.get("item"), where["field"]) in spots
    assert len(list(seen.readings(now))) == seen.count


@pytest.mark.parametrize("name", sorted(SAYS))
def test_a_nasty_file_is_told_in_words_a_keeper_can_act_on(name, corpus, examine):
    said = "\n".join(map(str, examine((corpus / name).read_bytes(), name).findings))
    for pattern in SAYS[name]:
        assert re.search(pattern, said), (pattern, said)
    assert not re.search(NEVER, said.replace("try: ", ""))
    assert all(sign.isprintable() or sign == "\n" for sign in said)


@pytest.mark.parametrize("name", sorted(QUIET))
def test_a_good_file_is_taken_without_a_word(name, corpus, examine):
    assert examine((corpus / name).read_bytes(), name).findings == ()


def test_every_file_that_is_not_quiet_has_words_to_be_said():
    assert set(SAYS) | QUIET == set(FILES)


def test_no_nasty_file_takes_long_or_much_memory(corpus, examine):
    tracemalloc.start()
    before = time.perf_counter()
    for name in FILES:
        examine((corpus / name).read_bytes(), name)
    took, (_, most) = time.perf_counter() - before, tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert took < 60.0
    assert most < 64 * 2**20


# What must not happen, file by file -----------------------------------------------------------------------


def stored(corpus, examine, now, name, answers=None):
    return list(examine((corpus / name).read_bytes(), name, answers).readings(now))


def test_a_decimal_comma_is_neither_dropped_nor_cut_at(corpus, examine, now):
    rows = stored(corpus, examine, now, "r01_semicolon_decimal_comma_good.csv")
    assert [one.value for one in rows] == [24.6, 34.8, 8.12]


def test_a_bound_is_kept_as_a_bound(corpus, examine, now):
    rows = stored(corpus, examine, now, "r10_not_numbers.csv")
    assert [(one.bound, one.value) for one in rows] == [("<", 0.05), (">", 5.0)]
    assert [one.text for one in rows] == ["<0.05 mg/L", ">5 mg/L"]


def test_a_pasted_export_does_not_spoil_the_line_before_it(corpus, examine, now):
    (only,) = stored(corpus, examine, now, "r08_mixed_encodings.csv")
    assert (only.text, only.value) == ("24.6 °C", 24.6)


def test_two_micro_signs_make_one_series(corpus, examine, now):
    rows = stored(corpus, examine, now, "r13_unit_spellings.csv")
    assert {(one.quantity, one.unit) for one in rows} == {
        ("temperature", "°C"), ("phosphate", "mg/L"), ("nitrite", "mg/L"),
    }  # fmt: skip


def test_typed_decimals_are_kept(corpus, examine, now):
    rows = stored(corpus, examine, now, "r43_number_spellings.csv")
    assert [one.text for one in rows][4] == "24.60 degC"
    assert [one.value for one in rows] == [24.6, 24.6, 24.6, 24.6, 24.6, -1.5]


def test_an_emergency_is_kept_and_marked(corpus, examine, now):
    rows = stored(corpus, examine, now, "r11_sign_and_range.csv")
    assert [(one.value, one.quality) for one in rows] == [
        (-120.0, "good"), (-1.4, "good"), (31.5, "unusual"), (400.0, "unusual"),
    ]  # fmt: skip


def test_what_a_broken_sensor_sends_is_kept_as_sent_and_marked(corpus, examine, now):
    rows = stored(corpus, examine, now, "r46_stuck_and_spike.csv")
    assert [one.value for one in rows] == [24.61, *[24.6] * 9, 31.9, 24.6, 85.0, -127.0]
    assert [one.quality for one in rows] == ["good", *["doubtful"] * 10, "good", "fault", "fault"]
    assert {one.source for one in rows} == {"sensor"}


def test_a_workbook_gives_the_time_on_the_wall_without_a_shift(corpus, examine, now):
    for name in ("x00_good.xlsx", "x01_1904_dates.xlsx"):
        first = stored(corpus, examine, now, name)[0]
        assert (first.measured.isoformat(), first.text) == ("2026-03-02T07:00:00+00:00", "24.6 degC")


def test_file_order_tells_the_two_hours_of_a_doubled_night_apart(corpus, examine, now):
    rows = stored(corpus, examine, now, "r18_dst_gap_and_fold.csv", {"fold": "file order"})
    assert [one.measured.strftime("%m-%d %H:%M") for one in rows] == [
        "03-29 00:59", "03-29 01:01", "10-25 00:30", "10-25 01:30",
    ]  # fmt: skip


def test_serials_become_times_once_their_base_is_told(corpus, examine, now):
    seen = examine((corpus / "r16_excel_serial_dates.csv").read_bytes(), answers={"time": "serial-1900"})
    assert [one.measured.isoformat()[:16] for one in seen.readings(now)] == [
        "2026-03-02T07:00", "2026-03-02T08:00", "2022-03-01T09:00",
    ]  # fmt: skip
    assert seen.verdict == "reject-rows"


def test_counts_become_times_once_their_step_is_told(corpus, examine, now):
    seen = examine((corpus / "r21_epoch_units.csv").read_bytes(), answers={"time": "by size"})
    assert [one.measured.strftime("%H:%M:%S.%f")[:10] for one in seen.readings(now)] == [
        "07:00:00.0", "07:01:00.0", "07:02:00.0", "07:03:00.5",
    ]  # fmt: skip


def test_a_told_encoding_reads_the_names_right(corpus, examine, now):
    (first, second) = stored(corpus, examine, now, "r05_latin1.csv", {"encoding": "windows-1252"})
    assert (first.text, first.note, first.person) == ("24.6 °C", "kühl", 6)
    assert second.text == "40 µg/L"


def test_a_messy_sheet_is_whole_once_every_question_is_answered(corpus, examine, now):
    answers = {"value@3": "24.6", "value@5": "8.12", "value@6": "24.8", "hidden": "take"}
    rows = stored(corpus, examine, now, "x03_messy_sheet.xlsx", answers)
    assert [one.value for one in rows] == [24.6, 24.7, 8.12, 24.8, 24.6]
    assert "as answered" in rows[2].note


def test_the_planted_verdict_is_noticed(corpus, examine):
    seen = examine((corpus / "r00_good.csv").read_bytes().replace(b"24.6", b"NaN"), "r00_good.csv")
    assert seen.verdict != INDEX["r00_good.csv"]["verdict"]


# Planted faults: each rule switched off is noticed by the file that was made for it -----------------------

NEVER_MATCHES = re.compile(r"(?!)")
PLANTED = {
    "r03_mixed_decimal_signs.csv": (survey, "_EITHER", NEVER_MATCHES),
    "r08_mixed_encodings.csv": (decoding, "foreign", lambda text: False),
    "r11_sign_and_range.csv": (judging.Judge, "_impossible", lambda *given: judging._Value(1.0, "")),
    "r13_unit_spellings.csv": (plan, "_UNIT_ASKS", frozenset()),
    "r18_dst_gap_and_fold.csv": (
        times.Reader,
        "_twice",
        lambda self, text, time, early, *rest: 1_772_434_800_000_000,
    ),
    "r20_impossible_times.csv": (times, "_DEAD", set()),
    "r21_epoch_units.csv": (times, "step_of", lambda text: "seconds"),
    "r28_log_and_terminal_tricks.csv": (saying, "visible", lambda sign: True),
    "r30_unbalanced_quote.csv": (tables, "_unclosed", lambda *given: iter(())),
    "r35_units_row.csv": (judging, "_units_row", lambda cells, index: []),
    "r38_long_field.csv": (judging, "LONGEST_NOTE", 1_000_000),
    "r43_number_spellings.csv": (judging.units, "read_plain", lambda text: float(text.replace("..", "."))),
    "r46_stuck_and_spike.csv": (runs, "FLAT_FOR", 1 << 60),
    "x03_messy_sheet.xlsx": (workbooks, "_HIDDEN", re.compile(rb"(?!)")),
    "x05_xml_entities.xlsx": (workbooks, "_DECLARED", re.compile(rb"(?!)")),
    "j01_duplicate_keys.json": (documents, "_item", lambda number, item, known: (number, [""] * 12, ())),
}


def as_in_the_index(seen, entry):
    """Whether a verdict, its rows and its places are those of the index; and a refusal is for its reason."""
    spots = {(one.spot.line, one.spot.item, one.spot.field) for one in seen.findings}
    placed = all((one.get("line"), one.get("item"), one["field"]) in spots for one in entry["where"])
    said = "\n".join(map(str, seen.findings))
    told = all(re.search(pattern, said) for pattern in SAYS[entry["file"]])
    return placed and told and (seen.verdict, seen.rows_ok) == (entry["verdict"], entry["rows_ok"])


@pytest.mark.parametrize("name", sorted(PLANTED))
def test_a_rule_switched_off_is_noticed(name, corpus, examine, monkeypatch):
    data, entry = (corpus / name).read_bytes(), INDEX[name]
    assert as_in_the_index(examine(data, name), entry)
    monkeypatch.setattr(*PLANTED[name])
    try:
        seen = examine(data, name)
    except (ValueError, OverflowError):
        return  # what a looser grammar lets in breaks further on
    assert not as_in_the_index(seen, entry)
