"""Water at rest: closed forms, what must hold whatever the plant, and what has no rest."""

import hypothesis
import numpy as np
import pytest
from hypothesis import strategies
from tests.network.compartments import plants

from brinehouse.network.compartments import assembly, conditions, plant, settling, transport
from brinehouse.science import exchange

AIR = 101325.0
hypothesis.settings.register_profile("calm", deadline=None, max_examples=15, derandomize=True)
hypothesis.settings.load_profile("calm")


def codes(found):
    return {one.code for one in found}


def test_pump_power_warms_a_loop_by_its_power_over_what_the_water_holds():
    # HEAT-pump (energy balance, computed): 15 kW, 650 m³, 1025 kg/m³, 3985 J/kg/K gives 0.488134 K/d
    house = plants.loop(tank="400 m3", sump="250 m3", through='through = ["p"]',
                        extra='[pump.p]\nname = "p"\npower = "15 kW"\nflow = "40 m3/h"\n')  # fmt: skip
    model = plants.made(house, plants.shut("ab"))
    run = model.transient(24.0)
    mean = [(run.values(p, "temperature")[-1] - 20.0) * v for p, v in (("a", 400.0), ("b", 250.0))]
    held = model.plant.density * model.plant.heat_capacity
    assert sum(mean) / 650.0 == pytest.approx(0.48813444412795637 * 1025.0 * 3985.0 / held, rel=1e-6)
    still = model.steady()
    assert np.isnan(still["a"].temperature)
    assert "compartments/no-steady-state" in codes(still.findings)


def test_water_changed_dilutes_what_is_fed_in_to_input_over_exchange():
    # steady peak P/(V f): engineering balance; here P g/s over the flow changed
    swap = {"b": conditions.Exchange(flow=2e-4)}
    model = plants.made(plants.loop(), plants.shut("ab", exchange=swap, tracer={"b": 1e-3}))
    assert model.steady()["b"].tracer == pytest.approx(1e-3 / 2e-4, rel=1e-9)


def test_ammonia_in_a_filter_settles_at_what_comes_over_what_turns_it():
    told = plants.shut(
        "ab",
        feed={"a": conditions.Feed(rate=1e-5, protein=0.45)},
        nitrifying={"b": (1e-3, 2e-3)},
        transfer={"a": 1e-4, "b": 1e-4},
    )
    model = plants.made(plants.loop(), told)
    still = model.steady()
    made = 1e-5 * 0.45 * 0.092 * 1e6 / 80.0 / 1e-3  # BIO-TAN's 0.092, from memory
    assert still["b"].tan == pytest.approx(made / 1000.0, rel=2e-3)
    assert still["b"].nitrite == pytest.approx(made / 2000.0, rel=2e-3)
    assert np.isnan(still["b"].nitrate)  # nothing takes it away


def test_gas_in_a_tank_run_through_is_the_flow_through_form():
    calm = conditions.Fall(depth=0.0, approach=0.0, air=0.0)
    told = plants.shut("ab", transfer={"a": 1e-4, "b": 0.0}, exchange={"a": conditions.Exchange(
        flow=1e-3, water=conditions.Supply(temperature=20.0, values={"oxygen": 400.0}))})  # fmt: skip
    model = plants.model.build(plants.loop(), {"out": 0.0, "back": 0.0}, told)
    still, rows = model.steady(), model.plant
    held = assembly.Assembly(rows).setting(still.rest.x).held[0, 0]
    wanted = exchange.flow_through(400.0, held, 1e-4 * 50.0 / 50.0, 50.0, 1e-3)
    assert still["a"].oxygen == pytest.approx(float(wanted), rel=1e-9)
    assert calm.approach == 0.0


