"""A disk that is full or failing: nothing called saved is lost, and the writing goes on."""

import json

import pytest

pytestmark = pytest.mark.part("compiler")

KINDS = ("enospc", "eio", "edquot", "short", "fsync")
EVER = 1_000_000


def results(run, faultio, plan, tmp_path):
    environment = {"LD_PRELOAD": faultio, "FAULT_PATH": "logbook.sqlite", "TMPDIR": tmp_path}
    found = run("disk_faults.py", json.dumps(plan), **environment)
    assert [result for result in found if result["wrong"]] == []
    return found


def test_a_write_that_fails_is_never_called_saved(run, faultio, tmp_path):
    plan = [[kind, at, lasting, False] for kind in KINDS for at in (1, 7, 23) for lasting in (1, EVER)]
    found = results(run, faultio, plan, tmp_path)
    assert sum(result["hit"] for result in found) > len(plan) * 0.8
    # a fault that lasts stops the saving; one that passes does not
    stuck = [r for r in found if r["hit"] and r["for"] == EVER and r["kind"] in ("enospc", "eio", "edquot")]
    assert stuck
    assert not any(result["went on"] for result in stuck)
    assert all(result["went on"] for result in found if result["for"] == 1)


def test_a_disk_that_fails_at_the_opening_is_said_and_loses_nothing(run, faultio, tmp_path):
    plan = [[kind, at, lasting, True] for kind in ("enospc", "eio") for at in (1, 4) for lasting in (1, EVER)]
    found = results(run, faultio, plan, tmp_path)
    assert all(result["went on"] == (result["for"] == 1) for result in found)


@pytest.mark.soak
@pytest.mark.parametrize("early", [False, True])
@pytest.mark.parametrize("kind", KINDS)
def test_any_write_may_fail(run, faultio, kind, early, tmp_path):
    plan = [[kind, at, lasting, early] for at in range(1, 160) for lasting in (1, 2, EVER)]
    results(run, faultio, plan, tmp_path)
