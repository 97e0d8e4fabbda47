"""Start-up is light: nothing heavy is imported before it is used.

The budgets themselves (60 ms, 150 ms) are timed in ``benchmarks``; here the cause is tested, which does not
depend on how busy the machine is.
"""

import json
import subprocess
import sys

import pytest

HEAVY = {"numpy", "scipy", "gsw", "sqlalchemy", "alembic", "fastapi", "starlette", "pydantic", "duckdb",
         "jinja2", "openpyxl", "python_calamine", "tomlkit", "uvicorn"}  # fmt: skip


def imported(code):
    script = f"import sys, json\n{code}\nprint(json.dumps(sorted({{m.split('.')[0] for m in sys.modules}})))"
    result = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return set(json.loads(result.stdout.splitlines()[-1]))


@pytest.mark.parametrize("code", [
    "import brinehouse",
    "import brinehouse.__main__",
    "import brinehouse.units, brinehouse.findings, brinehouse.answers, brinehouse.records",
])  # fmt: skip
def test_nothing_heavy_is_imported_at_start(code):
    assert imported(code) & HEAVY == set()


def test_the_check_sees_a_heavy_import():
    assert imported("import brinehouse, numpy") & HEAVY == {"numpy"}


@pytest.mark.parametrize("verb", ["words", "check {folder}", "init {folder}/new {five}"])
def test_what_needs_no_logbook_loads_no_database_and_no_numpy(tmp_path, verb):
    (tmp_path / "facility.toml").write_text('schema = 1\n[facility]\nname = "H"\ntimezone = "UTC"\n')
    five = "--name=H --altitude=1m --zone=UTC --tank=reef,1m3 --meter=m:oxygen"
    words = verb.format(folder=tmp_path, five=five).split()
    assert imported(f"from brinehouse.cli import running\nrunning.run({words!r})") & HEAVY == set()
