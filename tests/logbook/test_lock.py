"""One writer at a time, and it says who it is."""

import os
import stat
import subprocess
import sys
import time

import pytest

from brinehouse.logbook import kept, lock, store


def test_nobody_owns_a_folder_that_nobody_writes(tmp_path):
    assert lock.owner(tmp_path) is None
    lock.take(tmp_path).release()
    assert lock.owner(tmp_path) is None


def test_the_lock_lets_in_one_at_a_time(tmp_path):
    held = lock.take(tmp_path)
    with pytest.raises(kept.Busy) as busy:
        lock.take(tmp_path, wait=0.02)
    assert busy.value.finding.code == "logbook/being-written"
    held.release()
    held.release()
    lock.take(tmp_path, wait=0.02).release()


def test_a_server_says_where_it_takes_batches_and_only_its_user_reads_the_token(tmp_path):
    held = lock.take(tmp_path)
    token = held.announce("127.0.0.1", 8750)
    assert lock.owner(tmp_path) == lock.Owner(os.getpid(), "127.0.0.1", 8750, token)
    assert len(token) >= 40
    assert stat.S_IMODE((tmp_path / lock.TOKEN).stat().st_mode) == 0o600
    with pytest.raises(kept.Busy) as busy:
        lock.take(tmp_path, wait=0)
    assert "127.0.0.1:8750" in busy.value.finding.text
    assert token not in str(busy.value.finding.as_json())
    held.release()
    assert not (tmp_path / lock.TOKEN).exists()
    assert lock.owner(tmp_path) is None


def test_what_a_dead_server_said_is_not_believed(tmp_path):
    program = (
        "import os, pathlib, sys; from brinehouse.logbook import lock;"
        "lock.take(pathlib.Path(sys.argv[1])).announce('127.0.0.1', 1); os._exit(9)"
    )
    assert subprocess.run([sys.executable, "-c", program, str(tmp_path)]).returncode == 9
    assert (tmp_path / lock.OWNER).exists()
    assert lock.owner(tmp_path) is None
    lock.take(tmp_path, wait=0).release()


def test_an_owner_that_says_nothing_readable_is_still_an_owner(tmp_path):
    held = lock.take(tmp_path)
    (tmp_path / lock.OWNER).write_text("half a line")
    assert lock.owner(tmp_path) == lock.Owner(0)
    held.release()


def test_two_open_logbooks_take_turns(folder, reading):
    with store.open_logbook(folder, create=True) as one, store.open_logbook(folder) as two:
        for i in range(0, 20, 2):
            one.append([reading(i)])
            two.append([reading(i + 1)])
        assert len(one.readings()) == len(two.readings()) == 20
        assert one.verify(two.head()) == []


def test_a_command_finds_the_server_instead_of_writing_beside_it(folder, reading):
    with store.open_logbook(folder, create=True) as server:
        token = server.hold("127.0.0.1", 8750)
        server.append([reading(1)])
        time.sleep(0.1)  # longer than an idle writer keeps the lock
        with store.open_logbook(folder, wait=0.05) as command:
            assert command.readings() == [reading(1)]
            with pytest.raises(kept.Busy):
                command.append([reading(2)])
        assert lock.owner(folder).token == token
    assert lock.owner(folder) is None


def test_a_second_server_is_refused_and_may_still_read(folder):
    with store.open_logbook(folder, create=True) as first, store.open_logbook(folder, wait=0.05) as second:
        first.hold("127.0.0.1", 8750)
        with pytest.raises(kept.Busy):
            second.hold("127.0.0.1", 8751)
        assert second.readings() == []
        assert lock.owner(folder).port == 8750
