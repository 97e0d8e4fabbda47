"""Parts of the machine that tests may need, and what happens where one is missing.

``make test`` runs what it can and names the missing parts last; ``BRINEHOUSE_PARTS=all`` makes each a
failure.
"""

import functools
import os
import pathlib
import shutil
import subprocess
import sys

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # as the command itself does, before NumPy is loaded

import hypothesis  # noqa: E402
import pytest  # noqa: E402

hypothesis.settings.register_profile("ours", deadline=None)  # how fast a machine is, is not ours to test
hypothesis.settings.load_profile("ours")

sys.path.append(str(pathlib.Path(__file__).parent))
import pg_server  # noqa: E402

CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")


def _namespaces() -> bool:
    """Network namespaces can be made here (root, iproute2, and a kernel that lets us)."""
    if shutil.which("ip") is None or os.geteuid() != 0:
        return False
    name = f"brine-probe-{os.getpid()}"
    made = subprocess.run(["ip", "netns", "add", name], capture_output=True).returncode == 0
    if made:
        subprocess.run(["ip", "netns", "del", name], capture_output=True)
    return made


PARTS = {
    "compiler": lambda: shutil.which("cc") is not None,
    "chromium": lambda: pathlib.Path(CHROMIUM).exists(),
    "namespaces": _namespaces,
    "postgresql": lambda: pg_server.programs() is not None,
}
_missing: dict[str, int] = {}


@functools.cache
def has(part: str) -> bool:
    """Whether this machine has the part."""
    return PARTS[part]()


def pytest_addoption(parser):
    parser.addoption("--run-soak", action="store_true", help="also run the long tests")


def pytest_collection_modifyitems(config, items):
    """Leave long runs to ``make soak``: elsewhere they are not collected, so nothing reads as skipped."""
    if config.getoption("--run-soak"):
        return
    kept, left = [], []
    for item in items:
        (left if item.get_closest_marker("soak") else kept).append(item)
    if left:
        config.hook.pytest_deselected(items=left)
        items[:] = kept


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item):
    for marker in item.iter_markers("part"):
        for part in marker.args:
            if has(part):
                continue
            if os.environ.get("BRINEHOUSE_PARTS") == "all":
                pytest.fail(
                    f"the part {part!r} is missing on this machine and BRINEHOUSE_PARTS=all asks for it"
                )
            item.user_properties.append(("missing part", part))
            pytest.skip(f"needs the part {part!r}")


def pytest_runtest_logreport(report):
    """Count missing parts from the reports, so that the sum is right with several workers too."""
    if report.when == "setup":
        for name, part in report.user_properties:
            if name == "missing part":
                _missing[part] = _missing.get(part, 0) + 1


def pytest_terminal_summary(terminalreporter):
    for part, count in sorted(_missing.items()):
        terminalreporter.write_line(
            f"missing part: {part}; {count} tests could not run here (.ci/run installs it)", yellow=True
        )


@pytest.fixture(scope="session")
def chromium_path():
    """Where the browser is."""
    return CHROMIUM


@pytest.fixture(scope="session")
def postgresql():
    """A PostgreSQL server of this worker's own, started at the first test that asks."""
    server = pg_server.Server()
    try:
        yield server.start()
    finally:
        server.close()


@pytest.fixture(scope="session")
def _database(postgresql):
    return pg_server.Place(postgresql)


@pytest.fixture
def on_server(_database):
    """A database on that server with the tables and no row: its `address`, `empty`, `behind` and `ask`."""
    _database.made()
    return _database


@pytest.fixture
def set_database(on_server, monkeypatch):
    """Halls of this test keep their logbook in that database."""
    monkeypatch.setenv("BRINEHOUSE_DATABASE", on_server.address)
    return on_server
