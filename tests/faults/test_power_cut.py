"""Disks rebuilt as a power cut leaves them, from a trace of the real writer."""

import shutil

import pytest

pytestmark = pytest.mark.part("compiler")


@pytest.fixture(scope="module")
def trace(faultio, run, tmp_path_factory):
    """Runs the writer under the trace; returns its operations and how often it was not saved."""

    def record(commits, synchronous, *fault):
        """With a fault after which the writer is gone, another goes on from there."""
        root = tmp_path_factory.mktemp("cut")
        hall = root / "hall"
        hall.mkdir()
        watched = {"LD_PRELOAD": faultio, "FAULT_PATH": hall, "FAULT_TRACE": root / "trace"}
        refused = run("steady.py", hall, commits, synchronous, *fault, **watched)
        if "fsync-gone" in fault:
            run("steady.py", hall, commits, synchronous, **watched)
        return root / "trace", hall, refused

    return record


def faults(beside, recorded, model, count, seed, where):
    """What is wrong on disks rebuilt at `count` random moments."""
    power_cut, harness = beside("power_cut"), beside("harness")
    path, hall, _ = recorded
    found, asked = [], 0
    for moment, files, acknowledged in power_cut.images(power_cut.read_trace(path, hall), model, count, seed):
        folder = power_cut.lay_out(files, where / "disk")
        if fault := harness.check(folder, acknowledged):
            found.append((moment, fault))
        asked += bool(acknowledged)
        shutil.rmtree(folder)
    assert asked > count / 2  # most moments come after something was called saved
    return found


@pytest.fixture(scope="module")
def full(trace):
    return trace(120, "FULL")


@pytest.mark.parametrize("model", ["kill", "synced", "torn"])
def test_a_power_cut_loses_nothing_that_was_called_saved(beside, full, model, tmp_path):
    assert faults(beside, full, model, 60, 7, tmp_path) == []


def test_the_same_test_sees_the_loss_where_the_disk_is_not_asked_to_sync(beside, trace, tmp_path):
    """The control: with synchronous=NORMAL entries called saved must be lost, or the test is blind."""
    found = faults(beside, trace(120, "NORMAL"), "synced", 20, 7, tmp_path)
    assert len(found) > 10
    assert all(fault.startswith("lost") for _, fault in found)


@pytest.mark.parametrize("kind", ["fsync", "fsync-gone"])
def test_what_a_failed_sync_took_is_written_anew_before_anything_rests_on_it(beside, trace, kind, tmp_path):
    """The sync fails once, and the pages it lost count as clean: later syncs do not bring them back."""
    recorded = trace(30, "FULL", 3, kind)
    assert recorded[2] == 1
    assert faults(beside, recorded, "synced", 40, 7, tmp_path) == []
    assert faults(beside, recorded, "torn", 40, 8, tmp_path) == []


@pytest.mark.soak
@pytest.mark.parametrize("model", ["kill", "synced", "torn"])
@pytest.mark.parametrize("seed", range(5))
def test_thousands_of_power_cuts_lose_nothing(beside, trace, model, seed, tmp_path):
    assert faults(beside, trace(300, "FULL"), model, 400, seed, tmp_path) == []


@pytest.mark.soak
@pytest.mark.parametrize("kind", ["fsync", "fsync-gone"])
@pytest.mark.parametrize("at", range(1, 40))
def test_any_failed_sync_is_made_good(beside, trace, at, kind, tmp_path):
    recorded = trace(40, "FULL", at, kind)
    for model in ("synced", "torn"):
        assert faults(beside, recorded, model, 120, at, tmp_path) == []
