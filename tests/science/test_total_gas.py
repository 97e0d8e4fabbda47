import numpy as np
import published
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import gases, seawater, total_gas
from brinehouse.science.constants import MMHG, NITROGEN_ARGON_IN_AIR, OXYGEN_IN_AIR

TEMPERATURE = st.floats(5, 32)
SALINITY = st.floats(0, 40)
AIR = st.floats(90000, 105000)
EXCESS = st.floats(-20000, 20000)
WARM = (25.5, 35.0)
SEA_LEVEL = 760.0 * MMHG


def dalton(oxygen, nitrogen):
    """Dry percentage of water whose two gases are at these percentages."""
    dry = SEA_LEVEL - gases.vapour_pressure(*WARM)
    both = OXYGEN_IN_AIR * oxygen / 100 * dry + (1 - OXYGEN_IN_AIR) * nitrogen / 100 * dry
    total = total_gas.total_gas_pressure(both, 0.0, *WARM)
    return total_gas.total_gas_percent_without_vapour(total_gas.delta_p(total, SEA_LEVEL), SEA_LEVEL, *WARM)


RELATIONS = {
    "total gas": lambda delta_p, station_pressure: total_gas.total_gas_percent(
        delta_p * MMHG, station_pressure * MMHG
    ),
    "swim bladder": lambda depth, oxygen_pressure: (
        total_gas.swim_bladder_delta_p(depth, oxygen_pressure * MMHG) / MMHG
    ),
    "weight per metre": lambda temperature, salinity: seawater.weight_per_metre(temperature, salinity) / MMHG,
    "Dalton sum": dalton,
}


def nitrogen_shown(
    total=103.0, oxygen=6.556, temperature=25.5, salinity=35.0, air=760.0, carbon=0.0, excess=None
):
    """The nitrogen figure of a meter, from its total %, its oxygen in mg/L and its settings."""
    where = (temperature, salinity)
    station = air * MMHG
    above = total_gas.delta_p_from_percent(total, station) if excess is None else excess * MMHG
    amount = gases.milligrams_per_litre_to_micromoles_per_kilogram(oxygen, *where)
    pressure = gases.oxygen_partial_pressure(amount, *where)
    rest = total_gas.nitrogen_argon_pressure(above, station, pressure, *where, carbon * MMHG)
    return float(total_gas.nitrogen_percent(rest, station, *where))


def test_every_printed_value_is_reproduced():
    assert published.misses("total_gas", RELATIONS) == []


def test_a_wrong_share_of_oxygen_or_weight_is_seen(monkeypatch):
    monkeypatch.setattr(total_gas, "SWIM_BLADDER", (73.89 * MMHG, 0.16))
    assert published.misses("total_gas", RELATIONS) == ["TDG-03"]
    monkeypatch.setattr(seawater, "GRAVITY", 9.78)
    assert "TDG-04" in published.misses("total_gas", RELATIONS)


# The next figures were worked out independently of this code and are not in print.
def test_the_reference_reading_comes_out():
    assert nitrogen_shown() == pytest.approx(104.59, abs=0.02)


@pytest.mark.parametrize(
    ("change", "shift"),
    [
        ({"total": 104.0}, 1.307),
        ({"oxygen": 7.556}, -3.95),
        ({"carbon": 1.0}, -0.172),
        ({"carbon": 5.0}, -0.86),
        ({"oxygen": 6.556 * 1.05}, -1.29),
    ],
)
def test_nitrogen_moves_with_the_other_numbers_as_it_should(change, shift):
    assert nitrogen_shown(**change) - nitrogen_shown() == pytest.approx(shift, abs=0.01)


def test_a_residual_worked_out_for_fresh_water_reads_too_high():
    assert nitrogen_shown(salinity=0.0) - nitrogen_shown() == pytest.approx(4.66, abs=0.02)


def test_a_barometer_off_by_five_with_a_differential_sensor():
    assert nitrogen_shown(air=765.0, excess=22.8) - nitrogen_shown() == pytest.approx(0.15, abs=0.01)


def test_water_vapour_left_in_would_be_four_per_cent_of_nitrogen():
    dry = SEA_LEVEL - gases.vapour_pressure(*WARM)
    share = 100 * gases.vapour_pressure(*WARM) / (NITROGEN_ARGON_IN_AIR * dry)
    assert float(share) == pytest.approx(4.13, abs=0.01)


