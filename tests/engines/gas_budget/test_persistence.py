"""Many visits together say more than one, and a change of setting has a date."""

import math

import numpy as np
import pytest

from brinehouse.engines.gas_budget import closure, kernel, persistence


def record(salinity_setting, seed=3, noise=0.0, shift=None):
    """Visits of one meter whose salinity stood at the given settings, in order of time."""
    rng = np.random.default_rng(seed)
    size = len(salinity_setting)
    warm = rng.uniform(24.5, 26.0, size)
    air = rng.uniform(715.0, 735.0, size) * 133.322
    total = np.round(rng.uniform(1.00, 1.05, size), 3)
    true = rng.uniform(6.0, 6.8, size)
    setting = np.asarray(salinity_setting, dtype=float)
    here, told = kernel.water(warm, np.full(size, 34.0)), kernel.water(warm, setting)
    shown = true * told.held / here.held
    nitrogen = closure.nitrogen_shown(told, air, total, shown) + rng.normal(0.0, noise, size)
    if shift is not None:
        nitrogen = nitrogen + shift
    return closure.case(
        temperature=warm, salinity=34.0, barometer=air, total=total, oxygen=np.round(shown, 2),
        nitrogen=np.round(nitrogen, 1), u_total=0.001 / 12**0.5, u_oxygen=0.01 / 12**0.5,
        u_nitrogen=0.1 / 12**0.5, u_temperature=0.03, u_barometer=40.0,
    )  # fmt: skip


def test_a_sound_meter_stays_sound_however_often_it_is_looked_at():
    for size in (1, 5, 40, 300):
        found = persistence.course(record([34.0] * size))
        assert len(found.segments) == 1
        assert found.segments[0].best == "gas/closes"
        assert found.segments[0].weights["gas/closes"] > 0.5


def test_a_small_difference_of_tables_is_no_finding_however_often_it_is_seen():
    # another solubility table (0.3 %) moves the residual by 0.08 % at every single visit
    found = persistence.course(record([34.0] * 300, shift=0.08))
    assert found.segments[0].best == "gas/closes"


def test_a_setting_left_at_zero_is_named_by_many_visits():
    found = persistence.course(record([0.0] * 12))
    segment = found.segments[0]
    assert segment.best in ("gas/meter-salinity-zero", "gas/residual-salinity-zero")
    together = segment.weights["gas/meter-salinity-zero"] + segment.weights["gas/residual-salinity-zero"]
    assert together > 0.99
    assert segment.fits["gas/meter-salinity-zero"] == 12
    assert segment.fits["gas/closes"] == 0


@pytest.mark.parametrize("turn", [3, 17, 30])
def test_the_change_of_a_setting_is_found_to_the_visit(turn):
    found = persistence.course(record([0.0] * turn + [34.0] * (40 - turn)))
    assert [segment.last - segment.first + 1 for segment in found.segments] == [turn, 40 - turn]
    assert found.segments[1].best == "gas/closes"
    assert found.earliest <= turn <= found.latest
    assert found.latest - found.earliest <= 1


def test_one_slip_of_the_pen_is_no_change():
    rows = record([34.0] * 20)
    nitrogen = rows.nitrogen.copy()
    nitrogen[11] = 140.6
    rows.nitrogen = nitrogen
    found = persistence.course(rows)
    assert len(found.segments) == 1
    assert found.segments[0].best == "gas/closes"
    assert found.segments[0].fits["gas/closes"] == 19


def test_what_nothing_explains_is_said_to_be_so():
    found = persistence.course(record([34.0] * 10, shift=30.0))
    assert found.segments[0].best == persistence.UNEXPLAINED == "gas/unexplained"


def test_a_fault_that_comes_and_goes_is_not_mistaken_for_one_that_stays():
    rng = np.random.default_rng(2)
    settings = rng.choice([0.0, 34.0], 40)
    found = persistence.course(record(settings))
    assert max(segment.fits[segment.best] for segment in found.segments) < 30


def pairs(before, after, turn, size, seed=1, noise=0.03):
    rng = np.random.default_rng(seed)
    expected = np.full(size, math.log(1.215)) + rng.normal(0.0, 0.002, size)
    wrong = np.where(np.arange(size) < turn, before, after)
    return wrong * expected + rng.normal(0.0, noise, size) + 0.01, expected


@pytest.mark.parametrize("seed", range(5))
def test_an_oxygen_meter_held_against_others_gives_the_day_of_the_change(seed):
    logs, expected = pairs(1, 0, 31, 60, seed)
    found = persistence.step(logs, expected)
    assert (found.before, found.after) == (True, False)
    assert found.earliest <= 31 <= found.latest
    assert found.factor == pytest.approx(1.215 * math.exp(0.01), abs=0.02)


def test_it_may_have_been_turned_to_zero_as_well():
    found = persistence.step(*pairs(0, 1, 40, 60))
    assert (found.before, found.after) == (False, True)
    assert found.earliest <= 40 <= found.latest


@pytest.mark.parametrize("wrong", [0, 1])
def test_what_never_changed_has_no_date(wrong):
    found = persistence.step(*pairs(wrong, wrong, 30, 60))
    assert found.before == found.after == bool(wrong)
    assert found.odds > 3.0


def test_slips_do_not_move_the_date():
    logs, expected = pairs(1, 0, 31, 60)
    logs[[5, 20, 44]] += (2.3, -0.7, 1.1)
    found = persistence.step(logs, expected)
    assert found.earliest <= 31 <= found.latest


def test_a_calibration_five_percent_off_is_not_taken_for_a_salinity_setting():
    rng = np.random.default_rng(4)
    found = persistence.step(rng.normal(0.05, 0.03, 50), np.full(50, math.log(1.215)))
    assert not found.before
    assert not found.after
