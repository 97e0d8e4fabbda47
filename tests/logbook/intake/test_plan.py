"""The whole of intake: each fault by its code, answers, wide tables, and anything at all as a file."""

import dataclasses
import datetime as dt
import io
import locale
import pathlib
import zipfile

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from brinehouse.logbook import canon
from brinehouse.logbook.intake import decoding, plan, tables, workbooks

HEAD = "time,place,quantity,value,unit,method,by,note\n"
GOOD = "2026-03-02T08:00:00+01:00,T-1,temperature,24.6,degC,probe,a.meyer,\n"
T = "2026-03-02T08:00:00+01:00"
DATA = pathlib.Path(__file__).parents[2] / "data"
UNDERWAY = DATA / "underway_gas_2019-08-10.csv"
MAPPED = {
    "at": "T-1", "by": "logger", "map:gauge temperature (degC)": "temperature, with gauge-2",
    "map:loop flow (L/min)": "leave out", "map:total gas pressure (mbar)": "total gas pressure, with gauge-2",
}  # fmt: skip


def book(rows, *, hidden=()):
    sheet_book = Workbook()
    sheet = sheet_book.active
    for row in rows:
        sheet.append(row)
    for name in hidden:
        sheet_book.create_sheet(name).sheet_state = "hidden"
    page = io.BytesIO()
    sheet_book.save(page)
    return page.getvalue()


