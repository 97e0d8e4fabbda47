"""What acts on a plant's water, against a general solver on the same terms written a second time."""

import dataclasses
import math

import numpy as np
import pytest
from scipy import integrate

from brinehouse.engines.balance import acting, around, holding
from brinehouse.facility import reading
from brinehouse.network.compartments import building, model, plant
from brinehouse.science import exchange, gases, nitrogen, respiration, seawater

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


STILL = {"evaporation": {"reef": 0.0, "low": 0.0}}


class Worked:
    """A small hall at rest."""

    def __init__(self, text, still, leaks, knobs):
        self.facility = reading.read(text).facility
        made = around.of(self.facility, leaks=leaks)
        turned = {name: dataclasses.replace(made.knobs[name], value=value) for name, value in knobs.items()}
        self.around = dataclasses.replace(made, knobs={**made.knobs, **turned})
        flows = {run.id: run.flow for run in self.facility.runs.values()}
        given = acting.conditions(self.facility, self.around, flows)
        given = dataclasses.replace(given, **(STILL if still else {}))
        self.model = model.build(self.facility, flows, given)
        self.state = self.model.steady()
        self.density = self.model.plant.density

    def __getitem__(self, species):
        return self.state.x[plant.AT[species]]

    def at(self, species, place):
        return float(self[species][self.model.places.index(place)])

    def terms(self, species, place):
        return holding.terms(self.model, self.facility, place, species)


def worked(text=HALL, *, still=False, leaks=None, **knobs):
    return Worked(text, still, leaks, knobs)


def long_run(rates, start, days=4000.0):
    """Where a general solver ends."""
    got = integrate.solve_ivp(rates, (0.0, days * DAY), start, method="LSODA", rtol=1e-10, atol=1e-9)
    assert got.success
    return got.y[:, -1]


def saturated(gas, temperature, salinity, pressure):
    saturation = {
        "oxygen": gases.oxygen_at_saturation,
        "nitrogen": gases.nitrogen_at_saturation,
        "argon": gases.argon_at_saturation,
    }[gas](temperature, salinity)
    vapour = gases.vapour_pressure(temperature, salinity)
    return saturation * (pressure - vapour) / (101325.0 - vapour)


def test_heat_settles_where_a_general_solver_ends():
    water = worked(still=True)
    made = water.around
    per = float(seawater.density(24.0, 34.0) * seawater.heat_capacity(24.0, 34.0))
    gain = made["pumps"] * 1000.0 / (per * FLOW)
    renew = made["exchange"] / 100.0 / DAY * VOLUMES

    def rates(_, t):
        room = made["warmth"] * AREAS * (made["room"] - t) / per
        mixed = FLOW * np.array([t[1] + gain - t[0], t[0] - t[1]])
        return (mixed + room + renew * (24.0 - t)) / VOLUMES

    assert water["temperature"] == pytest.approx(long_run(rates, [24.0, 24.0], 600.0), abs=1e-6)


@pytest.mark.parametrize("gas", ["oxygen", "nitrogen", "argon"])
def test_gases_settle_where_a_general_solver_ends(gas):
    water = worked(still=True)
    made, warm, salt = water.around, water["temperature"], water["salinity"]
    pumped = made["pumps"] * 1000.0 / (water.density * water.model.plant.heat_capacity * FLOW)
    even = saturated(gas, warm, salt, made["pressure"])
    column = saturated(gas, warm[1] + pumped, salt[1], made["pressure"])
    deep = saturated(gas, warm[0], salt[0], made["pressure"] + made["under"] * water.density * 9.80665)
    renewed = saturated(gas, 24.0, 34.0, made["pressure"])
    ratio = {"oxygen": 1.0, "nitrogen": 0.929, "argon": 0.98}[gas]  # Ferrell and Himmelblau (1967); memory
    speed = made["velocity"] / DAY * ratio * exchange.transfer_coefficient(1.0, warm)
    used = np.zeros(2)
    if gas == "oxygen":
        one = float(respiration.oxygen_use(0.5, warm[0], activity=made["activity"]))
        k = made["nitrify"] / DAY  # 1.5 mol of oxygen for the first step, 0.5 for the second
        used = k * VOLUMES * (1.5 * water["tan"] + 0.5 * 2.0 * water["nitrite"])
        used[0] += 40 * one * 1e6 / water.density

    def rates(_, x):
        reef, low = x
        up = low + made["column"] * (column - low)
        back = reef + made["fall"] * (deep - reef)
        mixed = FLOW * np.array([up - reef, back - low])
        through = speed * AREAS * (even - x)
        new = made["exchange"] / 100.0 / DAY * VOLUMES * (renewed - x)
        return (mixed + through + new - used) / VOLUMES

    assert water[gas] == pytest.approx(long_run(rates, even, 60.0), rel=1e-6)


