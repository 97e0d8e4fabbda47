"""Halls to visit, and a way for the tests of this folder to import their neighbours."""

import datetime as dt
import pathlib
import shutil
import sys
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


def visiting(made, at="http://127.0.0.1"):
    """A visitor who follows nothing by itself and sees what a browser would see of a fault."""
    return TestClient(made, base_url=at, raise_server_exceptions=False, follow_redirects=False)


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


@pytest.fixture(scope="session")
def served_demo(demo_folder):
    """A visitor to the invented hall's pages; GET only."""
    from brinehouse.web import app
    from brinehouse.workbench import clock

    clock.freeze(NOW)
    with visiting(app.create_app(demo_folder)) as visitor:
        yield visitor
    clock.freeze(None)


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
