"""Constants that are followed from slopes are those of `science`."""

import numpy as np
import pytest
from tests.network.transients import uncompiled

from brinehouse.science import carbonate, dissociation, exchange, gases, nitrogen, respiration, seawater
from brinehouse.science.constants import ATM, ZERO_CELSIUS

waters = uncompiled.load().waters
WATERS = [(24.0, 34.0), (3.0, 34.0), (33.0, 41.0), (22.0, 8.0), (26.5, 35.2)]


def by_science(warm, salt):
    """All rows, by the functions of `science`."""
    dry = ATM - float(gases.vapour_pressure(warm, salt))
    acids = dissociation.constants(warm, salt)
    ratio = float(acids.free_to_total)
    return np.array([
        float(gases.oxygen_at_saturation(warm, salt)) / dry,
        float(gases.nitrogen_at_saturation(warm, salt)) / dry,
        float(gases.argon_at_saturation(warm, salt)) / dry,
        float(gases.carbon_dioxide_solubility(warm, salt)) * 1e6 / ATM,
        float(gases.vapour_pressure(warm, salt)),
        float(exchange.transfer_coefficient(1.0, warm)),
        np.exp(-respiration.SLOPE / (warm + ZERO_CELSIUS)),
        float(acids.first) * 1e6,
        float(acids.first * acids.second) * 1e12,
        float(acids.boric) * 1e6,
        float(acids.water) * 1e12,
        float(acids.bisulphate) * ratio * 1e6,
        float(acids.fluoride) * ratio * 1e6,
        ratio,
        10.0 ** -float(nitrogen.ammonium_clegg_whitfield(warm, salt)) * 1e6,
        float(seawater.density(warm, salt)),
    ])  # fmt: skip


def expanded(warm, salt):
    tables, about = np.zeros((waters.MANY, 6, 1)), np.zeros((2, 1))
    waters.expand(tables, about, 0, warm, salt, np.zeros((6, waters.MANY)))
    return tables, about


def followed(tables, about, warm, salt):
    known = np.zeros((waters.MANY, 1))
    water = np.array([[warm], [salt], [warm - about[0, 0]], [max(salt, 0.0) - about[1, 0]]])
    waters.follow(tables, water, 0, waters.MANY, 1, known)
    return known


@pytest.mark.parametrize(("warm", "salt"), WATERS)
def test_every_constant_is_that_of_science(warm, salt):
    known = followed(*expanded(warm, salt), warm, salt)
    np.testing.assert_allclose(known[:, 0], by_science(warm, salt), rtol=1e-12)


@pytest.mark.parametrize(("warm", "salt"), WATERS)
def test_water_a_little_warmer_and_saltier_is_followed_to_what_a_step_is_allowed(warm, salt):
    there = warm + waters.HELD, salt * (1.0 - waters.HELD / 35.0)
    known = followed(*expanded(warm, salt), *there)
    off = np.abs(known[:, 0] / by_science(*there) - 1.0)
    few = [waters.SULPHATE, waters.FLUORIDE, waters.FREE]  # together a millionth of the charges of sea water
    assert off[few].max() < 2e-6
    assert np.delete(off, few).max() < 1e-7


def test_a_constant_that_is_not_followed_shows():
    known = followed(*expanded(24.0, 34.0), 24.25, 34.0)
    off = np.abs(known[:, 0] / by_science(24.0, 34.0) - 1.0)
    assert off[: waters.FREE].min() > 1e-4


def settled(alkalinity, carbon, hydrogen):
    acid = np.array([hydrogen, 1.0, 1.0, 0.0, 0.0, 0.0])
    known = followed(*expanded(24.0, 34.0), 24.0, 34.0)
    for _ in range(2):  # the second time from where it was found
        waters.settle(known, 0, 34.0, alkalinity, carbon, acid)
    return known, acid


@pytest.mark.parametrize("start", [1e-4, 0.01, 10.0])
def test_hydrogen_is_found_from_any_start_and_is_that_of_science(start):
    for alkalinity, carbon in ((2350.0, 2080.0), (1200.0, 1900.0), (30.0, 900.0), (2400.0, 1300.0)):
        _, acid = settled(alkalinity, carbon, start)
        assert 6.0 - np.log10(acid[0]) == pytest.approx(
            float(carbonate.ph_of(alkalinity, carbon, 24.0, 34.0)), abs=1e-8
        )
        assert acid[5] == pytest.approx(float(carbonate.co2_of(alkalinity, carbon, 24.0, 34.0)), rel=1e-7)


def test_free_carbon_dioxide_rises_with_carbon_and_falls_with_alkalinity_as_differences_say():
    def free(alkalinity, carbon):
        return settled(alkalinity, carbon, 0.01)[1][5]

    known, acid = settled(2350.0, 2080.0, 0.01)
    with_carbon, with_charge = waters.free_slopes(known, 0, acid)
    assert with_carbon == pytest.approx((free(2350.0, 2081.0) - free(2350.0, 2079.0)) / 2.0, rel=1e-4)
    assert with_charge == pytest.approx((free(2351.0, 2080.0) - free(2349.0, 2080.0)) / 2.0, rel=1e-4)


def test_free_carbon_dioxide_rises_with_warmth_and_salt_as_differences_say():
    tables, _ = expanded(24.0, 34.0)
    known, acid = settled(2350.0, 2080.0, 0.01)
    for by, ends in ((1, ((24.01, 34.0), (23.99, 34.0))), (2, ((24.0, 34.01), (24.0, 33.99)))):
        high, low = (float(carbonate.co2_of(2350.0, 2080.0, *end)) for end in ends)
        found = waters.free_by_water(tables, known, 0, 34.0, acid, by)
        assert found == pytest.approx((high - low) / 0.02, rel=2e-2)
