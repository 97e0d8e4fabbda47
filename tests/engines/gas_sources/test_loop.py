"""A facility as a loop, and the ways a loop can be changed."""

import dataclasses

import pytest
import small_plant

from brinehouse.engines.gas_sources import loop


def lay(*taps):
    hall = small_plant.facility()
    return loop.of(hall, "s", small_plant.flows(hall), taps)


def leg(made, run):
    return next(one for one in made.legs if one.run == run)


def test_a_loop_holds_its_places_runs_and_machines():
    made = lay()
    assert made.places == ("high", "low", "basin")
    assert [one.run for one in made.legs] == ["up", "side", "back", "back-low"]
    assert made.pumps == ("P-1", "P-2", "P-3")
    assert made.strippers == ("column",)
    assert made.power["return"] == pytest.approx(2.0), "two of three pumps of 1 kW run"
    assert made.through["return"] == pytest.approx(26.0)


def test_a_tap_stands_before_the_first_machine_that_exchanges_gas():
    kinds = [step.kind for step in leg(lay("up"), "up").steps]
    assert kinds.index("tap") < kinds.index("strip")
    assert lay("up").taps == ("up",)


def test_a_run_without_flow_carries_nothing():
    hall = small_plant.facility()
    made = loop.of(hall, "s", {"up": 0.005, "back": 0.005})
    assert [one.run for one in made.legs] == ["up", "back"]


def test_machines_come_and_go():
    assert loop.without(lay(), "column").strippers == ()
    assert loop.with_machine(lay(), "side", "new", "degasser").strippers == ("column", "new")


def test_a_run_led_in_below_the_water_neither_falls_nor_carries_air_under():
    made = loop.end_below_water(lay(), "up")
    assert "end" not in [step.kind for step in leg(made, "up").steps]
    assert "end" in [step.kind for step in leg(made, "side").steps]


def test_a_tank_fed_otherwise_takes_its_water_through_the_machines_of_the_other_run():
    whole = lay()
    high = whole.places.index("high")
    legs = tuple(dataclasses.replace(one, source=high) if one.run == "side" else one for one in whole.legs)
    made = loop.fed_from(dataclasses.replace(whole, legs=legs), "side", "up")
    assert leg(made, "side").source == whole.places.index("basin")
    assert [step.id for step in leg(made, "side").steps if step.kind == "strip"] == ["column"]
    assert leg(made, "back").flow == pytest.approx(20.0), "what the high tank no longer gives falls back"


def test_no_water_is_made_or_lost_by_balancing():
    made = loop.balanced(lay())
    for place in range(len(made.places)):
        came = sum(one.flow for one in made.legs if one.target == place)
        went = sum(one.flow for one in made.legs if one.source == place)
        assert came == pytest.approx(went, rel=1e-9)
