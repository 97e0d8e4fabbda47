import gsw
import numpy as np
import published
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import gases, gases_by_author, seawater
from brinehouse.science.constants import (
    ARGON_MOLAR_MASS,
    ATM,
    IPTS68_PER_ITS90,
    MMHG,
    NITROGEN_MOLAR_MASS,
    OXYGEN_GRAMS_PER_LITRE,
    OXYGEN_MOLAR_MASS,
)

TEMPERATURE = st.floats(0, 35)
SALINITY = st.floats(0, 40)
GRID = np.meshgrid(np.linspace(-1.5, 40, 80), np.linspace(0, 42, 43))


def by_1968(relation):
    """The same relation for a temperature on the scale of 1968."""
    return lambda ipts68, salinity: relation(ipts68 / IPTS68_PER_ITS90, salinity)


def by_weight(relation, molar_mass):
    return lambda temperature, salinity: relation(temperature, salinity) * molar_mass / 1000.0


def nitrogen_weiss(temperature, salinity):
    """mg/kg from a Bunsen coefficient: 22.404 litres of nitrogen to the mole."""
    beta = gases_by_author.nitrogen_bunsen_weiss_1970(temperature, salinity)
    dry = 1.0 - gases.vapour_pressure(temperature, salinity) / ATM
    return beta * 0.78084 * dry / 22.404 * 1e6 / seawater.density(temperature, salinity) * NITROGEN_MOLAR_MASS


def moist_over_parts(temperature, salinity):
    dry = 1.0 - gases.vapour_pressure(temperature, salinity) / ATM
    parts = gases.carbon_dioxide_solubility(temperature, salinity) * dry * gases.fugacity_factor(temperature)
    return gases_by_author.carbon_dioxide_at_saturation_weiss_price_1980(temperature, salinity) / parts


TABLES = {
    "oxygen_garcia_gordon_1992": {
        "oxygen": by_1968(gases.oxygen_at_saturation),
        "oxygen volume": by_1968(gases_by_author.oxygen_volume_at_saturation),
    },
    "inert_hamme_emerson_2004": {
        "nitrogen": gases.nitrogen_at_saturation,
        "argon": gases.argon_at_saturation,
    },
    "air_in_seawater_25c": {
        "nitrogen by weight, Weiss 1970": nitrogen_weiss,
        "oxygen by weight": by_weight(gases.oxygen_at_saturation, OXYGEN_MOLAR_MASS),
        "argon by weight": by_weight(gases.argon_at_saturation, ARGON_MOLAR_MASS),
    },
    "oxygen_en_25814": {
        "oxygen by Benson and Krause": gases_by_author.oxygen_at_saturation_benson_krause_1984
    },
    "oxygen_gsw": {"oxygen": gases.oxygen_at_saturation},
    "vapour_iapws_97": {
        "vapour": lambda temperature: gases.vapour_pressure(temperature, 0.0),
        "vapour by Dickson 2007": lambda temperature: gases_by_author.vapour_pressure_dickson_2007(
            temperature, 0.0
        ),
        "vapour by Ambaum 2020": gases_by_author.vapour_pressure_ambaum_2020,
    },
    "carbon_dioxide_weiss_1974": {
        "logarithm of K0": lambda temperature, salinity: np.log(
            gases.carbon_dioxide_solubility(temperature, salinity)
        ),
        "K0": gases.carbon_dioxide_solubility,
        "fugacity factor": gases.fugacity_factor,
        "F over its parts": moist_over_parts,
    },
}


@pytest.mark.parametrize("name", TABLES)
def test_every_printed_value_is_reproduced(name):
    assert published.misses(name, TABLES[name]) == []


@pytest.mark.parametrize(
    ("module", "coefficients", "name"),
    [
        (gases, "OXYGEN_WARMTH", "oxygen_garcia_gordon_1992"),
        (gases, "OXYGEN_SALT", "oxygen_garcia_gordon_1992"),
        (gases, "NITROGEN_WARMTH", "inert_hamme_emerson_2004"),
        (gases, "NITROGEN_SALT", "inert_hamme_emerson_2004"),
        (gases, "ARGON_WARMTH", "inert_hamme_emerson_2004"),
        (gases, "ARGON_SALT", "inert_hamme_emerson_2004"),
        (gases, "VAPOUR", "vapour_iapws_97"),
        (gases, "CARBON_DIOXIDE", "carbon_dioxide_weiss_1974"),
        (gases, "CARBON_DIOXIDE_SALT", "carbon_dioxide_weiss_1974"),
        (gases, "VIRIAL_CARBON_DIOXIDE", "carbon_dioxide_weiss_1974"),
        (gases, "VIRIAL_MIXED", "carbon_dioxide_weiss_1974"),
        (gases_by_author, "VOLUME_WARMTH", "oxygen_garcia_gordon_1992"),
        (gases_by_author, "VOLUME_SALT", "oxygen_garcia_gordon_1992"),
        (gases_by_author, "BENSON_KRAUSE", "oxygen_en_25814"),
        (gases_by_author, "BUNSEN_NITROGEN", "air_in_seawater_25c"),
        (gases_by_author, "MOIST_CARBON_DIOXIDE", "carbon_dioxide_weiss_1974"),
        (gases_by_author, "AMBAUM", "vapour_iapws_97"),
    ],
)
def test_one_per_cent_in_a_coefficient_is_seen(monkeypatch, module, coefficients, name):
    first, *others = getattr(module, coefficients)
    monkeypatch.setattr(module, coefficients, (first * 1.01, *others))
    assert published.misses(name, TABLES[name]) != []


