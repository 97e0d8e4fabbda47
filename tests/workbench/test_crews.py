"""Whoever works a sweep's pieces gives the same: processes here or on a cluster, some of them killed."""

import contextlib
import json
import os
import pathlib
import signal
import subprocess
import sys
import threading
import time
import types

import pytest

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import light_pieces

from brinehouse.workbench import crews, mishaps, pieces, sweep

HERE = str(pathlib.Path(__file__).parent)
SAMPLES = 60


def task(**told):
    return crews.Task("light_pieces:piece", json.dumps(told).encode())


def kept_in(folder):
    made = pieces.Kept(folder, "k" * 64)
    made.note()
    return made


def serial(samples=SAMPLES):
    return light_pieces.piece(b"{}", 0, samples).tobytes()


def spans(samples=SAMPLES):
    return pieces.Kept(pathlib.Path(), "").spans(samples)


def codes(refused):
    return [one.code for one in refused.value.findings]


def waited(what, seconds=60.0):
    end = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < end, "waited too long"
        time.sleep(0.02)


# -- here ------------------------------------------------------------------------------------------------


def test_two_processes_of_which_one_is_killed_give_what_one_after_the_other_gives(tmp_path):
    found = dict(crews.local(task(dies=str(tmp_path / "died"), at=20), spans(), 2))
    assert (tmp_path / "died").exists()
    assert pieces.joined(found).tobytes() == serial()


def test_processes_that_always_die_are_told(tmp_path, monkeypatch):
    monkeypatch.setattr(crews, "AGAIN", 1)
    with pytest.raises(mishaps.Refused) as refused:
        list(crews.local(task(dies=str(tmp_path / "died"), always=True), spans(5), 1))
    assert codes(refused) == ["sweep/processes-die"]


RUN = """
import sys
sys.path.insert(0, {here!r})
import pathlib
from brinehouse.workbench import crews, pieces, sweep
if __name__ == "__main__":
    kept = pieces.Kept(pathlib.Path({folder!r}), "k" * 64)
    task = crews.Task("light_pieces:piece", {data!r})
    sweep.work(kept, task, {samples}, {{}}, cores=2)
"""


def test_a_run_killed_with_kill_9_goes_on_where_it_stopped_and_leaves_no_process_behind(tmp_path):
    kept = kept_in(tmp_path / "s")
    log = tmp_path / "log"
    program = tmp_path / "run.py"
    data = json.dumps({"wait": 0.15, "log": str(log)}).encode()
    program.write_text(RUN.format(here=HERE, folder=str(kept.folder), data=data, samples=SAMPLES))
    with subprocess.Popen([sys.executable, str(program)], start_new_session=True) as running:
        waited(lambda: len(list(kept.folder.glob("*.piece"))) >= 3)
        running.send_signal(signal.SIGKILL)
    workers = {int(line.split()[0]) for line in log.read_text().splitlines()}
    waited(lambda: not any(pathlib.Path(f"/proc/{one}").exists() for one in workers), 10.0)
    found, told = sweep.gathered(kept, SAMPLES)
    assert not told
    assert 3 <= len(found) < len(spans())
    again = tmp_path / "again"
    before = set(found)
    sweep.work(kept, task(log=str(again)), SAMPLES, found, cores=1)
    assert pieces.joined(found).tobytes() == serial()
    worked = {int(line.split()[1]) for line in again.read_text().splitlines()}
    assert worked == {begin for begin, _ in spans()} - {begin for begin, _ in before}


def test_an_altered_piece_is_found_by_its_hash_said_and_worked_anew(tmp_path):
    kept = kept_in(tmp_path)
    for span in spans():
        kept.write(span, light_pieces.piece(b"{}", *span))
    file = kept.file((10, 15))
    file.write_bytes(file.read_bytes()[:-3] + b"abc")
    found, told = sweep.gathered(kept, SAMPLES)
    assert [one.code for one in told] == ["sweep/altered"]
    assert "11 to 15" in told[0].text
    sweep.work(kept, task(), SAMPLES, found, cores=1)
    assert pieces.joined(found).tobytes() == serial()
    assert sweep.gathered(kept, SAMPLES)[1] == ()


