"""Mixed water joined by runs, against closed forms."""

import math

import numpy as np
import pytest

from brinehouse.engines.balance import mixing
from brinehouse.facility import reading

HALL = """
schema = 1
[facility]
name = "Loop"
timezone = "UTC"
[tank.reef]
volume = "20 m3"
surface = "12 m2"
[sump.low]
volume = "5 m3"
working = "4 m3"
[tank.lone]
volume = "1 m3"
depth = "0.5 m"
stands_alone = true
[[animals]]
at = "lone"
species = "goby"
mass = "1 kg"
[vessel.store]
volume = "3 m3"
stands_alone = true
[run.up]
from = "low"
to = "reef"
flow = "10 m3/h"
[run.back]
from = "reef"
to = "low"
flow = "10 m3/h"
"""
FLOW = 10.0 / 3600.0


@pytest.fixture
def net():
    facility = reading.read(HALL).facility
    return mixing.net(facility, {run.id: run.flow for run in facility.runs.values()})


def task(net, *, given=0.0, lost=0.0, passes=None):
    size = len(net.nodes)
    return mixing.Task(
        passes=passes or {}, given=np.broadcast_to(given, size) * 1.0, lost=np.broadcast_to(lost, size) * 1.0
    )


def test_places_are_those_that_water_reaches_or_animals_live_in(net):
    assert net.nodes == ("reef", "low", "lone")
    assert net.volumes.tolist() == [20.0, 4.0, 1.0]


def test_a_machine_where_runs_meet_is_a_place_of_its_own():
    text = HALL.replace('from = "low"\nto = "reef"', 'from = "low"\nto = "box"')
    text += '[equipment.box]\nkind = "header"\n[run.out]\nfrom = "box"\nto = "reef"\nflow = "10 m3/h"\n'
    facility = reading.read(text).facility
    made = mixing.net(facility, {run.id: run.flow for run in facility.runs.values()})
    assert made.nodes[-1] == "box"
    given = np.where(np.array(made.nodes) == "reef", 1e-3, 0.0)
    x = mixing.steady(made, mixing.Task(passes={}, given=given, lost=np.full(4, 1e-5)))
    at = made.at
    assert x[at["box"]] == pytest.approx(x[at["low"]], rel=1e-3)


def test_a_source_in_one_of_two_tanks_follows_the_closed_form(net):
    """Inflow to the reef with loss k in both: x_low = Q x_reef / (Q + k V_low), and the sum balances."""
    given = np.array([2e-3, 0.0, 0.0])
    loss = 3e-5
    x = mixing.steady(net, task(net, given=given, lost=loss))
    ratio = FLOW / (FLOW + loss * 4.0)
    reef = given[0] / (loss * 20.0 + FLOW * (1.0 - ratio))
    assert x[0] == pytest.approx(reef, rel=1e-12)
    assert x[1] == pytest.approx(reef * ratio, rel=1e-12)
    assert x[2] == 0.0


def test_what_nothing_takes_away_has_no_balance(net):
    assert np.isnan(mixing.steady(net, task(net, given=1.0))).all()


def test_washout_of_one_vessel_takes_three_time_constants(net):
    hours = mixing.settling(net, task(net, lost=1.0 / 86400.0), np.array([0.0, 0.0, 1.0]))
    assert hours[2] == pytest.approx(24.0 * math.log(20.0), rel=0.04)


def test_two_tanks_even_out_with_the_eigenvalue_of_the_closed_form(net):
    """Two mixed tanks in a ring even out with rate Q (1/V1 + 1/V2)."""
    away = np.array([4.0, -20.0, 0.0])  # nothing in sum: only the fast mode
    hours = mixing.settling(net, task(net, lost=1e-12), away)
    rate = FLOW * (1.0 / 20.0 + 1.0 / 4.0)
    assert hours[1] == pytest.approx(math.log(20.0) / rate / 3600.0, rel=0.05)


def test_a_run_that_changes_water_is_one_straight_line(net):
    both = mixing.Pass(steps=(("heater", 1.0, 2.0), ("column", 0.25, 60.0)))
    assert both.whole == (0.25, 60.5)
    assert both.gains(100.0) == {"heater": 2.0, "column": pytest.approx(-16.5)}
    x = mixing.steady(net, task(net, passes={"up": both}, lost=1e-9))
    assert x[0] == pytest.approx(0.25 * x[1] + 60.5, rel=1e-5)


def test_what_is_brought_sums_to_what_the_balance_says(net):
    both = mixing.Pass(steps=(("heater", 1.0, 2.0), ("column", 0.25, 60.0)))
    made = task(net, given=1e-3, lost=1e-5, passes={"up": both})
    x = mixing.steady(net, made)
    told = sum(mixing.brought(net, made, x, "reef").values())
    assert told + 1e-3 - 1e-5 * 20.0 * x[0] == pytest.approx(0.0, abs=1e-12)


def test_swapping_two_equal_tanks_swaps_their_water():
    text = HALL + (
        '[tank.other]\nvolume = "20 m3"\nsurface = "12 m2"\n[run.up-2]\nfrom = "low"\nto = "other"\n'
        'flow = "10 m3/h"\n[run.back-2]\nfrom = "other"\nto = "low"\nflow = "10 m3/h"\n'
    )
    facility = reading.read(text).facility
    made = mixing.net(facility, {run.id: run.flow for run in facility.runs.values()})
    at = made.at

    def with_source(place):
        given = np.zeros(len(made.nodes))
        given[at[place]] = 1e-3
        return mixing.steady(made, mixing.Task(passes={}, given=given, lost=np.full(len(given), 1e-5)))

    one, two = with_source("reef"), with_source("other")
    assert one[at["reef"]] == pytest.approx(two[at["other"]], rel=1e-12)
    assert one[at["low"]] == pytest.approx(two[at["low"]], rel=1e-12)


@pytest.mark.parametrize(
    ("words", "area"),
    [
        ('surface = "7 m2"', 7.0),
        ('length = "4 m"\nwidth = "2 m"\ndepth = "1 m"', 8.0),
        ('diameter = "2 m"\ndepth = "2 m"', math.pi),
        ('depth = "2 m"', 4.0),
        ("", 4.0),
    ],
)
def test_the_open_surface_is_the_best_that_is_known(words, area):
    text = HALL.replace('volume = "3 m3"\nstands_alone', f'volume = "8 m3"\n{words}\nstands_alone')
    vessel = reading.read(text).facility.vessels["store"]
    assert mixing.surface_of(vessel) == pytest.approx(area)
