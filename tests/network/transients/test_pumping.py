"""Shares of usual flows against the layout of the same plant with these pumps running."""

import dataclasses

import pytest
from tests.network.transients import halls

from brinehouse.facility import model
from brinehouse.network import flows, plumbing
from brinehouse.network.transients import pumping

RUNS = ("m-supply", "m-estuary", "m-skim")


def shares(hall):
    running = {name: name != "P-204" and name != "P-302" and name != "P-402" for name in hall.pumps}
    return pumping.Shares(hall, flows.stated(hall).flows, running)


def test_the_usual_pumps_give_the_usual_flows():
    made = shares(halls.demo())
    assert all(share == 1.0 for share in made.of(made.usual, ()).values())


@pytest.mark.parametrize("on", [("P-201", "P-202"), ("P-201",), ("P-201", "P-202", "P-203", "P-204")])
def test_shares_are_those_of_the_layout_with_these_pumps(on):
    hall = halls.demo()
    # the layout solves the same plant by its own path: levels with each set's flows move heads by centimetres
    first = plumbing.stations(hall, running=dict.fromkeys(("P-201", "P-202", "P-203"), True)).flows
    then = plumbing.stations(hall, running=dict.fromkeys(on, True)).flows
    made = shares(hall)
    others = made.usual - {"P-201", "P-202", "P-203"}
    found = made.of(frozenset(on) | others, ())
    for run in RUNS:
        assert found[run] == pytest.approx(then[run] / first[run], abs=0.02)


def test_a_valve_further_shut_never_gives_its_run_more():
    made = shares(halls.demo())
    given = [made.of(made.usual, (("m-supply", share),))["m-supply"] for share in (0.44, 0.3, 0.2, 0.1, 0.0)]
    assert given == sorted(given, reverse=True)
    assert given[0] == pytest.approx(1.0)
    assert given[-1] == 0.0


def test_all_sets_are_solved_at_a_time_and_once():
    made = shares(halls.demo())
    asked = [(made.usual - {name}, ()) for name in ("P-201", "P-202", "P-301")]
    made.prepare(asked)
    known = [dict(net.known) for net in made.nets]
    for on, valves in asked:
        made.of(on, valves)
    assert [dict(net.known) for net in made.nets] == known
    assert len({id(net) for net in made.nets}) == 2  # the cold bench has no curves


def test_without_any_pump_nothing_is_driven():
    found = shares(halls.demo()).of(frozenset(), ())
    assert [found[run] for run in (*RUNS, "k-supply", "c-supply")] == [0.0] * 5
    assert "m-overflow" not in found


def test_a_valve_of_which_no_pipe_is_told_gives_by_its_opening():
    hall = halls.loop()
    half = dataclasses.replace(hall.runs["up"], open=0.8)
    hall = dataclasses.replace(hall, runs={**hall.runs, "up": half})
    made = pumping.Shares(hall, {}, {"P-1": True})
    assert made.of(frozenset({"P-1"}), (("up", 0.4),))["up"] == pytest.approx(0.5)
    assert isinstance(half, model.Run)
