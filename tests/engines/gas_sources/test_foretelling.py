"""What follows from a fit: removals, sums, changed loops."""

import math

import pytest
import small_plant

from brinehouse.engines.gas_sources import case as cases
from brinehouse.engines.gas_sources import fitting, leaks, loop, narrowing, supposing
from brinehouse.engines.gas_sources import foretelling as ft


@pytest.fixture(scope="module")
def fit():
    given = small_plant.given()
    lay = loop.of(given.facility, given.system, given.flows, ())
    leak = fitting.Leak(pump="P-2", group="return", since=-500.0)
    return fitting.solve(given, lay, cases.of(given, lay), leak)


HOUR = 880.0


def test_a_change_is_surer_than_the_two_levels_it_lies_between(fit):
    scenes = [supposing.today(fit), ft.Scene(name="stop", loop=fit.case.loop, leak=None)]
    told = ft.foretell(fit, scenes, HOUR)
    _, u = told.change("today", "stop", "high")
    assert u < told.at("today", "high")[1] + told.at("stop", "high")[1]


def test_nothing_changed_is_no_change(fit):
    same = [ft.Scene(name=name, loop=fit.case.loop, leak=fit.leak, settled=False) for name in ("a", "b")]
    size, u = ft.foretell(fit, same, HOUR).change("a", "b", "low")
    assert size == pytest.approx(0.0, abs=1e-9)
    assert u == pytest.approx(0.0, abs=1e-4)


def test_without_what_takes_gas_out_it_stands_higher(fit):
    things = ["column", "surfaces", "falls"]
    sizes = ft.removed(fit, HOUR, things, fit.values).reshape(3, -1)
    assert (sizes > 0.0).all()


def test_what_the_sources_add_is_what_is_shown(fit):
    parts = ft.by_source(fit, HOUR, fit.values)
    scene = ft.Scene(name="", loop=fit.case.loop, leak=fit.leak, settled=False)
    assert sum(parts.values()) == pytest.approx(ft.shown(fit, scene, HOUR, fit.values), abs=1e-9)


def test_a_new_column_lowers_its_tank_and_an_unknown_one_widens_the_band(fit):
    lay = loop.with_machine(fit.case.loop, "side", "new", "packed column")

    def told(sd):
        assumed = (fitting.Parameter("strip:new", math.log(1.3), sd),)
        scenes = [
            ft.Scene(name="sure", loop=fit.case.loop, leak=fit.leak, settled=False),
            ft.Scene(name="new", loop=lay, leak=fit.leak, assumed=assumed, settled=False),
        ]
        return ft.foretell(fit, scenes, HOUR)

    assert told(0.4).change("sure", "new", "low")[0] < -1.0
    assert told(0.8).at("new", "low")[1] > told(0.1).at("new", "low")[1]


def test_reading_across_the_column_is_what_tells_of_the_column(fit):
    found = narrowing.best(fit, leaks.Weighed(weights={"": 0.1, "P-2": 0.9}), small_plant.facility(), HOUR)
    assert len(found) <= narrowing.SHOWN
    assert [one.worth for one in found] == sorted((one.worth for one in found), reverse=True)
    assert any("before and after column" in one.text for one in found)


def test_a_pump_that_is_sure_is_not_what_to_read_about(fit):
    def worth(weights):
        found = narrowing.best(fit, leaks.Weighed(weights=weights), small_plant.facility(), HOUR)
        return max((one.worth for one in found if "starts" in one.text), default=0.0)

    assert worth({"P-1": 0.5, "P-2": 0.5}) > 5.0 * worth({"P-2": 1.0})
