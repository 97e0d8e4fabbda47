"""One gas round a loop: against closed forms, a general solver, and what must always hold."""

import dataclasses
import math

import numpy as np
import pytest
import small_plant
from hypothesis import given as having
from hypothesis import settings
from hypothesis import strategies as st
from scipy import integrate

from brinehouse.engines.gas_sources import balance, loop
from brinehouse.facility import reading

AIR = balance.air(25.0, 34.0, 723.0)
NEVER = -60.0


def bare(**extra):
    """Parameters under which nothing happens but what is named."""
    values = {f"surface:{place}": NEVER for place in ("high", "low", "basin")}
    return {**values, **extra}


def lay():
    hall = small_plant.facility()
    return loop.of(hall, "s", small_plant.flows(hall), ["up"])


def two_tanks():
    """The loop with its low tank and its column left out, and its pumps without warmth."""
    whole = lay()
    legs = tuple(leg for leg in whole.legs if leg.run in ("up", "back"))
    made = dataclasses.replace(whole, legs=legs, power={})
    return loop.without(made, "column")


@having(
    leak=st.floats(-30.0, 60.0),
    speeds=st.tuples(st.floats(0.01, 3.0), st.floats(0.01, 3.0)),
)
@settings(max_examples=60, deadline=None)
def test_a_loop_of_two_closes_to_its_closed_form(leak, speeds):
    values = bare(**{
        "surface:high": math.log(speeds[0]), "surface:basin": math.log(speeds[1]),
        "leak:return": leak, "leak share": 0.0,
    })  # fmt: skip
    system = balance.assemble(two_tanks(), values, "inert", AIR)
    high, _, basin = system.steady(system.total())
    flow, up, down = 20.0, speeds[0] * 10.0, speeds[1] * 4.0
    # closed form: flow (basin + leak - high) = up high; flow (high - basin) = down basin
    expected = flow * leak / (flow + up - flow * flow / (flow + down))
    scale = max(abs(expected), 1.0)
    assert high == pytest.approx(expected, abs=1e-10 * scale)
    assert basin == pytest.approx(flow * expected / (flow + down), abs=1e-10 * scale)


def test_the_transient_agrees_with_a_general_solver():
    values = bare(**{"surface:high": -1.0, "surface:low": 0.0, "surface:basin": -0.5, "strip:column": -0.5,
                     "leak:return": 12.0, "leak share": 0.0})  # fmt: skip
    system = balance.assemble(lay(), values, "inert", AIR)
    load = system.sources["leak:return"]
    rates, shapes, inverse = system.modes()
    rest = system.steady(load)
    for hours in (0.1, 1.0, 5.0):
        got = np.real(shapes @ (-np.expm1(rates * hours) * (inverse @ rest)))
        peer = integrate.solve_ivp(
            lambda _, x: (system.matrix @ x + load) / system.volumes, (0.0, hours), np.zeros(3),
            rtol=1e-10, atol=1e-12,
        )  # fmt: skip
        assert got == pytest.approx(peer.y[:, -1], rel=2e-3), "volumes are split by parts in 10^4"


def test_sources_sum_to_the_whole():
    values = bare(**{"surface:low": 0.0, "surface:high": 0.0, "carried:up": 1.0, "carried:side": 0.5,
                     "life:low": -2.0, "warming": 0.0, "strip:column": 0.0})  # fmt: skip
    for gas in loop.GASES:
        system = balance.assemble(lay(), values, gas, AIR)
        assert np.sum(list(system.by_source().values()), axis=0) == pytest.approx(
            system.steady(system.total()), rel=1e-10
        )


def test_a_packed_column_leaves_what_its_number_says():
    # Dawson and Marking, as quoted: G(N2) = 1.825 leaves 16.1 %; 106 to 102 % needs G = 1.10
    for number, left in ((1.825, 0.1612), (1.10, 0.3333)):
        values = bare(**{"strip:column": math.log(number)})
        system = balance.assemble(lay(), values, "inert", AIR)
        assert system.matrix[0, 2] / 20.0 == pytest.approx(left, abs=0.001)


def test_an_idle_machine_changes_nothing():
    values = bare(**{"strip:column": 0.5})
    system = balance.assemble(lay(), values, "inert", AIR, frozenset({"column"}))
    assert system.matrix[0, 2] == pytest.approx(20.0)


def test_a_stripper_brings_each_gas_nearer_its_balance_at_its_outlet():
    for number in (-2.0, 0.0, 2.0):
        system = balance.assemble(lay(), bare(**{"strip:column": number}), "oxygen", AIR)
        assert 0.0 < system.matrix[0, 2] < 20.0


def test_equal_tanks_side_by_side_can_be_solved_in_time():
    whole = lay()
    even = dataclasses.replace(whole, volumes=np.full(3, 5.0), surfaces=np.full(3, 4.0))
    values = {f"surface:{place}": 0.0 for place in even.places}
    rates, shapes, inverse = balance.assemble(even, values, "inert", AIR).modes()
    assert np.isfinite(shapes).all()
    assert shapes @ inverse == pytest.approx(np.eye(3), abs=1e-9)
    assert (rates.real < 0.0).all()


def test_warming_is_the_power_over_the_water_and_science_says_what_that_lifts():
    system = balance.assemble(lay(), bare(warming=0.0), "inert", AIR)
    kelvin = 2.0 * 3600.0 / (26.0 * 4090.0)  # two pumps of 1 kW into 26 m³/h of sea water, 4.09 MJ/m³K
    assert system.sources["warming:return"][1] / 6.0 == pytest.approx(
        kelvin * AIR.per_kelvin["inert"], rel=0.01
    )
    # science reference: closed heating 24.5 to 25.5 °C lifts TGP by 1.50 %, some 11 mmHg
    total = AIR.per_kelvin["oxygen"] + AIR.per_kelvin["inert"]
    assert total / 723.0 == pytest.approx(0.0149, abs=0.0005)


def test_the_closed_form_bites_when_a_surface_is_forgotten():
    values = bare(**{"surface:high": 0.0, "surface:basin": 0.0, "leak:return": 10.0, "leak share": 0.0})
    right = balance.assemble(two_tanks(), values, "inert", AIR)
    wrong = balance.assemble(two_tanks(), {**values, "surface:high": NEVER}, "inert", AIR)
    assert abs(wrong.steady(wrong.total())[0] - right.steady(right.total())[0]) > 1.0


def test_water_that_comes_in_from_outside_brings_its_excess():
    text = small_plant.TEXT.replace("{elevation}", "2.5 m")
    text += """
[run.fresh]
name = "new water"
from = "outside"
to = "basin"
flow = "1 m3/h"
"""
    hall = reading.read(text).facility
    made = loop.of(hall, "s", small_plant.flows(hall))
    system = balance.assemble(made, bare(**{"surface:basin": 0.0, "incoming:fresh": 10.0}), "inert", AIR)
    assert system.sources["incoming:fresh"][2] == pytest.approx(10.0 * loop.SHARES["inert"])
    assert system.steady(system.total())[2] > 0.0


def test_where_nothing_takes_gas_out_there_is_an_answer_and_no_traceback():
    values = bare(**{"leak:return": 10.0, "leak share": 0.0})
    shut = balance.assemble(two_tanks(), values, "inert", AIR)
    assert np.isfinite(shut.steady(shut.total())).all()
