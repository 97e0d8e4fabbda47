"""``warm``: ready, or told that there is no compiler."""

import json

from brinehouse.network.transients import running
from brinehouse.workbench import warming


def test_warming_says_that_it_is_ready(run, monkeypatch):
    monkeypatch.setattr(running, "warm", lambda: True)
    said = run("warm")
    assert said.status == 0
    assert said.out.startswith("ready (")
    assert json.loads(run("warm", "--json").out)["findings"] == []


def test_where_the_compiler_is_missing_it_is_told_and_nothing_is_wrong(run, monkeypatch):
    monkeypatch.setattr(running, "warm", lambda: False)
    said = run("warm")
    assert said.status == 0
    assert "numba is not installed" in said.out
    assert [one.code for one in warming.warm().findings] == ["warm/no-compiler"]
