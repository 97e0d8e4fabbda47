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
