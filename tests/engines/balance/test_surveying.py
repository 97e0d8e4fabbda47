"""The balance of the invented hall: today, then, and how sure."""

import dataclasses
import importlib.resources
import math

import pytest

from brinehouse.engines import balance
from brinehouse.engines.balance import plants
from brinehouse.facility import changing, reading
from brinehouse.network import flows

HALL = importlib.resources.files("brinehouse.demo").joinpath("hall.toml").read_text("utf-8")


def plant(lines="", leaks=None):
    changed = changing.apply(HALL, changing.parse(lines))
    assert changed.facility is not None, [str(one) for one in changed.findings]
    return balance.Plant(
        facility=changed.facility,
        flows=flows.stated(changed.facility),
        conditions=balance.conditions(changed.facility, leaks=leaks or {}),
        said=changed.said,
        title=changed.changes.title,
    )


@pytest.fixture(scope="module")
def today():
    return balance.survey(plant())


def rows(answer, name="places"):
    table = next(table for table in answer.tables if table.name == name)
    return {(row["place"], row["quantity"]): row for row in table.rows}


def test_every_place_with_running_water_or_animals_has_all_its_quantities(today):
    got = rows(today)
    assert {place for place, _ in got} >= {
        "mangrove",
        "pipefish",
        "estuary",
        "kelp",
        "ledge",
        "cold-bench",
        "q-1",
    }
    assert "mixing-vat" not in {place for place, _ in got}
    for place in ("mangrove", "q-1"):
        assert {quantity for at, quantity in got if at == place} == set(balance.QUANTITIES)


def test_every_number_says_how_sure_it_is(today):
    for key, row in rows(today).items():
        if key[1] != "salinity":
            assert row["today"].u > 0.0, key


def test_the_water_is_what_water_can_be(today):
    got = rows(today)
    for (place, quantity), low, high in (
        (("mangrove", "temperature"), 24.0, 27.0),
        (("kelp", "temperature"), 11.0, 14.0),
        (("mangrove", "oxygen_percent"), 70.0, 101.0),
        (("mangrove", "tgp"), 96.0, 103.0),
        (("mangrove", "ph"), 7.4, 8.3),
        (("mangrove", "ammonia"), 0.0, 0.02),
    ):
        assert low < got[place, quantity]["today"].value < high, quantity


def test_gas_settles_in_hours_and_nitrate_in_months(today):
    got = rows(today)
    assert 1.0 < got["mangrove", "tgp"]["settles"].value < 24.0
    assert got["mangrove", "nitrate"]["settles"].value > 1000.0


def test_the_assumption_that_matters_most_stands_first(today):
    table = next(table for table in today.tables if table.name == "assumptions")
    assert table.rows[0]["bears"]
    assert all(row["source"] for row in table.rows)


@pytest.fixture(scope="module")
def without_column():
    """A leaking plant beside the same without its column."""
    leaks = {"P-203": 1.5}
    return balance.survey(plant(leaks=leaks), plant("remove column-m", leaks))


def test_taking_the_column_out_of_a_leaking_plant_raises_gas(without_column):
    answer = without_column
    got = rows(answer)
    moved = got["mangrove", "tgp"]["difference"]
    assert moved.value > 0.5
    assert moved.value > 1.96 * moved.u
    assert got["mangrove", "tgp"]["settles"].value < 24.0
    assert answer.state == "compared"
    assert "equipment column-m is taken out" in [
        row["sentence"] for table in answer.tables if table.name == "said" for row in table.rows
    ]


def test_a_difference_is_surer_than_two_ends_that_had_nothing_in_common(without_column):
    row = rows(without_column)["mangrove", "oxygen"]
    assert row["difference"].u < 0.8 * math.hypot(row["today"].u, row["then"].u)


def test_the_same_plant_twice_differs_in_nothing():
    answer = balance.survey(plant(), plant("set chiller-m name = cold box"))
    assert answer.sentence == "This change moves no quantity by more than these numbers can tell."
    moved = [row["difference"].value for row in rows(answer).values()]
    assert moved == pytest.approx([0.0] * len(moved), abs=1e-9)


def test_swapping_two_equal_pumps_changes_nothing():
    one, two = plants.make(plant()), plants.make(plant("set return-m pumps = P-204, P-203, P-202, P-201"))
    for key, value in one.settled.values.items():
        assert two.settled.values[key] == pytest.approx(value, rel=1e-9), key


def test_flows_that_no_longer_close_are_moved_and_told():
    answer = balance.survey(plant(), plant("remove pipefish"))
    assert "balance/flow-moved" in {one.code for one in answer.findings}
    assert ("pipefish", "tgp") in rows(answer)
    assert "then" not in rows(answer)["pipefish", "tgp"] or rows(answer)["pipefish", "tgp"]["then"] is None


def test_a_tank_that_no_known_water_reaches_is_told():
    lines = "remove k-ledge\nremove ledge-back"
    answer = balance.survey(plant(), plant(lines))
    assert "balance/no-water-runs" in {one.code for one in answer.findings}


def test_a_quantity_that_nothing_takes_away_is_said_to_have_no_balance():
    facility = reading.read(HALL).facility
    conditions = balance.conditions(facility)
    never = dataclasses.replace(conditions.knobs["exchange"], value=0.0, u=0.0, least=0.0)
    conditions = dataclasses.replace(conditions, knobs={**conditions.knobs, "exchange": never})
    answer = balance.survey(
        balance.Plant(facility=facility, flows=flows.stated(facility), conditions=conditions)
    )
    assert rows(answer)["mangrove", "nitrate"]["today"].text == "no balance"
    assert rows(answer)["mangrove", "oxygen"]["today"].value > 0.0
    assert "balance/never-settles" in {one.code for one in answer.findings}


def test_a_second_model_of_the_same_hall_written_apart_says_nearly_the_same(today):
    from brinehouse.network.compartments import conditions, model

    facility = reading.read(HALL).facility
    held = {"chiller-m": 25.4, "chiller-k": 12.2, "chiller-c": 9.8}
    given = conditions.Conditions(setpoints=held, station_pressure=96471.0)
    other = model.build(facility, flows.stated(facility).flows, given).steady()
    got = rows(today)
    for place in ("mangrove", "pipefish", "estuary", "kelp"):
        assert got[place, "temperature"]["today"].value == pytest.approx(other[place].temperature, abs=0.6)
        oxygen = got[place, "oxygen"]["today"]
        assert abs(oxygen.value - other[place].oxygen_mg) < max(3.0 * oxygen.u, 0.6)
        gas = got[place, "tgp"]["today"]
        assert abs(gas.value - other[place].tgp) < max(3.0 * gas.u, 1.5)
