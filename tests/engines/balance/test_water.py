"""One plant's water in balance, against a general solver on the same terms written a second time."""

import dataclasses

import numpy as np
import pytest
from scipy import integrate

from brinehouse.engines.balance import around, mixing
from brinehouse.engines.balance import water as waters
from brinehouse.facility import reading
from brinehouse.science import gases, heat, nitrogen, respiration, seawater

HALL = """
schema = 1
[facility]
name = "Two places"
timezone = "UTC"
[tank.reef]
volume = "20 m3"
surface = "12 m2"
crest = "3 m"
elevation = "1 m"
temperature = "24 °C"
salinity = "34 ppt"
[sump.low]
volume = "4 m3"
surface = "3 m2"
elevation = "0 m"
salinity = "34 ppt"
temperature = "24 °C"
[[animals]]
at = "reef"
species = "wrasse"
mass = "20 kg"
count = 40
[pump.P-1]
flow = "10 m3/h"
power = "1 kW"
[equipment.tower]
kind = "packed column"
[run.up]
from = "low"
through = ["P-1", "tower"]
to = "reef"
flow = "10 m3/h"
[run.back]
from = "reef"
to = "low"
flow = "10 m3/h"
"""
FLOW = 10.0 / 3600.0
DAY = 86400.0
VOLUMES, AREAS = np.array([20.0, 4.0]), np.array([12.0, 3.0])


def worked(text=HALL, **knobs):
    facility = reading.read(text).facility
    made = around.of(facility)
    turned = {name: dataclasses.replace(made.knobs[name], value=value) for name, value in knobs.items()}
    made = dataclasses.replace(made, knobs={**made.knobs, **turned})
    return waters.work_out(facility, made, {run.id: run.flow for run in facility.runs.values()}), made


def long_run(rates, start, days=4000.0):
    """Where a general solver ends."""
    got = integrate.solve_ivp(rates, (0.0, days * DAY), start, method="LSODA", rtol=1e-10, atol=1e-9)
    assert got.success
    return got.y[:, -1]


def test_heat_settles_where_a_general_solver_ends():
    water, made = worked()
    per = heat.heat_capacity_of_water(1.0, water.x["temperature"], 34.0)
    gain = made["pumps"] * 1000.0 / (per.mean() * FLOW)

    def rates(_, t):
        out = [
            -float(heat.surface_heat(a, x, made["room"], made["humidity"], 0.1, salinity=34.0).total) / p
            for a, x, p in zip(AREAS, t, per, strict=True)
        ]
        mixed = FLOW * np.array([t[1] + gain - t[0], t[0] - t[1]])
        return (mixed + out) / VOLUMES

    assert water.x["temperature"] == pytest.approx(long_run(rates, [24.0, 24.0], 60.0), abs=2e-3)


@pytest.mark.parametrize("gas", ["oxygen", "nitrogen", "argon"])
def test_gases_settle_where_a_general_solver_ends(gas):
    water, made = worked()
    temperature, salt, dense = (water.x[name] for name in ("temperature", "salinity", "density"))
    saturation = {
        "oxygen": gases.oxygen_at_saturation,
        "nitrogen": gases.nitrogen_at_saturation,
        "argon": gases.argon_at_saturation,
    }[gas](temperature, salt)
    vapour = gases.vapour_pressure(temperature, salt)

    def level(pressure):
        return saturation * (pressure - vapour) / (101325.0 - vapour)

    even = level(made["pressure"])
    deep = level(made["pressure"] + made["under"] * 1025.0 * 9.80665)[0]
    ratio = waters.exchange.transfer_ratio(gas, temperature)
    used = 0.0
    if gas == "oxygen":
        one = float(respiration.oxygen_use(0.5, temperature[0], activity=made["activity"]))
        used = 40 * one * 1e6 / dense[0]
    eaten = water.x["oxidised"] * 1.83 if gas == "oxygen" else np.zeros(2)

    def rates(_, x):
        reef, low = x
        up = low + made["column"] * (even[1] - low)
        back = reef + made["fall"] * (deep - reef)
        mixed = FLOW * np.array([up - reef, back - low])
        through = made["velocity"] / DAY * ratio * AREAS * (even - x)
        renewed = made["exchange"] / 100.0 / DAY * VOLUMES * (even - x)
        return (mixed + through + renewed - eaten - np.array([used, 0.0])) / VOLUMES

    assert water.x[gas] == pytest.approx(long_run(rates, even, 30.0), rel=1e-7)


def test_nitrogen_settles_where_a_general_solver_ends():
    water, made = worked()
    dense = water.x["density"]
    grams = 0.2 * made["protein"] * 0.092 * 1000.0  # 1 % of 20 kg a day
    fed = grams / 14.0067 * 1e6 / DAY / dense[0]
    k, renew = made["nitrify"] / DAY, made["exchange"] / 100.0 / DAY

    def rates(_, x):
        tan, nitrite, nitrate = x.reshape(3, 2)
        ring = lambda y: FLOW * np.array([y[1] - y[0], y[0] - y[1]]) / VOLUMES  # noqa: E731
        return np.concatenate(
            [
                ring(tan) - (k + renew) * tan + np.array([fed, 0.0]) / VOLUMES,
                ring(nitrite) - (2.0 * k + renew) * nitrite + k * tan,
                ring(nitrate) - renew * nitrate + 2.0 * k * nitrite,
            ]
        )

    ends = long_run(rates, np.zeros(6)).reshape(3, 2)
    for name, end in zip(("tan", "nitrite", "nitrate"), ends, strict=True):
        assert water.x[name] == pytest.approx(end, rel=1e-6), name


