"""What failures and what helps put into the tables of a body of water."""

import dataclasses
import math
import time

import numpy as np
import pytest
from tests.network.transients import halls, plainly

from brinehouse.facility import model
from brinehouse.network.compartments import conditions
from brinehouse.network.transients import effects, happening, laying, tables
from brinehouse.science import respiration

HOUR = 3600.0
AT = tables.AT
E = effects.Effect


@pytest.fixture(scope="module")
def m():
    """The warm loop of the demo: three of four pumps on one way to a column, one to a tank, one to itself."""
    return halls.laid(halls.demo()).bodies[0]


@pytest.fixture(scope="module")
def reef():
    return halls.laid(halls.loop()).bodies[0]


def flow(made, row, phase, way, body):
    """Flow of a way in one phase [m³/h]."""
    return made.way[row, phase, body.structure.ways.index(way), tables.WAY_FLOW] * HOUR


def place(made, row, body, name, column, phase=-1):
    return made.place[row, phase, body.places.index(name), AT[column]]


def ops(made, row, body, part, kind, phase=-1):
    return [
        made.op[row, phase, at]
        for at, name in enumerate(body.structure.machines)
        if name == part and body.structure.kind[at] == kind
    ]


# --- pumps -------------------------------------------------------------------------------------------------


def test_nothing_happening_is_the_plant_as_it_runs(m):
    made = laying.batch(m, [[], [E("power")]], clock=[3.0, 4.0])
    for ours, base in ((made.way, m.base.way), (made.op, m.base.op), (made.place, m.base.place)):
        assert (ours[0, 0] == base[0, 0]).all()
    assert made.clock.tolist() == [3.0, 4.0]
    assert (made.x[0] == m.x).all()


def test_an_automatic_standby_takes_over_after_its_delay(reef):
    made = laying.batch(reef, [[E("stop", "P-1")]])
    assert made.until[0, 0] == 60.0
    assert flow(made, 0, 0, "up", reef) == 0.0
    assert flow(made, 0, 1, "up", reef) == pytest.approx(12.0)
    quick = halls.laid(halls.loop(duty='change_over = "25 s"')).bodies[0]
    assert laying.batch(quick, [[E("stop", "P-1")]]).until[0, 0] == 25.0


@pytest.mark.parametrize(
    "why",
    [E("no-change-over", "return"), E("dead-standby", "P-2"), E("dead-standby", "return"), E("stop", "P-2")],
)
def test_nothing_takes_over_where_the_standby_cannot(reef, why):
    made = laying.batch(reef, [[E("stop", "P-1"), why]])
    assert (made.way[0, :, 0, tables.WAY_FLOW] == 0.0).all()


def test_a_dead_standby_alone_changes_nothing(reef):
    made = laying.batch(reef, [[E("dead-standby", "P-2")]])
    assert made.way[0] == pytest.approx(reef.base.way[0])


def test_a_standby_by_hand_runs_when_somebody_starts_it():
    body = halls.laid(halls.loop(standby="by hand")).bodies[0]
    made = laying.batch(body, [[E("stop", "P-1"), E("start", "P-2", after=1800.0)]])
    assert [flow(made, 0, phase, "up", body) for phase in (0, 1)] == pytest.approx([0.0, 12.0])
    assert made.until[0, 0] == 1800.0


def test_a_spare_put_in_the_place_of_a_broken_pump_runs(reef):
    made = laying.batch(reef, [[E("stop", "return"), E("start", "return", after=600.0)]])
    assert [flow(made, 0, phase, "up", reef) for phase in (0, -1)] == pytest.approx([0.0, 12.0])


def test_pumps_that_are_left_carry_more_where_curves_are_told(m):
    made = laying.batch(m, [[E("stop", "P-201"), E("dead-standby", "P-204")]])
    assert 48.0 * 2 / 3 < flow(made, 0, 0, "m-supply", m) < 48.0
    assert m.shares.computed >= {"m-supply", "m-estuary", "m-skim"}


