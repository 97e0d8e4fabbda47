"""The import contracts hold, and each one bites: a copy of the tree with one bad line is refused."""

import pathlib
import shutil
import subprocess
import sys

import pytest

ROOT = pathlib.Path(__file__).parents[2]
LINT = pathlib.Path(sys.executable).with_name("lint-imports")


def lint(folder):
    return subprocess.run(
        [LINT, "--no-cache", "--config", "pyproject.toml"],
        cwd=folder,
        capture_output=True,
        text=True,
        env={"PYTHONPATH": str(folder / "src"), "PATH": "/usr/bin:/bin"},
        check=False,
    )


@pytest.fixture(scope="module")
def tree(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tree")
    shutil.copytree(ROOT / "src", folder / "src", ignore=shutil.ignore_patterns("__pycache__", "static"))
    shutil.copy(ROOT / "pyproject.toml", folder)
    return folder


def test_every_import_points_downward(tree):
    result = lint(tree)
    assert result.returncode == 0, result.stdout


FAULTS = {
    "upward: science asks the facility": (
        "science/gases.py", "import brinehouse.facility.model", "Imports point downward"),
    "sideways: one engine asks another": (
        "engines/settling.py", "import brinehouse.engines.instruments", "Engines never lean"),
    "a database in an engine": ("engines/settling.py", "import sqlalchemy", "outside world"),
    "logging in the science floor": ("science/gases.py", "import logging", "outside world"),
    "chance in an engine": ("engines/settling.py", "import random", "outside world"),
    "a face asks an engine": ("cli/__init__.py", "import brinehouse.engines.settling", "Faces ask the"),
    "a face asks the store": ("web/__init__.py", "import brinehouse.logbook.store", "Faces ask the"),
    "the demo shares a law with what explains it": (
        "demo/generator.py", "import brinehouse.science.gases", "shares no law"),
    "a home without a floor": ("homeless.py", "x = 1", "Imports point downward"),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_bad_import_is_refused(tree, name):
    path, line, contract = FAULTS[name]
    target = tree / "src" / "brinehouse" / path
    before = target.read_bytes() if target.exists() else None
    try:
        target.write_bytes((before or b"") + f"\n{line}\n".encode())
        result = lint(tree)
    finally:
        if before is None:
            target.unlink()
        else:
            target.write_bytes(before)
    assert result.returncode != 0
    broken = [row for row in result.stdout.splitlines() if row.rstrip().endswith("BROKEN")]
    assert any(contract in row for row in broken), result.stdout


def test_a_ring_inside_a_package_is_refused(tree):
    one, two = tree / "src/brinehouse/workbench/ring_one.py", tree / "src/brinehouse/workbench/ring_two.py"
    try:
        one.write_text("import brinehouse.workbench.ring_two\n")
        two.write_text("import brinehouse.workbench.ring_one\n")
        result = lint(tree)
    finally:
        one.unlink()
        two.unlink()
    assert result.returncode != 0
    assert "No rings inside any package BROKEN" in result.stdout
