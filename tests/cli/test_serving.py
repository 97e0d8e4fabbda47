"""The demo by command: built once, investigated in the terminal, told to be invented, never mixed in."""

import json
import shutil

import pytest

from brinehouse.cli import running


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """Thirty days of the invented hall, built by the command; what it printed stands beside it."""
    folder = tmp_path_factory.mktemp("demo") / "demo-hall"
    assert (
        running.run(
            ["demo", str(folder), "--days", "30", "--end", "2026-03-14 06:40", "--no-serve", "--json"]
        )
        == 0
    )
    return folder


def test_a_second_run_builds_nothing_and_tells_the_investigation(run, demo):
    said = run("demo", demo, "--no-serve")
    assert said.status == 0
    assert "is here already" in said.out
    assert "(invented)" in said.out
    for words in (
        "Which meters to believe",
        "What the water holds",
        "Which pump goes with",
        "Read next:",
        "P-203",
    ):
        assert words in said.out
    assert "Advice, not a command." in said.out


def test_the_same_investigation_comes_as_json_and_by_the_gas_verb(run, demo):
    told = run("gas", demo, "--json")
    assert told.status == 1
    assert {"meters", "water", "changes", "findings", "next_readings", "advice"} <= set(told.json)
    codes = {found["code"] for found in told.json["findings"]}
    assert {"gas/meter-salinity-zero", "gas/barometer-sea-level"} <= codes
    plain = run("gas", demo)
    assert plain.status == 1
    assert "meter-B" in plain.out
    assert max(map(len, plain.out.splitlines())) <= 130


def test_what_the_investigation_found_stands_first_on_the_sheet_of_now(run, demo):
    said = run("now", demo)
    assert said.status == 1
    assert "Gas pressure is" in said.out
    assert "do next: rest P-203" in said.out
    assert any("P-203" in one["what"] for one in run("now", demo, "--json").json["concerns"])


def test_the_meters_of_the_demo_are_compared(run, demo):
    said = run("instruments", demo)
    assert said.status in (0, 1)
    assert "meter-B" in said.out
    assert "± " in said.out
    assert {table["name"] for table in run("instruments", demo, "--json").json["tables"]} >= {"meters"}


def test_the_demo_says_that_it_is_invented_and_its_chain_is_whole(run, demo):
    assert "invented" in (demo / "demo.txt").read_text("utf-8")
    assert run("check", demo).status == 0
    assert run("verify", demo).status == 0


def test_a_hall_of_ones_own_is_never_built_over(run, hall):
    before = sorted(hall.iterdir())
    said = run("demo", hall, "--no-serve")
    assert said.status == 2
    assert "demo/other-hall" in said.err
    assert sorted(hall.iterdir()) == before


def test_a_past_that_is_no_time_is_refused(run, tmp_path):
    said = run("demo", tmp_path / "d", "--end", "soon", "--no-serve")
    assert (said.status, "workbench/not-a-time" in said.err) == (2, True)
    assert not (tmp_path / "d").exists()


def test_the_pages_follow_the_investigation_on_loopback(run, demo, tmp_path, monkeypatch):
    from brinehouse.web import serving

    asked = {}

    def serve(folder, *, host, port, told, names=(), https=False, plain_port=None):
        assert (names, https, plain_port) == ((), False, None)
        asked.update(folder=folder, host=host, port=port)
        told(serving.Told(address="http://127.0.0.1:1/"))
        return 0

    monkeypatch.setattr(serving, "serve", serve)
    copy = shutil.copytree(demo, tmp_path / "demo-hall")
    said = run("demo", copy, "--port", "0")
    assert (said.status, asked) == (0, {"folder": copy, "host": "127.0.0.1", "port": 0})
    assert said.out.rstrip().endswith("The pages are at http://127.0.0.1:1/  (Ctrl-C ends)")
    said = run("serve", copy, "--port", "0", "--json")
    assert json.loads(said.out) == {"address": "http://127.0.0.1:1/"}
