"""The gas budget by command: one reading typed by hand, or a file of them."""

import csv
import itertools

import duckdb
import pytest

# common practice, no source: three figures as a meter showed them in warm sea water
WATER = ("--temperature", "25.5 degC", "--salinity", "35 ppt", "--barometer", "760 mmHg")
FIRST = (*WATER, "--tgp", "104.5 %", "--oxygen", "8.0 mg/L", "--nitrogen", "106 %", "--depth", "0.3 m")
SECOND = (*WATER, "--tgp", "103.2 %", "--nitrogen", "104 %")
HEADER = "time,temperature (°C),salinity (PSU),barometer (mmHg),tgp (%),oxygen (mg/L),nitrogen (%)\n"
ROWS = "2026-03-14 06:40,25.5,35,760,104.5,8.0,106\n2026-03-14 07:40,25.5,35,760,103.2,6.6,104\n"


@pytest.fixture
def rows(tmp_path):
    page = tmp_path / "gas.csv"
    page.write_text(HEADER + ROWS, "utf-8")
    return page


def test_three_figures_that_cannot_all_be_true_need_a_person(run):
    said = run("gas", "budget", *FIRST, "--json")
    assert said.status == 1
    answer = said.json
    assert answer["question"] == "gas budget"
    assert answer["state"] == "does-not-close"
    assert "gas/cannot-all-be-true" in {found["code"] for found in answer["findings"]}
    first = answer["explanations"][0]
    assert first["code"] == "gas/meter-salinity-zero"
    assert first["corrected"]["oxygen_percent"]["value"] == pytest.approx(98, abs=0.5)
    assert first["corrected"]["oxygen_concentration"]["value"] == pytest.approx(6.56, abs=0.005)
    assert first["corrected"]["nitrogen_percent"]["value"] == pytest.approx(106.5, abs=0.1)
    weights = [one["weight"] for one in answer["explanations"]]
    assert weights == sorted(weights, reverse=True)


def test_the_answer_has_the_same_shape_for_whoever_reads_it(run):
    answer = run("gas", "budget", *FIRST, "--json").json
    for value in answer["values"].values():
        assert {"value", "unit", "u"} <= set(value)
    for found in answer["findings"]:
        assert {"code", "level", "text"} <= set(found)
        assert found["level"] in ("note", "watch", "act", "ask", "stop")
    for one in answer["explanations"]:
        assert {"code", "fit", "weight", "corrected", "next_reading"} <= set(one)
    for one in answer["not_excluded"]:
        assert {"code", "next_reading"} <= set(one)
        assert one["next_reading"]
    for step in answer["working"]:
        assert step["equation"]
        assert step["source"]
    assert answer["inputs"]["tgp"] == "104.5 %"
    assert answer["cautions"]


def test_the_second_pair_alone_implies_oxygen_near_101_percent(run):
    answer = run("gas", "budget", *SECOND, "--json").json
    assert answer["values"]["oxygen_percent"]["value"] == pytest.approx(101, abs=0.5)
    assert answer["state"] == "not-tested"


def test_another_reading_gives_another_answer(run):
    closes = [word.replace("106 %", "100.8 %") for word in FIRST]
    said = run("gas", "budget", *closes, "--json")
    assert (said.status, said.json["state"]) == (0, "closes")


def test_a_person_reads_sentences_marks_and_the_working(run):
    said = run("gas", "budget", *FIRST, "--working")
    for words in (
        "cannot all be true",
        "What would explain it",
        "not excluded:",
        "Read next:",
        "Working",
        "mmHg",
    ):
        assert words in said.out
    assert "Advice, not a command." in said.out
    assert "\x1b" not in said.out


@pytest.mark.parametrize(
    ("change", "code"),
    [(("--temperature", "25.5"), "units/no-unit"), (("--tgp", "a lot"), None),
     (("--salinity", ""), "workbench/needed"),
     (("--oxygen", "", "--nitrogen", ""), "gas/not-enough")],
)  # fmt: skip
def test_too_little_or_not_understood_is_refused_with_what_would_do(run, change, code):
    said = run("gas", "budget", *FIRST, *change, "--json")
    assert said.status == 2
    found = said.json["findings"][0]
    assert code is None or found["code"] == code
    assert found["hint"]


def test_a_file_of_rows_comes_back_with_the_values_beside_them(run, rows, tmp_path):
    said = run("gas", "budget", "--input", rows, "--output", tmp_path / "out.csv")
    assert said.status == 0
    assert "2 rows written" in said.out
    with (tmp_path / "out.csv").open(encoding="utf-8", newline="") as page:
        first, second = csv.DictReader(page)
    assert first["time"] == "2026-03-14 06:40"
    assert float(first["tgp (%)"]) == 104.5
    assert first["explanation"] == "gas/meter-salinity-zero"
    one = run("gas", "budget", *FIRST[:-2], "--json").json["values"]
    for name, unit in (("oxygen_percent", "%"), ("delta_p", "mmHg"), ("compensation_depth", "m")):
        assert float(first[f"{name} ({unit})"]) == pytest.approx(one[name]["value"], rel=1e-12)
    assert float(second["total_gas_pressure (%)"]) == 103.2


