"""Weights of the pumps, and the date from which one leaks."""

import numpy as np
import pytest
import small_plant

from brinehouse.engines.gas_sources import case as cases
from brinehouse.engines.gas_sources import fitting, leaks, loop


def plain(**how):
    given = small_plant.given(**how)
    lay = loop.of(given.facility, given.system, given.flows, ())
    return fitting.solve(given, lay, cases.of(given, lay), None, rounds=3, learn=False)


def test_weights_sum_to_one_and_the_leaking_pump_holds_them():
    found = leaks.weigh(plain(), ("P-1", "P-2", "P-3"))
    assert sum(found.weights.values()) == pytest.approx(1.0)
    assert found.first == "P-2"


def test_without_pumps_all_the_weight_is_on_no_leak():
    assert leaks.weigh(plain(), ()).weights == {"": 1.0}


def test_a_leak_that_began_midway_is_dated_to_within_a_few_days():
    fit = plain(since=480.0)
    found = leaks.weigh(fit, ("P-1", "P-2", "P-3"))
    dated = leaks.dated(fit, found.best["P-2"].leak)
    begin = fit.case.start.timestamp() / 3600.0 - small_plant.START.timestamp() / 3600.0
    assert abs(dated.since + begin - 480.0) < 72.0


def test_dates_lie_between_visits():
    fit = plain()
    for date in leaks.gaps(fit.case):
        assert np.min(np.abs(fit.case.hours - date)) > leaks.PAUSE / 2.0 - 1e-9


def test_a_steadier_meter_leaves_less_room_for_a_hidden_leak():
    loud = leaks.weigh(plain(leak=0.0, noise=3.0, count=30), ("P-2",)).bounds["P-2"]
    quiet = leaks.weigh(plain(leak=0.0, noise=0.3, count=90), ("P-2",)).bounds["P-2"]
    assert quiet < loud
