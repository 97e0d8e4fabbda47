"""What machines do to water on its way: air drawn in, columns, falls, chillers."""

import numpy as np
import pytest
from tests.network.compartments import plants

from brinehouse.network.compartments import conditions, devices, plant
from brinehouse.science import excess


def leaking(dissolved):
    extra = '[pump.p]\nname = "p"\nflow = "40 m3/h"\n'
    told = plants.shut("ab", leaks={"p": conditions.Leak(air=1.0, dissolved=dissolved)})
    return plants.made(plants.loop(extra=extra, through='through = ["p"]'), told).plant


@pytest.mark.parametrize("dissolved", [0.2, 0.6, 1.0])
def test_air_drawn_in_raises_gases_as_the_science_floor_says(dissolved):
    # rises of excess.air_leak_rise: derived there, 4.46 % and 8.77 % at 25.5 °C where all dissolves
    rows = leaking(dissolved)
    at = next(i for i, way in enumerate(rows.transport.passages) if "p" in way.parts)
    rise = excess.air_leak_rise(1.0, rows.station_pressure, 20.0, 34.0, dissolved)
    # nitrogen stands there with its argon, which is easier to dissolve: 0.65 % apart
    for gas, wanted, near in (("oxygen", rise.oxygen, 1e-4), ("nitrogen", rise.nitrogen, 1e-2)):
        held = rows.start[plant.AT[gas], 0]
        got = 100.0 * rows.machines.air[plant.ROW[gas], 0, at] / held
        assert got == pytest.approx(float(wanted), rel=near)


def test_what_does_not_dissolve_is_lost_and_nothing_else():
    rows = leaking(0.6)
    whole = leaking(1.0)
    assert np.allclose(rows.machines.air + rows.machines.lost, whole.machines.air)
    assert not whole.machines.lost.any()


def test_oxygen_leaves_a_bubble_before_nitrogen():
    oxygen, nitrogen = devices.dissolved_shares(0.3, 20.0, 34.0)
    assert oxygen > nitrogen > 0.0
    assert devices.dissolved_shares(0.0, 20.0, 34.0) == (0.0, 0.0)


def test_pressurised_oxygen_lifts_oxygen_and_strips_nitrogen():
    house = plants.loop(
        through='through = ["x"]', extra='[equipment.x]\nkind = "contactor"\nname = "oxygen cone"\n'
    )
    cone = conditions.Contact(
        effectiveness={"oxygen": 0.5, "nitrogen": 0.5, "argon": 0.5}, pressure=2e5, mixture={"oxygen": 1.0}
    )
    told = plants.shut("ab", contacts={"x": cone}, transfer={"a": 1e-3, "b": 1e-3})
    still = plants.made(house, told).steady()
    assert still["a"].oxygen_percent > 150.0
    assert still["a"].n2_ar < 95.0


def test_air_carried_under_can_lift_gas_no_higher_than_its_depth_allows():
    # excess.bubble_rise: 9.90 % for each metre at 25.5 °C; Colt (1984), eq. 54
    fall = conditions.Fall(depth=1.0, approach=1.0)
    still = plants.made(plants.loop(), plants.shut("ab", falls={"out": fall, "back": fall})).steady()
    most = float(excess.bubble_rise(1.0, 101325.0, 20.0, 34.0).total)
    assert still["a"].tgp == pytest.approx(100.0 + most, abs=0.3)
