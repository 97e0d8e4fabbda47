"""The carbonate system against PyCO2SYS 1.8.3.4, an independent program used in tests only."""

import dataclasses
import itertools

import numpy as np
import published
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import carbonate, dissociation, gases

MICRO_ATMOSPHERE = 0.101325  # Pa
PAIRS = ((2300, 2000), (2500, 2350), (1500, 1400), (3000, 2500), (2200, 2200))
# 5 salinities, 5 temperatures, 5 waters, 2 borons, 2 hydrogen fluorides: 500 points
POINTS = list(
    itertools.product(
        (20, 25, 33, 35, 40),
        (4, 12, 20, 25.5, 32),
        PAIRS,
        ("lee", "uppstrom"),
        ("dickson-riley", "perez-fraga"),
    )
)


@pytest.fixture(scope="module")
def peer():
    import PyCO2SYS

    found = PyCO2SYS.sys(
        par1=np.array([point[2][0] for point in POINTS], float),
        par2=np.array([point[2][1] for point in POINTS], float),
        par1_type=1,
        par2_type=2,
        salinity=np.array([point[0] for point in POINTS], float),
        temperature=np.array([point[1] for point in POINTS], float),
        opt_k_carbonic=10,
        opt_k_bisulfate=1,
        opt_total_borate=np.array([{"lee": 2, "uppstrom": 1}[point[3]] for point in POINTS]),
        opt_k_fluoride=np.array([{"dickson-riley": 1, "perez-fraga": 2}[point[4]] for point in POINTS]),
        opt_gas_constant=3,
    )
    return {name: np.asarray(value) for name, value in found.items()}


def solved(solve):
    """Fields of ours at every point, boron and fluoride told as words."""
    rows = [solve(*point[2], point[1], point[0], boron=point[3], fluoride=point[4]) for point in POINTS]
    return carbonate.Carbonate(*(np.array([float(row[i]) for row in rows]) for i in range(9)))


def test_five_hundred_waters_have_the_ph_that_an_independent_program_gives(peer):
    ours = solved(carbonate.from_carbon)
    assert len(POINTS) == 500
    assert np.max(np.abs(ours.ph - peer["pH_total"])) < 1e-9
    assert np.max(np.abs(ours.ph - peer["pH_total"])) < 1e-12  # and closer than is asked for
    assert ours.pco2 / MICRO_ATMOSPHERE == pytest.approx(peer["pCO2"], rel=1e-11)
    assert ours.co2 == pytest.approx(peer["aqueous_CO2"], rel=1e-11)
    assert ours.bicarbonate == pytest.approx(peer["bicarbonate"], rel=1e-11)
    assert ours.carbonate == pytest.approx(peer["carbonate"], rel=1e-11)
    assert ours.omega_aragonite == pytest.approx(peer["saturation_aragonite"], rel=1e-11)
    assert ours.omega_calcite == pytest.approx(peer["saturation_calcite"], rel=1e-11)


def test_the_scales_of_ph_agree_with_the_independent_program(peer):
    acid = peer["pH_total"]
    for scale in ("free", "sws", "nbs"):
        ours = [
            float(dissociation.ph_between_scales(value, "total", scale, p[1], p[0], fluoride=p[4]))
            for value, p in zip(acid, POINTS, strict=True)
        ]
        assert np.max(np.abs(ours - peer[f"pH_{scale}"])) < 1e-12


@pytest.mark.parametrize(
    "fault",
    ["water on the seawater scale", "bisulphate from the total scale", "boron of the other author"],
)
def test_a_constant_on_the_wrong_scale_is_seen(peer, monkeypatch, fault):
    right = dissociation.from_logarithms

    def wrong(logs, salinity, boron="lee"):
        if fault.startswith("boron"):
            return right(logs, salinity, {"lee": "uppstrom", "uppstrom": "lee"}[boron])
        known = right(logs, salinity, boron)
        if fault.startswith("water"):
            return dataclasses.replace(known, water=np.exp(logs.water))
        return dataclasses.replace(known, bisulphate=known.bisulphate * known.free_to_total)

    monkeypatch.setattr(dissociation, "from_logarithms", wrong)
    assert np.max(np.abs(solved(carbonate.from_carbon).ph - peer["pH_total"])) > 1e-9


