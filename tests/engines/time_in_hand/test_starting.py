"""The measured state, and how far it is from limits."""

import numpy as np
import pytest

from brinehouse.engines.time_in_hand import starting
from brinehouse.network.compartments import plant as plants
from brinehouse.network.compartments import water as waters

AIR = 97000.0
READ = {
    "temperature": 24.0, "salinity": 33.0, "oxygen": 6.1, "tgp": 103.0, "ph": 7.9, "alkalinity": 2100.0,
    "tan": 0.4, "nitrite": 0.1, "nitrate": 20.0,
}  # fmt: skip


def x_of(values=(25.0, 34.0, 200.0, 380.0, 10.0, 1900.0, 2250.0, 5.0, 1.0, 100.0, 0.0)):
    return np.array(values)[:, None]


def test_what_was_read_is_read_again_from_the_start():
    made = starting.measured(["t"], x_of(), {"t": READ}, AIR)
    water = waters.read(["t"], made, np.ones(1), AIR)["t"]
    told = {"oxygen": water.oxygen_mg} | {
        name: getattr(water, name) for name in READ if name != "oxygen"
    }  # fmt: skip
    for name, value in READ.items():
        assert told[name] == pytest.approx(value, rel=2e-3), name


def test_oxygen_in_percent_of_the_local_air_is_oxygen_too():
    made = starting.measured(["t"], x_of(), {"t": {"oxygen_percent": 80.0, "delta_p": 20.0}}, AIR)
    water = waters.read(["t"], made, np.ones(1), AIR)["t"]
    assert water.oxygen_percent == pytest.approx(80.0, abs=0.1)
    assert water.delta_p == pytest.approx(20.0 * 133.322, abs=5.0)


def test_a_warmer_reading_keeps_the_share_of_saturation():
    before = waters.read(["t"], x_of(), np.ones(1), AIR)["t"]
    made = starting.measured(["t"], x_of(), {"t": {"temperature": 20.0}}, AIR)
    after = waters.read(["t"], made, np.ones(1), AIR)["t"]
    assert after.oxygen_percent == pytest.approx(before.oxygen_percent, rel=2e-3)


def test_places_without_a_reading_stay_at_their_balance():
    x = np.repeat(x_of(), 2, axis=1)
    made = starting.measured(["t", "s"], x, {"t": READ}, AIR)
    assert np.array_equal(made[:, 1], x[:, 1])
    assert not np.array_equal(made[:, 0], x[:, 0])
    assert len(plants.SPECIES) == len(made)
