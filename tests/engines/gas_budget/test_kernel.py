"""The fused arithmetic is that of the science floor, and its uncertainties are those of chance itself."""

import numpy as np
import pytest

from brinehouse.engines.gas_budget import kernel
from brinehouse.science import constants, gases, seawater, total_gas

MMHG = constants.MMHG


def columns(rows=4000, seed=7):
    rng = np.random.default_rng(seed)
    return (
        rng.uniform(2.0, 34.0, rows),
        rng.uniform(0.0, 40.0, rows),
        rng.uniform(560.0, 790.0, rows) * MMHG,
        rng.uniform(92.0, 130.0, rows),
        rng.uniform(2.0, 16.0, rows),
    )


def one(*values):
    return [np.array([value]) for value in values]


def test_every_value_is_that_of_the_science_floor():
    warm, salt, air, total, oxygen = columns()
    carbon, depth = 300.0, 0.4
    got = kernel.run("percent", warm, salt, air, total, oxygen, carbon, depth)
    micro = gases.milligrams_per_litre_to_micromoles_per_kilogram(oxygen, warm, salt)
    pressure = gases.oxygen_partial_pressure(micro, warm, salt)
    delta = total_gas.delta_p_from_percent(total, air)
    rest = total_gas.nitrogen_argon_pressure(delta, air, pressure, warm, salt, carbon)
    expected = {
        "oxygen_percent": total_gas.oxygen_percent(pressure, air, warm, salt),
        "nitrogen_percent": total_gas.nitrogen_percent(rest, air, warm, salt),
        "delta_p": delta,
        "uncompensated_delta_p": total_gas.uncompensated_delta_p(delta, depth, warm, salt),
        "compensation_depth": total_gas.compensation_depth(delta, warm, salt),
        "vapour_pressure": gases.vapour_pressure(warm, salt),
        "total_gas_pressure": total_gas.total_gas_percent(delta, air),
        "total_pressure": air + delta,
    }
    for name, column in expected.items():
        np.testing.assert_allclose(got[name], column, rtol=1e-11, atol=1e-9, err_msg=name)


def test_solubility_and_density_are_those_of_the_science_floor():
    warm, salt, *_ = columns()
    water = kernel.water(warm, salt)
    litre = seawater.density(warm, salt) * 1e-3
    held = gases.oxygen_at_saturation(warm, salt) * litre * constants.OXYGEN_MOLAR_MASS * 1e-3
    np.testing.assert_allclose(water.held, held, rtol=1e-12)


@pytest.mark.parametrize(("name", "axis"), [("held_t", 0), ("held_s", 1)])
def test_slopes_are_those_that_small_steps_give(name, axis):
    warm, salt, *_ = columns()
    salt = np.maximum(salt, 0.5)
    step = [np.zeros_like(warm), np.zeros_like(salt)]
    step[axis] = np.full_like(warm, 1e-4)
    more = kernel.water(warm + step[0], salt + step[1]).held
    less = kernel.water(warm - step[0], salt - step[1]).held
    numeric = np.log(more / less) / 2e-4
    np.testing.assert_allclose(getattr(kernel.water(warm, salt), name), numeric, rtol=0.012)


CASES = {
    "percent": (25.5, 35.0, 760.0 * MMHG, 104.5, 6.56),
    "delta": (12.0, 33.0, 725.0 * MMHG, 20.0 * MMHG, 8.1),
    "pressure": (18.0, 34.0, 741.0 * MMHG, 760.0 * MMHG, 7.4),
}


@pytest.mark.parametrize("kind", CASES)
def test_uncertainties_are_those_that_ten_thousand_throws_give(kind):
    rng = np.random.default_rng(11)
    centre = CASES[kind]
    spread = (0.15, 0.4, 1.2 * MMHG, 0.5 if kind == "percent" else 3.0 * MMHG, 0.12)
    more = (60.0, 0.03)
    doubt = kernel.Doubt(
        temperature=spread[0], salinity=spread[1], barometer=spread[2], total=spread[3], oxygen=spread[4],
        carbon_dioxide=more[0], depth=more[1],
    )  # fmt: skip
    throws = [rng.normal(c, s, 40_000) for c, s in zip(centre, spread, strict=True)]
    carbon, depth = rng.normal(200.0, more[0], 40_000), rng.normal(0.4, more[1], 40_000)
    thrown = kernel.run(kind, *throws, carbon, depth)
    told = kernel.run(kind, *one(*centre), 200.0, 0.4, doubt)
    for name in kernel.OUTPUTS:
        assert told[f"u:{name}"][0] == pytest.approx(float(np.std(thrown[name])), rel=0.02), name


def test_a_forgotten_term_would_be_seen():
    # the planted fault: without the barometer's part the same comparison fails
    centre = CASES["pressure"]
    rng = np.random.default_rng(11)
    throws = [np.full(40_000, c) for c in centre]
    throws[2] = rng.normal(centre[2], 1.2 * MMHG, 40_000)
    spread = float(np.std(kernel.run("pressure", *throws)["nitrogen_percent"]))
    told = kernel.run("pressure", *one(*centre), 0.0, 0.0, kernel.Doubt())["u:nitrogen_percent"][0]
    assert told != pytest.approx(spread, rel=0.5)


def test_the_published_sensitivities_come_out():
    # check values: dN2 %/dTGP % = 1.307, dN2 %/dDO = -3.95 per mg/L (S 35), -3.24 (S 0),
    # +0.172 per mmHg of CO2, at 25.5 °C and 760 mmHg; an independent calculation
    def nitrogen(salt=35.0, total=103.0, oxygen=6.556, carbon=0.0):
        return kernel.run("percent", *one(25.5, salt, 760.0 * MMHG, total, oxygen), carbon)[
            "nitrogen_percent"
        ][0]

    assert nitrogen(total=104.0) - nitrogen() == pytest.approx(1.307, abs=0.0005)
    assert nitrogen(oxygen=7.556) - nitrogen() == pytest.approx(-3.95, abs=0.005)
    assert nitrogen(salt=0.0, oxygen=7.556) - nitrogen(salt=0.0) == pytest.approx(-3.24, abs=0.005)
    assert nitrogen() - nitrogen(carbon=MMHG) == pytest.approx(0.172, abs=0.0005)


def test_the_base_of_the_gross_error_table_comes_out():
    # an independent calculation: TGP 103.00, DO 6.556, N2 104.59
    got = kernel.run("percent", *one(25.5, 35.0, 760.0 * MMHG, 103.0, 6.556))
    assert got["nitrogen_percent"][0] == pytest.approx(104.59, abs=0.005)


def test_undersaturated_water_keeps_its_sign_and_has_no_gas_line():
    got = kernel.run("percent", *one(15.0, 34.0, 760.0 * MMHG, 97.0, 7.0), 0.0, 1.0)
    assert got["delta_p"][0] < 0
    assert got["uncompensated_delta_p"][0] < got["delta_p"][0]
    assert got["compensation_depth"][0] == 0.0


def test_rows_do_not_lean_on_one_another():
    table = columns(3 * kernel.BLOCK + 17)
    whole = kernel.run("percent", *table)
    last = kernel.run("percent", *(column[-5:] for column in table))
    for name in kernel.OUTPUTS:
        np.testing.assert_array_equal(whole[name][-5:], last[name])


def test_a_gap_stays_a_gap():
    table = columns(10)
    table[4][3] = np.nan
    got = kernel.run("percent", *table)
    assert np.isnan(got["nitrogen_percent"][3])
    assert np.isfinite(got["nitrogen_percent"][4])
    assert np.isfinite(got["delta_p"][3])