BAD = {
    "intake/empty": b" \r\n",
    "intake/other-kind": b"%PDF-1.7 ...",
    "intake/damaged": b"\xff\xfea\x00,\x00b",
    "intake/no-table": "24.6\n24.7\n",
    "intake/doubled-column": "time,place,quantity,value,value,by\n",
    "intake/unknown-column": "time,place,quantity,value,unit,by,serial\n" + GOOD,
    "intake/no-column": "time,place,quantity,unit,by\n" + GOOD,
    "intake/no-place": f"time,quantity,value,unit,by\n{T},temperature,24.6,degC,a.meyer\n",
    "intake/no-person": f"time,place,quantity,value,unit\n{T},T-1,temperature,24.6,degC\n",
    "intake/no-rows": HEAD,
    "intake/cells": HEAD + GOOD.replace("24.6", "24,6"),
    "intake/quote": HEAD + GOOD.replace("T-1", '"T"-1'),
    "intake/not-json": "[1, 2]",
    "intake/too-deep": '[[{"time": 1}]]',
    "intake/doubled-key": '[{"value": 1, "value": 2}]',
    "intake/unknown-key": '[{"vlaue": 1}]',
    "intake/not-a-value": '[{"time": "'
    + T
    + '", "place": "T-1", "quantity": "pH", "value": [8], "by": "a.meyer"}]',
    "intake/date-order": HEAD + GOOD.replace(T, "03/04/2026 08:00"),
    "intake/no-time": HEAD + GOOD.replace(T, ""),
    "intake/not-a-time": HEAD + GOOD.replace(T, "yesterday"),
    "intake/future": HEAD + GOOD.replace(T, "2026-11-15T12:11:00Z"),
    "intake/dead-clock": HEAD + GOOD.replace(T, "1980-01-06T00:00:10Z"),
    "intake/long-past": HEAD + GOOD.replace(T, "1826-03-02T08:00:00Z"),
    "intake/skipped-hour": HEAD + GOOD.replace(T, "2026-03-29T02:30:00"),
    "intake/doubled-hour": HEAD + GOOD.replace(T, "2026-10-25 02:30"),
    "intake/local-times": HEAD + GOOD.replace(T, "2026-03-02 08:00"),
    "intake/serial-times": HEAD + GOOD.replace(T, "46083.5"),
    "intake/counted-times": HEAD + GOOD.replace(T, "1772434800"),
    "intake/unknown-place": HEAD + GOOD.replace("T-1", "T-9"),
    "intake/unknown-person": HEAD + GOOD.replace("a.meyer", "a.mayer"),
    "intake/unknown-method": HEAD + GOOD.replace("probe", "prob"),
    "intake/unknown-instrument": HEAD.replace("method", "meter") + GOOD,
    "intake/long-note": HEAD + GOOD.rstrip("\n") + "x" * 2001,
    "intake/unstorable": '[{"time": "' + T + '", "value": 8.1, "quantity": "pH", "note": "a\\u0000b"}]',
    "intake/control-characters": HEAD + GOOD.rstrip("\n") + "a\x1bb",
    "intake/blank": HEAD + GOOD.replace("24.6", ""),
    "intake/bound": HEAD + GOOD.replace("24.6", "<24.6"),
    "intake/read-as": HEAD + GOOD.replace("24.6", "\u22121.5"),
    "intake/basis-not-told": HEAD + GOOD.replace("temperature,24.6,degC", "nitrate,5,mg/L"),
    "intake/unit-switched": HEAD + GOOD.replace("24.6", "76.3"),
    "intake/sensor-fault": HEAD + GOOD.replace("24.6", "85").replace("a.meyer", "logger"),
    "intake/sensor-impossible": HEAD + GOOD.replace("24.6", "-300").replace("a.meyer", "logger"),
    "intake/decimal-mixed": HEAD.replace(",", ";") + GOOD.replace(",", ";").replace("24.6", "1,234"),
    "intake/separator": HEAD.replace(",", "\t") + GOOD.replace(",", "\t"),
    "intake/header-below": "Hall 2\n" + HEAD + GOOD,
    "intake/not-utf8": (HEAD + GOOD).encode().replace(b"degC", b"\xb0C"),
    "intake/utf-16": (HEAD + GOOD).encode("utf-16"),
    "intake/units-line": HEAD + ",,,,[°C],,,\n" + GOOD,
    "intake/unclosed-quote": HEAD + GOOD.rstrip("\n") + '"open\n' + GOOD,
    "intake/spellings": HEAD + GOOD + GOOD.replace("degC", "°C"),
    "glossary/unknown-quantity": HEAD + GOOD.replace("temperature", "temprature"),
    "glossary/impossible": HEAD + GOOD.replace("24.6", "-400"),
    "glossary/unusual": HEAD + GOOD.replace("24.6", "31.5"),
    "glossary/basis": HEAD + GOOD.replace("temperature,24.6,degC", "nitrate,5,mg/L as P"),
    "units/no-unit": HEAD + GOOD.replace("degC", ""),
    "units/unknown-unit": HEAD + GOOD.replace("degC", "blub"),
    "units/ambiguous-unit": HEAD + GOOD.replace("degC", "C"),
    "units/wrong-kind": HEAD + GOOD.replace("degC", "L"),
    "units/not-finite": HEAD + GOOD.replace("24.6", "inf"),
    "units/not-a-number": HEAD + GOOD.replace("24.6", "0x18"),
    "intake/other-sheet": None,
    "intake/hidden-sheet": None,
    "intake/date-value": None,
    "intake/hidden-row": None,
}


@pytest.mark.parametrize("code", [code for code, data in BAD.items() if data is not None])
def test_each_kind_of_fault_is_named_by_its_code(code, examine, codes):
    assert code in codes(examine(BAD[code]))


def test_the_good_row_is_good(examine):
    assert examine(HEAD + GOOD).verdict == "accept"


# Answers --------------------------------------------------------------------------------------------------


def test_a_person_may_say_what_an_odd_unit_is(examine, now):
    seen = examine(HEAD + GOOD.replace("degC", "C"), answers={"unit:C": "°C"})
    assert [one.value for one in seen.readings(now)] == [24.6]


