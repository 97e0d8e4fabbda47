import numpy as np
import published
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import excess, gases, seawater, total_gas
from brinehouse.science.constants import ARGON_IN_AIR, ATM, MMHG, NITROGEN_IN_AIR, OXYGEN_IN_AIR

WARM = (25.5, 35.0)
SEA_LEVEL = 760.0 * MMHG
TEMPERATURE = st.floats(5, 30)
SALINITY = st.floats(0, 36)
AIR = st.floats(90000, 105000)

RELATIONS = {
    "rise in a metre": lambda temperature, salinity: (
        excess.bubble_rise(1.0, SEA_LEVEL, temperature, salinity).total
    ),
    "rise in a degree": lambda before, after, salinity: (
        excess.heating_rise(before, after, salinity).total / (after - before)
    ),
}


def shares(rise):
    return tuple(round(float(part), 2) for part in rise)


def test_every_printed_value_is_reproduced():
    assert published.misses("excess", RELATIONS) == []


def test_a_wrong_weight_of_water_is_seen(monkeypatch):
    monkeypatch.setattr(seawater, "GRAVITY", 9.2)
    assert published.misses("excess", RELATIONS) == ["TDG-07"]


# The figures of the next five tests were worked out independently of this code and are not in print.
@pytest.mark.parametrize(("depth", "rise"), [(0.5, 4.95), (1.0, 9.90), (2.0, 19.8)])
def test_bubbles_lift_both_gases_alike(depth, rise):
    got = excess.bubble_rise(depth, SEA_LEVEL, *WARM)
    assert float(got.total) == pytest.approx(rise, abs=0.01)
    assert float(got.oxygen) == float(got.nitrogen)


def test_a_leak_that_dissolves_whole_lifts_nitrogen_twice_as_much():
    rise = excess.air_leak_rise(1.0, SEA_LEVEL, *WARM)
    assert float(rise.total) == pytest.approx(7.62, abs=0.01)
    assert float(rise.oxygen) == pytest.approx(4.46, abs=0.01)
    assert float(rise.nitrogen) == pytest.approx(8.77, abs=0.01)
    assert float(rise.nitrogen / rise.oxygen) == pytest.approx(1.97, abs=0.005)
    assert float(excess.nitrogen_to_oxygen_rise(1.0, *WARM)) == pytest.approx(1.97, abs=0.005)
    assert float(excess.air_leak_rise(0.13, SEA_LEVEL, *WARM).total) == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize(
    ("before", "after", "total"), [(24.5, 25.5, 1.50), (20.0, 25.0, 8.1), (10.0, 15.0, 9.9)]
)
def test_warmth_lifts_gas_as_much_as_the_volume_reckoning_less_the_waters_own_growth(before, after, total):
    # That reckoning holds mg/L fixed; a kilogram keeps its gas while its litre grows.
    grown = seawater.density(before, 35.0) / seawater.density(after, 35.0)
    got = 100 * ((1 + excess.heating_rise(before, after, 35.0).total / 100) * grown - 1)
    assert float(got) == pytest.approx(total, abs=0.06)


def test_light_lifts_oxygen_alone():
    added = gases.milligrams_per_litre_to_micromoles_per_kilogram(1.0, *WARM)
    rise = excess.oxygen_addition_rise(added, SEA_LEVEL, *WARM)
    assert float(rise.oxygen) == pytest.approx(14.9, abs=0.05)
    assert float(rise.total) == pytest.approx(3.0, abs=0.05)
    assert float(rise.nitrogen) == 0.0


def test_a_falling_barometer_lifts_every_percentage():
    assert shares(excess.barometer_rise(760 * MMHG, 750 * MMHG, *WARM)) == (1.38, 1.38, 1.33)


@given(
    fraction=st.floats(0.001, 0.999), more=st.floats(1e-4, 0.5), temperature=TEMPERATURE, salinity=SALINITY
)
def test_the_more_of_a_leak_dissolves_the_more_nitrogen_there_is_to_oxygen(
    fraction, more, temperature, salinity
):
    low = float(excess.nitrogen_to_oxygen_rise(fraction, temperature, salinity))
    high = float(excess.nitrogen_to_oxygen_rise(min(1.0, fraction + more), temperature, salinity))
    assert 1.0 <= low <= high <= float(excess.solubility_ratio(temperature, salinity)) + 1e-9


