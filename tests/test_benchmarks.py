"""The table of promises about speed: what is kept, what is not; a broken benchmark keeps none."""

import importlib.util
import json
import pathlib
import subprocess
import sys

import pytest

ROOT = pathlib.Path(__file__).parents[1]


@pytest.fixture(scope="module")
def runner():
    spec = importlib.util.spec_from_file_location("bench_runner", ROOT / "benchmarks" / "__main__.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(
    ("line", "kept"),
    [({"ratio": 0.9, "target": 1.0}, True), ({"ratio": 1.1, "target": 1.0}, False),
     ({"rows_per_second": 16_000.0, "target": 15_000}, True),
     ({"rows_per_second": 14_000.0, "target": 15_000}, False),
     ({"seconds": 2.0, "target": 1.0}, False), ({"p95_milliseconds": 250.0, "target": 300}, True),
     ({"seconds": 2.0}, None)],
)  # fmt: skip
def test_a_rate_is_to_be_reached_and_a_time_not_to_be_passed(runner, line, kept):
    assert runner.met({"name": "x", **line}) is kept


def test_every_benchmark_is_found_and_says_what_it_promises(runner):
    assert {"start", "oxygen", "logbook", "gas_budget"} <= set(runner.names())
    for name in runner.names():
        text = (ROOT / "benchmarks" / f"bench_{name}.py").read_text("utf-8")
        assert "def run(" in text
        assert '"target"' in text


def test_the_table_stands_in_line_and_a_fault_is_not_kept(runner):
    lines = [
        {"benchmark": "a", "name": "quick", "ratio": 0.5, "target": 1.0},
        {"benchmark": "b", "name": "b", "fault": "x"},
    ]
    head, quick, broken = runner.table(lines).splitlines()
    assert head.split() == ["promise", "figure", "target", "kept"]
    assert quick.split()[-1] == "yes"
    assert broken.split()[-1] == "no"
    assert quick.rindex("yes") == broken.rindex("no")


def test_a_benchmark_that_breaks_ends_with_its_reason_and_status_1(runner, monkeypatch, tmp_path, capsys):
    monkeypatch.setattr(runner, "RESULT", tmp_path / "build" / "bench.json")
    monkeypatch.setattr(runner, "names", lambda: ["gone"])
    assert runner.main([]) == 1
    assert "ModuleNotFoundError" in capsys.readouterr().out
    kept = json.loads((tmp_path / "build" / "bench.json").read_text())
    assert kept["results"][0]["met"] is False
    assert kept["machine"]["python"]


def test_a_name_that_is_no_benchmark_is_said():
    said = subprocess.run(
        [sys.executable, "-m", "benchmarks", "oxgyen"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert said.returncode == 2
    assert "there is no benchmark 'oxgyen'" in said.stderr


def test_children_run_with_one_thread_and_no_forced_processor(runner, monkeypatch):
    monkeypatch.setenv("OPENBLAS_CORETYPE", "Haswell")
    told = runner.environment()
    assert "OPENBLAS_CORETYPE" not in told
    assert told["OPENBLAS_NUM_THREADS"] == "1"
