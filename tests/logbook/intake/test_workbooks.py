"""XLSX."""

import datetime as dt
import io
import zipfile

import pytest
from openpyxl import Workbook

from brinehouse.logbook.intake import headings, workbooks

HEAD = ["time", "place", "quantity", "value", "unit", "by"]


def wall(*parts):
    """A time as a sheet holds it: by the clock on the wall, in no zone."""
    return dt.datetime(*parts)  # noqa: DTZ001


def book(*rows, change=None):
    made = Workbook()
    for row in rows:
        made.active.append(row)
    if change:
        change(made)
    page = io.BytesIO()
    made.save(page)
    return page.getvalue()


def read(data, **told):
    sheet = workbooks.open_workbook(data, headings.Known(), **told)
    return sheet, list(sheet.rows())


def with_part(data, name, content):
    page = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(page, "w") as new:
        for part in old.namelist():
            new.writestr(part, content if part == name else old.read(part))
    return page.getvalue()


def test_numbers_come_as_they_were_typed():
    _, [(_, cells, _)] = read(book(HEAD, [None, "T-1", "flow", 24.6, 12.0, 0.1]))
    assert cells[3:] == ["24.6", "12", "0.1"]


def test_midnight_is_a_time_like_any_other():
    rows = [[wall(2026, 3, 2, hour), "T-1", "pH", 8.1, None, "a"] for hour in (23, 0)]
    _, found = read(book(HEAD, *rows))
    assert [cells[0][:16] for _, cells, _ in found] == ["2026-03-02 23:00", "2026-03-02 00:00"]


def test_a_minute_is_not_lost_to_the_binary_fraction():
    _, [(_, cells, _)] = read(book(HEAD, [wall(2026, 3, 2, 8, 2), "T-1", "pH", 8.1, None, "a"]))
    assert cells[0] == "2026-03-02 08:02:00.000"


def test_a_hidden_row_is_held_until_it_is_taken_or_left():
    def hide(made):
        made.active.row_dimensions[3].hidden = True

    data = book(HEAD, ["a"] * 6, ["b"] * 6, change=hide)
    assert [faults[0].code if faults else "" for _, _, faults in read(data)[1]] == ["", "intake/hidden-row"]
    assert [line for line, _, _ in read(data, hidden="take")[1]] == [2, 3]
    assert [line for line, _, _ in read(data, hidden="leave")[1]] == [2]


@pytest.mark.parametrize("part", ["xl/worksheets/sheet1.xml", "xl/workbook.xml", "docProps/core.xml"])
def test_a_declaration_in_any_part_is_refused(part):
    data = with_part(book(HEAD), part, b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/hostname">]><x>&a;</x>')
    assert read(data)[0].faults[0].code == "intake/declarations"


def test_the_1904_base_is_said():
    def old(made):
        made.epoch = wall(1904, 1, 1)

    sheet, [(_, cells, _)] = read(book(HEAD, [wall(2026, 3, 2, 8), "T-1", "pH", 8.1, None, "a"], change=old))
    assert sheet.faults[0].code == "intake/base-1904"
    assert cells[0][:16] == "2026-03-02 08:00"


def test_too_many_parts_or_cells_are_refused(monkeypatch):
    data = book(HEAD)
    monkeypatch.setattr(workbooks, "MOST_CELLS", 3)
    assert read(data)[0].faults[0].code == "intake/too-large"
    monkeypatch.setattr(workbooks, "MOST_PARTS", 2)
    assert read(data)[0].faults[0].code == "intake/too-large"


def test_a_sheet_without_a_header_is_refused():
    assert read(book(["only"]))[0].faults[0].code == "intake/no-table"


def test_a_broken_part_is_damage_and_no_trace():
    data = with_part(book(HEAD), "xl/workbook.xml", b"<workbook><sheets>")
    assert read(data)[0].faults[0].code in {"intake/damaged", "intake/hidden-sheet"}