def test_pumps_that_are_left_carry_their_share_where_no_curve_is_told():
    body = halls.laid(halls.loop(pumps=3, keep=2)).bodies[0]
    made = laying.batch(body, [[E("stop", "P-1"), E("dead-standby", "return")]])
    assert flow(made, 0, 0, "up", body) == pytest.approx(6.0)
    assert body.shares.computed == frozenset()


@pytest.mark.parametrize("curves", [False, True])
def test_what_parts_behind_a_machine_is_the_water_that_came_to_it(curves):
    body = halls.laid(halls.parting(curves=curves)).bodies[0]
    ways = [at for at, runs in enumerate(body.runs) if runs and runs[0] == "lead"]
    assert [body.runs[at] for at in ways] == [("lead", "to-a"), ("lead", "to-b")]
    made = laying.batch(body, [[E("stop", "P-1"), E("no-change-over", "return")], [E("stop", "return")],
                               [E("valve", "to-a", 0.0)]])  # fmt: skip
    kept = made.way[:, 0, ways, tables.WAY_FLOW] / body.usual[ways]
    low = 0.55 if curves else 0.5  # the one that is left goes further along its curve
    assert kept[0].min() >= low - 1e-9
    assert kept[0].max() < 1.0
    assert kept[1].tolist() == [0.0, 0.0]
    assert kept[2, 0] == 0.0
    assert kept[2, 1] > 1.0


def test_each_running_pump_warms_the_water_by_its_power(m):
    made = laying.batch(m, [[E("stop", "P-201"), E("dead-standby", "P-204")]])
    usual = warmed(m.base.way[0, 0], m.base.op[0, 0], m, "return-m")
    assert warmed(made.way[0, 0], made.op[0, 0], m, "return-m") == pytest.approx(usual * 2 / 3)
    lamp = warmed(m.base.way[0, 0], m.base.op[0, 0], m, "uv-m")
    assert warmed(made.way[0, 0], made.op[0, 0], m, "uv-m") == pytest.approx(lamp)


def warmed(way, op, body, part):
    """K m³/s that a part warms the water by."""
    return sum(
        op[at, 0] * way[body.op_way[at], tables.WAY_FLOW]
        for at, name in enumerate(body.structure.machines)
        if name == part and body.structure.kind[at] == tables.HEAT
    )


def test_a_chiller_does_as_much_in_less_water(m):
    made = laying.batch(m, [[E("stop", "P-201"), E("dead-standby", "P-204")]])
    before = sum(row[1] * m.usual[0] for row in ops(m.base, 0, m, "chiller-m", tables.HOLD)[:1])
    after = ops(made, 0, m, "chiller-m", tables.HOLD)[0][1]
    total = sum(m.usual[:2])
    now = made.way[0, 0, :2, tables.WAY_FLOW].sum()
    assert after * now == pytest.approx(before / m.usual[0] * total)


# --- power -------------------------------------------------------------------------------------------------


def test_without_power_pumps_machines_lamps_and_dosing_stop_and_falls_go_on(m):
    made = laying.batch(m, [[E("power")]])
    driven = m.structure.law == tables.PUMPED
    drawn = np.array([bool(runs) for runs in m.runs])
    assert (made.way[0, 0, driven & drawn, tables.WAY_FLOW] == 0.0).all()
    spill = m.structure.law == tables.SPILL
    assert (made.way[0, 0, spill] == m.base.way[0, 0, spill]).all()
    for name in ("lamps", "photo", "own", "dosing", "kept"):
        assert (made.place[0, 0, :, AT[name]] == 0.0).all()
    assert all((row[1:3] == 0.0).all() for row in ops(made, 0, m, "chiller-m", tables.HOLD))