def test_the_two_denominators_of_nitrogen_differ_by_a_twentieth_of_a_per_cent():
    rest = 80000.0
    one, other = (
        float(total_gas.nitrogen_percent(rest, SEA_LEVEL, *WARM, share)) for share in (0.7902, 0.79054)
    )
    assert one / other - 1 == pytest.approx(0.00043, abs=3e-5)


@given(excess=EXCESS, air=AIR, temperature=TEMPERATURE, salinity=SALINITY, oxygen=st.floats(0, 60000))
def test_the_parts_add_up_to_the_whole(excess, air, temperature, salinity, oxygen):
    rest = total_gas.nitrogen_argon_pressure(excess, air, oxygen, temperature, salinity, 100.0)
    whole = total_gas.total_gas_pressure(oxygen, rest, temperature, salinity, 100.0)
    assert float(total_gas.delta_p(whole, air)) == pytest.approx(excess, abs=1e-6)


@given(air=AIR, temperature=TEMPERATURE, salinity=SALINITY)
def test_water_in_balance_with_the_air_reads_one_hundred(air, temperature, salinity):
    oxygen = OXYGEN_IN_AIR * (air - gases.vapour_pressure(temperature, salinity))
    rest = total_gas.nitrogen_argon_pressure(0.0, air, oxygen, temperature, salinity)
    assert float(total_gas.oxygen_percent(oxygen, air, temperature, salinity)) == pytest.approx(100)
    assert float(total_gas.nitrogen_percent(rest, air, temperature, salinity)) == pytest.approx(100, abs=0.05)
    assert float(total_gas.total_gas_percent(0.0, air)) == pytest.approx(100)
    dry = total_gas.total_gas_percent_without_vapour(0.0, air, temperature, salinity)
    assert float(dry) == pytest.approx(100)


@given(percent=st.floats(80, 140), air=AIR)
def test_a_percentage_and_its_difference_are_two_ways_to_say_one_thing(percent, air):
    above = total_gas.delta_p_from_percent(percent, air)
    assert float(total_gas.total_gas_percent(above, air)) == pytest.approx(percent)


@given(excess=st.floats(0, 50000), temperature=TEMPERATURE, salinity=SALINITY)
def test_nothing_is_left_uncompensated_at_the_compensation_depth(excess, temperature, salinity):
    depth = total_gas.compensation_depth(excess, temperature, salinity)
    assert float(total_gas.uncompensated_delta_p(excess, depth, temperature, salinity)) == pytest.approx(
        0, abs=1e-8
    )


def test_undersaturated_water_keeps_its_sign_and_has_no_compensation_depth():
    assert float(total_gas.compensation_depth(-500.0, *WARM)) == 0.0
    assert float(total_gas.uncompensated_delta_p(-500.0, 0.0, *WARM)) == -500.0
    assert float(total_gas.total_gas_percent(-500.0, SEA_LEVEL)) < 100.0
    assert np.isnan(float(total_gas.compensation_depth(np.nan, *WARM)))


@given(depth=st.floats(0, 3), more=st.floats(0.01, 2))
def test_deeper_fish_stand_more(depth, more):
    limit = total_gas.swim_bladder_delta_p
    assert limit(depth + more, 20000.0) > limit(depth, 20000.0)


def test_the_same_oxygen_is_a_smaller_share_at_sea_level_than_up_a_hill():
    amount = gases.oxygen_at_saturation(*WARM)
    pressure = gases.oxygen_partial_pressure(amount, *WARM)
    local = total_gas.oxygen_percent(pressure, 733.35 * MMHG, *WARM)
    assert float(total_gas.oxygen_percent_at_sea_level(amount, *WARM)) == pytest.approx(100.0)
    assert float(local) == pytest.approx(103.76, abs=0.01)


def test_shapes_follow_the_inputs():
    got = total_gas.nitrogen_argon_pressure([[0.0], [100.0]], SEA_LEVEL, 20000.0, [25.0, 26.0, np.nan], 35.0)
    assert got.shape == (2, 3)
    assert np.isnan(got).sum() == 2
    assert total_gas.delta_p(1, 2).shape == ()