def column(reach=0.8, leak=0.3, **more):
    house = plants.loop(
        through='through = ["p", "g"]',
        extra='[pump.p]\nname = "p"\nflow = "40 m3/h"\npower = "1 kW"\n'
        '[equipment.g]\nkind = "packed column"\nname = "g"\n',
    )
    told = plants.shut("ab", leaks={"p": conditions.Leak(air=leak)}, contacts={
        "g": conditions.Contact(effectiveness=dict.fromkeys(("oxygen", "nitrogen", "argon"), reach))},
        warmth={"a": 500.0, "b": 500.0}, **more)  # fmt: skip
    return plants.made(house, told)


@hypothesis.given(reach=strategies.floats(0.05, 0.98), leak=strategies.floats(0.0, 2.0))
def test_a_degasser_brings_each_gas_nearer_its_own_balance_at_its_outlet(reach, leak):
    model = column(reach, leak)
    still = model.steady()
    rows, x = model.plant, still.rest.x
    at = next(index for index, way in enumerate(rows.transport.passages) if "g" in way.parts)
    setting = assembly.Assembly(rows).setting(x)
    for gas in plant.DISSOLVED:
        steps = still.rest.balances[gas].steps[:, at]
        before = x[plant.AT[gas], rows.transport.source[at]] + steps[0]
        level = setting.along[plant.ROW[gas], 1, at]
        assert abs(before + steps[1] - level) <= abs(before - level) * (1.0 - reach) + 1e-9 * level


@hypothesis.given(
    room=strategies.floats(8.0, 30.0), water=strategies.floats(5.0, 30.0), flow=strategies.floats(1e-6, 1e-3)
)
def test_without_evaporation_and_inner_heat_temperature_stays_between_inlet_and_room(room, water, flow):
    told = plants.shut("ab", warmth={"a": 300.0, "b": 100.0}, exchange={
        "b": conditions.Exchange(flow=flow, water=conditions.Supply(temperature=water))})  # fmt: skip
    told = conditions.Conditions(**{name: getattr(told, name) for name in told.__dataclass_fields__} | {
        "room_temperature": room})  # fmt: skip
    still = plants.made(plants.loop(), told).steady()
    low, high = sorted((room, water))
    for place in "ab":
        assert low - 1e-9 <= still[place].temperature <= high + 1e-9


@hypothesis.settings(max_examples=6)
@hypothesis.given(seed=strategies.integers(0, 10_000))
def test_mass_closes_whatever_the_plant(seed):
    chance = np.random.default_rng(seed)
    told = plants.shut(
        "ab", evaporation={"a": float(chance.uniform(0, 1e-3)), "b": float(chance.uniform(0, 1e-3))},
        transfer={"a": float(chance.uniform(0, 1e-4)), "b": 0.0},
        tracer={"a": float(chance.uniform(0, 1e-3))}, decay=float(chance.uniform(0, 1e-5)),
        falls={"out": conditions.Fall(depth=float(chance.uniform(0, 2)), approach=0.2)},
    )  # fmt: skip
    run = plants.made(plants.loop(tank="6 m3", sump="2 m3"), told).transient(float(chance.uniform(0.1, 4)))
    assert run.ledger.worst < 1e-10


def twins(first, second):
    tank = '[tank.{0}]\nvolume = "{1}"\ndepth = "1 m"\ntemperature = "20 °C"\nsalinity = "34 ppt"\n'
    run = '[run.{0}-{1}]\nfrom = "{0}"\nto = "{1}"\nflow = "10 m3/h"\n'
    extra = "".join(tank.format(name, "5 m3") for name in (first, second))
    extra += "".join(run.format(*ends) for name in (first, second) for ends in (("b", name), (name, "b")))
    house = plants.loop(extra=extra)
    told = plants.shut(("a", "b", first, second), transfer={"b": 1e-4, "a": 0.0, first: 1e-5, second: 1e-5},
                       photosynthesis={"a": 1e-4}, warmth=dict.fromkeys(("a", "b"), 100.0))  # fmt: skip
    return plants.made(house, told).steady()


