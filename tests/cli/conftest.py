"""One small hall, and a way to run a command in this process: status, what was said, what went wrong."""

import json
import pathlib
import re
from dataclasses import dataclass

import pytest

from brinehouse.cli import running

FACILITY = """
schema = 1

[facility]
name = "Test Hall"
altitude = "412 m"
timezone = "Europe/London"

[tank.mangrove]
volume = "58 m3"
depth = "2.6 m"

[tank.pipefish]
volume = "1.2 m3"

[point.mangrove-low]
at = "mangrove"
depth = "2.2 m"

[instrument.meter-B]
measures = ["total gas pressure", "oxygen"]
accuracy = ["0.7 %", "0.2 mg/L"]

[[limit]]
quantity = "total gas pressure"
at = "pipefish"
act = "above 102 %"
source = "house rule"
"""


@dataclass
class Said:
    """What a command answered."""

    status: int
    out: str
    err: str

    @property
    def json(self):
        return json.loads(self.out)


def details(said):
    """What a bug left in its file, so that the test shows it."""
    kept = pathlib.Path(re.search(r"send the file (\S+)", said)[1])
    text = kept.read_text("utf-8")
    kept.unlink()
    return text


@pytest.fixture
def run(capsys):
    def command(*arguments):
        status = running.run([str(argument) for argument in arguments])
        caught = capsys.readouterr()
        assert "Traceback" not in caught.out + caught.err
        assert "workbench/unforeseen" not in caught.err, details(caught.err)
        return Said(status, caught.out, caught.err)

    return command


@pytest.fixture(scope="session")
def facility():
    return FACILITY


@pytest.fixture
def hall(tmp_path):
    folder = tmp_path / "hall"
    folder.mkdir()
    (folder / "facility.toml").write_text(FACILITY, "utf-8")
    return folder
