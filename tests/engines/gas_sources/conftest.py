"""A way for the tests of this folder to import their neighbour."""

import functools
import pathlib
import sys

import pytest

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import small_plant

from brinehouse.engines import gas_sources


@functools.cache
def _leaking():
    given = small_plant.given()
    return given, gas_sources.survey(given)


@pytest.fixture
def leaking():
    """A plant whose P-2 draws air in, and the survey's answer."""
    return _leaking()
