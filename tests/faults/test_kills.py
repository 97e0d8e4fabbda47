"""kill -9 of the real writer: what was called saved is there, once, in a whole chain."""

import pytest


def proved(result, writes, kills):
    print(result)
    assert result["wrong"] == []
    assert result["kills"] >= kills
    assert result["acknowledged"] >= writes
    assert result["stored"] >= result["acknowledged"]
    assert result["restart"] <= 2.0


def test_two_thousand_writes_and_ten_kills_lose_nothing(run):
    proved(run("kills.py", 2_000, 10, 20260301), 2_000, 10)


@pytest.mark.soak
def test_ten_thousand_writes_and_fifty_kills_lose_nothing(run):
    proved(run("kills.py", 10_000, 50, 20260301), 10_000, 50)


@pytest.mark.soak
@pytest.mark.parametrize("seed", range(10))
def test_a_thousand_kills_lose_nothing(run, seed):
    proved(run("kills.py", 20_000, 100, seed), 20_000, 100)


def test_the_check_after_a_kill_bites(beside, tmp_path):
    harness = beside("harness")
    assert harness.check(tmp_path, set()) is None
    assert harness.check(tmp_path, {"r0000001"}).startswith("lost: all")
    with harness.store.open_logbook(tmp_path, create=True) as book:
        book.append([harness.reading(1)])
    assert harness.check(tmp_path, {"r0000001"}) is None
    assert harness.check(tmp_path, {"r0000001", "r0000002"}) == "lost: 1, first r0000002"
    file = tmp_path / "logbook.sqlite"
    file.write_bytes(file.read_bytes().replace(b"tank-1", b"tank-2"))
    assert "entry 1 is not as it was written" in harness.check(tmp_path, {"r0000001"})
