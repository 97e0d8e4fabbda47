"""Cells and rows as every kind of file gives them."""

from brinehouse.logbook.intake import rows, saying


def test_an_odd_cell_is_its_text_and_knows_what_it_is():
    cell = rows.Odd("true", "boolean")
    assert (cell, cell.kind) == ("true", "boolean")


def test_a_refused_file_has_no_rows():
    sheet = rows.refused(saying.stop("intake/empty", "x", "y"))
    assert (list(sheet.rows()), sheet.header) == ([], [])