def test_a_switched_logger_is_put_right_by_its_lines(corpus, examine, now):
    seen = examine((corpus / "r45_unit_switch_midway.csv").read_bytes(), answers={"unit@6-8": "°F"})
    values = [round(one.value, 1) for one in seen.readings(now)]
    assert values == [24.5, 24.6, 24.6, 24.5, 24.6, 24.5, 24.6, 24.6]


def test_a_basis_that_was_told_is_kept(examine, now):
    data = HEAD + GOOD.replace("temperature,24.6,degC", "nitrate,5,mg/L")
    (untold,) = examine(data).readings(now)
    (told,) = examine(data, answers={"basis:nitrate": "N"}).readings(now)
    assert (untold.basis, untold.marks) == ("", ("intake/basis-not-told",))
    assert (told.basis, told.marks) == ("N", ())


def test_a_new_person_is_taken_where_somebody_said_so(examine):
    data = HEAD + GOOD.replace("a.meyer", "nobody")
    assert examine(data).verdict == "reject-rows"
    assert examine(data, answers={"person:nobody": "new"}).verdict == "accept"


def test_a_misspelt_question_or_answer_refuses_the_file(examine, codes):
    for answers in ({"tiem": "seconds"}, {"decimal": "maybe"}, {"zone": "Nowhere/At all"}):
        seen = examine(HEAD + GOOD, answers=answers)
        assert seen.verdict == "reject-file"
        assert codes(seen) & {"intake/unknown-answer", "intake/unknown-zone"}


def test_an_earlier_answer_is_used_and_said(examine, codes):
    data = HEAD + GOOD.replace("degC", "C")
    asked = []

    def saved(source):
        asked.append(source)
        return {"unit:C": "°C"}

    seen = examine(data, saved=saved)
    assert seen.rows_ok == 1
    assert "intake/remembered" in codes(seen)
    assert asked == [seen.source]


def test_each_question_is_asked_once_with_its_choices(corpus, examine):
    (one,) = examine((corpus / "r21_epoch_units.csv").read_bytes()).questions
    assert (one.key, one.count) == ("time", 4)
    assert "by size" in one.choices


def test_a_zone_in_the_heading_is_used(examine, now):
    data = (HEAD + GOOD).replace("time,", "time (UTC),", 1).replace(T, "2026-03-02 08:00")
    (only,) = examine(data).readings(now)
    assert only.measured.isoformat() == "2026-03-02T08:00:00+00:00"


def test_a_column_of_days_and_one_of_hours_make_a_time(examine, now):
    data = "date,time,place,quantity,value,unit,by\n2026-03-02,08:00,T-1,temperature,24.6,degC,a.meyer\n"
    (only,) = examine(data).readings(now)
    assert only.measured.isoformat() == "2026-03-02T07:00:00+00:00"


def test_the_order_of_a_date_is_taken_from_the_file_only_where_it_leaves_no_choice(examine, now, codes):
    rows = "".join(GOOD.replace(T, f"{day}/03/2026 08:00") for day in (2, 31))
    seen = examine(HEAD + rows)
    assert [one.measured.day for one in seen.readings(now)] == [2, 31]
    assert "intake/date-order" in codes(seen)


def test_a_clock_that_was_not_moved_is_read_so_when_told(examine, now):
    data = HEAD + GOOD.replace(T, "2026-03-29T02:30:00")
    (only,) = examine(data, answers={"gap": "not moved"}).readings(now)
    assert only.measured.isoformat() == "2026-03-29T01:30:00+00:00"


# What a row becomes ---------------------------------------------------------------------------------------


def test_a_reading_points_to_its_file_and_line(examine, now):
    seen = examine(HEAD + GOOD)
    (only,) = seen.readings(now)
    assert only.origin == f"{seen.import_id}:2"
    assert (only.source, only.person, only.method, only.text) == ("import", 1, "probe", "24.6 degC")


