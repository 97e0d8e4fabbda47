"""Engines by command: trials that settle or cannot be said to, and any engine's question."""

import json
import pathlib

import numpy as np
import pytest

from brinehouse.workbench import asking

NIST = pathlib.Path(__file__).parents[1] / "science" / "published" / "nist"


@pytest.fixture
def trial(tmp_path):
    def write(name):
        y, x = np.loadtxt(NIST / f"{name}.dat", skiprows=60).T
        page = tmp_path / f"{name}.csv"
        lines = [f"{one:g},{other:g}" for one, other in zip(x, y, strict=True)]
        page.write_text("minutes,value\n" + "\n".join(lines) + "\n", "utf-8")
        return page

    return write


def test_boxbod_is_settled_with_the_certified_plateau(run, trial):
    said = run("settle", trial("BoxBOD"), "--start", "0 mg/L", "--unit", "mg/L", "--json")
    answer = said.json
    assert answer["state"] == "settled"
    plateau = answer["values"]["plateau"]
    assert plateau["value"] == pytest.approx(213.80940889, rel=1e-8)  # NIST StRD BoxBOD
    assert plateau["low"] < plateau["value"] < plateau["high"]
    assert answer["values"]["time_constant"]["value"] == pytest.approx(1 / 0.54723748542, rel=1e-8)
    assert said.status == 0


def test_misra1a_cannot_say_although_its_numbers_are_exact(run, trial):
    answer = run("settle", trial("Misra1a"), "--start", "0 mg/L", "--unit", "mg/L", "--json").json
    assert answer["state"] == "cannot-say"
    assert answer["values"]["plateau"]["value"] == pytest.approx(238.94212918, rel=1e-8)  # NIST StRD Misra1a


def test_a_known_start_bends_the_curve(run, trial):
    free = run("settle", trial("BoxBOD"), "--unit", "mg/L", "--json").json
    assert abs(free["values"]["plateau"]["value"] - 213.80940889) > 1e-3


def test_a_person_reads_whether_it_has_settled(run, trial):
    said = run("settle", trial("BoxBOD"), "--start", "0 mg/L", "--unit", "mg/L", "--working")
    assert "Settled" in said.out
    assert "Settles at" in said.out
    assert "Advice, not a command." in said.out


@pytest.mark.parametrize(
    ("text", "code", "where"),
    [("minute;value\n0;100\n", "columns/missing", "trial.csv:1"),
     ("minutes,value\n0,a lot\n", "columns/not-a-number", "trial.csv:2"),
     ("minutes,value\n\n\n1,x\n", "columns/not-a-number", "trial.csv:4"),
     ("", "columns/empty", "trial.csv:1")],
)  # fmt: skip
def test_a_trial_with_a_fault_is_refused_with_its_line(run, tmp_path, text, code, where):
    page = tmp_path / "trial.csv"
    page.write_text(text, "utf-8")
    said = run("settle", page)
    assert said.status == 2
    assert code in said.err
    assert where in said.err


def test_a_trial_may_carry_times_beside_its_numbers(run, tmp_path):
    page = tmp_path / "trial.csv"
    rows = [f"06:{minute:02d},{minute},{106 - 6 * 0.8**minute:.2f}" for minute in range(0, 30, 2)]
    page.write_text("clock,minutes (min),value (%)\n" + "\n".join(rows) + "\n", "utf-8")
    said = run("settle", page, "--unit", "%", "--resolution", "0.01 %", "--json")
    assert said.json["state"] == "settled"
    assert said.json["values"]["plateau"]["value"] == pytest.approx(106.0, abs=0.05)


def test_no_reading_at_all_is_not_enough(run, tmp_path):
    page = tmp_path / "trial.csv"
    page.write_text("minutes,value\n", "utf-8")
    assert run("settle", page).status in (1, 2)


def test_every_engine_can_be_asked_by_its_own_name(run):
    for name in asking.names():
        said = run("ask", name.replace(" ", "-"), "--help")
        assert said.status == 0
        for item in asking.question(name).inputs:
            assert f"--{item.name.replace('_', '-')}" in said.out


def test_ask_answers_as_the_short_verb_does(run, trial):
    page = trial("BoxBOD")
    y, x = np.loadtxt(NIST / "BoxBOD.dat", skiprows=60).T
    told = [
        "--minutes",
        " ".join(map(str, x)),
        "--value",
        " ".join(map(str, y)),
        "--start",
        "0 mg/L",
        "--unit",
        "mg/L",
    ]
    one = run("ask", "settling", *told, "--json").json
    other = run("settle", page, "--start", "0 mg/L", "--unit", "mg/L", "--json").json
    assert json.dumps(one["values"]) == json.dumps(other["values"])


def test_a_series_names_the_number_that_is_none(run):
    said = run("ask", "settling", "--minutes", "0 2 4", "--value", "100 102 many")
    assert said.status == 2
    assert "number 3" in said.err


def test_what_is_needed_is_asked_for_with_an_example(run):
    said = run("ask", "gas-budget", "--json")
    assert said.status == 2
    assert {found["code"] for found in said.json["findings"]} == {"workbench/needed"}
    assert all("for example" in found["hint"] for found in said.json["findings"])


def test_an_engine_that_is_not_there_is_named_with_those_that_are(run):
    assert run("ask", "weather").status == 2
    with pytest.raises(Exception, match="weather") as refusal:
        asking.engine("weather")
    assert refusal.value.findings[0].code == "workbench/no-engine"


def test_instruments_without_readings_cannot_be_compared(run, hall):
    said = run("instruments", hall)
    assert said.status == 2
    assert "cannot be compared yet" in said.out
    wrong = run("instruments", hall, "--quantity", "temprature")
    assert (wrong.status, "glossary/unknown-quantity" in wrong.err) == (2, True)
    assert "temperature" in wrong.err