def test_without_power_a_tank_of_its_own_has_a_quiet_surface_and_no_heater():
    hall = halls.demo()
    told = halls.acting(hall, transfer={"q-1": 1e-4, "mangrove": 1e-5}, own={"q-1": (25.0, 800.0)})
    body = next(one for one in halls.laid(hall, told).bodies if "q-1" in one.places)
    made = laying.batch(body, [[], [E("power")]])
    assert place(made, 1, body, "q-1", "velocity") == pytest.approx(
        0.1 * place(made, 0, body, "q-1", "velocity")
    )
    assert place(made, 1, body, "q-1", "own") == 0.0
    assert place(made, 0, body, "q-1", "own") > 0.0


def test_a_board_takes_down_what_it_feeds_and_the_change_over_it_feeds():
    extra = '[board.main]\n[board.sub]\nfed_from = "main"\n'
    body = halls.laid(halls.loop(extra=extra, duty='board = "sub"')).bodies[0]
    made = laying.batch(
        body, [[E("board", "main"), E("stop", "P-1")], [E("stop", "P-1")], [E("board", "main")]]
    )
    assert (made.way[0, :, 0, tables.WAY_FLOW] == 0.0).all()
    assert flow(made, 1, 1, "up", body) == pytest.approx(12.0)
    assert flow(made, 2, 0, "up", body) == pytest.approx(12.0)


# --- water -------------------------------------------------------------------------------------------------


def test_a_blocked_screen_lets_through_the_rest_and_the_tank_rises_to_its_rim(reef):
    made = laying.batch(reef, [[E("blocked", "sieve", 1.0)], [E("blocked", "sieve", 0.5)]])
    down = reef.structure.ways.index("down")
    assert made.way[0, 0, down, tables.WAY_SCALE] == 0.0
    assert made.way[1, 0, down, tables.WAY_SCALE] == pytest.approx(0.5 * reef.base.way[0, 0, down, 1])
    low = halls.laid(halls.loop(tank='rim = "2.4 m"')).bodies[0]
    over = low.structure.ways.index("over the rim of reef")
    full = laying.batch(low, [[E("blocked", "sieve", 1.0)]])
    height = low.rim[0] + 1.0
    q = plainly.flows(low.structure, full.way[0, 0], np.array([height, 4.0]))
    assert q[over] > 0.0
    assert low.structure.target[over] == -1


def test_a_shut_valve_stops_its_run_and_gives_the_others_more(m):
    made = laying.batch(m, [[E("valve", "m-supply", 0.0)], [E("valve", "m-overflow", 0.25)]])
    assert flow(made, 0, 0, "m-supply", m) == 0.0
    assert flow(made, 0, 0, "m-estuary", m) > 16.0
    at = m.structure.ways.index("m-overflow")
    assert made.way[1, 0, at, tables.WAY_SCALE] == pytest.approx(
        0.25 * m.base.way[0, 0, at, tables.WAY_SCALE]
    )


@pytest.mark.parametrize("where", ["floor", "middle"])
def test_a_hole_runs_out_by_the_root_of_the_water_over_it(reef, where):
    made = laying.batch(reef, [[E("leak", "reef", 0.025, where)]])
    out = plainly.flows(reef.structure, made.way[0, 0], reef.volume)[
        reef.structure.ways.index("hole in reef")
    ]
    height = reef.volume[0] * (0.99 if where == "floor" else 0.5) / 16.0
    # sharp round hole: 0.61 A sqrt(2 g h), from memory
    assert out == pytest.approx(0.61 * math.pi / 4 * 0.025**2 * math.sqrt(2 * 9.80665 * height), rel=1e-5)


