"""Building the fault library and starting the programs beside this file."""

import json
import os
import pathlib
import subprocess
import sys

import pytest

HERE = pathlib.Path(__file__).parent
PROGRAMS = (
    "crowd",
    "disk_faults",
    "harness",
    "kills",
    "mangle",
    "migration_kills",
    "power_cut",
    "server_stops",
    "steady",
)
collect_ignore = [f"{name}.py" for name in PROGRAMS]


@pytest.fixture(scope="session")
def faultio(tmp_path_factory):
    """The library that traces and breaks writes, built once."""
    library = tmp_path_factory.mktemp("faultio") / "faultio.so"
    built = subprocess.run(
        ["cc", "-O2", "-Wall", "-shared", "-fPIC", "-o", library, HERE / "faultio.c", "-ldl"],
        capture_output=True,
        text=True,
    )
    assert built.returncode == 0, built.stderr
    return library


@pytest.fixture(scope="session")
def run():
    """Start one of the programs; returns what it printed, read as JSON."""

    def start(program, *arguments, **environment):
        done = subprocess.run(
            [sys.executable, HERE / program, *map(str, arguments)],
            capture_output=True,
            text=True,
            timeout=600,
            env=os.environ | {"OPENBLAS_NUM_THREADS": "1"} | {k: str(v) for k, v in environment.items()},
        )
        assert done.returncode == 0, done.stderr[-2000:]
        return json.loads(done.stdout)

    return start


@pytest.fixture(scope="session")
def beside():
    """A module of this folder, by name."""
    import importlib

    def load(name):
        sys.path.insert(0, str(HERE))
        try:
            return importlib.import_module(name)
        finally:
            sys.path.remove(str(HERE))

    return load