def test_parquet_in_and_out_holds_the_same_numbers(run, rows, tmp_path):
    run("gas", "budget", "--input", rows, "--output", tmp_path / "one.parquet")
    with duckdb.connect() as base:
        base.execute(f"copy (select * from read_csv('{rows}')) to '{tmp_path}/in.parquet' (format parquet)")
    said = run(
        "gas", "budget", "--input", tmp_path / "in.parquet", "--output", tmp_path / "two.csv", "--json"
    )
    assert (said.status, said.json["rows"]) == (0, 2)
    with duckdb.connect() as base:
        kept = base.execute(f"select * from '{tmp_path}/one.parquet'").fetchnumpy()
    with (tmp_path / "two.csv").open(encoding="utf-8", newline="") as page:
        other = list(csv.DictReader(page))
    assert list(kept) == list(other[0])
    for name, row in itertools.product(("delta_p (mmHg)", "u_delta_p (mmHg)", "closure_fit (1)"), (0, 1)):
        assert float(other[row][name]) == kept[name][row]


def test_an_empty_cell_gives_an_empty_answer_and_options_hold_for_every_row(run, tmp_path):
    page = tmp_path / "few.csv"
    page.write_text("tgp (%),oxygen (mg/L)\n104.5,8.0\n,8.0\n", "utf-8")
    said = run("gas", "budget", *WATER, "--input", page, "--output", tmp_path / "out.csv")
    assert said.status == 0, said.err
    with (tmp_path / "out.csv").open(encoding="utf-8", newline="") as out:
        first, second = csv.DictReader(out)
    assert float(first["delta_p (mmHg)"]) == pytest.approx(34.2)
    assert second["delta_p (mmHg)"] == ""


@pytest.mark.parametrize(
    ("text", "code", "where"),
    [(HEADER + ROWS.replace("8.0", "8.0x"), "columns/not-a-number", "gas.csv:2"),
     (HEADER.replace(" (°C)", "") + ROWS, "gas/column-unit", "temperature"),
     (HEADER.replace("(°C)", "(mmHg)") + ROWS, "gas/column-unit", "temperature"),
     (HEADER.replace("tgp (%)", "total") + ROWS, "gas/not-enough", "tgp"),
     (HEADER.replace("oxygen (mg/L)", "tgp (%)") + ROWS, "columns/doubled", "gas.csv:1"),
     ("", "columns/empty", "empty")],
)  # fmt: skip
def test_a_file_with_a_fault_is_refused_and_nothing_is_written(run, rows, tmp_path, text, code, where):
    rows.write_text(text, "utf-8")
    said = run("gas", "budget", "--input", rows, "--output", tmp_path / "out.csv")
    assert said.status == 2
    assert f"[{code}]" in said.err
    assert where in said.err
    assert not (tmp_path / "out.csv").exists()


def test_what_was_measured_is_never_written_over(run, rows, tmp_path):
    said = run("gas", "budget", "--input", rows, "--output", rows)
    assert (said.status, "columns/same-file" in said.err) == (2, True)
    assert rows.read_text("utf-8") == HEADER + ROWS
    said = run("gas", "budget", "--input", rows, "--output", tmp_path / "out.xlsx")
    assert (said.status, "columns/ending" in said.err) == (2, True)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["gas.csv"]
    said = run("gas", "budget", "--input", rows)
    assert (said.status, "--output" in said.err) == (2, True)
    said = run("gas", "budget", "--input", tmp_path / "gone.csv", "--output", tmp_path / "out.csv")
    assert (said.status, "columns/no-file" in said.err) == (2, True)


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("a.csv", b"tgp (%)\n\xff\n", "columns/not-utf8"),
        ("a.parquet", b"PAR1 not really", "columns/not-a-table"),
    ],
)
def test_a_file_that_is_no_table_is_refused(run, tmp_path, name, content, code):
    (tmp_path / name).write_bytes(content)
    said = run("gas", "budget", *WATER, "--input", tmp_path / name, "--output", tmp_path / "out.csv")
    assert (said.status, code in said.err) == (2, True)


def test_a_hall_without_gas_readings_is_investigated_without_complaint(run, hall):
    said = run("gas", hall)
    assert said.status == 0
    assert "no gas readings yet" in said.out
    assert run("gas", "investigate", hall, "--json").json["used"] == 0


def test_a_misspelt_part_is_not_taken_for_a_folder(run):
    said = run("gas", "budgte", *WATER)
    assert said.status == 2
    assert "did you mean 'gas budget'?" in said.err