def test_a_stuck_top_up_runs_whatever_the_level_until_its_store_is_empty():
    store = '[vessel.store]\nvolume = "2 m3"\nstands_alone = true\n'
    body = halls.laid(halls.loop(sump='top_up = "1 m3/h"\ntop_up_from = "store"', extra=store)).bodies[0]
    made = laying.batch(body, [[E("top-up", "low", 1.0 / HOUR)], [E("top-up", "low", 0.0)]])
    way = body.structure.ways.index("top-up low")
    full = plainly.flows(body.structure, made.way[0, 0], body.volume + 1.0)[way]
    assert full == pytest.approx(1.0 / HOUR)
    assert made.until[0, 0] == pytest.approx(2.0 * HOUR)
    assert made.way[0, 1, way, tables.WAY_FLOW] == 0.0
    assert made.way[1, 0, way, tables.WAY_FLOW] == 0.0


def test_a_pipe_without_check_valve_empties_into_the_sump_and_its_siphon_into_it():
    told = 'length = "20 m"\ndiameter = "80 mm"\noutlet = "1.9 m"'
    hall = halls.loop(supply=told)
    body = halls.laid(hall).bodies[0]  # a column stands on its way: air gets in, nothing is sucked back
    made = laying.batch(body, [[], [E("power")], [E("stop", "P-1")]])
    pipe = math.pi / 4 * 0.08**2 * 20.0
    assert made.volume[:, 1] - body.volume[1] == pytest.approx([0.0, pipe, 0.0])
    assert not any(name.startswith("siphon") for name in body.structure.ways)


def test_a_run_without_a_break_sucks_its_tank_down_to_its_mouth_while_its_pumps_stand():
    told = 'length = "20 m"\ndiameter = "80 mm"\noutlet = "1.9 m"'
    hall = halls.loop(supply=told)
    up = hall.runs["up"]
    runs = {**hall.runs, "up": dataclasses.replace(up, through=("return", "cold"))}
    body = halls.laid(dataclasses.replace(hall, runs=runs)).bodies[0]
    way = body.structure.ways.index("siphon up")
    made = laying.batch(body, [[], [E("power")]])
    assert made.way[0, 0, way, tables.WAY_SCALE] == 0.0
    usual = plainly.flows(body.structure, made.way[1, 0], body.volume)[way]
    assert 5.0 < usual * HOUR < 200.0
    low = 20.0 - (2.2 - 1.9) * 16.0 - (body.volume[0] - body.base.way[0, 0, 1, tables.WAY_LEVEL]) - 0.01
    assert plainly.flows(body.structure, made.way[1, 0], np.array([low, 4.0]))[way] == 0.0


# --- machines and animals ----------------------------------------------------------------------------------


def test_a_chiller_full_on_cools_with_all_it_has_whatever_the_temperature(m):
    made = laying.batch(m, [[E("full-on", "chiller-m")], [E("stop", "chiller-m")]])
    hold = ops(made, 0, m, "chiller-m", tables.HOLD)[0]
    assert hold[0] == happening.COLDEST
    assert hold[1] == pytest.approx(ops(m.base, 0, m, "chiller-m", tables.HOLD)[0][1])
    assert hold[2] == 0.0
    assert (ops(made, 1, m, "chiller-m", tables.HOLD)[0][1:3] == 0.0).all()


def test_a_chiller_of_which_no_power_is_told_cools_twice_as_far_as_it_usually_does_when_full_on():
    hall = halls.demo()
    told = halls.acting(hall, capacities={"chiller-m": 1e8}, warming={"chiller-m": 1e8})
    found = halls.laid(hall, told)
    made = laying.batch(found.bodies[0], [[E("full-on", "chiller-m")]])
    assert 0.2 < ops(made, 0, found.bodies[0], "chiller-m", tables.HOLD)[0][1] < 5.0
    assert any("chiller-m" in one.what for one in found.bodies[0].assumed)


def test_a_column_without_its_fan_keeps_a_share_and_a_fractionator_nothing(m):
    made = laying.batch(m, [[E("stop", "column-m"), E("stop", "fractionator-m")]])
    column, usual = (ops(one, 0, m, "column-m", tables.CONTACT)[0] for one in (made, m.base))
    assert column[:4] == pytest.approx(usual[:4] * happening.FAN_OFF)
    assert (ops(made, 0, m, "fractionator-m", tables.CONTACT)[0][:4] == 0.0).all()