def test_swapping_identical_tanks_changes_nothing():
    one, other = twins("c", "d"), twins("d", "c")
    assert one["c"].oxygen == pytest.approx(one["d"].oxygen, rel=1e-12)
    for place in "abcd":
        assert one[place].delta_p == pytest.approx(other[place].delta_p, rel=1e-9, abs=1e-6)


def nearer_and_farther():
    """A main tank under a column, and a small tank fed from the same pump by a short run without one."""
    tank = '[tank.c]\nvolume = "1 m3"\ndepth = "0.5 m"\ntemperature = "20 °C"\nsalinity = "34 ppt"\n'
    runs = (
        '[run.c-in]\nfrom = "b"\nthrough = ["p"]\nto = "c"\nflow = "4 m3/h"\n'
        '[run.c-out]\nfrom = "c"\nto = "b"\nflow = "4 m3/h"\n'
        '[pump.p]\nname = "p"\nflow = "44 m3/h"\npower = "1 kW"\n'
        '[equipment.g]\nkind = "packed column"\nname = "g"\n'
    )
    house = plants.loop(extra=tank + runs, through='through = ["p", "g"]', tank="50 m3", sump="5 m3")
    told = conditions.Conditions(leaks={"p": conditions.Leak(air=0.15)}, contacts={
        "g": conditions.Contact(effectiveness=dict.fromkeys(plant.ROW, 0.7))}, **plants.QUIET)  # fmt: skip
    return plants.made(house, told)


def test_a_tank_on_a_shorter_run_reads_about_a_point_higher_because_less_stands_between_it_and_the_source():
    # common practice, no source: a tank on a shorter run from the sump reads about one point of TGP higher
    model = nearer_and_farther()
    still = model.steady()
    assert 0.5 < still["c"].tgp - still["a"].tgp < 1.6
    why = {term.name: term for term in model.limits_what("a", "nitrogen")}
    short = {term.name: term for term in model.limits_what("c", "nitrogen")}
    assert why["g"].rate < 0.0  # the column on the longer run takes gas out
    assert "g" not in short  # none on the shorter one
    assert short["p"].share > 0.3  # what the pump draws in is what its water brings


def test_water_that_evaporates_and_is_not_replaced_has_no_steady_salinity():
    model = plants.made(plants.loop(), plants.shut("ab", evaporation={"a": 1e-4, "b": 0.0}, top_up=False))
    still = model.steady()
    assert {"compartments/no-steady-salinity", "compartments/no-steady-level"} <= codes(still.findings)
    assert np.isnan(still["a"].salinity)


def test_topped_up_water_keeps_its_salt():
    still = plants.made(plants.loop(), plants.shut("ab", evaporation={"a": 1e-4, "b": 0.0})).steady()
    assert "compartments/no-steady-level" not in codes(still.findings)
    mean = (50.0 * still["a"].salinity + 80.0 * still["b"].salinity) / 130.0
    assert mean == pytest.approx(34.0, abs=1e-9)
    assert still["a"].salinity > still["b"].salinity


def test_oxygen_that_runs_out_is_said_and_never_negative():
    crowd = '[[animals]]\nat = "a"\nspecies = "mullet"\nmass = "900 kg"\ncount = 900\n'
    model = plants.made(plants.loop(extra=crowd), plants.shut("ab", transfer={"a": 1e-6, "b": 0.0}))
    still = model.steady()
    assert "compartments/oxygen-runs-out" in codes(still.findings)
    assert still["a"].oxygen >= 0.0
    run = model.transient(24.0)
    assert run.values("a", "oxygen").min() > -0.01
    assert "compartments/oxygen-runs-out" in codes(run.findings)


def test_alkalinity_that_runs_out_is_said():
    told = plants.shut("ab", feed={"a": conditions.Feed(rate=1e-3)}, nitrifying={"b": (1e-3, 2e-3)},
                       transfer={"a": 1e-3, "b": 1e-3}, exchange={"b": conditions.Exchange(flow=1e-5)},
                       alkalinity_kept=False)  # fmt: skip
    still = plants.made(plants.loop(), told).steady()
    assert "compartments/alkalinity-runs-out" in codes(still.findings)
    assert still["b"].alkalinity > 0.0


