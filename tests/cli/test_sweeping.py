"""``sweep`` in the terminal: intervals, what was kept, and a way out of each refusal."""

import sys

import pytest

from brinehouse.cli import sweeping
from brinehouse.workbench import crews

FACILITY = """
schema = 1
[facility]
name = "Test Hall"
altitude = "412 m"
timezone = "Europe/London"
[tank.reef]
volume = "5 m3"
depth = "1.2 m"
temperature = "25 °C"
salinity = "34 ppt"
[[animals]]
at = "reef"
species = "mullet"
mass = "20 kg"
count = 100
[[limit]]
quantity = "oxygen"
at = "reef"
act = "below 4.5 mg/L"
source = "house rule"
"""


@pytest.fixture
def hall(tmp_path, monkeypatch):
    """A tank by itself; its pieces are worked in this process."""

    def local(task, spans, workers=None):
        for span in spans:
            yield span, crews.worked(task.function, task.data, span)[1]

    monkeypatch.setattr(crews, "local", local)
    (tmp_path / "facility.toml").write_text(FACILITY, "utf-8")
    return tmp_path


def test_the_shortest_failures_stand_with_their_intervals(run, hall):
    said = run("sweep", "--samples", 40, "--from", "worst", hall)
    assert said.status in (0, 1), said.err
    assert "…" in said.out
    assert "40 samples" in said.out
    assert "kept from before" not in said.out
    assert said.err.splitlines()[0] == "0 of 40 samples"
    assert said.err.splitlines()[-1] == "40 of 40 samples"
    assert len(said.err.splitlines()) <= 11
    again = run("sweep", "--samples", 40, "--from", "worst", hall)
    assert "40 of them kept from before" in again.out


def test_json_is_one_object_and_nothing_on_the_way(run, hall):
    said = run("sweep", "--samples", 40, "--from", "worst", "--json", hall)
    assert said.err == ""
    assert said.json["intervals"] == "ready"
    assert said.json["sweep"]["worked"] == 40
    crossing = next(one for row in said.json["failures"] for one in row["crossings"])
    assert crossing["low"] <= crossing["hours"]
    assert (hall / "sweeps").is_dir()


@pytest.mark.parametrize(
    "address", ["10.0.0.5:8786", "tcp://", "tcp://host", "http://host:8786", "tcp://h:1/x", "tcp://a b:1"]
)
def test_an_address_that_is_none_is_refused_with_what_one_looks_like(run, hall, address):
    said = run("sweep", "--on", address, hall)
    assert said.status == 2
    assert "tcp://HOST:PORT" in said.err


def test_cores_of_this_machine_and_a_cluster_do_not_go_together(run, hall):
    said = run("sweep", "--on", "tcp://127.0.0.1:9", "--cores", "2", hall)
    assert said.status == 2
    assert "do not go together" in said.err


def test_too_few_samples_are_refused(run, hall):
    assert run("sweep", "--samples", "3", hall).status == 2


def test_without_the_library_of_clusters_the_way_to_it_is_said(run, hall, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    said = run("sweep", "--samples", "40", "--on", "tcp://127.0.0.1:9", hall)
    assert said.status == 2
    assert "pip install brinehouse[cluster]" in said.err


def test_on_a_terminal_progress_is_one_line(monkeypatch, capsys):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    told = sweeping.Progress()
    told(0, 10)
    told(10, 10)
    assert capsys.readouterr().err == "\r0 of 10 samples\r10 of 10 samples\n"
