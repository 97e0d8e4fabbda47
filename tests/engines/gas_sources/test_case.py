"""What the loop shows at each sample: turns, regimes, taps, the barometer."""

import dataclasses
from datetime import timedelta

import numpy as np
import pytest
import small_plant

from brinehouse.engines import gas_sources
from brinehouse.engines.gas_sources import case as cases
from brinehouse.engines.gas_sources import fitting, loop


def parts(given):
    taps = {s.place for s in given.samples if s.place in given.facility.runs}
    lay = loop.of(given.facility, given.system, given.flows, taps)
    return lay, cases.of(given, lay)


def values(given, lay, case):
    return {p.name: p.mean for p in fitting.parameters(given, case, lay)}


def test_a_machine_counts_from_its_logged_day():
    given = small_plant.given()
    at = small_plant.START + timedelta(days=20)
    change = gas_sources.Change(at=at, equipment="column", text="column in")
    _, case = parts(dataclasses.replace(given, changes=(change,)))
    assert [regime.idle for regime in case.regimes] == [frozenset({"column"}), frozenset()]
    hour = case.hour(at)
    assert (case.regime == (case.hours >= hour)).all()


def test_a_leak_shows_at_once_at_the_tap_and_later_in_the_tanks():
    given = small_plant.given(places=("high", "low", "basin", "up"))
    lay, case = parts(given)
    start = 500.0
    turned = dataclasses.replace(
        case, hours=np.array([start + 0.05] * 2), clock=np.zeros(2), spot=np.array([-1, 0]), tap=("up", ""),
        meter=np.zeros(2, dtype=int), seen=np.zeros(4), oxygen_pressure=np.zeros(2), noise=np.zeros(2),
        slope=np.zeros(2), regime=np.zeros(2, dtype=int),
        turns={"P-2": (np.array([start]), np.array([1.0]))},
    )  # fmt: skip
    unit = cases.Shown(turned, values(given, lay, case)).leak("P-2", "return", -1e6)
    assert unit["inert"][0] == pytest.approx(1.0, abs=0.02)
    assert 0.0 < unit["inert"][1] < 0.1


def test_the_leaks_answer_is_the_same_in_one_go_and_mode_by_mode(monkeypatch):
    given = small_plant.given()
    lay, case = parts(given)
    shown = cases.Shown(case, values(given, lay, case))
    slow = shown.leak("P-2", "return", -1e6)["oxygen"]
    monkeypatch.setattr(cases, "AT_ONCE", 10**9)
    assert shown.leak("P-2", "return", -1e6)["oxygen"] == pytest.approx(slow, abs=1e-9)


def test_a_falling_barometer_leaves_the_water_with_more_than_the_air():
    given = small_plant.given()
    falling = tuple((small_plant.START + timedelta(hours=6 * n), 730.0 - 0.5 * 6 * n) for n in range(160))
    lay, case = parts(dataclasses.replace(given, barometer=falling))
    assert case.slope == pytest.approx(-0.5, abs=0.01)
    with_it = fitting.predict(case, values(given, lay, case), None)
    still = dataclasses.replace(case, slope=np.zeros(case.hours.size))
    assert (with_it - fitting.predict(still, values(given, lay, case), None))[: case.hours.size].min() > 0.0


def test_a_pump_nobody_wrote_down_has_no_turns():
    given = small_plant.given()
    _, case = parts(given)
    assert cases.steps_of(case, "P-9", 0.0)[0].size == 0


def test_what_runs_at_a_date_counts_from_it():
    given = small_plant.given()
    _, case = parts(given)
    hours, heights = cases.steps_of(case, "P-1", 10.0)
    assert hours[0] == 10.0
    assert heights[0] == 1.0
