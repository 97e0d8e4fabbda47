"""Water as a keeper reads it."""

import numpy as np
import pytest
from tests.network.compartments import plants

from brinehouse.network.compartments import plant, water


def test_water_in_balance_with_the_air_reads_a_hundred_percent():
    rows = plants.made(plants.loop(), plants.shut("ab")).plant
    read = water.read(rows.places, rows.start, rows.transport.volumes, rows.station_pressure)["a"]
    assert read.oxygen_percent == pytest.approx(100.0, abs=1e-6)
    assert read.n2_ar == pytest.approx(100.0, abs=1e-6)
    assert read.tgp == pytest.approx(100.0, abs=0.06)  # carbon dioxide stands beside dry air's three here
    assert 7.9 < read.ph < 8.2


def test_what_has_no_rest_is_not_a_number_and_nothing_breaks():
    rows = plants.made(plants.loop(), plants.shut("ab")).plant
    x = rows.start.copy()
    x[plant.AT["alkalinity"]] = np.nan
    read = water.read(rows.places, x, rows.transport.volumes, rows.station_pressure)["a"]
    assert np.isnan(read.ph)
    assert np.isnan(read.ammonia)
    assert read.tgp == pytest.approx(100.0, abs=0.06)