RELATIONS = {
    "pH": lambda **a: carbonate.from_carbon(**a).ph,
    "pressure": lambda **a: carbonate.from_carbon(**a).pco2 / MICRO_ATMOSPHERE,
    "omega aragonite": lambda **a: carbonate.from_carbon(**a).omega_aragonite,
    "carbon": lambda **a: carbonate.from_ph(**a).carbon,
    "pK1": lambda **a: -np.log10(dissociation.constants(**a).first),
}


def test_every_printed_value_is_reproduced():
    # The table's pressures were made with the gas constant of 1994; the tolerance of ours carries it.
    missed = published.misses("carbonate", RELATIONS)
    assert [name for name in missed if not name.startswith("CARB-pCO2")] == []
    for row in published.rows("carbonate"):
        if row.relation == "pressure":
            assert float(RELATIONS["pressure"](**row.arguments)) == pytest.approx(row.value, rel=5e-8)


def test_a_ph_from_dilute_buffers_taken_for_total_is_seen():
    wrong = {**RELATIONS, "carbon": lambda **a: carbonate.from_ph(**a, scale="nbs").carbon}
    missed = published.misses("carbonate", wrong)
    assert [row.id for row in published.rows("carbonate") if row.relation == "carbon"] == [
        name for name in missed if name.startswith("CARB-DIC")
    ]


@pytest.mark.parametrize(
    ("boron", "ph", "pressure", "omega"),
    [("lee", 8.04021, 402.70, 3.34666), ("uppstrom", 8.04589, 396.96, 3.38620)],
)
def test_the_ocean_surface_by_both_borons(boron, ph, pressure, omega):  # independent calculation
    found = carbonate.from_carbon(2300, 2000, 25, 35, boron=boron)
    assert float(found.ph) == pytest.approx(ph, abs=5e-6)
    assert float(found.pco2) / MICRO_ATMOSPHERE == pytest.approx(pressure, abs=0.005)
    assert float(found.omega_aragonite) == pytest.approx(omega, abs=5e-6)


def test_the_harm_of_a_ph_on_the_wrong_scale():  # independent calculation
    taken = carbonate.from_ph(2300, 8.10, 25, 35)
    meant = carbonate.from_ph(2300, 8.10, 25, 35, scale="nbs")
    assert float(taken.omega_aragonite) == pytest.approx(3.72, abs=0.005)
    assert float(meant.omega_aragonite) == pytest.approx(2.91, abs=0.005)
    assert float(taken.pco2) / MICRO_ATMOSPHERE == pytest.approx(340, abs=1)
    assert float(meant.pco2) / MICRO_ATMOSPHERE == pytest.approx(500, abs=1)


def test_measured_calcium_counts_for_lime_and_for_nothing_else():
    ocean, dosed = (
        carbonate.from_ph(2300, 8.1, 25, 35),
        carbonate.from_ph(2300, 8.1, 25, 35, calcium=420e3 / 40.078),
    )
    ratio = 420e3 / 40.078 / (0.02128 / 40.087 * 35 / 1.80655 * 1e6)
    assert float(dosed.omega_calcite / ocean.omega_calcite) == pytest.approx(ratio)
    assert dosed[:7] == ocean[:7]


WATER = {
    "alkalinity": st.floats(50, 6000),
    "temperature": st.floats(0, 40),
    "salinity": st.floats(0, 45),
}


@given(ratio=st.floats(0.6, 3.0), **WATER)
def test_alkalinity_and_carbon_give_back_what_ph_gave(ratio, alkalinity, temperature, salinity):
    found = carbonate.from_carbon(alkalinity, ratio * alkalinity, temperature, salinity)
    back = carbonate.from_ph(alkalinity, found.ph, temperature, salinity)
    assert float(back.carbon) == pytest.approx(ratio * alkalinity, rel=1e-9, abs=1e-7)
    assert float(found.co2 + found.bicarbonate + found.carbonate) == pytest.approx(ratio * alkalinity)
    light = carbonate.ph_of(alkalinity, ratio * alkalinity, temperature, salinity)
    assert float(light) == pytest.approx(float(found.ph), abs=1e-13)


