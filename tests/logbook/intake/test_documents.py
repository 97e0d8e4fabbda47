"""JSON."""

import json

from brinehouse.logbook.intake import documents, headings

ITEM = {"time": "2026-03-02T08:00:00Z", "place": "T-1", "value": 24.60, "note": None}


def items(text):
    sheet = documents.open_list(text.encode(), "utf-8", headings.Known())
    return sheet, list(sheet.rows())


def test_a_number_keeps_the_digits_it_was_written_with():
    _, [(number, cells, faults)] = items('[{"value": 24.60}]')
    assert (number, cells[headings.VALUE], faults) == (1, "24.60", ())


def test_not_a_number_stays_a_text_that_the_number_grammar_refuses():
    _, [(_, cells, _)] = items('[{"value": NaN}]')
    assert cells[headings.VALUE] == "NaN"


def test_null_is_blank_and_true_is_no_number():
    _, [(_, cells, _)] = items('[{"value": true, "note": null}]')
    assert (cells[headings.VALUE].kind, cells[headings.NOTE]) == ("boolean", "")


def test_a_list_too_long_to_be_read_at_once_is_refused(monkeypatch):
    monkeypatch.setattr(documents, "LARGEST", 10)
    assert items(json.dumps([ITEM]))[0].faults[0].code == "intake/too-large"


def test_deep_nesting_is_refused_in_a_list_and_in_a_line():
    deep = "[" * 100_000
    assert items(deep)[0].faults[0].code == "intake/too-deep"
    sheet = documents.open_lines(b'{"a": ' + b"[" * 100_000, "utf-8", headings.Known())
    assert next(sheet.rows())[2][0].code == "intake/too-deep"


def test_one_object_over_several_lines_is_one_item():
    page = json.dumps(ITEM, indent=1).encode()
    sheet = documents.open_lines(page, "utf-8", headings.Known())
    [(number, cells, faults)] = list(sheet.rows())
    assert (number, cells[headings.VALUE], faults, sheet.by_item) == (1, "24.6", (), True)


def test_lines_are_counted_with_the_blank_ones():
    page = (json.dumps(ITEM) + "\n\n" + json.dumps(ITEM) + "\n[1]\n").encode()
    sheet = documents.open_lines(page, "utf-8", headings.Known())
    assert [(line, bool(faults)) for line, _, faults in sheet.rows()] == [(1, False), (3, False), (4, True)]


def test_a_very_long_line_is_refused(monkeypatch):
    monkeypatch.setattr(documents, "_LONGEST_LINE", 50)
    sheet = documents.open_lines((json.dumps(ITEM) + "\n").encode() * 2, "utf-8", headings.Known())
    assert {faults[0].code for _, _, faults in sheet.rows()} == {"intake/too-large"}
