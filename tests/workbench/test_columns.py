"""Columns of numbers in and out of files: whole, by their headers, and every bad cell named."""

import math

import numpy as np
import pytest

from brinehouse.workbench import bulk, columns, mishaps


def refusal(call, *told, **named):
    with pytest.raises(mishaps.Refused) as refused:
        call(*told, **named)
    return refused.value.findings


@pytest.fixture
def sheet(tmp_path):
    def made(text, name="rows.csv"):
        file = tmp_path / name
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return file

    return made


def test_plain_numbers_come_as_arrays_by_their_headers(sheet):
    table = columns.read(sheet("minutes (min),tgp (%)\n0,100.4\n5,-1e1\n"))
    assert list(table) == ["minutes (min)", "tgp (%)"]
    assert table["tgp (%)"].tolist() == [100.4, -10.0]


def test_an_empty_cell_is_a_gap_and_not_a_zero(sheet):
    table = columns.read(sheet("a,b\n1,\n,2\n"))
    assert table["a"][0] == 1.0
    assert math.isnan(table["a"][1])
    assert math.isnan(table["b"][0])


def test_a_row_that_is_cut_short_has_gaps(sheet):
    assert math.isnan(columns.read(sheet("a,b\n1,2\n3\n"))["b"][1])


def test_the_quick_way_and_the_careful_way_read_the_same(sheet):
    quick = columns.read(sheet("a,b\n1.5,2\n-3,4e2\n", "quick.csv"))
    careful = columns.read(sheet('a,b\n"1.5",2\n-3,"4e2"\n', "careful.csv"))
    assert {name: column.tolist() for name, column in quick.items()} == {
        name: column.tolist() for name, column in careful.items()
    }


def test_a_byte_order_mark_and_foreign_line_ends_do_not_matter(sheet):
    assert columns.read(sheet("\ufeffa,b\r\n1,2\r\n"))["a"].tolist() == [1.0]


def test_columns_of_text_are_carried_along_where_they_are_wanted(sheet):
    file = sheet("time,tgp (%)\n2026-03-14,100.4\nlater,101\n")
    table = columns.read(file, text=True)
    assert table["time"].tolist() == ["2026-03-14", "later"]
    (found, *_) = refusal(columns.read, file)
    assert found.code == "columns/not-a-number"


def test_planted_fault_every_bad_cell_is_named_by_line_and_column(sheet):
    found = refusal(columns.read, sheet("a,tgp (%)\n1,100.4\n2,soon\n3,<5\n"))
    assert [(one.code, one.spot.line, one.spot.field) for one in found] == [
        ("columns/not-a-number", 3, "tgp (%)"),
        ("columns/not-a-number", 4, "tgp (%)"),
    ]
    assert "'<5' is a bound" in found[1].text
    assert all(one.hint for one in found)


def test_at_most_a_hundred_bad_cells_are_named(sheet):
    assert len(refusal(columns.read, sheet("a (%)\n" + "x\n" * 300))) == 100


@pytest.mark.parametrize(
    ("text", "code", "said"),
    [
        ("", "columns/empty", "is empty"),
        ("\n1,2\n", "columns/empty", "is empty"),
        ("a,b,a\n1,2,3\n", "columns/doubled", "'a'"),
        (b"a,b\n1,\xb5\n", "columns/not-utf8", "not UTF-8 at byte"),
    ],
)
def test_a_file_that_is_no_table_is_refused_by_name(sheet, text, code, said):
    (found,) = refusal(columns.read, sheet(text))
    assert found.code == code
    assert said in found.text
    assert found.hint


def test_a_file_that_is_not_there_is_told_by_its_name(tmp_path):
    (found,) = refusal(columns.read, tmp_path / "gone.csv")
    assert found.code == "columns/no-file"
    assert "gone.csv" in found.text


def test_what_only_ends_like_parquet_is_refused(sheet):
    (found,) = refusal(columns.read, sheet("a,b\n1,2\n", "rows.parquet"))
    assert found.code == "columns/not-a-table"
    assert "Parquet" in found.text


@pytest.mark.parametrize("name", ["out.csv", "out.parquet"])
def test_what_was_written_reads_back_the_same(tmp_path, name):
    given = {"minutes (min)": np.array([0.0, 5.0]), "tgp (%)": np.array([0.1 + 0.2, np.nan]),
             "place": np.array(["reef", "north, end"], dtype=object)}  # fmt: skip
    columns.write(tmp_path / name, given)
    back = columns.read(tmp_path / name, text=True)
    assert back["tgp (%)"][0] == 0.1 + 0.2
    assert math.isnan(back["tgp (%)"][1])
    assert back["place"].tolist() == ["reef", "north, end"]
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_an_ending_that_is_neither_writes_nothing(tmp_path):
    (found,) = refusal(columns.write, tmp_path / "out.xls", {"a": np.array([1.0])})
    assert found.code == "columns/ending"
    assert "out.xls" in found.text
    assert list(tmp_path.iterdir()) == []


def test_planted_fault_a_write_that_breaks_leaves_the_old_file_whole(tmp_path):
    file = tmp_path / "out.csv"
    file.write_text("old", "utf-8")
    with pytest.raises(ValueError, match="zip"):
        columns.write(file, {"a": np.array([1.0]), "b": np.array([1.0, 2.0])})
    assert file.read_text("utf-8") == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["out.csv"]


def test_a_column_is_found_by_its_word_without_its_unit():
    table = {"Minutes (min)": np.array([0.0, 5.0]), "value": np.array([1.0, 2.0])}
    assert columns.one(table, "minutes", "rows.csv") == [0.0, 5.0]


def test_a_column_that_is_missing_is_told_with_the_nearest():
    (found,) = refusal(columns.one, {"minute": np.array([0.0])}, "minutes", "rows.csv")
    assert found.code == "columns/missing"
    assert "rows.csv has no column 'minutes'" in found.text
    assert "'minute'" in found.hint


def test_answers_are_never_written_over_what_was_measured(sheet):
    file = sheet("tgp (%),temperature (degC)\n104,25\n")
    (found,) = refusal(bulk.gas_budget, file, file, {})
    assert found.code == "columns/same-file"
    assert file.read_text("utf-8").startswith("tgp (%)")
