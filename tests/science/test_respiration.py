import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import respiration


def millimoles_per_hour(value):
    return float(value) * 3.6e6


def test_a_fish_of_a_hundred_grams_by_the_line_through_all():  # Clarke and Johnston (1999), abstract
    assert millimoles_per_hour(respiration.oxygen_use_common(0.100)) == pytest.approx(0.174494187, abs=1e-6)


def test_a_fish_at_thirty_degrees_uses_about_six_times_as_much_as_at_none():  # Clarke and Johnston (1999)
    ratio = float(respiration.oxygen_use(0.050, 30.0) / respiration.oxygen_use(0.050, 0.0))
    assert ratio == pytest.approx(6.1639726, abs=1e-6)
    assert ratio ** (1 / 3) == pytest.approx(1.83, abs=0.005)


def test_a_slope_with_the_wrong_sign_or_unit_is_seen(monkeypatch):
    monkeypatch.setattr(respiration, "SLOPE", 5.02)
    ratio = float(respiration.oxygen_use(0.050, 30.0) / respiration.oxygen_use(0.050, 0.0))
    assert ratio != pytest.approx(6.1639726, abs=1e-6)


def test_warming_one_animal_follows_its_own_species():  # Clarke and Johnston (1999), median 2.40
    assert float(respiration.oxygen_use_warmed(1.0, 15.0, 25.0)) == pytest.approx(2.40)
    assert float(respiration.oxygen_use_warmed(1.0, 20.0, 20.0)) == 1.0


def test_activity_multiplies_what_rest_takes():  # multipliers from memory
    rest = float(respiration.oxygen_use(0.2, 25.0))
    assert 1.5 <= respiration.ROUTINE <= 2 <= respiration.AFTER_FEEDING <= 3
    fed = float(respiration.oxygen_use(0.2, 25.0, activity=respiration.AFTER_FEEDING))
    assert fed == pytest.approx(2.5 * rest)


@given(mass=st.floats(1e-4, 300), more=st.floats(1.1, 10), temperature=st.floats(0, 30))
def test_a_larger_fish_uses_more_but_less_for_its_mass(mass, more, temperature):
    small, large = respiration.oxygen_use(np.array([mass, mass * more]), temperature)
    assert small < large < small * more


def test_carbon_dioxide_by_mass_at_a_quotient_of_one():  # stoichiometry
    grams = float(respiration.co2_from_oxygen(1 / 31.9988, 1.0)) * 44.0095
    assert grams == pytest.approx(1.375, abs=0.001)
    assert float(respiration.co2_from_oxygen(1.0)) == 0.9


def test_oxygen_for_feed_lies_in_the_common_range():  # common practice, from memory
    assert 0.25 <= float(respiration.oxygen_from_feed(1.0)) <= 0.5


def test_the_page_says_that_sharks_and_rays_were_not_measured():
    assert "shark" in (respiration.oxygen_use.__doc__ or "")


def test_no_animal_uses_nothing():
    assert float(respiration.oxygen_use(0.0, 20.0)) == 0.0
    assert float(respiration.oxygen_use_common(0.0)) == 0.0