def test_nitrogen_settles_where_a_general_solver_ends():
    water = worked(still=True)
    made = water.around
    grams = 0.2 * made["protein"] * 0.092 * 1000.0  # 1 % of 20 kg a day
    fed = grams / 14.0067 * 1e6 / DAY / water.density
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
        assert water[name] == pytest.approx(end, rel=1e-4), name


@pytest.mark.parametrize(
    "species",
    ["temperature", "oxygen", "nitrogen", "argon", "carbon", "alkalinity", "tan", "nitrite", "nitrate"],
)
def test_the_terms_of_every_place_balance_to_nothing(species):
    water = worked()
    for place in ("reef", "low"):
        terms = water.terms(species, place)
        most = max(abs(one.amount) for one in terms)
        assert sum(one.amount for one in terms) == pytest.approx(0.0, abs=1e-6 * most), place


def test_a_degasser_brings_gas_nearer_its_balance_at_its_outlet():
    without, with_it = worked(HALL.replace(', "tower"]', "]")), worked()
    even = saturated("oxygen", with_it["temperature"], with_it["salinity"], 101325.0)
    assert abs(with_it.at("oxygen", "reef") - even[0]) < abs(without.at("oxygen", "reef") - even[0])
    assert with_it.state["reef"].co2 < without.state["reef"].co2
    assert with_it.state["reef"].ph > without.state["reef"].ph


def test_a_column_whose_reach_the_file_states_goes_so_far():
    text = HALL.replace('kind = "packed column"', 'kind = "packed column"\napproach = "90 %"')
    facility = reading.read(text).facility
    assert facility is not None
    given = acting.conditions(facility, around.of(facility), {"up": FLOW, "back": FLOW})
    assert given.contacts["tower"].effectiveness["oxygen"] == 0.9


def test_without_pump_heat_water_stands_below_the_room_by_what_evaporates():
    cold = HALL.replace('power = "1 kW"\n', "")
    water, wet = worked(cold), worked(cold, humidity=0.9)
    assert (water["temperature"] < water.around["room"]).all()
    assert (wet["temperature"] > water["temperature"]).all()


def test_water_that_falls_drives_carbon_dioxide_out():
    falling, level = worked(), worked(HALL.replace('crest = "3 m"\nelevation = "1 m"', 'elevation = "0 m"'))
    assert falling.state["reef"].co2 < level.state["reef"].co2
    assert {one.name for one in falling.terms("carbon", "low")} >= {"water that falls in"}


def test_a_chiller_holds_what_its_tank_reads():
    text = HALL.replace('"tower"]', '"tower", "cold"]') + '[equipment.cold]\nkind = "chiller"\n'
    for warmth in (10.0, 30.0):  # the room is colder than the tank: its circuit warms it
        assert worked(text, room=warmth).at("temperature", "reef") == pytest.approx(24.0, abs=0.3)


