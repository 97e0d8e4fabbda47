"""What the facility file keeps at hand helps from when it is set up until it is used up, and nowhere else."""

import functools

import pytest

from brinehouse.engines.time_in_hand import at_hand
from brinehouse.facility import reading

HALL = """\
schema = 1
[facility]
name = "Small hall"
timezone = "Europe/London"
[tank.reef]
volume = "20 m3"
[sump.basin]
volume = "4 m3"
[vessel.store]
volume = "6 m3"
working = "5 m3"
stands_alone = true
[pump.P-1]
flow = "12 m3/h"
[pump.P-2]
flow = "12 m3/h"
[duty.return]
pumps = ["P-1", "P-2"]
[run.supply]
from = "basin"
through = ["return"]
to = "reef"
flow = "12 m3/h"
[run.back]
from = "reef"
to = "basin"
flow = "12 m3/h"
[remedy.box]
kind = "battery air"
name = "blue box"
at = ["reef"]
ready = "10 min"
lasts = "5 h"
times = 4
[remedy.shelf]
kind = "spare pump"
at = ["return"]
ready = "2 h"
[remedy.hose]
kind = "make-up"
at = ["reef"]
flow = "2 m3/h"
store = "store"
"""


@functools.cache
def hall():
    return reading.read(HALL).facility


def done(found):
    return [(one.kind, one.part, one.value, one.after) for one in found[3]]


def test_battery_air_comes_once_it_is_set_up_and_ends_with_the_battery():
    (found,) = at_hand.air(hall(), "reef", 3600.0)
    assert done(found) == [("aerate", "reef", 4.0, 4200.0), ("aerate", "reef", 1.0, 22200.0)]
    assert found[2] == "the blue box into reef"


def test_make_up_runs_until_the_store_is_empty():
    (found,) = at_hand.water(hall(), "reef", 20.0, 3600.0)
    assert done(found) == [
        ("exchange", "reef", pytest.approx(0.1), 3600.0),  # 2 m³/h of 20 m³
        ("exchange", "reef", 0.0, pytest.approx(3600.0 + 2.5 * 3600.0)),  # 5 m³ at 2 m³/h
    ]


def test_a_spare_pump_runs_in_the_place_of_the_one_that_stopped_once_it_is_fitted():
    (found,) = at_hand.spares(hall(), ["P-2"], 3600.0)
    assert done(found) == [("start", "P-2", None, 3600.0 + 7200.0)]


def test_what_is_kept_for_another_place_does_not_help():
    assert list(at_hand.air(hall(), "basin", 0.0)) == []
    assert list(at_hand.water(hall(), "basin", 4.0, 0.0)) == []
    assert list(at_hand.spares(hall(), ["P-9"], 0.0)) == []