def test_the_same_row_has_the_same_id_every_time(examine, now):
    first, again = (next(examine(HEAD + GOOD).readings(now)) for _ in range(2))
    other = next(examine(HEAD + GOOD + GOOD).readings(now))
    assert first == again
    assert len(first.id) == 32
    assert first.id != other.id


def test_not_measured_is_kept_with_its_reason(examine, now):
    (only,) = examine(HEAD + GOOD.replace("24.6", "not measured: probe in repair")).readings(now)
    assert (only.value, only.missing) == (None, "probe in repair")


def test_a_row_at_a_test_point_is_judged_by_the_ranges_of_the_point(examine, now, codes):
    seen = examine(HEAD + GOOD.replace("T-1", "TT-1").replace("24.6", "26.5"))
    (only,) = seen.readings(now)
    assert (only.place, only.point, only.depth, only.quality) == ("T-1", "TT-1", 0.4, "unusual")
    assert "glossary/unusual" in codes(seen)


def test_a_name_is_known_in_either_form_of_its_accent(examine):
    assert examine(HEAD + GOOD.replace("T-1", "Cafe\u0301")).verdict == "accept"


def test_the_locale_of_the_machine_changes_nothing(corpus, examine, now):
    name = "r01_semicolon_decimal_comma_good.csv"
    before = [one.value for one in examine((corpus / name).read_bytes(), name).readings(now)]
    old = locale.setlocale(locale.LC_ALL)
    tried = [one for one in ("de_DE.UTF-8", "fr_FR.UTF-8", "tr_TR.UTF-8", "C") if _set(one)]
    after = [one.value for one in examine((corpus / name).read_bytes(), name).readings(now)]
    locale.setlocale(locale.LC_ALL, old)
    assert tried
    assert before == after


def _set(name):
    try:
        locale.setlocale(locale.LC_ALL, name)
    except locale.Error:
        return False
    return True


# Wide tables ----------------------------------------------------------------------------------------------


def test_a_wide_table_asks_where_by_whom_and_what_its_odd_columns_are(examine):
    seen = examine(UNDERWAY.read_bytes(), UNDERWAY.name)
    assert seen.verdict == "ask"
    assert {one.key for one in seen.questions} == {
        "at", "by", "map:gauge temperature (degC)", "map:loop flow (L/min)",
    }  # fmt: skip


def test_a_wide_table_is_read_column_by_column_as_told(examine, now):
    lines = UNDERWAY.read_text("utf-8").splitlines()[:50]
    seen = examine("\n".join(lines), UNDERWAY.name, MAPPED)
    made = list(seen.readings(now))
    assert (seen.rows, seen.count, len(made)) == (49, 49 * 5, 49 * 5)
    first = {(one.quantity, one.instrument): (round(one.value, 3), one.unit) for one in made[:5]}
    assert first == {
        ("oxygen saturation", ""): (113.931, "%"), ("oxygen", ""): (438.03, "µmol/L"),
        ("temperature", ""): (6.445, "°C"), ("temperature", "gauge-2"): (10.555, "°C"),
        ("total gas pressure", "gauge-2"): (858.298, "mmHg"),
    }  # fmt: skip
    assert len({one.id for one in made}) == len(made)


def test_blank_cells_of_a_wide_table_are_left_out_and_counted(examine, codes):
    data = f"time,place,by,temperature (°C),pH\n{T},T-1,a.meyer,24.6,\n"
    seen = examine(data)
    assert (seen.count, codes(seen)) == (1, {"intake/blank-cells"})


def test_a_fault_that_the_columns_of_a_row_share_is_said_once(examine):
    seen = examine("time,place,by,temperature (°C),pH\nnoon,T-1,a.meyer,24.6,8.1\n")
    assert [one.code for one in seen.findings] == ["intake/not-a-time"]
    units_below = examine(
        f"time,temperature (°C),pH\n,°C,1\n{T},24.6,8.1\n", answers={"at": "T-1", "by": "logger"}
    )
    assert ([one.code for one in units_below.findings], units_below.count) == (["intake/units-line"], 2)


