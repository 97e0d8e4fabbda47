import numpy as np
import published
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import gases, gases_by_author, seawater
from brinehouse.science.constants import MMHG

CALCULATED = {
    "vapour": lambda temperature, salinity: gases.vapour_pressure(temperature, salinity) / MMHG,
    "vapour by Dickson 2007": lambda temperature, salinity: (
        gases_by_author.vapour_pressure_dickson_2007(temperature, salinity) / MMHG
    ),
    "oxygen Bunsen": gases_by_author.oxygen_bunsen_weiss_1970,
    "nitrogen Bunsen": gases_by_author.nitrogen_bunsen_weiss_1970,
    "argon Bunsen": gases_by_author.argon_bunsen_weiss_1970,
    "weight per metre": lambda temperature, salinity: seawater.weight_per_metre(temperature, salinity) / MMHG,
    "specific gravity": seawater.specific_gravity_from_salinity,
    "salinity by hydrometer": seawater.salinity_from_specific_gravity,
    "viscosity": seawater.viscosity,
    "salt mass": seawater.salt_mass,
    "oxygen by volume": lambda temperature, salinity: gases.micromoles_per_kilogram_to_milligrams_per_litre(
        gases.oxygen_at_saturation(temperature, salinity), temperature, salinity
    ),
}


def test_an_independent_calculation_from_the_same_papers_agrees():
    assert published.misses("independent_calculation", CALCULATED) == []


@pytest.mark.parametrize(
    ("module", "coefficients"),
    [
        (gases, "VAPOUR"),
        (gases_by_author, "WATER_CRITICAL"),
        (gases_by_author, "OSMOTIC"),
        (gases_by_author, "BUNSEN_OXYGEN"),
        (gases_by_author, "BUNSEN_NITROGEN"),
        (gases_by_author, "BUNSEN_ARGON"),
        (seawater, "VISCOSITY_SALT"),
        (seawater, "SALT"),
        (seawater, "SALT_ROOT"),
    ],
)
def test_one_per_cent_in_a_coefficient_is_seen(monkeypatch, module, coefficients):
    first, *others = getattr(module, coefficients)
    monkeypatch.setattr(module, coefficients, (first * 1.01, *others))
    assert published.misses("independent_calculation", CALCULATED) != []


@given(temperature=st.floats(0, 35), salinity=st.floats(0, 40))
def test_nitrogen_of_1970_is_always_the_lower_of_the_two(temperature, salinity):
    beta = gases_by_author.nitrogen_bunsen_weiss_1970(temperature, salinity)
    amount = beta * 0.78084 * (101325 - gases.vapour_pressure(temperature, salinity)) / 101325 / 22.404 * 1e9
    ratio = (
        amount / seawater.density(temperature, salinity) / gases.nitrogen_at_saturation(temperature, salinity)
    )
    assert 0.975 < float(ratio) < 1.0


def test_shapes_follow_the_inputs():
    for relation in (
        gases_by_author.oxygen_at_saturation_combined_fit,
        gases_by_author.oxygen_volume_at_saturation,
        gases_by_author.oxygen_at_saturation_benson_krause_1984,
        gases_by_author.argon_bunsen_weiss_1970,
        gases_by_author.carbon_dioxide_at_saturation_weiss_price_1980,
        gases_by_author.vapour_pressure_dickson_2007,
    ):
        assert relation(10, 35).shape == ()
        assert relation([[10], [20]], [33, 34, 35]).shape == (2, 3)
        assert np.isnan(float(relation(np.nan, 35)))
