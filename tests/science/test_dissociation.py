import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import dissociation

OCEAN = dissociation.constants(25.0, 35.0)
LOGS = dissociation.logarithms(25.0, 35.0)


@pytest.mark.parametrize(
    ("value", "printed", "within"),
    [
        (-np.log10(OCEAN.first), 5.84715, 5e-6),
        (-np.log10(OCEAN.second), 8.96595, 5e-6),
        (np.log(OCEAN.boric), -19.79640, 1e-4),  # Dickson (2007) prints -19.7964, from memory
        (np.log(OCEAN.bisulphate), -2.2996, 6e-5),
        (np.log(OCEAN.water), -30.4411, 6e-5),
        (np.log(OCEAN.water), -30.434, 0.01),  # Dickson (2007), from memory; another conversion of scale
        (-LOGS.aragonite / np.log(10), 6.18831, 5e-6),
        (-LOGS.calcite / np.log(10), 6.36933, 5e-6),
        (dissociation.activity_factor(25.0, 35.0), 0.71340, 5e-6),
    ],
)
def test_the_constants_of_ocean_water(value, printed, within):  # independent calculation where no name stands
    assert float(value) == pytest.approx(printed, abs=within)


@pytest.mark.parametrize(
    ("scale", "above"), [("nbs", 0.1370), ("free", 0.1077), ("sws", -0.0097), ("total", 0)]
)
def test_how_far_the_scales_of_ph_are_apart(scale, above):  # independent calculation
    carried = float(dissociation.ph_between_scales(8.0, "total", scale, 25.0, 35.0))
    assert carried - 8.0 == pytest.approx(above, abs=5e-5)


@given(
    ph=st.floats(2, 12),
    source=st.sampled_from(dissociation.SCALES),
    target=st.sampled_from(dissociation.SCALES),
    temperature=st.floats(0, 40),
    salinity=st.floats(5, 42),
)
def test_a_ph_comes_back_from_any_scale(ph, source, target, temperature, salinity):
    there = dissociation.ph_between_scales(ph, source, target, temperature, salinity)
    back = dissociation.ph_between_scales(there, target, source, temperature, salinity)
    assert float(back) == pytest.approx(ph, abs=1e-12)


def test_without_salt_total_free_and_seawater_scale_are_one():
    for scale in ("free", "sws"):
        assert float(dissociation.ph_between_scales(7.0, "total", scale, 20.0, 0.0)) == 7.0


def test_water_less_salty_than_none_counts_as_fresh():
    fresh, noise = dissociation.constants(20.0, 0.0), dissociation.constants(20.0, -0.01)
    assert float(noise.first) == float(fresh.first)
    assert float(noise.total_boron) == 0.0


def test_a_scale_that_is_none_is_said():
    with pytest.raises(ValueError, match="'seawater' is not a pH scale; write one of total, free, sws, nbs"):
        dissociation.ph_between_scales(8.0, "total", "seawater", 25.0, 35.0)