def test_a_map_that_cannot_be_followed_refuses_the_file(examine, codes):
    data = f"time,place,by,gauge\n{T},T-1,a.meyer,24.6\n"
    for told, code in (
        ("temprature", "glossary/unknown-quantity"), ("temperature, near T-1", "intake/bad-map"),
        ("temperature, with thing", "intake/unknown-instrument"),
    ):  # fmt: skip
        seen = examine(data, answers={"map:gauge": told})
        assert (seen.verdict, code in codes(seen)) == ("reject-file", True)
    assert "intake/no-column" in codes(examine(data, answers={"map:gouge": "temperature"}))


# Workbooks ------------------------------------------------------------------------------------------------


def test_another_sheet_is_named_and_can_be_asked_for(examine, codes):
    rows = [HEAD.strip().split(","), GOOD.strip().split(",")]
    data = book(rows, hidden=["more"])
    assert "intake/hidden-sheet" in codes(examine(data, "a.xlsx"))
    assert "intake/no-sheet" in codes(examine(data, "a.xlsx", {"sheet": "mroe"}))
    with_two = Workbook()
    for row in rows:
        with_two.active.append(row)
    with_two.create_sheet("second").append(["x"])
    page = io.BytesIO()
    with_two.save(page)
    assert "intake/other-sheet" in codes(examine(page.getvalue(), "a.xlsx"))


def test_a_workbook_that_unpacks_to_too_much_is_refused_before_it_is_unpacked(examine, codes, monkeypatch):
    monkeypatch.setattr(workbooks, "LARGEST", 1000)
    assert "intake/too-large" in codes(examine(book([["time", "value"]]), "a.xlsx"))


def test_a_zip_that_is_no_workbook_is_named(examine, codes):
    page = io.BytesIO()
    with zipfile.ZipFile(page, "w") as packed:
        packed.writestr("../../etc/passwd", "x")
    assert "intake/other-kind" in codes(examine(page.getvalue()))


# Limits, and anything at all -------------------------------------------------------------------------------


def test_a_file_larger_than_is_read_is_refused(examine, codes, monkeypatch):
    monkeypatch.setattr(decoding, "LARGEST", 100)
    assert "intake/too-large" in codes(examine(HEAD + GOOD * 10))


def test_a_million_faults_are_counted_and_few_are_kept(examine):
    seen = examine(HEAD + GOOD.replace("24.6", "x") * 12_000)
    assert seen.counts["units/not-a-number"] == 12_000
    assert len(seen.findings) == 10_000


def test_an_open_quote_in_a_long_file_does_not_swallow_it_in_silence(examine, codes, monkeypatch):
    monkeypatch.setattr(tables, "_FIELD", 1000)
    seen = examine(HEAD + GOOD + GOOD.rstrip("\n") + '"open\n' + GOOD * 100)
    assert (seen.rows, seen.rows_ok, "intake/unclosed-quote" in codes(seen)) == (102, 1, True)


def test_a_finding_never_shows_a_path_of_the_machine(examine):
    seen = examine(b"", "/srv/halls/secret/readings.csv")
    assert seen.name == "readings.csv"
    assert all("/srv" not in str(one) for one in seen.findings)


CELLS = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        [
            "24.6",
            "1,234",
            "1.234",
            T,
            "46083.5",
            "T-1",
            "TT-1",
            "temperature",
            "degC",
            "C",
            "a.meyer",
            "logger",
            '"',
            "not measured: \0",
            "not measured: \ud800",
            "\0",
            "\ud800",
            "\x1b[2J",
            "-127",
            "<5",
            "03/04/2026 08:00",
            "2026-10-25 02:30",
            "½",
            "",
            "9" * 50,
        ],
    ),
)
quiet = settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))