@pytest.mark.parametrize(("power", "small"), [("60 kW", False), ("2 kW", True)])
def test_a_chiller_too_small_is_named(power, small):
    house = plants.loop(
        through='through = ["p", "k"]',
        extra='[pump.p]\nname = "p"\nflow = "40 m3/h"\npower = "10 kW"\n'
        f'[equipment.k]\nkind = "chiller"\nname = "k"\npower = "{power}"\n',
    )
    told = plants.shut("ab", warmth={"a": 800.0, "b": 800.0}, setpoints={"k": 18.0})
    still = plants.made(house, told).steady()
    assert still.rest.settled
    assert ("compartments/chiller-small" in codes(still.findings)) is small
    if not small:
        assert still["a"].temperature == pytest.approx(18.0, abs=0.1)


def test_a_tank_by_itself_keeps_its_tracer_and_one_that_is_dosed_has_no_rest():
    house = plants.loop()
    model = plants.model.build(house, {}, plants.shut("ab", start={"a": {"tracer": 3.0}}, tracer={"b": 1e-3}))
    still = model.steady()
    assert still["a"].tracer == 3.0
    assert np.isnan(still["b"].tracer)
    assert {"compartments/no-flow", "compartments/no-steady-state"} <= codes(still.findings)


def test_a_place_without_water_is_told_and_passed_through():
    told = plants.shut("ab", volumes={"b": 0.0})
    model = plants.made(plants.loop(), told)
    assert model.places == ("a",)
    assert "compartments/no-volume" in codes(model.steady().findings)


def test_time_to_rest_by_eigenvalues_is_that_of_the_run():
    swap = {"b": conditions.Exchange(flow=1e-3)}
    model = plants.made(plants.loop(), plants.shut("ab", exchange=swap))
    run = model.transient(400.0, {"a": {"tracer": 1.0}, "b": {"tracer": 1.0}}, rtol=1e-5)
    assert run.settled_after("a", "tracer") == pytest.approx(model.time_to_rest("tracer"), rel=0.1)


def test_a_shut_body_is_seen_by_what_leaves_it():
    shut = np.array([[-1.0, 1.0, 0.0], [1.0, -1.0, 0.0], [0.0, 0.0, -1.0]])
    assert settling.holding(shut).tolist() == [True, True, False]
    x, endless, kept = settling.solve(shut, np.array([0.5, 0.0, 1.0]), np.ones(3), np.ones(3))
    assert endless.tolist() == [True, True, False]
    assert not kept.any()
    assert x[2] == pytest.approx(1.0)


def test_passages_through_a_mixing_machine_share_as_the_flows_do():
    house = plants.facility("""
schema = 1
[facility]
name = "header"
timezone = "Europe/London"
[tank.a]
volume = "5 m3"
[tank.c]
volume = "5 m3"
[sump.b]
volume = "5 m3"
[equipment.h]
kind = "header"
name = "h"
[run.up]
from = "b"
to = "h"
flow = "12 m3/h"
[run.to-a]
from = "h"
to = "a"
flow = "9 m3/h"
[run.to-c]
from = "h"
to = "c"
flow = "3 m3/h"
[run.from-a]
from = "a"
to = "b"
flow = "9 m3/h"
[run.from-c]
from = "c"
to = "b"
flow = "3 m3/h"
""")
    flow = {run.id: run.flow for run in house.runs.values()}
    ways = transport.passages(house, flow)
    shares = {(way.source, way.target): way.flow * 3600.0 for way in ways}
    assert shares == pytest.approx({("b", "a"): 9.0, ("b", "c"): 3.0, ("a", "b"): 9.0, ("c", "b"): 3.0})
    assert all("h" in way.parts for way in ways if way.source == "b")
    matrix = transport.Transport(("a", "b", "c"), (5.0, 5.0, 5.0), ways).matrix()
    assert np.allclose(matrix.sum(axis=0), 0.0, atol=1e-15)  # nothing is lost between places


