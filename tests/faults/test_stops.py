"""The real server told to stop under load, or short of memory or files: nothing is lost."""

import contextlib
import http.client
import json
import os
import resource
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.parse

import pytest

from brinehouse.logbook import store

FACILITY = """
schema = 1
[facility]
name = "Test Hall"
timezone = "UTC"
[tank.tank-1]
volume = "1 m3"
depth = "1 m"
"""
STOPS_IN = 10.0


@contextlib.contextmanager
def served(folder, **limits):
    """The server as people start it, with a limit of the system's where one is named."""
    folder.mkdir(exist_ok=True)
    (folder / "facility.toml").write_text(FACILITY, "utf-8")

    def held():
        for name, most in limits.items():
            resource.setrlimit(getattr(resource, name), (most, most))

    server = subprocess.Popen(
        [sys.executable, "-m", "brinehouse", "serve", str(folder), "--port", "0", "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=os.environ | {"OPENBLAS_NUM_THREADS": "1"},
        preexec_fn=held,
    )
    try:
        told = b""
        while b"}" not in told:
            line = server.stdout.readline()
            assert line, "the server did not begin"
            told += line
        yield server, urllib.parse.urlsplit(json.loads(told)["address"]).port
    finally:
        if server.poll() is None:
            server.kill()
        server.wait(20)
        server.stdout.close()


def write(port, number):
    """One reading by the form; its id once it was called saved, else None."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=15)
    given = {"place": "tank-1", "quantity": "temperature", "value": f"{20 + number % 50 / 10} °C", "by": "A"}
    try:
        line.request(
            "POST",
            "/log/new",
            urllib.parse.urlencode(given),
            {"content-type": "application/x-www-form-urlencoded"},
        )
        answer = line.getresponse()
        answer.read()
        return answer.headers["location"].rpartition("/")[2] if answer.status == 303 else None
    except (OSError, http.client.HTTPException):
        return None
    finally:
        line.close()


def stopped_under_load(folder, how=signal.SIGTERM):
    """What was called saved until the server had gone, and how long that took."""
    saved, ended = [], threading.Event()
    with served(folder) as (server, port):

        def work():
            number = 0
            while not ended.is_set():
                number += 1
                if (one := write(port, number)) is not None:
                    saved.append(one)

        threads = [threading.Thread(target=work) for _ in range(3)]
        for thread in threads:
            thread.start()
        while len(saved) < 12:
            time.sleep(0.02)
        begun = time.monotonic()
        server.send_signal(how)
        status = server.wait(60)
        took = time.monotonic() - begun
        ended.set()
        for thread in threads:
            thread.join()
    return set(saved), took, status


def there(folder):
    with store.open_logbook(folder) as book:
        assert book.verify() == []
        return {one.id for one in book.readings()}


def test_a_server_told_to_stop_under_load_ends_in_time_and_loses_nothing(tmp_path):
    saved, took, _ = stopped_under_load(tmp_path / "hall")
    print({"saved": len(saved), "took": took})
    assert not (tmp_path / "hall" / "logbook.sqlite-wal").exists(), "it ended cleanly"
    assert saved <= there(tmp_path / "hall")
    assert took <= STOPS_IN
    assert not json.loads((tmp_path / "hall" / "logbook.generation").read_text())["writing"]
    assert not saved | {"ff" * 16} <= there(tmp_path / "hall"), "the control: what was never saved is missed"


@pytest.mark.soak
@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT, signal.SIGKILL])
def test_a_server_stopped_ten_times_loses_nothing(tmp_path, how):
    saved = set()
    for _ in range(10):
        more, took, _ = stopped_under_load(tmp_path / "hall", how)
        saved |= more
        assert took <= STOPS_IN
        assert saved <= there(tmp_path / "hall")


@pytest.mark.soak
def test_a_server_out_of_files_recovers_and_loses_nothing(tmp_path):
    folder = tmp_path / "hall"
    with served(folder, RLIMIT_NOFILE=64) as (server, port):
        saved = {write(port, 1)}
        assert None not in saved
        held = []
        for _ in range(80):
            with contextlib.suppress(OSError):
                held.append(socket.create_connection(("127.0.0.1", port), timeout=1))
        during = [write_shortly(port) for _ in range(2)]
        for line in held:
            line.close()
        saved |= {one for one in during if one}
        end = time.monotonic() + 20
        while (one := write(port, 3)) is None and time.monotonic() < end:
            time.sleep(0.2)
        assert one is not None, "it did not recover"
        saved.add(one)
        assert server.poll() is None
        server.send_signal(signal.SIGTERM)
        server.wait(STOPS_IN)
    assert saved <= there(folder)


def write_shortly(port):
    line = socket.socket()
    line.settimeout(0.5)
    try:
        line.connect(("127.0.0.1", port))
        line.sendall(b"GET /now HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n")
        line.recv(10)
    except OSError:
        pass
    finally:
        line.close()


@pytest.mark.soak
@pytest.mark.parametrize("megabytes", [300, 500, 700, 900, 1200])
def test_a_server_short_of_memory_loses_nothing(tmp_path, megabytes):
    folder = tmp_path / "hall"
    saved = set()
    with contextlib.suppress(AssertionError), served(folder, RLIMIT_AS=megabytes << 20) as (_, port):
        for number in range(60):
            saved.add(write(port, number))
    saved.discard(None)
    if (folder / "logbook.sqlite").exists():
        assert saved <= there(folder)
    else:
        assert saved == set()