def test_oxygen_is_the_authoritys_to_the_last_digits():
    temperature, salinity = GRID
    theirs = gsw.O2sol_SP_pt(salinity, temperature)
    np.testing.assert_allclose(gases.oxygen_at_saturation(temperature, salinity), theirs, rtol=1e-13)


def test_oxygen_without_the_change_of_temperature_scale_is_not(monkeypatch):
    temperature, salinity = GRID
    monkeypatch.setattr(gases, "IPTS68_PER_ITS90", 1.0)
    worst = np.max(
        np.abs(gases.oxygen_at_saturation(temperature, salinity) / gsw.O2sol_SP_pt(salinity, temperature) - 1)
    )
    assert 5e-5 < worst < 3e-4


@pytest.mark.parametrize(("temperature", "wrong"), [(0, 1.040), (20, 1.014), (25, 1.040), (30, 1.080)])
def test_the_misprinted_extra_term_of_equation_8_is_not_in_ours(temperature, wrong):
    # As printed the equation has A3 Ts² beside A2 Ts²: up to 8 % too much oxygen at 30 °C.
    scaled = np.log((298.15 - temperature) / (273.15 + temperature))
    ours = gases.oxygen_at_saturation(temperature / IPTS68_PER_ITS90, 35.0)
    printed = ours * np.exp(gases.OXYGEN_WARMTH[3] * scaled**2)
    assert float(printed / ours) == pytest.approx(wrong, abs=0.001)
    assert float(ours) == pytest.approx(
        float(gsw.O2sol_SP_pt(35.0, temperature / IPTS68_PER_ITS90)), rel=1e-12
    )


@pytest.mark.parametrize(("temperature", "error"), [(10, 0.0001), (25, 0.0025), (30, 0.0049)])
def test_the_misprinted_b2_of_the_volume_form_is_not_in_ours(monkeypatch, temperature, error):
    right = gases_by_author.oxygen_volume_at_saturation(temperature, 35.0)
    a, b, _, d = gases_by_author.VOLUME_SALT
    monkeypatch.setattr(gases_by_author, "VOLUME_SALT", (a, b, -1.03410e-3, d))
    wrong = gases_by_author.oxygen_volume_at_saturation(temperature, 35.0)
    assert abs(float(wrong / right) - 1) == pytest.approx(error, abs=5e-5)
    assert gases.oxygen_at_saturation(temperature, 35.0) == pytest.approx(
        float(right)
        * OXYGEN_GRAMS_PER_LITRE
        * 1e6
        / OXYGEN_MOLAR_MASS
        / float(seawater.density(temperature, 35.0)),
        rel=5e-4,
    )


def test_a_millilitre_of_oxygen_weighs_what_the_later_memo_says():
    assert OXYGEN_GRAMS_PER_LITRE == 1.42905
    assert abs(1.4276 / OXYGEN_GRAMS_PER_LITRE - 1) == pytest.approx(0.001, abs=1e-4)


def test_the_misprinted_carbon_dioxide_constant_would_be_seen():
    # A copy has -58.08931 for -58.0931 in the volumetric set; density ties our set to the right one.
    kelvin = 2.9815
    litre = np.exp(
        90.5069 / kelvin
        + 22.2940 * np.log(kelvin)
        + 35 * (0.027766 - 0.025888 * kelvin + 0.0050578 * kelvin**2)
    )
    kilogram = (
        float(gases.carbon_dioxide_solubility(25.0, 35.0)) * float(seawater.density(25.0, 35.0)) / 1000.0
    )
    right, misprint = np.exp(-58.0931) * litre / kilogram, np.exp(-58.08931) * litre / kilogram
    assert abs(right - 1) < 0.001
    assert misprint / right - 1 == pytest.approx(0.0038, abs=1e-4)


def test_the_copied_weiss_nitrogen_coefficient_would_be_seen(monkeypatch):
    right = gases_by_author.nitrogen_bunsen_weiss_1970(25.0, 35.0)
    first, _, *others = gases_by_author.BUNSEN_NITROGEN
    monkeypatch.setattr(gases_by_author, "BUNSEN_NITROGEN", (first, 85.7761, *others))
    assert float(gases_by_author.nitrogen_bunsen_weiss_1970(25.0, 35.0) / right) - 1 == pytest.approx(
        0.0034, abs=1e-4
    )
    assert float(right) == pytest.approx(0.011607, abs=5e-7)


