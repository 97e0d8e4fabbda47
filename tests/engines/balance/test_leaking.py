"""Air that pumps draw in, worked back from the gas it makes."""

import dataclasses
import importlib.resources

import pytest

from brinehouse.engines import balance
from brinehouse.engines.balance import plants
from brinehouse.facility import reading
from brinehouse.network import flows

HALL = importlib.resources.files("brinehouse.demo").joinpath("hall.toml").read_text("utf-8")


@pytest.fixture(scope="module")
def plant():
    facility = reading.read(HALL).facility
    return balance.Plant(
        facility=facility, flows=flows.stated(facility), conditions=balance.conditions(facility)
    )


def made_by(plant, leak, column):
    """The rises of gas pressure that a known leak makes where columns go so far."""
    conditions = plant.conditions.turned("column", column)
    dry = plants.make(dataclasses.replace(plant, conditions=conditions))
    wet = dataclasses.replace(conditions, leaks={"P-203": leak})
    with_air = plants.make(dataclasses.replace(plant, conditions=wet))
    return {
        place: (with_air.settled.values[place, "delta_p"] - dry.settled.values[place, "delta_p"], 1.0)
        for place in ("mangrove", "estuary", "sump-m")
    }


@pytest.mark.parametrize(("leak", "column"), [(0.6, 0.4), (1.4, 0.7)])
def test_a_known_leak_is_found_again_and_so_is_the_column(plant, leak, column):
    got = balance.drawn(plant, {"P-203": made_by(plant, leak, column)})
    assert got.leaks["P-203"] == pytest.approx(leak, rel=0.01)
    assert got.column == column
    assert got.doubt == pytest.approx(0.1)


def test_rises_that_do_not_fit_together_leave_more_doubt(plant):
    rises = made_by(plant, 1.0, 0.5)
    rises["mangrove"] = (rises["mangrove"][0] * 3.0, 1.0)
    assert balance.drawn(plant, {"P-203": rises}).doubt > 0.1


def test_without_a_rise_there_is_no_air(plant):
    assert balance.drawn(plant, {}).leaks == {}
    assert balance.drawn(plant, {"P-999": {"mangrove": (10.0, 1.0)}}).leaks == {}
    assert balance.drawn(plant, {"P-203": {"mangrove": (-10.0, 1.0)}}).leaks == {}


def over_air(plant, leak, column):
    """Gas pressure over that of the air when every running pump of m draws in so much."""
    conditions = plant.conditions.turned("column", column)
    wet = dataclasses.replace(conditions, leaks=dict.fromkeys(("P-201", "P-202", "P-203"), leak))
    water = plants.make(dataclasses.replace(plant, conditions=wet)).settled.values
    return {place: (water[place, "delta_p"], 2.0) for place in ("mangrove", "pipefish", "estuary", "sump-m")}


def test_gas_that_stays_as_read_tells_the_air_of_all_pumps_together(plant):
    got = balance.spread(plant, over_air(plant, 0.3, 0.5))
    assert set(got.leaks) == {"P-201", "P-202", "P-203"}
    assert got.leaks["P-201"] == pytest.approx(0.3, rel=0.02)
    assert got.column == 0.5
    assert balance.spread(plant, over_air(plant, 0.6, 0.5)).leaks["P-201"] == pytest.approx(0.6, rel=0.02)


def test_water_at_rest_without_air_needs_none(plant):
    assert balance.spread(plant, over_air(plant, 0.0, 0.7)).leaks == {}
    assert balance.spread(plant, {}).leaks == {}
