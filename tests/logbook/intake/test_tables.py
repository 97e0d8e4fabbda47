"""CSV."""

import pytest

from brinehouse.logbook.intake import headings, tables

HEAD = "time,place,quantity,value,unit,method,by,note"


def rows(text, encoding="utf-8-sig"):
    sheet = tables.open_table(text.encode(), encoding, headings.Known())
    return sheet, list(sheet.rows())


@pytest.mark.parametrize("sign", [",", ";", "\t"])
def test_each_separator_is_found(sign):
    sheet, found = rows(f"time{sign}value{sign}note\n1{sign}2{sign}a b\n")
    assert (sheet.separator, found) == (sign, [(2, ["1", "2", "a b"], ())])


def test_lines_are_counted_as_an_editor_counts_them():
    _, found = rows('time,value,note\n1,2,"a\nb"\n\n3,4,\r5,6,\r\n7,8,')
    assert [(line, cells[0]) for line, cells, _ in found] == [(2, "1"), (5, "3"), (6, "5"), (7, "7")]


def test_blank_lines_and_lines_of_separators_are_no_rows():
    assert rows("time,value,note\n\n,,\n  ,,\n1,2,\n")[1] == [(5, ["1", "2", ""], ())]


def test_a_short_row_is_filled_and_a_long_one_refused():
    _, found = rows("time,value,note\n1,2\n1,2,3,4\n")
    assert found[0] == (2, ["1", "2", ""], ())
    assert found[1][2][0].code == "intake/cells"


def test_a_broken_quote_costs_its_own_row_only():
    _, found = rows('time,value,note\n1,2,"a"b\n3,4,c\n')
    assert [fault[0].code if fault else "" for _, _, fault in found] == ["intake/quote", ""]


def test_an_open_quote_names_its_line_its_column_and_what_it_swallowed():
    _, found = rows('time,value,note\n1,2,\n3,4,"a\n5,6,\n7,8,\n')
    line, cells, (fault,) = found[-1]
    assert (line, cells, fault.field, fault.data["swallowed"]) == (3, None, "\x002", 2)


def test_a_title_above_the_header_is_passed_over_and_said():
    sheet, found = rows("Hall 2, March\n\ntime,place,value\n1,2,3\n")
    assert (sheet.header_line, sheet.faults[0].code, found[0][0]) == (3, "intake/header-below", 4)


def test_a_file_without_a_header_is_refused():
    sheet, _ = rows("24.6\n24.7\n")
    assert sheet.faults[0].code == "intake/no-table"


def test_rows_can_be_gone_through_again():
    sheet, found = rows(f"{HEAD}\n" + "1,2,3,4,5,6,7,8\n" * 3)
    assert list(sheet.rows()) == found