def test_a_chiller_too_small_for_its_heat_is_told():
    text = HALL.replace('"tower"]', '"tower", "cold"]')
    text += '[equipment.cold]\nkind = "chiller"\npower = "0.2 kW"\n'
    water = worked(text, room=35.0)
    assert water.at("temperature", "reef") > 24.5
    assert "compartments/chiller-small" in {one.code for one in water.state.findings}


def test_a_heater_never_cools():
    text = HALL.replace('"tower"]', '"tower", "warm"]') + '[equipment.warm]\nkind = "heater"\n'
    text = text.replace('temperature = "24 °C"', 'temperature = "5 °C"')
    assert (worked(text)["temperature"] > 10.0).all()


def test_air_drawn_in_at_a_pump_raises_nitrogen_more_than_oxygen():
    text = HALL.replace(', "tower"]', "]")
    plain, leaky = worked(text), worked(text, leaks={"P-1": 1.0})
    rise = {
        gas: (leaky.at(gas, "reef") - plain.at(gas, "reef"))
        / saturated(gas, plain.at("temperature", "reef"), 34.0, 101325.0)
        for gas in ("oxygen", "nitrogen")
    }
    assert rise["nitrogen"] > rise["oxygen"] > 0.0
    assert rise["nitrogen"] / rise["oxygen"] == pytest.approx(1.97, abs=0.12)  # as air dissolved whole
    assert "air at P-1" in {one.name for one in leaky.terms("nitrogen", "reef")}


def test_of_a_duty_group_the_pump_that_leaks_is_the_one_that_runs():
    text = HALL.replace(
        "[equipment.tower]",
        '[pump.P-2]\nflow = "10 m3/h"\n[duty.lift]\npumps = ["P-1", "P-2"]\nkeep = 1\n[equipment.tower]',
    ).replace('through = ["P-1"', 'through = ["lift"')
    plain, leaky = worked(text), worked(text, leaks={"P-2": 1.0})
    assert leaky.state["reef"].tgp > plain.state["reef"].tgp + 1.0


def test_a_tank_on_a_shorter_way_reads_higher():
    """Common practice, no source: a side tank fed past the column keeps the gas its sump has picked up."""
    side = (
        '[tank.side]\nvolume = "2 m3"\nsurface = "2 m2"\ncrest = "2 m"\nelevation = "1 m"\n'
        '[run.spur]\nfrom = "low"\nthrough = ["P-1"]\nto = "side"\nflow = "2 m3/h"\n'
        '[run.spur-back]\nfrom = "side"\nto = "low"\nflow = "2 m3/h"\n'
    )
    water = worked(HALL + side, leaks={"P-1": 1.0})
    assert water.state["side"].n2_ar > water.state["reef"].n2_ar + 0.5


def test_a_biofilter_takes_ammonia_at_each_pass():
    text = HALL.replace('"tower"]', '"tower", "moss"]') + '[equipment.moss]\nkind = "biofilter"\n'
    plain, water = worked(), worked(text)
    assert water.at("tan", "reef") < plain.at("tan", "reef")
    assert water.at("nitrate", "reef") == pytest.approx(plain.at("nitrate", "reef"), rel=0.05)


def test_dosing_has_to_bring_what_nitrification_takes():
    water = worked()
    terms = {one.name: one.amount for one in water.terms("alkalinity", "reef")}
    assert terms["nitrification"] == pytest.approx(-terms["dosing, to hold it"])
    turned = water.around["nitrify"] / DAY * 20.0 * water.at("tan", "reef")
    oxidised = turned * 2.0  # of charge for each nitrogen, without growth
    assert terms["nitrification"] == pytest.approx(-oxidised * 1e-6 * DAY * water.density, rel=1e-6)
    assert float(nitrogen.nitrification(1.0).alkalinity) == pytest.approx(2.0, rel=0.02)  # with growth


