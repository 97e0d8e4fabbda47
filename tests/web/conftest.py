"""Halls to visit, and a way for the tests of this folder to import their neighbours."""

import contextlib
import datetime as dt
import pathlib
import shutil
import socket
import sys
import threading
import time
import warnings

import pytest

sys.path.insert(0, str(pathlib.Path(__file__).parent))

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it would rather have a newer httpx; the one in the lock file serves
    from starlette.testclient import TestClient

NOW = dt.datetime(2026, 3, 14, 6, 40, tzinfo=dt.UTC)
FIVE = {
    "name": "Test Hall",
    "altitude": "412 m",
    "zone": "Europe/London",
    "tanks": "mangrove, 58 m3, 2.6 m\npipefish, 0.9 m3, 0.5 m",
    "meters": "meter-B: total gas pressure, oxygen, barometer, temperature",
}


def visiting(made, at="http://127.0.0.1", by="127.0.0.1"):
    """A visitor who follows nothing by itself and sees what a browser would see of a fault."""
    return TestClient(
        made, base_url=at, raise_server_exceptions=False, follow_redirects=False, client=(by, 50000)
    )


@pytest.fixture(scope="session", autouse=True)
def hours_when_asked():
    """Time in hand is worked out when a test asks for it, and its intervals are not."""
    from brinehouse.web import knowing

    knowing.HOURS_AHEAD = False
    knowing.PATIENCE = 600.0  # a loaded machine is no reason for another page


@pytest.fixture
def stopped_clock():
    """The clock stands still while a test runs."""
    from brinehouse.workbench import clock

    clock.freeze(NOW)
    yield NOW
    clock.freeze(None)


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory):
    """The invented hall, built once; read from it, never write to it."""
    from brinehouse.demo import building
    from brinehouse.workbench import clock

    folder = tmp_path_factory.mktemp("demo") / "hall"
    clock.freeze(NOW)
    building.build(folder, seed=1, end="2026-03-14 06:40")
    clock.freeze(None)
    return folder


@contextlib.contextmanager
def serving(made, **more):
    """An application on a free port of this machine, in a thread; gives its address."""
    import uvicorn

    line = socket.socket()
    line.bind(("127.0.0.1", 0))
    settings = uvicorn.Config(made, log_level="error", access_log=False, server_header=False, **more)
    server = uvicorn.Server(settings)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [line]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{line.getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(20)
        line.close()


@pytest.fixture(scope="session")
def served_demo(demo_folder):
    """A visitor to the invented hall's pages; GET only."""
    from brinehouse.web import app
    from brinehouse.workbench import clock

    clock.freeze(NOW)
    with visiting(app.create_app(demo_folder)) as visitor:
        yield visitor
    clock.freeze(None)


@pytest.fixture(scope="session")
def demo_address(served_demo):
    """The same application, with all that it has worked out by now, for a browser; GET only."""
    with serving(served_demo.app, lifespan="off") as at:
        yield at


@pytest.fixture
def demo(served_demo, stopped_clock):
    """The same, while the clock stands still."""
    return served_demo


@pytest.fixture
def nowhere(tmp_path, stopped_clock):
    """A visitor to an empty folder."""
    from brinehouse.web import app

    made = app.create_app(tmp_path / "hall")
    with visiting(made) as visitor:
        yield visitor


@pytest.fixture
def small(nowhere):
    """A visitor to a small hall of two tanks and one meter, made by the five questions."""
    assert nowhere.post("/begin", data=FIVE).status_code == 303
    return nowhere


@pytest.fixture
def copied_demo(demo_folder, tmp_path, stopped_clock):
    """A visitor to a copy of the invented hall that may be written to."""
    from brinehouse.web import app

    shutil.copytree(demo_folder, tmp_path / "copy")
    made = app.create_app(tmp_path / "copy")
    with visiting(made) as visitor:
        yield visitor


@pytest.fixture(scope="session")
def small_peopled(tmp_path_factory):
    """A small hall with one person of each role; the people stay as they are."""
    import peopled

    with peopled.visited(tmp_path_factory.mktemp("peopled") / "hall") as made:
        yield made


@pytest.fixture
def own_peopled(tmp_path):
    """The same for one test alone, whose people may be changed."""
    import peopled

    with peopled.visited(tmp_path / "hall") as made:
        yield made
