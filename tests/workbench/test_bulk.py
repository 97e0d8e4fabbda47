"""The gas budget over a whole file: what was measured is carried along, and nothing half is written."""

import pytest

from brinehouse.workbench import bulk, columns, mishaps

HEADER = "time,temperature (°C),salinity (PSU),barometer (mmHg),tgp (%),oxygen (mg/L)\n"


@pytest.fixture
def rows(tmp_path):
    page = tmp_path / "rows.csv"
    page.write_text(HEADER + "06:40,25.5,35,760,104.5,8.0\n07:40,25.5,35,760,,8.0\n", "utf-8")
    return page


def test_every_row_keeps_what_it_had_and_gains_its_values(rows, tmp_path):
    done = bulk.gas_budget(rows, tmp_path / "out.csv", {})
    assert done.rows == 2
    assert [found.code for found in done.findings] == ["gas/column-unused"]
    table = columns.read(tmp_path / "out.csv", text=True)
    assert list(table)[:6] == HEADER.strip().split(",")
    assert list(table["time"]) == ["06:40", "07:40"]
    assert table["delta_p (mmHg)"][0] == pytest.approx(34.2)
    assert table["delta_p (mmHg)"][1] != table["delta_p (mmHg)"][1]


def test_an_answer_that_stops_writes_nothing(rows, tmp_path):
    rows.write_text(HEADER.replace(" (%)", "") + "06:40,25.5,35,760,104.5,8.0\n", "utf-8")
    with pytest.raises(mishaps.Refused) as refusal:
        bulk.gas_budget(rows, tmp_path / "out.csv", {})
    assert "gas/column-unit" in {found.code for found in refusal.value.findings}
    assert not (tmp_path / "out.csv").exists()


def test_the_file_of_the_rows_is_never_the_file_of_the_answers(rows, tmp_path):
    (tmp_path / "same.csv").symlink_to(rows)
    for target in (rows, tmp_path / "same.csv"):
        with pytest.raises(mishaps.Refused) as refusal:
            bulk.gas_budget(rows, target, {})
        assert refusal.value.findings[0].code == "columns/same-file"