def test_a_place_by_itself_keeps_its_own_temperature():
    lone = (
        '[tank.lone]\nvolume = "1 m3"\nsurface = "1 m2"\ntemperature = "25 °C"\nstands_alone = true\n'
        '[[animals]]\nat = "lone"\nspecies = "goby"\nmass = "1 kg"\n'
    )
    water = worked(HALL + lone)
    assert water.at("temperature", "lone") == pytest.approx(25.0, abs=0.5)
    assert "its own heater or chiller" in {one.name for one in water.terms("temperature", "lone")}


def test_lamps_over_a_tank_warm_it():
    dark, lit = worked(), worked(HALL.replace('crest = "3 m"', 'crest = "3 m"\nlight = "1 kW"'))
    assert lit.at("temperature", "reef") > dark.at("temperature", "reef") + 0.2
    assert any(one.name == "lamps" for one in lit.terms("temperature", "reef"))


def test_places_are_those_that_water_reaches_or_animals_live_in():
    more = (
        '[tank.lone]\nvolume = "1 m3"\nstands_alone = true\n[vessel.store]\nvolume = "3 m3"\n'
        'stands_alone = true\n[[animals]]\nat = "lone"\nspecies = "goby"\nmass = "1 kg"\n'
    )
    facility = reading.read(HALL + more).facility
    flows = {run.id: run.flow for run in facility.runs.values()}
    assert acting.places_of(facility, flows) == ("reef", "low", "lone")
    assert acting.reached(facility, flows) == {"reef", "low"}


def test_swapping_two_equal_tanks_swaps_their_water():
    text = HALL + (
        '[tank.other]\nvolume = "20 m3"\nsurface = "12 m2"\ncrest = "3 m"\nelevation = "1 m"\n'
        'temperature = "24 °C"\nsalinity = "34 ppt"\n[run.up-2]\nfrom = "low"\n'
        'through = ["P-1", "tower"]\nto = "other"\nflow = "10 m3/h"\n'
        '[run.back-2]\nfrom = "other"\nto = "low"\nflow = "10 m3/h"\n'
    )
    one, two = worked(text), worked(text.replace('at = "reef"', 'at = "other"'))
    for species in ("oxygen", "nitrogen", "tan", "carbon"):
        assert one.at(species, "reef") == pytest.approx(two.at(species, "other"), rel=1e-9), species
        assert one.at(species, "low") == pytest.approx(two.at(species, "low"), rel=1e-9), species


@pytest.mark.parametrize(
    ("words", "area"),
    [
        ('surface = "7 m2"', 7.0),
        ('length = "4 m"\nwidth = "2 m"\ndepth = "1 m"', 8.0),
        ('diameter = "2 m"\ndepth = "2 m"', math.pi),
        ('depth = "2 m"', 4.0),
        ("", 8.0),
    ],
)
def test_the_open_surface_is_the_best_that_is_known(words, area):
    text = HALL + f'[vessel.store]\nvolume = "8 m3"\n{words}\nstands_alone = true\n'
    vessel = reading.read(text).facility.vessels["store"]
    assert building.surface_of(vessel, 8.0) == pytest.approx(area)


def test_a_run_in_time_ends_where_the_balance_says_and_its_ledger_closes():
    text = HALL.replace('"tower"]', '"tower", "cold"]') + (
        '[equipment.cold]\nkind = "chiller"\n[tank.lone]\nvolume = "1 m3"\nsurface = "1 m2"\n'
        'temperature = "26 °C"\nstands_alone = true\n'
        '[[animals]]\nat = "lone"\nspecies = "goby"\nmass = "1 kg"\n'
    )
    water = worked(text, leaks={"P-1": 0.5})
    run = water.model.transient(24.0 * 20.0, {"lone": {"temperature": 20.0}, "reef": {"temperature": 20.0}})
    for place in ("reef", "low", "lone"):
        for species, close in (("temperature", 0.02), ("oxygen", 0.2), ("nitrogen", 0.3)):
            there = run.values(place, species)[-1]
            assert there == pytest.approx(water.at(species, place), abs=close), (place, species)
    assert run.ledger.closes, run.ledger.worst