@given(start=st.floats(-5, 30), ratio=st.floats(0.6, 2.0), **WATER)
def test_no_start_however_bad_changes_the_answer(start, ratio, alkalinity, temperature, salinity):
    carbon = ratio * alkalinity
    plain = carbonate.ph_of(alkalinity, carbon, temperature, salinity)
    known = dissociation.constants(temperature, salinity)
    given_start = carbonate.ph_of(alkalinity, carbon, temperature, salinity, start=start, known=known)
    assert float(given_start) == pytest.approx(float(plain), abs=1e-12)


@given(more=st.floats(0.1, 500), **WATER)
def test_more_carbon_is_more_acid_and_more_gas(more, alkalinity, temperature, salinity):
    carbon = alkalinity * np.array([0.9, 0.9]) + [0, more]
    less, most = carbonate.ph_of(alkalinity, carbon, temperature, salinity)
    assert most < less
    gas = carbonate.co2_of(alkalinity, carbon, temperature, salinity)
    assert gas[1] > gas[0]


def test_rows_without_a_solution_are_missing_and_leave_their_neighbours_alone():
    found = carbonate.from_carbon([2300, -1e6, 2300, 1e9, np.nan], [2000, 2000, 2100, 0, 2000], 25, 35)
    alone = carbonate.from_carbon(2300, 2000, 25, 35)
    assert np.isnan(found.ph).tolist() == [False, True, False, True, True]
    assert found.ph[0] == alone.ph
    assert np.isnan(found.omega_aragonite).tolist() == [False, True, False, True, True]


def test_strange_waters_are_solved_too():
    # no carbon, hardly any salt, far more carbon than alkalinity, alkalinity from lye, acid
    alkalinity = [100, 300, 500, 9000, -2000, 0]
    carbon = [0, 290, 40000, 500, 2000, 0]
    salt = [35, 0, 35, 35, 35, 0]
    found = carbonate.from_carbon(alkalinity, carbon, 20, salt)
    assert not np.isnan(found.ph).any()
    back = carbonate.from_ph(alkalinity, found.ph, 20, salt)
    assert back.carbon == pytest.approx(np.array(carbon, float), abs=2e-6)


@given(pressure=st.floats(1, 500), **WATER)
def test_water_in_balance_with_a_gas_has_that_pressure(pressure, alkalinity, temperature, salinity):
    carbon = carbonate.carbon_at_balance(alkalinity, pressure, temperature, salinity)
    found = carbonate.from_carbon(alkalinity, carbon, temperature, salinity)
    assert float(found.pco2) == pytest.approx(pressure, rel=1e-8)
    fugacity = found.pco2 * gases.fugacity_factor(temperature) / 101325.0
    held = fugacity * gases.carbon_dioxide_solubility(temperature, salinity) * 1e6
    assert float(found.co2) == pytest.approx(float(held), rel=1e-12)


def test_no_balance_is_missing():
    assert np.isnan(float(carbonate.carbon_at_balance(-1e9, 40.0, 25.0, 35.0)))


def test_words_that_are_none_are_said():
    with pytest.raises(ValueError, match="'lea' is not an amount of boron; write lee or uppstrom"):
        carbonate.from_ph(2300, 8, 25, 35, boron="lea")
    with pytest.raises(ValueError, match="'T' is not a pH scale; write one of total, free, sws, nbs"):
        carbonate.from_ph(2300, 8, 25, 35, scale="T")
    with pytest.raises(ValueError, match="'dr' is not a constant of hydrogen fluoride"):
        carbonate.from_carbon(2300, 2000, 25, 35, fluoride="dr")


def test_shapes_follow_the_inputs():
    found = carbonate.from_ph(2300, [[8.0], [8.1]], [20.0, 25.0, 30.0], 35)
    assert {column.shape for column in found} == {(2, 3)}
    assert carbonate.from_carbon(2300, 2000, 25, 35).ph.shape == ()
    assert carbonate.ph_of([2300, 2400], 2000, 25, 35).shape == (2,)
    assert carbonate.from_ph([], 8.0, 25.0, 35.0).carbon.shape == (0,)


def test_more_rows_than_a_block_are_as_each_alone():
    count = 2 * carbonate.BLOCK + 5
    carbon = np.linspace(1500, 2300, count)
    found = carbonate.from_carbon(2300, carbon, 25, 35)
    for place in (0, carbonate.BLOCK, count - 1):
        assert found.ph[place] == pytest.approx(
            float(carbonate.from_carbon(2300, carbon[place], 25, 35).ph), abs=1e-14
        )