def test_carbon_settles_where_what_comes_in_goes_out():
    water, _ = worked()
    for place in ("reef", "low"):
        terms = waters.terms(water, "carbon", place)
        assert sum(one.amount for one in terms) == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("species", ["oxygen", "nitrogen", "argon", "tan", "nitrite", "nitrate"])
def test_the_terms_of_every_place_balance_to_nothing(species):
    water, _ = worked()
    for place in ("reef", "low"):
        terms = waters.terms(water, species, place)
        most = max(abs(one.amount) for one in terms)
        assert sum(one.amount for one in terms) == pytest.approx(0.0, abs=1e-9 * most)


def test_a_degasser_brings_gas_nearer_its_balance_at_its_outlet():
    without, _ = worked(HALL.replace(', "tower"]', "]"))
    with_it, made = worked()
    even = waters.at_balance(with_it, "oxygen", made["pressure"])
    assert abs(with_it.x["oxygen"][0] - even[0]) < abs(without.x["oxygen"][0] - even[0])


def test_without_pump_heat_water_stands_below_the_room_by_what_evaporates():
    water, made = worked(HALL.replace('power = "1 kW"\n', ""))
    assert (water.x["temperature"] < made["room"]).all()
    wet, _ = worked(HALL.replace('power = "1 kW"\n', ""), humidity=0.9)
    assert (wet.x["temperature"] > water.x["temperature"]).all()


def test_a_chiller_holds_what_its_tank_reads():
    text = HALL.replace('"tower"]', '"tower", "cold"]') + '[equipment.cold]\nkind = "chiller"\n'
    water, _ = worked(text)
    assert water.x["temperature"][0] == pytest.approx(24.0, abs=0.3)


def test_a_heater_never_cools():
    text = HALL.replace('"tower"]', '"tower", "warm"]') + '[equipment.warm]\nkind = "heater"\n'
    text = text.replace('temperature = "24 °C"', 'temperature = "5 °C"')
    water, _ = worked(text)
    assert (water.x["temperature"] > 10.0).all()


def test_air_drawn_in_at_a_pump_raises_nitrogen_more_than_oxygen():
    facility = reading.read(HALL.replace(', "tower"]', "]")).facility
    flows = {run.id: run.flow for run in facility.runs.values()}
    plain = waters.work_out(facility, around.of(facility), flows)
    leaky = waters.work_out(facility, around.of(facility, leaks={"P-1": 1.0}), flows)
    even = {gas: waters.at_balance(plain, gas, 101325.0)[0] for gas in ("oxygen", "nitrogen")}
    rise = {gas: (leaky.x[gas][0] - plain.x[gas][0]) / even[gas] for gas in even}
    assert rise["nitrogen"] > rise["oxygen"] > 0.0
    assert rise["nitrogen"] / rise["oxygen"] == pytest.approx(1.97, abs=0.12)  # as air dissolved whole


def test_a_tank_on_a_shorter_way_reads_higher():
    """Common practice, no source: a side tank fed past the column keeps the gas its sump has picked up."""
    side = (
        '[tank.side]\nvolume = "2 m3"\nsurface = "2 m2"\ncrest = "2 m"\nelevation = "1 m"\n'
        '[run.spur]\nfrom = "low"\nthrough = ["P-1"]\nto = "side"\nflow = "2 m3/h"\n'
        '[run.spur-back]\nfrom = "side"\nto = "low"\nflow = "2 m3/h"\n'
    )
    facility = reading.read(HALL + side).facility
    flows = {run.id: run.flow for run in facility.runs.values()}
    water = waters.work_out(facility, around.of(facility, leaks={"P-1": 1.0}), flows)
    at = water.net.at
    even = waters.at_balance(water, "nitrogen", 101325.0)
    over = water.x["nitrogen"] / even
    assert over[at["side"]] > over[at["reef"]] + 0.005


def test_a_biofilter_takes_ammonia_at_each_pass():
    text = HALL.replace('"tower"]', '"tower", "moss"]') + '[equipment.moss]\nkind = "biofilter"\n'
    plain, _ = worked()
    water, _ = worked(text)
    assert water.x["tan"][0] < plain.x["tan"][0]
    assert water.x["nitrate"][0] == pytest.approx(plain.x["nitrate"][0], rel=0.05)


def test_dosing_has_to_bring_what_nitrification_takes():
    water, _ = worked()
    terms = {one.name: one.amount for one in waters.terms(water, "alkalinity", "reef")}
    assert terms["nitrification"] == pytest.approx(-terms["dosing, to hold it"])
    oxidised = water.x["oxidised"][0] * float(nitrogen.nitrification(1.0).alkalinity)
    assert terms["nitrification"] == pytest.approx(-oxidised * 1e-6 * DAY * water.x["density"][0], rel=1e-9)


def test_density_is_that_of_the_water():
    water, _ = worked()
    assert water.x["density"] == pytest.approx(seawater.density(water.x["temperature"], water.x["salinity"]))


def test_a_place_by_itself_keeps_its_own_temperature():
    lone = (
        '[tank.lone]\nvolume = "1 m3"\nsurface = "1 m2"\ntemperature = "25 °C"\nstands_alone = true\n'
        '[[animals]]\nat = "lone"\nspecies = "goby"\nmass = "1 kg"\n'
    )
    water, _ = worked(HALL + lone)
    assert water.x["temperature"][water.net.at["lone"]] == pytest.approx(25.0, abs=0.5)
    assert not mixing.net(water.facility, {}).into("lone")


def test_lamps_over_a_tank_warm_it():
    dark, _ = worked()
    lit, _ = worked(HALL.replace('crest = "3 m"', 'crest = "3 m"\nlight = "1 kW"'))
    assert lit.x["temperature"][0] > dark.x["temperature"][0] + 0.2
    assert any(one.name == "lamps" for one in waters.terms(lit, "temperature", "reef"))