def test_a_heater_in_a_tank_of_its_own_stops_or_heats_without_end():
    hall = halls.demo()
    machine = model.Equipment(id="rod", kind="heater", name="rod", at="q-1", power=600.0)
    hall = dataclasses.replace(hall, equipment={**hall.equipment, "rod": machine})
    told = halls.acting(hall, own={"q-1": (25.0, 800.0)})
    body = next(one for one in halls.laid(hall, told).bodies if "q-1" in one.places)
    made = laying.batch(body, [[E("stop", "rod")], [E("full-on", "rod")]])
    assert place(made, 0, body, "q-1", "own") == 0.0
    strong, at = (place(made, 1, body, "q-1", name) for name in ("own", "own_at"))
    assert strong * (at - body.x[0, 0]) * body.heat_capacity == pytest.approx(600.0)
    assert laying.touches(body, [E("stop", "rod")])


def test_a_screen_without_its_motor_still_lets_water_fall_and_a_vacuum_goes_with_its_pump():
    hall = halls.demo()
    machines = {**hall.equipment}
    machines["column-m"] = dataclasses.replace(machines["column-m"], kind="degasser", height=None, pool=None)
    hall = dataclasses.replace(hall, equipment=machines)
    reach = dict.fromkeys(conditions.GASES, 0.5)
    told = halls.acting(hall, contacts={
        "column-m": conditions.Contact(effectiveness=reach, pressure=60e3),
        "screen-m": conditions.Contact(effectiveness=reach),
    })  # fmt: skip
    body = halls.laid(hall, told).bodies[0]
    made = laying.batch(body, [[E("stop", "column-m"), E("stop", "screen-m")]])
    assert ops(made, 0, body, "column-m", tables.CONTACT)[0][4] > 90e3
    assert ops(made, 0, body, "screen-m", tables.CONTACT)[0][0] == 0.5


def test_air_at_a_suction_goes_where_its_pump_pumps_and_only_while_it_runs(m):
    made = laying.batch(m, [[E("air", "P-201", 6.0)], [E("air", "P-204", 6.0)],
                            [E("air", "P-201", 6.0), E("stop", "P-201")]])  # fmt: skip
    drawn = ops(made, 0, m, "return-m", tables.AIR)[0]
    # 6 mL in one pump of three: 2 mL/L, 44.6 µmol in a mL, 20.95 % oxygen, 1.022 kg/L
    assert drawn[0] == pytest.approx(2.0 * 44.615 * 0.20946 / 1.0225, rel=2e-3)
    assert (ops(made, 1, m, "return-m", tables.AIR)[0][:3] == 0.0).all()
    assert (ops(made, 2, m, "return-m", tables.AIR)[0][:3] == 0.0).all()


def test_more_food_is_more_ammonia_and_more_breathing_and_none_is_less_of_both(m):
    made = laying.batch(m, [[E("feed", "", 3.0)], [E("feed", "pipefish", 2.0)], [E("no-feed")],
                            [E("feed", "", 3.0), E("no-feed", after=60.0)]])  # fmt: skip
    ammonia = made.place[:, :, :, AT["ammonia"]] / m.base.place[0, 0, :, AT["ammonia"]].clip(1e-30)
    assert ammonia[0, 0, :3] == pytest.approx([3.0] * 3)
    assert ammonia[1, 0, :3] == pytest.approx([1.0, 2.0, 1.0])
    assert ammonia[2, 0, :3] == pytest.approx([0.3] * 3)
    assert ammonia[3, 1, :3] == pytest.approx([0.3] * 3)
    breath = place(made, 1, m, "pipefish", "breath") / place(m.base, 0, m, "pipefish", "breath")
    assert breath == pytest.approx(respiration.AFTER_FEEDING / respiration.ROUTINE, abs=0.01)
    assert place(made, 2, m, "pipefish", "breath") < place(m.base, 0, m, "pipefish", "breath")


