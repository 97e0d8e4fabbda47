import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import gases, heat

TEMPERATURE = st.floats(1, 39)


def test_what_pumps_warm_in_a_day():  # energy balance, calculated with 1025 kg/m3 and 3985 J/kg/K
    rate = float(heat.warming_rate(650.0, heat.pump_heat(15e3), 25.0, 35.0)) * 86400.0
    assert rate == pytest.approx(0.488134, abs=0.002)
    assert rate * float(heat.heat_capacity_of_water(650.0, 25.0, 35.0)) / (
        650 * 1025 * 3985
    ) == pytest.approx(0.48813444, abs=1e-6)


def test_how_long_a_hundred_kilowatts_take():  # energy balance, calculated
    assert float(heat.warming_time(650.0, 100e3, 1.0, 25.0, 35.0)) / 3600 == pytest.approx(7.4, abs=0.05)


def test_a_wrong_heat_capacity_is_seen(monkeypatch):
    monkeypatch.setattr(heat.seawater, "heat_capacity", lambda t, s: np.asarray(4184.0))
    rate = float(heat.warming_rate(650.0, 15e3, 25.0, 35.0)) * 86400.0
    assert rate != pytest.approx(0.488134, abs=0.002)


def test_the_form_for_pools_in_its_own_units():
    # (95 + 0.425 v)(pw - pa)/Y in lb/h/ft2 with inHg, ft/min and Btu/lb, as Smith et al. (1998) quote ASHRAE
    speed, water, room, humidity = 0.2, 26.0, 24.0, 0.55
    gap = float(gases.vapour_pressure(water, 0.0)) - humidity * float(gases.vapour_pressure(room, 0.0))
    latent = float(heat.latent_heat(water)) / 2326.0
    pounds = (95 + 0.425 * speed / 0.3048 * 60) * gap / 3386.389 / latent
    kilograms = pounds * 0.45359237 / 3600 / 0.3048**2
    ours = float(heat.evaporation(1.0, water, room, humidity, speed, salinity=0.0))
    assert ours == pytest.approx(kilograms, rel=1e-4)


def test_air_speed_taken_by_the_second_for_the_minute_is_seen(monkeypatch):
    monkeypatch.setattr(heat, "MOVING_AIR", heat.MOVING_AIR / 60)
    with pytest.raises(AssertionError):
        test_the_form_for_pools_in_its_own_units()


def test_a_hundred_square_metres_lose_what_the_worked_example_says():
    # Worked example in SI, 14.6 kg/h and 9.9 kW for 100 m2, read without its air: these are the same water
    # and heat, so their ratio tells the latent heat, and a common room (25 °C, 65 %) gives the amount.
    assert pytest.approx(float(heat.latent_heat(25.0)), rel=0.01) == 9.9e3 / (14.6 / 3600)
    lost = float(heat.evaporation(100.0, 25.0, 25.0, 0.65, salinity=0.0)) * 3600
    assert lost == pytest.approx(14.6, abs=0.2)
    evaporated = heat.surface_heat(100.0, 25.0, 25.0, 0.65, salinity=0.0).evaporated
    assert float(evaporated) == pytest.approx(9.9e3, abs=100)


def test_still_water_and_a_pool_in_use_lie_where_they_were_measured():  # Smith et al. (1998)
    whole = float(heat.evaporation(10.0, 25.0, 22.0, 0.5))
    assert float(heat.evaporation(10.0, 25.0, 22.0, 0.5, factor=heat.QUIET)) == pytest.approx(0.74 * whole)
    low, high = (float(heat.evaporation(10.0, 25.0, 22.0, 0.5, factor=f)) for f in heat.BUSY)
    assert (low / whole, high / whole) == pytest.approx((1.26, 1.70))


@given(temperature=TEMPERATURE, speed=st.floats(0, 0.7))
def test_saturated_air_as_warm_as_the_water_takes_nothing(temperature, speed):
    assert float(heat.evaporation(10.0, temperature, temperature, 1.0, speed, 0.0)) == pytest.approx(
        0, abs=1e-12
    )
    flat = heat.surface_heat(10.0, temperature, temperature, 1.0, speed, 0.0)
    assert float(flat.total) == pytest.approx(0, abs=1e-6)


def test_damp_air_over_cold_water_settles_on_it():
    assert float(heat.evaporation(10.0, 8.0, 25.0, 0.8)) < 0
    assert float(heat.surface_heat(10.0, 8.0, 25.0, 0.8).total) < 0


@given(water=TEMPERATURE, room=TEMPERATURE, humidity=st.floats(0, 1), speed=st.floats(0, 0.7))
def test_the_three_ways_add_up_and_each_flows_downhill(water, room, humidity, speed):
    found = heat.surface_heat(5.0, water, room, humidity, speed)
    assert float(found.total) == pytest.approx(float(found.evaporated + found.carried + found.radiated))
    assert float(found.carried) * (water - room) >= 0
    assert float(found.radiated) * (water - room) >= 0


def test_a_surface_without_evaporation_passes_what_common_practice_expects():
    # common practice, no source: about 5 W/m2/K by still air and 6 by radiation near 25 °C
    found = heat.surface_heat(1.0, 26.0, 25.0, 0.5)
    assert float(found.carried) == pytest.approx(5.4, abs=0.5)
    assert float(found.radiated) == pytest.approx(5.8, abs=0.3)


@given(temperature=st.floats(0, 40))
def test_the_latent_heat_is_that_of_steam_tables(temperature):
    # steam tables at 0, 20 and 40 °C: 2500.9, 2453.5, 2406.0 kJ/kg (from memory)
    table = np.interp(temperature, [0, 20, 40], [2500.9e3, 2453.5e3, 2406.0e3])
    assert float(heat.latent_heat(temperature)) == pytest.approx(table, rel=1e-3)


def test_a_chiller_takes_what_its_water_loses():
    duty = float(heat.chiller_duty(0.010, 25.5, 23.5, 35.0))
    assert duty == pytest.approx(10.24 * 3998 * 2, rel=0.001)  # about 10.24 kg/s
    assert float(heat.chiller_duty(0.010, 23.5, 25.5, 35.0)) == pytest.approx(-duty)


def test_pump_power_and_what_its_motor_keeps():
    assert float(heat.shaft_power(0.05, 12.0, 0.6)) == pytest.approx(1025 * 9.80665 * 0.05 * 12 / 0.6)
    assert float(heat.pump_heat(10e3, 0.85)) == pytest.approx(8.5e3)
    assert float(heat.light_heat(2000.0, 0.4)) == pytest.approx(800.0)


def test_without_power_water_never_warms():
    assert np.isinf(float(heat.warming_time(100.0, 0.0, 1.0, 25.0, 35.0)))
