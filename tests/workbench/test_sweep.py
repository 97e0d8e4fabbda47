"""A sweep gives the samples of the engine, keeps them, and the sheet shows them."""

import csv
import dataclasses
import datetime as dt
import io
import json
import math
import os
import subprocess
import sys
import time

import pytest

from brinehouse.workbench import clock, crews, pieces, sweep, swept, time_in_hand, time_told
from brinehouse.workbench import hall as halls

HALL = """
schema = 1
[facility]
name = "Test Hall"
altitude = "412 m"
timezone = "Europe/London"
[tank.reef]
name = "=Reef"
volume = "5 m3"
depth = "1.2 m"
temperature = "25 °C"
salinity = "34 ppt"
[sump.low]
volume = "2 m3"
depth = "0.8 m"
temperature = "25 °C"
salinity = "34 ppt"
[pump.P-1]
power = "1 kW"
flow = "12 m3/h"
[run.up]
from = "low"
to = "reef"
through = ["P-1"]
flow = "12 m3/h"
[run.down]
from = "reef"
to = "low"
flow = "12 m3/h"
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
NOW = dt.datetime(2026, 3, 14, 6, 40, tzinfo=dt.UTC)
WORST = time_told.Wanted(begin="worst")
FEW = 12


def make(folder):
    folder.mkdir()
    (folder / "facility.toml").write_text(HALL, "utf-8")
    return folder


@pytest.fixture(scope="module")
def swept_hall(tmp_path_factory):
    """A small hall, swept once by one process; the hall and the sweep."""
    clock.freeze(NOW)
    with halls.open_hall(make(tmp_path_factory.mktemp("sweep") / "hall")) as place:
        yield place, sweep.sweep(place, WORST, FEW, cores=1)
    clock.freeze(None)


@pytest.fixture
def still():
    clock.freeze(NOW)
    yield
    clock.freeze(None)


@pytest.fixture
def here(monkeypatch):
    """Pieces are worked in this very process; gives which."""
    done = []

    def local(task, spans, workers=None):
        for span in spans:
            done.append(span)
            yield span, crews.worked(task.function, task.data, span)[1]

    monkeypatch.setattr(crews, "local", local)
    return done


def test_a_sweep_gives_the_samples_of_the_engine_bit_by_bit(swept_hall):
    place, done = swept_hall
    plan = sweep.plan(place, WORST)
    assert done.folder == plan.kept.folder
    found, told = sweep.gathered(plan.kept, FEW)
    assert told == ()
    assert pieces.joined(found).tobytes() == plan.work.samples(plan.ids, 0, FEW).tobytes()
    assert (done.samples, done.kept, done.worked) == (FEW, 0, FEW)


def test_every_row_that_anybody_notices_has_an_interval_around_its_hours(swept_hall):
    _, done = swept_hall
    told = [one for row in done.found.table.rows if row.noticed for one in row.crossings]
    assert told
    assert all(one.low <= one.hours <= one.high for one in told)
    assert any(one.low < one.hours < one.high for one in told)


def test_the_same_question_again_takes_what_is_there(swept_hall, here):
    place, done = swept_hall
    again = sweep.sweep(place, WORST, FEW)
    assert here == []
    assert (again.kept, again.worked) == (FEW, 0)
    assert again.found.table == done.found.table
    assert again.findings == ()


def test_more_samples_work_only_what_is_missing_and_an_altered_piece_is_said(swept_hall, here):
    place, done = swept_hall
    kept = sweep.plan(place, WORST).kept
    file = kept.file((5, 10))
    sound = file.read_bytes()
    file.write_bytes(sound[:-2] + b"xx")
    more = sweep.sweep(place, WORST, FEW + 3)
    assert here == [(5, 10), (10, 15)]
    assert [one.code for one in more.findings] == ["sweep/altered"]
    assert file.read_bytes() == sound
    assert more.folder == done.folder


def test_the_sheet_shows_the_intervals_of_a_sweep_without_working_them_out(swept_hall):
    place, done = swept_hall
    found = time_in_hand.survey(place, WORST, ahead=False)
    assert found.table.intervals == "ready"
    first = {row.id: [(one.low, one.high) for one in row.crossings] for row in found.table.rows}
    samples = swept.finished(place.folder, sweep.plan(place, WORST).asked)[1]
    plan = sweep.plan(place, WORST)
    table = plan.work.with_intervals(plan.table, plan.ids, samples)
    assert first == {row.id: [(one.low, one.high) for one in row.crossings] for row in table.rows}
    assert done.folder.is_dir()


def test_a_sweep_of_another_plant_or_with_a_bad_piece_is_not_shown(swept_hall, tmp_path):
    place, _ = swept_hall
    asked = sweep.plan(place, WORST).asked
    assert swept.finished(place.folder, dataclasses.replace(asked, begin="now")) is None
    assert swept.finished(tmp_path, asked) is None
    assert swept.finished(place.folder, asked) is not None
    kept = sweep.plan(place, WORST).kept
    file = kept.file((0, 5))
    sound = file.read_bytes()
    file.write_bytes(sound[:-1])
    assert swept.finished(place.folder, asked) is None
    file.write_bytes(sound)


def test_the_record_is_there_as_json_and_as_csv_that_no_spreadsheet_takes_for_a_formula(swept_hall):
    _, done = swept_hall
    told = json.loads((done.folder / "result.json").read_text("utf-8"))
    assert told["sweep"]["samples"] >= FEW
    assert told["intervals"] == "ready"
    rows = list(csv.DictReader(io.StringIO((done.folder / "result.csv").read_text("utf-8"))))
    assert tuple(rows[0]) == sweep.COLUMNS
    assert {row["failure"] for row in rows} <= {one["id"] for one in told["failures"]}
    assert any("=Reef" in row["title"] for row in rows)
    assert not [cell for row in rows for cell in row.values() if cell.startswith(("=", "+", "-", "@"))]
    assert all(math.isfinite(float(row["low"])) for row in rows)


def test_a_sweep_from_now_that_was_broken_off_goes_on_with_its_hour(tmp_path, still, here, monkeypatch):
    with halls.open_hall(make(tmp_path / "hall")) as place:
        whole = crews.local

        def broken(task, spans, workers=None):
            yield from list(whole(task, spans[:1]))
            raise KeyboardInterrupt

        monkeypatch.setattr(crews, "local", broken)
        with pytest.raises(KeyboardInterrupt):
            sweep.sweep(place, None, 10)
        monkeypatch.setattr(crews, "local", whole)
        clock.freeze(NOW + dt.timedelta(hours=3))
        done = sweep.sweep(place, None, 10)
        assert done.kept == 5
        assert [one.code for one in done.findings] == ["sweep/goes-on"]
        assert "06:40" in done.findings[0].text or "06:00" in done.findings[0].text
        clock.freeze(NOW + dt.timedelta(hours=4))
        assert sweep.plan(place, time_told.Wanted()).kept.key != sweep.pieces.Kept(done.folder, "").key
        assert sweep.plan(place, time_told.Wanted()).findings == ()  # that one is whole: now is now again


@pytest.mark.soak
def test_a_cluster_of_three_workers_answers_like_this_machine_with_the_real_engine(tmp_path, still):
    import distributed

    with halls.open_hall(make(tmp_path / "hall")) as place:
        with distributed.LocalCluster(
            n_workers=3, threads_per_worker=1, host="127.0.0.1", dashboard_address=None
        ) as cluster:
            far = sweep.sweep(place, WORST, 60, on=cluster.scheduler_address)
        plan = sweep.plan(place, WORST)
        got = pieces.joined(sweep.gathered(plan.kept, 60)[0])
        assert got.tobytes() == plan.work.samples(plan.ids, 0, 60).tobytes()
        assert far.worked == 60


@pytest.mark.soak
def test_the_command_killed_with_kill_9_goes_on_with_the_real_engine(tmp_path):
    folder = make(tmp_path / "hall")
    command = [
        sys.executable,
        "-m",
        "brinehouse",
        "sweep",
        str(folder),
        "--from",
        "worst",
        "--samples",
        "2000",
    ]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as running:
        while running.poll() is None and len(list(folder.glob("sweeps/*/*.piece"))) <= 20:
            time.sleep(0.05)
        running.kill()
    again = subprocess.run([*command, "--json"], capture_output=True, text=True, env=os.environ)
    told = json.loads(again.stdout)["sweep"]
    assert told["kept"] > 100
    assert told["kept"] + told["worked"] == 2000
