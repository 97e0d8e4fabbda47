"""Bodies of water laid out: their rates are those of the compartments, levels stand, laws hold."""

import numpy as np
import pytest
from tests.network.transients import halls, plainly

from brinehouse.facility import model
from brinehouse.network import flows, plumbing
from brinehouse.network.compartments import assembly, building, conditions, plant
from brinehouse.network.transients import daytime, laying, tables
from brinehouse.science import weirs

HOUR = 3600.0


def off(hall, told, body, x_of=1.0, edit=None):
    """The largest difference of the rates of a body from those of the compartments, over the water's own."""
    made = building.build(hall, flows.stated(hall).flows, told).plant
    here = [made.places.index(place) for place in body.places]
    rng = np.random.default_rng(3)
    x = made.start * (1.0 + 0.02 * x_of * rng.standard_normal(made.start.shape))
    x[:, here] = np.maximum(body.x * (1.0 + 0.02 * x_of * rng.standard_normal(body.x.shape)), 1e-3)
    balances = assembly.every(assembly.Assembly(made), x)
    want = np.array([
        (balances[name].matrix @ x[row] + balances[name].load - made.rates * x[row])[here]
        for name, row in plant.AT.items()
    ])  # fmt: skip
    way, op, place = (table[0, 0].copy() for table in (body.base.way, body.base.op, body.base.place))
    if edit is not None:
        edit(way, op, place)
    got, level = plainly.rates(body.structure, way, op, place, x[:, here], body.volume)
    size = np.abs(x[:, here]) * np.maximum(made.transport.outflow[here], 1e-4) + 1e-9
    assert level == pytest.approx(made.rates[here], abs=1e-12)
    return float(np.max(np.abs(got - want) / size))


@pytest.fixture(scope="module")
def demo():
    hall = halls.demo()
    told = halls.acting(hall)
    return hall, told, halls.laid(hall, told)


def test_the_rates_of_the_demo_are_those_of_its_compartments(demo):
    hall, told, found = demo
    assert [body.places for body in found.bodies][:3] == [
        ("mangrove", "pipefish", "estuary", "sump-m"), ("kelp", "ledge", "sump-k"), ("cold-bench", "sump-c"),
    ]  # fmt: skip
    assert max(off(hall, told, body) for body in found.bodies) < 1e-9


def test_a_number_put_wrong_shows(demo):
    hall, told, found = demo

    def fault(_way, op, _place):
        op[0, 0] *= 1.01

    assert off(hall, told, found.bodies[0], edit=fault) > 1e-6


@pytest.mark.parametrize("seed", range(6))
def test_the_rates_of_plants_made_by_a_seed_are_those_of_their_compartments(seed):
    hall = halls.generated(seed)
    told = halls.acting(hall)
    for body in halls.laid(hall, told).bodies:
        assert off(hall, told, body) < 1e-9


def test_a_file_with_flows_only_is_laid_out_all_the_same():
    hall = halls.generated(11, bare=True)
    told = halls.acting(hall)
    found = halls.laid(hall, told)
    assert len(found.bodies) == 1
    assert off(hall, told, found.bodies[0]) < 1e-9
    assert "transients/no-rim" in [one.code for one in found.findings]


def test_a_file_without_water_ends_in_a_finding():
    found = halls.laid(model.Facility(name="nothing"), conditions.Conditions())
    assert found.bodies == ()
    assert found.findings[-1].code == "transients/no-water"


def test_a_store_by_itself_is_no_body_of_water_that_anybody_waits_for(demo):
    places = [place for body in demo[2].bodies for place in body.places]
    assert "q-1" in places
    assert "salt-store" not in places
    store = model.Vessel(id="store", kind="vessel", name="store", volume=8.0, stands_alone=True)
    found = halls.laid(model.Facility(name="stores", vessels={"store": store}), conditions.Conditions())
    assert found.bodies == ()
    assert "transients/no-water" in [one.code for one in found.findings]


def test_the_usual_water_stands_over_a_weir_as_high_as_the_weir_law_says(demo):
    body = demo[2].bodies[0]
    at = body.places.index("mangrove")
    way = body.structure.ways.index("m-overflow")
    spill = body.base.way[0, 0, way]
    head = (body.volume[at] - spill[tables.WAY_LEVEL]) / body.area[at]
    # 48 m³/h and what the tank is topped up with, over 0.6 m: 1.84 b h^1.5, from memory
    assert head == pytest.approx(float(weirs.free_weir_head(48.0 / HOUR, 0.6)), rel=2e-3)