@quiet
@given(st.binary(max_size=400))
def test_any_bytes_at_all_end_in_a_verdict(examine, now, data):
    seen = examine(data)
    assert len(list(seen.readings(now))) == seen.count


@quiet
@given(st.lists(st.lists(CELLS, min_size=1, max_size=9), max_size=8), st.sampled_from(",;\t"))
def test_any_table_at_all_ends_in_a_verdict(examine, now, cells, sign):
    text = HEAD.replace(",", sign) + "\n".join(sign.join(row) for row in cells)
    seen = examine(text.encode("utf-8", "surrogatepass"))
    made = list(seen.readings(now))
    assert len(made) == seen.count
    for one in made:
        canon.digest_of(canon.written(canon.content_of(one)))  # the logbook takes it
    assert all(one.value is None or abs(one.value) < 1e308 for one in made)


@quiet
@given(
    st.recursive(
        st.one_of(st.none(), st.booleans(), st.floats(allow_nan=True), CELLS),
        lambda inner: st.one_of(
            st.lists(inner, max_size=3), st.dictionaries(st.sampled_from(["time", "value", "by", "x"]), inner)
        ),
        max_leaves=12,
    )
)
def test_any_document_at_all_ends_in_a_verdict(examine, now, document):
    import json

    for data in (json.dumps([document]), json.dumps(document), json.dumps(document)[:-1]):
        seen = examine(data)
        assert len(list(seen.readings(now))) == seen.count


@pytest.mark.parametrize("step", range(0, 5000, 97))
def test_a_workbook_cut_anywhere_or_with_a_wrong_byte_ends_in_a_verdict(corpus, examine, now, step):
    whole = (corpus / "x00_good.xlsx").read_bytes()
    wrong = bytearray(whole)
    wrong[step % len(whole)] ^= 0x55
    for data in (whole[: step + 1], bytes(wrong)):
        seen = examine(data, "a.xlsx")
        assert len(list(seen.readings(now))) == seen.count


def test_a_planted_fault_in_the_second_pass_would_be_seen(examine, now):
    seen = examine(HEAD + GOOD)
    broken = dataclasses.replace(seen, count=2)
    assert len(list(broken.readings(now))) != broken.count
    assert isinstance(seen, plan.Examined)


def test_answers_that_placed_or_decoded_something_are_said(corpus, examine, codes):
    placed = examine((corpus / "r18_dst_gap_and_fold.csv").read_bytes(), answers={"fold": "first"})
    assert "intake/placed-times" in codes(placed)
    told = examine((corpus / "r05_latin1.csv").read_bytes(), answers={"encoding": "windows-1252"})
    assert "intake/encoding-told" in codes(told)


def test_a_day_without_an_hour_is_asked_for_the_hour_of_the_round(examine, now, codes):
    data = HEAD + GOOD.replace(T, "2026-03-02")
    asked = examine(data)
    assert (asked.verdict, codes(asked)) == ("ask", {"intake/no-hour"})
    (only,) = examine(data, answers={"hour": "09:00"}).readings(now)
    assert only.measured.isoformat() == "2026-03-02T08:00:00+00:00"
    assert examine(data, answers={"hour": "9 am"}).verdict == "reject-file"


def test_a_sheet_of_bare_days_is_not_a_sheet_of_midnights(examine, now, codes):
    head, row = HEAD.strip().split(","), GOOD.strip().split(",")
    days = [[dt.datetime(2026, 3, day), *row[1:]] for day in (2, 3)]  # noqa: DTZ001 - as a sheet holds it
    seen = examine(book([head, *days]), "a.xlsx")
    assert "intake/no-hour" in codes(seen)
    one_night = [[dt.datetime(2026, 3, 2, hour), *row[1:]] for hour in (0, 6)]  # noqa: DTZ001
    seen = examine(book([head, *one_night]), "a.xlsx")
    assert [one.measured.strftime("%d %H:%M") for one in seen.readings(now)] == ["01 23:00", "02 05:00"]
