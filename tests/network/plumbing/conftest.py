"""The layout of a small plant after changes to its text."""

import pathlib
import sys

import pytest

from brinehouse.facility import reading
from brinehouse.network import plumbing

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import piped_hall


@pytest.fixture
def lay():
    """Layout of the hall after changes to its text; more words go to `stations`."""

    def made(*changes, **more):
        checked = reading.read(piped_hall.edited(*changes))
        assert checked.facility is not None, [str(one) for one in checked.findings]
        return plumbing.stations(checked.facility, **more)

    return made


@pytest.fixture
def codes():
    return lambda layout: [one.code for one in layout.findings]