# -- on a cluster ----------------------------------------------------------------------------------------


def test_without_the_library_the_way_to_it_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(mishaps.Refused) as refused:
        list(crews.cluster("tcp://127.0.0.1:9", task(), spans()))
    assert codes(refused) == ["sweep/no-cluster-library"]
    assert "pip install brinehouse[cluster]" in refused.value.findings[0].hint


def test_a_scheduler_that_does_not_answer_is_told_in_bounded_time():
    begun = time.monotonic()
    with pytest.raises(mishaps.Refused) as refused:
        list(crews.cluster("tcp://127.0.0.1:9", task(), spans(), patience=0.5))
    assert codes(refused) == ["sweep/no-scheduler"]
    assert time.monotonic() - begun < 20.0


def started(*arguments):
    path = os.pathsep.join([HERE, os.environ.get("PYTHONPATH", "")])
    return subprocess.Popen(
        [sys.executable, "-m", *arguments], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": path},
    )  # fmt: skip


def ended(some):
    for one in some:
        one.kill()
    for one in some:
        one.wait()


@pytest.fixture(scope="module")
def scheduler(tmp_path_factory):
    """Of a cluster on this machine; its address."""
    file = tmp_path_factory.mktemp("cluster") / "scheduler.json"
    running = started(
        "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
        "--no-jupyter", "--scheduler-file", str(file),
    )  # fmt: skip
    try:
        waited(lambda: file.exists() and file.read_text().strip().endswith("}"))
        yield json.loads(file.read_text())["address"]
    finally:
        ended([running])


@contextlib.contextmanager
def workers(at, many):
    """Processes that work for a scheduler."""
    some = [
        started(
            "distributed.cli.dask_worker", at, "--no-nanny", "--nthreads", "1", "--no-dashboard",
            "--host", "127.0.0.1", "--death-timeout", "60",
        )
        for _ in range(many)
    ]  # fmt: skip
    try:
        yield some
    finally:
        ended(some)


def all_there(scheduler, many):
    import distributed

    with distributed.Client(scheduler, set_as_default=False) as client:
        client.wait_for_workers(many, timeout=60.0)


def seen(log):
    """Processes that have worked a piece."""
    return {int(line.split()[0]) for line in log.read_text().splitlines()} if log.exists() else set()


def test_a_scheduler_without_workers_is_told(scheduler):
    with pytest.raises(mishaps.Refused) as refused:
        list(crews.cluster(scheduler, task(), spans(), patience=0.5))
    assert codes(refused) == ["sweep/no-workers"]


def test_three_workers_one_killed_midway_give_what_this_machine_gives(scheduler, tmp_path, monkeypatch):
    log = tmp_path / "log"
    told = task(wait=0.1, log=str(log))
    with workers(scheduler, 3) as some:
        all_there(scheduler, 3)
        killed = []

        def kill_one():
            waited(lambda: some[1].pid in seen(log))
            killed.append(some[1].pid)
            some[1].kill()

        killer = threading.Thread(target=kill_one)
        killer.start()
        many = 400
        found = dict(crews.cluster(scheduler, told, spans(many), patience=60.0))
        killer.join()
        assert killed
        assert seen(log) == {one.pid for one in some}
        assert pieces.joined(found).tobytes() == serial(many)
        with monkeypatch.context() as other:
            other.setattr(crews, "_version", types.SimpleNamespace(__version__="0.0.0"))
            with pytest.raises(mishaps.Refused) as refused:
                list(crews.cluster(scheduler, task(), spans()))
        assert codes(refused) == ["sweep/other-version"]
        ended(some)
        monkeypatch.setattr(crews, "_alike", lambda *_: None)
        crew = crews.cluster(scheduler, task(), spans(), without=1.0)
        with pytest.raises(mishaps.Refused) as refused:
            list(crew)
    assert codes(refused) == ["sweep/cluster-lost"]