@pytest.mark.parametrize(
    "held", [gases.oxygen_at_saturation, gases.nitrogen_at_saturation, gases.argon_at_saturation]
)
@given(temperature=TEMPERATURE, salinity=SALINITY, more=st.floats(0.01, 5))
def test_warmer_or_saltier_water_holds_less(held, temperature, salinity, more):
    assert held(temperature + more, salinity) < held(temperature, salinity)
    assert held(temperature, salinity + more) < held(temperature, salinity)


@given(temperature=TEMPERATURE, salinity=SALINITY, more=st.floats(0.01, 5))
def test_warmer_water_gives_more_vapour_and_salt_holds_some_back(temperature, salinity, more):
    assert gases.vapour_pressure(temperature + more, salinity) > gases.vapour_pressure(temperature, salinity)
    assert gases.vapour_pressure(temperature, salinity + more) < gases.vapour_pressure(temperature, salinity)


@given(amount=st.floats(0, 2000), temperature=TEMPERATURE, salinity=SALINITY)
def test_there_and_back_again_changes_nothing(amount, temperature, salinity):
    where = (temperature, salinity)
    pressure = gases.oxygen_partial_pressure(amount, *where)
    assert gases.oxygen_concentration(pressure, *where) == pytest.approx(amount, rel=1e-12, abs=1e-280)
    pressure = gases.nitrogen_partial_pressure(amount, *where)
    assert gases.nitrogen_concentration(pressure, *where) == pytest.approx(amount, rel=1e-12, abs=1e-280)
    mass = gases.micromoles_per_kilogram_to_milligrams_per_litre(amount, *where)
    assert gases.milligrams_per_litre_to_micromoles_per_kilogram(mass, *where) == pytest.approx(
        amount, rel=1e-12, abs=1e-280
    )


@given(temperature=TEMPERATURE, salinity=SALINITY)
def test_air_saturated_water_holds_the_airs_own_pressures(temperature, salinity):
    where = (temperature, salinity)
    total = (
        gases.oxygen_partial_pressure(gases.oxygen_at_saturation(*where), *where)
        + gases.nitrogen_partial_pressure(gases.nitrogen_at_saturation(*where), *where)
        + gases.argon_partial_pressure(gases.argon_at_saturation(*where), *where)
        + gases.vapour_pressure(*where)
    )
    assert total == pytest.approx(ATM, rel=4e-4)  # carbon dioxide and the rare gases are the rest


def test_scalars_lists_and_grids_give_the_shape_of_their_inputs():
    for relation in TABLES["inert_hamme_emerson_2004"].values():
        assert np.shape(relation(10, 35)) == ()
        assert relation([10, 20], 35).shape == (2,)
        assert relation([[10], [20]], [33, 34, 35]).shape == (2, 3)
        assert float(relation([10, 20], 35)[0]) == float(relation(10, 35))
    assert gases.oxygen_at_saturation([], 35.0).shape == (0,)


def test_a_missing_reading_stays_missing_and_touches_no_other():
    got = gases.oxygen_at_saturation([10.0, np.nan, 20.0], [35.0, 35.0, np.nan])
    assert np.isnan(got).tolist() == [False, True, True]


def test_nothing_is_clamped_beyond_the_range():
    assert gases.oxygen_at_saturation(45.0, 35.0) < gases.oxygen_at_saturation(40.0, 35.0)
    assert gases.oxygen_at_saturation(10.0, -0.1) > gases.oxygen_at_saturation(10.0, 0.0)


@pytest.mark.parametrize(
    ("reading", "salinity", "shown"), [(6.714, 35.0, 6.714), (8.187, 0.0, 8.187)]
)  # independent calculation, not print
def test_oxygen_of_air_saturated_water_as_a_meter_shows_it(reading, salinity, shown):
    held = gases.oxygen_at_saturation(25.5, salinity)
    got = gases.micromoles_per_kilogram_to_milligrams_per_litre(held, 25.5, salinity)
    assert float(got) == pytest.approx(shown, abs=0.003)


def test_relations_by_other_authors_stay_as_close_as_is_known():
    temperature, salinity = np.meshgrid(np.arange(0.0, 36.0, 5.0), np.arange(0.0, 41.0, 10.0))
    ours = gases.oxygen_at_saturation(temperature, salinity)
    fit = gases_by_author.oxygen_at_saturation_combined_fit(temperature, salinity)
    assert 0.0015 < np.max(np.abs(fit / ours - 1)) < 0.003
    mass = gases_by_author.oxygen_at_saturation_benson_krause_1984(temperature, salinity)
    amount = gases.milligrams_per_litre_to_micromoles_per_kilogram(mass, temperature, salinity)
    assert np.max(np.abs(amount / ours - 1)) < 4e-4
    vapour = gases_by_author.vapour_pressure_dickson_2007(temperature, salinity)
    assert np.max(np.abs(vapour / gases.vapour_pressure(temperature, salinity) - 1)) < 2.5e-3


def test_millimetres_of_mercury_are_the_meters_own():
    assert float(gases.vapour_pressure(25.5, 35.0)) / MMHG == pytest.approx(24.0016, abs=5e-5)
