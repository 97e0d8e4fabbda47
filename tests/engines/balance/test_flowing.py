"""After a change the water still leaves: overflows carry what pumps bring."""

import pytest

from brinehouse.engines.balance import flowing
from brinehouse.facility import reading

HALL = """
schema = 1
[facility]
name = "Two tanks"
timezone = "UTC"
[tank.high]
volume = "20 m3"
[tank.side]
volume = "2 m3"
[sump.low]
volume = "3 m3"
[pump.P-1]
flow = "10 m3/h"
[run.up]
from = "low"
through = ["P-1"]
to = "high"
flow = "10 m3/h"
[run.fall]
from = "high"
to = "side"
flow = "2 m3/h"
[run.side-back]
from = "side"
to = "low"
flow = "2 m3/h"
[run.back]
from = "high"
to = "low"
flow = "8 m3/h"
"""
H = 3600.0


@pytest.fixture
def hall():
    return reading.read(HALL).facility


def closed(hall, **changed):
    stated = {run.id: run.flow for run in hall.runs.values()} | {k: v / H for k, v in changed.items()}
    return flowing.closed(hall, stated, {name: 0.05 * flow for name, flow in stated.items()})


def test_flows_that_close_are_left_as_stated(hall):
    got = closed(hall)
    assert got.flows == {run.id: run.flow for run in hall.runs.values()}
    assert got.findings == ()


def test_an_overflow_follows_the_pump_and_not_the_other_way_round(hall):
    got = closed(hall, up=14.0)
    assert got.flows["up"] * H == pytest.approx(14.0, rel=1e-3)
    assert (got.flows["back"] + got.flows["fall"]) * H == pytest.approx(14.0, rel=1e-3)
    assert got.flows["fall"] == pytest.approx(got.flows["side-back"])
    assert {one.code for one in got.findings} == {"balance/flow-moved"}


def test_a_place_that_gets_no_water_gives_none(hall):
    got = closed(hall, fall=0.0)
    assert got.flows["side-back"] <= got.flows["up"]
    for place, runs in (("high", ("up", "fall", "back")), ("side", ("fall", "side-back"))):
        first, *rest = (got.flows[name] for name in runs)
        assert first == pytest.approx(sum(rest), abs=1e-12), place


def test_no_water_runs_backwards(hall):
    got = closed(hall, up=1.0, fall=9.0)
    assert all(flow >= 0.0 for flow in got.flows.values())


def test_a_flow_that_nobody_knows_stays_unknown(hall):
    stated = {"up": 10 / H, "back": 8 / H}
    got = flowing.closed(hall, stated, {})
    assert set(got.flows) == set(stated)