def test_a_heater_too_small_is_named():
    house = plants.loop(
        through='through = ["h"]', extra='[equipment.h]\nkind = "heater"\nname = "h"\npower = "1 kW"\n'
    )
    told = plants.shut("ab", warmth={"a": 800.0, "b": 800.0}, setpoints={"h": 26.0})
    assert "compartments/heater-small" in codes(plants.made(house, told).steady().findings)


def test_flows_that_do_not_close_are_moved_and_told():
    house = plants.loop()
    model = plants.model.build(house, {"out": 0.005, "back": 40.0 / 3600.0}, plants.shut("ab"))
    assert "compartments/flow-moved" in codes(model.steady().findings)
    ways = {way.run: way.flow for way in model.plant.transport.passages}
    assert ways["out"] == pytest.approx(ways["back"], rel=1e-9)


def test_a_search_that_is_given_up_is_told(monkeypatch):
    monkeypatch.setattr(settling, "SWEEPS", 1)
    monkeypatch.setattr(settling, "_all_at_once", lambda *_: False)
    model = nearer_and_farther()
    assert "compartments/not-settled" in codes(model.steady().findings)


def apart():
    """The loop with a sump that also drains away, and beside it a second one that evaporates much more."""
    place = '[{0}]\nvolume = "5 m3"\ndepth = "1 m"\ntemperature = "20 °C"\nsalinity = "34 ppt"\n'
    run = '[run.{0}]\nfrom = "{1}"\nto = "{2}"\nflow = "{3} m3/h"\n'
    extra = place.format("tank.c") + place.format("sump.d") + run.format("cd", "c", "d", 5)
    extra += run.format("dc", "d", "c", 5) + run.format("waste", "b", "outside", 0.01)
    told = plants.shut("abcd", evaporation={"a": 1e-4, "b": 0.0, "c": 5e-2, "d": 0.0})
    return plants.made(plants.loop(extra=extra), told)


def test_a_system_is_topped_up_for_what_itself_evaporates_and_no_other():
    model = apart()
    ways = {way.run: way.flow * model.plant.density for way in model.plant.transport.passages}
    assert ways["top-up b"] == pytest.approx(1e-4, rel=1e-9)
    assert ways["top-up d"] == pytest.approx(5e-2, rel=1e-9)
    falling = [one for one in model.steady().findings if one.code == "compartments/no-steady-level"]
    assert [one.data["place"] for one in falling] == ["b"]  # what drains away is not evaporation


def closed(**more):
    crowd = '[[animals]]\nat = "a"\nspecies = "mullet"\nmass = "2 kg"\ncount = 10\n'
    return plants.made(plants.loop(extra=crowd), plants.shut("ab", **more)).steady().findings


def of_oxygen(found):
    return {one.code for one in found if "oxygen" in one.text}


def test_oxygen_that_nothing_brings_runs_out_and_one_that_nothing_uses_up_has_no_rest():
    assert of_oxygen(closed()) == {"compartments/oxygen-runs-out"}
    assert of_oxygen(closed(photosynthesis={"b": 1.0})) == {"compartments/no-steady-state"}


def test_alkalinity_that_nothing_gives_back_runs_out_though_the_plant_is_closed():
    told = plants.shut("ab", feed={"a": conditions.Feed(rate=1e-6)}, nitrifying={"b": (1e-3, 2e-3)},
                       transfer={"a": 1e-3, "b": 1e-3}, alkalinity_kept=False)  # fmt: skip
    found = plants.made(plants.loop(), told).steady().findings
    assert {one.code for one in found if "alkalinity" in one.text} == {"compartments/alkalinity-runs-out"}