@pytest.mark.parametrize(("loop", "sump"), [(0, "sump-m"), (1, "sump-k"), (2, "sump-c")])
def test_what_runs_off_when_all_stops_is_what_the_layout_lets_come_back(demo, loop, sump):
    hall, _, found = demo
    body = found.bodies[loop]
    stated = flows.stated(hall).flows
    drain = plumbing.stations(hall, flows=stated).drains[sump]  # crests only: its pipes hold by check valves
    over = {
        int(source): body.volume[source] - row[tables.WAY_LEVEL]
        for source, law, runs, row in zip(
            body.structure.source, body.structure.law, body.runs, body.base.way[0, 0], strict=True
        )
        if law == tables.SPILL and runs
    }
    assert sum(over.values()) == pytest.approx(drain.usual, rel=2e-3)


def test_the_rim_counts_by_its_height_else_by_what_a_place_can_hold():
    high = halls.laid(halls.loop(sump='rim = "0.6 m"')).bodies[0]
    assert high.rim[1] == pytest.approx(4.0 + 0.6 * 4.0)  # 0.6 m over its water, 4 m² of surface
    assert halls.laid(halls.loop()).bodies[0].rim[1] == pytest.approx(6.0)
    assert np.isinf(halls.laid(halls.loop()).bodies[0].rim[0])


def test_a_pump_under_water_is_cut_at_its_inlet_and_one_above_by_an_assumed_share(demo):
    m, k = demo[2].bodies[:2]
    assert k.cut[k.places.index("sump-k")] == pytest.approx(3.0 - (1.2 - 0.2) * 2.5)  # 0.2 m over the floor
    assert m.cut[m.places.index("sump-m")] == pytest.approx(0.15 * 5.2)
    assert any("sump-m" in one.what and "draw air" in one.what for one in demo[2].assumed)


def test_limits_are_taken_over_for_the_places_of_a_body(demo):
    body = demo[2].bodies[1]
    told = [("kelp", "oxygen", 5.0, False), ("mangrove", "oxygen", 5.0, False), ("ledge", "ph", 8.4, True)]
    made = laying.with_limits(body, told)
    assert made.limit_place.tolist() == [0, 1]
    assert [tables.QUANTITIES[at] for at in made.limit_quantity] == ["oxygen", "ph"]
    assert made.limit_upper.tolist() == [False, True]
    assert len(body.structure.limit_place) == 0


def test_a_start_may_be_told(demo):
    hall, told, found = demo
    body = halls.laid(hall, told, state={"kelp": {"oxygen": 200.0}}).bodies[1]
    assert body.x[plant.AT["oxygen"], 0] == 200.0
    assert body.x[plant.AT["oxygen"], 1] == found.bodies[1].x[plant.AT["oxygen"], 1]


def test_a_float_valve_gives_what_evaporates_and_all_it_can_when_the_water_is_low():
    body = halls.laid(halls.loop(sump='top_up = "0.6 m3/h"')).bodies[0]
    way = body.structure.ways.index("top-up low")
    usual = plainly.flows(body.structure, body.base.way[0, 0], body.volume)
    assert usual[way] == pytest.approx(body.base.place[0, 0, :, tables.AT["evaporation"]].sum())
    low = plainly.flows(body.structure, body.base.way[0, 0], body.volume * 0.9)
    assert low[way] == pytest.approx(0.6 / HOUR)


def test_light_is_its_own_mean_over_a_day():
    day = daytime.day()
    hours = (np.arange(2400) + 0.5) / 100.0
    assert np.mean([daytime.light(day, hour) for hour in hours]) == pytest.approx(1.0, abs=1e-4)
    assert daytime.light(daytime.even(), 3.0) == 1.0


def test_pumps_and_machines_shared_by_several_runs_warm_the_water_by_their_power(demo):
    body, told = demo[2].bodies[0], demo[1]
    made = building.build(demo[0], flows.stated(demo[0]).flows, told).plant
    heats = [
        at for at, (kind, part) in enumerate(zip(body.structure.kind, body.structure.machines, strict=True))
        if kind == tables.HEAT and part == "return-m"
    ]  # fmt: skip
    watts = sum(body.base.op[0, 0, at, 0] * body.usual[body.op_way[at]] for at in heats)
    assert len(heats) == 3
    assert watts * made.density * made.heat_capacity == pytest.approx(3 * 1500.0)