@given(fraction=st.floats(0, 1), temperature=TEMPERATURE, salinity=SALINITY)
def test_what_dissolves_of_a_bubble_is_what_was_said_to(fraction, temperature, salinity):
    rise = excess.air_leak_rise(1.0, ATM, temperature, salinity, fraction)
    whole = excess.air_leak_rise(1.0, ATM, temperature, salinity)
    oxygen, rest = float(rise.oxygen / whole.oxygen), float(rise.nitrogen / whole.nitrogen)
    assert OXYGEN_IN_AIR * oxygen + (1 - OXYGEN_IN_AIR) * rest == pytest.approx(fraction, abs=1e-9)


def test_the_bubble_law_agrees_with_the_bubble_followed_step_by_step():
    ratio = float(excess.solubility_ratio(*WARM))
    oxygen, rest = OXYGEN_IN_AIR, 1 - OXYGEN_IN_AIR
    while oxygen + rest > 0.5:
        share = oxygen / (oxygen + rest)
        oxygen, rest = oxygen - 2e-5 * ratio * share, rest - 2e-5 * (1 - share)
    followed = (1 - rest / (1 - OXYGEN_IN_AIR)) / (1 - oxygen / OXYGEN_IN_AIR) * ratio
    assert float(excess.nitrogen_to_oxygen_rise(0.5, *WARM)) == pytest.approx(followed, rel=1e-3)


@pytest.mark.parametrize("fraction", [-0.1, 1.1, np.nan])
def test_a_share_that_cannot_be_gives_no_number(fraction):
    assert np.isnan(float(excess.nitrogen_to_oxygen_rise(fraction, *WARM)))
    assert np.isnan(float(excess.air_leak_rise(1.0, ATM, *WARM, fraction).total))


def test_no_leak_no_depth_no_warmth_no_light_no_weather_is_no_rise():
    assert shares(excess.air_leak_rise(0.0, ATM, *WARM)) == (0, 0, 0)
    assert shares(excess.bubble_rise(0.0, ATM, *WARM)) == (0, 0, 0)
    assert shares(excess.heating_rise(20.0, 20.0, 35.0)) == (0, 0, 0)
    assert shares(excess.oxygen_addition_rise(0.0, ATM, *WARM)) == (0, 0, 0)
    assert shares(excess.barometer_rise(ATM, ATM, *WARM)) == (0, 0, 0)


@given(before=TEMPERATURE, after=TEMPERATURE, salinity=SALINITY, air=AIR)
def test_warmed_water_has_the_total_that_its_gases_and_vapour_add_up_to(before, after, salinity, air):
    rise = excess.heating_rise(before, after, salinity, air)
    dry = (air - gases.vapour_pressure(before, salinity)) / (ATM - gases.vapour_pressure(before, salinity))
    parts = (
        (gases.oxygen_at_saturation, gases.oxygen_partial_pressure),
        (gases.nitrogen_at_saturation, gases.nitrogen_partial_pressure),
        (gases.argon_at_saturation, gases.argon_partial_pressure),
    )
    total = gases.vapour_pressure(after, salinity)
    for held, pressure in parts:
        total = total + pressure(dry * held(before, salinity), after, salinity)
    rest = 1 - OXYGEN_IN_AIR - NITROGEN_IN_AIR - ARGON_IN_AIR  # rare gases, taken as nitrogen by the relation
    percent = total_gas.total_gas_percent(total - air, air)
    assert float(rise.total) == pytest.approx(float(percent) - 100, abs=100 * rest * 4)


def test_shapes_follow_the_inputs():
    rise = excess.air_leak_rise([[0.1], [0.2]], ATM, [20.0, 25.0, np.nan], 35.0)
    assert rise.total.shape == (2, 3)
    assert np.isnan(rise.total[:, 2]).all()
    assert excess.barometer_rise(ATM, [99000.0, 98000.0], 25.0, 35.0).total.shape == (2,)
    assert excess.barometer_rise(ATM, 99000.0, [20.0, 25.0], 35.0).total.shape == (2,)
