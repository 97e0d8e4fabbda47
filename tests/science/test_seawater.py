import gsw
import numpy as np
import published
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import seawater
from brinehouse.science.constants import IPTS68_PER_ITS90, SALT_PER_SALINITY

TEMPERATURE = st.floats(0, 35)
SALINITY = st.floats(0, 42)
SCALES = st.sampled_from(sorted(seawater.SCALES))

TABLES = {
    "density_unesco_44": {
        "density": lambda ipts68, salinity: seawater.density(ipts68 / IPTS68_PER_ITS90, salinity)
    },
    "density_teos_10": {"density": seawater.density},
    "salinity_pss_78": {
        "salinity": lambda conductivity, ipts68: seawater.salinity_from_conductivity(
            conductivity / 10, ipts68 / IPTS68_PER_ITS90
        ),
        "conductivity": lambda salinity, temperature: (
            10 * seawater.conductivity_from_salinity(salinity, temperature)
        ),
    },
    "hydrometer": {
        "salinity by 60F/60F": lambda reading, temperature: seawater.salinity_from_specific_gravity(
            reading, temperature, "60F/60F"
        )
    },
    "viscosity": {
        "viscosity": seawater.viscosity,
        "viscosity by Millero 1974": seawater.viscosity_millero_1974,
    },
    "heat_capacity": {"heat capacity": seawater.heat_capacity},
}


@pytest.mark.parametrize("name", TABLES)
def test_every_printed_value_is_reproduced(name):
    assert published.misses(name, TABLES[name]) == []


@pytest.mark.parametrize(
    ("coefficients", "name"),
    [
        ("WATER", "density_unesco_44"),
        ("SALT", "density_unesco_44"),
        ("SALT_ROOT", "density_unesco_44"),
        ("SALT", "density_teos_10"),
        ("VISCOSITY_WATER", "viscosity"),
        ("MILLERO_WATER", "viscosity"),
        ("MILLERO_ROOT", "viscosity"),
        ("MILLERO_SALT", "viscosity"),
    ],
)
def test_one_per_cent_in_a_coefficient_is_seen(monkeypatch, coefficients, name):
    ours = getattr(seawater, coefficients)
    monkeypatch.setattr(seawater, coefficients, tuple(1.01 * number for number in ours))
    assert published.misses(name, TABLES[name]) != []


def test_a_hydrometer_read_on_another_scale_is_two_salinities_out():
    wrong = {
        "salinity by 60F/60F": lambda reading, temperature: seawater.salinity_from_specific_gravity(
            reading, temperature, "25/25"
        )
    }
    assert len(published.misses("hydrometer", wrong)) == 4
    one = seawater.salinity_from_specific_gravity(1.025, 25.0, "25/25")
    other = seawater.salinity_from_specific_gravity(1.025, 25.0, "60F/60F")
    assert float(one) == pytest.approx(33.2, abs=0.05)  # independent calculation
    assert float(other) == pytest.approx(35.5, abs=0.1)  # independent calculation


@pytest.mark.parametrize(
    ("coefficients", "place", "misprint"),
    [("SALT", 0, 8.34493e-1), ("WATER", 5, 6.536336e-9)],
)
def test_coefficients_misprinted_in_a_copy_are_not_ours(monkeypatch, coefficients, place, misprint):
    ours = list(getattr(seawater, coefficients))
    assert ours[place] != misprint
    ours[place] = misprint
    monkeypatch.setattr(seawater, coefficients, tuple(ours))
    assert published.misses("density_unesco_44", TABLES["density_unesco_44"]) != []


def test_the_last_term_grows_with_the_square_of_salinity():
    # A copy has C S for C S²; together with 8.34493e-1 it is 0.22 kg/m3 low at salinity 35.
    copied = 4.8314e-4 * 35 - 4.8314e-4 * 35**2 + 0.01 * 35
    assert copied == pytest.approx(-0.22, abs=0.01)
    fresh, mid, full = (float(seawater.density(20.0, s)) for s in (0.0, 20.0, 40.0))
    assert full - 2 * mid + fresh == pytest.approx(
        2 * 400 * 4.8314e-4
        + (40**1.5 - 2 * 20**1.5) * np.polynomial.polynomial.polyval(20.0048, seawater.SALT_ROOT),
        abs=1e-4,
    )


def test_density_agrees_with_the_newer_equation_over_the_whole_range():
    temperature, salinity = np.meshgrid(np.linspace(0, 35, 36), np.linspace(0, 40, 41))
    newer = gsw.rho_t_exact(salinity * SALT_PER_SALINITY, temperature, 0.0)
    assert np.max(np.abs(seawater.density(temperature, salinity) - newer)) < 0.006