def test_air_stones_exchange_gas_so_many_times_a_quiet_surface_though_nothing_flows(m):
    made = laying.batch(m, [[E("power"), E("aerate", "mangrove", 4.0, after=1800.0)]])
    assert place(made, 0, m, "mangrove", "still", 0) < 1.0
    assert place(made, 0, m, "mangrove", "still", 1) == 1.0
    quiet = m.quiet[m.places.index("mangrove")]
    assert place(made, 0, m, "mangrove", "velocity", 1) == pytest.approx(4.0 * quiet)
    ended = laying.batch(m, [[E("aerate", "mangrove", 4.0), E("aerate", "mangrove", 1.0, after=600.0)]])
    assert place(ended, 0, m, "mangrove", "still", 1) < 1.0


def test_water_changed_by_people_runs_in_and_out_alike(reef):
    made = laying.batch(reef, [[E("exchange", "reef", 0.1)]])
    inward, outward = (flow(made, 0, 0, f"{name} reef", reef) for name in ("change", "drain"))
    assert inward == pytest.approx(outward) == pytest.approx(0.1 * reef.volume[0])
    none = laying.batch(reef, [[E("no-exchange")]])
    assert none.way[0, 0, reef.extra.top_up[1], tables.WAY_FLOW] == 0.0


def test_a_warm_room_is_warm_at_every_place(m):
    made = laying.batch(m, [[E("room", value=31.0)]])
    assert (made.place[0, 0, :, AT["room"]] == 31.0).all()


# --- many --------------------------------------------------------------------------------------------------


def test_scenarios_of_fewer_phases_go_on_as_their_last(reef):
    made = laying.batch(reef, [[E("power")], [E("stop", "P-1"), E("power", after=500.0)]])
    assert made.until.shape == (2, 3)
    assert (np.diff(made.until, axis=1) > 0.0).all()
    assert (made.way[0, 1] == made.way[0, 0]).all()


def test_a_body_is_left_alone_by_what_happens_elsewhere():
    m, k = halls.laid(halls.demo()).bodies[:2]
    mine = [
        E("stop", "P-201"), E("full-on", "chiller-m"), E("leak", "mangrove", 0.02), E("air", "P-202", 3.0),
        E("valve", "m-side", 0.0), E("feed", "estuary", 2.0), E("blocked", "screen-m", 0.5),
        E("top-up", "sump-m", 0.0), E("dead-standby", "return-m"),
    ]  # fmt: skip
    assert all(laying.touches(m, [one]) and not laying.touches(k, [one]) for one in mine)
    for one in (E("power"), E("room", value=30.0), E("no-feed"), E("no-exchange")):
        assert laying.touches(m, [one])
        assert laying.touches(k, [one])
    assert not laying.touches(m, [])


def test_a_start_may_be_another_than_the_body_s_own(reef):
    x = reef.x * 1.01
    made = laying.batch(reef, [[], [E("power")]], x=x, volume=np.array([19.0, 3.0]))
    assert (made.x == x).all()
    assert made.volume.tolist() == [[19.0, 3.0]] * 2


def test_two_hundred_scenarios_are_put_into_tables_in_a_blink(m):
    one = [[E("stop", name)] for name in (*m.groups["return-m"].pumps, "chiller-m", "uv-m", "column-m")]
    one += [[E("power")], [E("leak", "mangrove", 0.02)], [E("feed", "", 2.0)], [E("valve", "m-supply", 0.2)]]
    pairs = [a + b for a in one for b in one for _ in range(2)][:232]
    taken = []
    for _ in range(3):
        begin = time.process_time()
        laying.batch(m, pairs)
        taken.append(time.process_time() - begin)
    assert min(taken) < 0.2  # s; some 0.04 on the machine it was written on
