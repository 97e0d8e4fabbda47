"""The demo's own relations against printed values, so that its water is like water."""

import numpy as np
import pytest

from brinehouse.demo import water

# Bunsen coefficients, Weiss (1970), Deep-Sea Research 17, 721-735; L/L/atm; from memory of his tables
PRINTED = [
    ("oxygen", 25.0, 35.0, 0.023290),
    ("nitrogen", 25.0, 35.0, 0.011607),
    ("oxygen", 20.0, 0.0, 0.031047),
    ("nitrogen", 20.0, 0.0, 0.015595),
]


@pytest.mark.parametrize(("gas", "temperature", "salinity", "printed"), PRINTED)
def test_gas_dissolves_as_much_as_the_printed_table_says(gas, temperature, salinity, printed):
    assert water.bunsen(gas, temperature, salinity) == pytest.approx(printed, abs=0.00001)


def test_another_salinity_is_told_apart_by_the_same_check():
    assert water.bunsen("oxygen", 25.0, 33.0) != pytest.approx(0.023290, abs=0.00001)


def test_vapour_over_salt_water_is_near_the_printed_value():
    # Weiss and Price (1980), Marine Chemistry 8, 347-359, eq. 10: 24.0016 mmHg at S 35, 25.5 °C
    assert water.vapour(25.5, 35.0) == pytest.approx(24.0, abs=0.1)


def test_warmer_and_saltier_water_holds_less():
    assert np.all(np.diff(water.bunsen("oxygen", np.linspace(5.0, 30.0, 6), 34.0)) < 0.0)
    assert np.all(np.diff(water.bunsen("nitrogen", 20.0, np.linspace(0.0, 35.0, 6))) < 0.0)


def test_air_that_dissolves_whole_presses_more_by_nitrogen_than_air_in_balance():
    def ratio(fraction):
        oxygen, inert = water.air_shares(fraction, 25.5, 34.2)
        assert oxygen + inert == pytest.approx(1.0)
        return (inert / water.INERT_IN_AIR) / (oxygen / water.OXYGEN_IN_AIR)

    assert ratio(0.0) == pytest.approx(1.0, abs=0.01)
    assert 1.9 < ratio(1.0) < 2.05  # 1.97 by Henry's law at S 35, 25.5 °C: an independent calculation
    assert ratio(0.0) < ratio(0.5) < ratio(1.0)