@given(temperature=TEMPERATURE, salinity=SALINITY, more=st.floats(0.01, 3))
def test_saltier_water_is_heavier_thicker_and_takes_less_heat(temperature, salinity, more):
    for relation, sign in ((seawater.density, 1), (seawater.viscosity, 1), (seawater.heat_capacity, -1)):
        assert sign * float(relation(temperature, salinity + more) - relation(temperature, salinity)) > 0


@given(temperature=st.floats(5, 35), salinity=SALINITY, more=st.floats(0.01, 3))
def test_warmer_water_is_lighter_and_thinner(temperature, salinity, more):
    assert seawater.density(temperature + more, salinity) < seawater.density(temperature, salinity)
    assert seawater.viscosity(temperature + more, salinity) < seawater.viscosity(temperature, salinity)


@given(temperature=TEMPERATURE, salinity=SALINITY, scale=SCALES, glass=st.sampled_from([0.0, 25e-6]))
def test_a_hydrometer_reading_and_its_salinity_are_two_ways_to_say_one_thing(
    temperature, salinity, scale, glass
):
    reading = seawater.specific_gravity_from_salinity(salinity, temperature, scale, glass)
    back = seawater.salinity_from_specific_gravity(reading, temperature, scale, glass)
    assert float(back) == pytest.approx(salinity, abs=1e-9)


@given(temperature=TEMPERATURE, salinity=SALINITY)
def test_conductivity_and_grams_give_the_salinity_back(temperature, salinity):
    conductivity = seawater.conductivity_from_salinity(salinity, temperature)
    assert float(seawater.salinity_from_conductivity(conductivity, temperature)) == pytest.approx(
        salinity, abs=1e-6
    )
    grams = seawater.grams_per_litre_from_salinity(salinity, temperature)
    assert float(seawater.salinity_from_grams_per_litre(grams, temperature)) == pytest.approx(
        salinity, abs=1e-10
    )


def test_water_that_hardly_conducts_is_fresh_and_a_missing_reading_is_not():
    got = seawater.salinity_from_conductivity([0.0, 1e-9, 1e-5, 1e-4, np.nan, -1.0], 20.0)
    assert np.isnan(got).tolist() == [False] * 4 + [True] * 2
    assert np.max(np.abs(got[:4])) < 1e-9
    assert np.isnan(float(seawater.salinity_from_conductivity(0.0, np.nan)))


def test_the_weighed_salt_makes_the_salinity_that_was_asked_for():
    volume, purity = 2.0, 0.9
    mass = float(seawater.salt_mass(volume, 33.0, 22.0, purity)) * purity
    water = float(seawater.density(22.0, 0.0)) * volume
    assert 1000 * mass / (mass + water) == pytest.approx(33.0 * SALT_PER_SALINITY, rel=1e-12)


def test_glass_matters_only_away_from_the_scales_own_temperature():
    at_home = [seawater.salinity_from_specific_gravity(1.026, 20.0, "20/20", glass) for glass in (0.0, 25e-6)]
    assert float(at_home[0]) == float(at_home[1])
    away = [seawater.salinity_from_specific_gravity(1.026, 28.0, "20/20", glass) for glass in (0.0, 25e-6)]
    assert float(away[0] - away[1]) == pytest.approx(1.026 * 8 * 25e-3 / 0.74, rel=0.05)


def test_a_scale_that_is_not_known_is_refused_with_those_that_are():
    with pytest.raises(ValueError, match="25/25"):
        seawater.salinity_from_specific_gravity(1.025, 25.0, "30/30")


def test_a_little_noise_below_zero_salinity_stays_a_number():
    assert float(seawater.density(20.0, -0.05)) == pytest.approx(float(seawater.density(20.0, 0.0)), abs=0.05)
    assert float(seawater.salinity_from_specific_gravity(0.9999, 20.0, "20/20")) < 0.0
    assert np.isfinite(float(seawater.viscosity_millero_1974(20.0, -0.05)))


def test_shapes_follow_the_inputs_and_a_missing_reading_stays_missing():
    for relation in (seawater.density, seawater.viscosity, seawater.heat_capacity, seawater.weight_per_metre):
        assert relation(10, 35).shape == ()
        assert relation([[10], [20]], [33, 34, 35]).shape == (2, 3)
        assert np.isnan(relation([np.nan, 10.0], 35.0)).tolist() == [True, False]
    grid = seawater.salinity_from_specific_gravity([[1.02], [1.025]], [20.0, np.nan], "20/20")
    assert np.isnan(grid).tolist() == [[False, True], [False, True]]
