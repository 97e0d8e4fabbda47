"""Batches: the same answers compiled and not, in whatever chunk or thread; rates; and what cannot go on."""

import dataclasses
import functools
import math

import numpy as np
import pytest
from benchmarks import transient_peer as peer
from tests.network.transients import batches, uncompiled

from brinehouse.network.transients import running, tables
from brinehouse.network.transients.kernel import compiling

HOUR = 3600.0


@functools.cache
def twelve():
    return batches.twelve()


def rates_by_peer(structure, rows, scenario, phase, seconds, x, volume):
    right = peer.Phase(
        peer.Frame(structure), rows.way[scenario, phase], rows.op[scenario, phase],
        rows.place[scenario, phase], float(rows.clock[scenario]),
    )  # fmt: skip
    return right(seconds, np.concatenate((x.ravel(), volume))).reshape(12, -1)


def apart(structure, rows, scenario, phase, of=running):
    """Rates of both writings at water a little stirred, over the largest of each species."""
    chance = np.random.default_rng(scenario)
    x = rows.x[scenario] * (1.0 + 0.05 * chance.standard_normal(rows.x[scenario].shape))
    volume = rows.volume[scenario] * (1.0 + 0.05 * chance.standard_normal(len(structure.places)))
    seconds = float(rows.until[scenario, phase - 1]) + 5.0 if phase else 5.0
    wanted = rates_by_peer(structure, rows, scenario, phase, seconds, x, volume)
    found = np.vstack([part if part.ndim == 2 else part[None] for part in of.rates(
        structure, rows, scenario, seconds, x, volume)])  # fmt: skip
    return np.abs(found - wanted).max(axis=1) / np.abs(wanted).max(axis=1)


@pytest.mark.parametrize("scenario", [0, 1, 5, 11, 13, 16, 60, 200])
def test_rates_are_those_of_the_second_writing(scenario):
    structure, rows, _ = twelve()
    for phase in range(rows.until.shape[1]):
        assert apart(structure, rows, scenario, phase).max() < 1e-9


def test_a_number_that_is_off_shows_in_the_rates():
    structure, rows, _ = twelve()
    worse = dataclasses.replace(rows, op=rows.op.copy())
    worse.op[0, 0] *= 1.0 + 1e-6
    found = running.rates(structure, worse, 0, 5.0, rows.x[0], rows.volume[0])[0]
    wanted = rates_by_peer(structure, rows, 0, 0, 5.0, rows.x[0], rows.volume[0])[:11]
    assert (np.abs(found - wanted).max(axis=1) / np.abs(wanted).max(axis=1)).max() > 1e-8


def small():
    """A tank over a sump, fish in it, a pump with machines; stopped after a minute, set going after two."""
    made = batches.Plant()
    made.vessel("sump", 6.0, 1.0, flow=6.0, dosing=1e-4)
    made.vessel("tank", 12.0, 1.5, mass=20.0, flow=6.0, lamps=500.0, photo=1e-6)
    made.pumped("up", "sump", "tank", 6.0, batches.pump("p", 900.0, 6.0), batches.chiller("c", 5e3, 6.0),
                batches.contact("k", 0.5), batches.bio("b", 0.4, 0.5),
                batches.remove("u", 0.2), dry=1.0)  # fmt: skip
    made.spill("down", "tank", "sump", 11.9, 0.3, batches.contact("fall", 0.2, carbon=0.1))
    made.limit("tank", "oxygen", 6.4, False)
    made.limit("tank", "ph", 7.7, False)
    x, volume = batches.rough(made)

    def stopped(now, phase):
        if phase == 1:
            now.set_way("up", "flow", lambda _: 0.0)

    return made.structure(), made.batch([[], [stopped]], x, volume, until=(60.0, 120.0, 1e9))


def test_uncompiled_gives_the_same_answers():
    structure, rows = small()
    quick = running.run(structure, rows, 0.1, threads=1)
    slow = uncompiled.run(structure, rows, 0.1, threads=1)
    np.testing.assert_array_equal(quick.steps, slow.steps)
    for name in ("x", "volume", "margin", "crossed"):
        np.testing.assert_allclose(getattr(quick, name), getattr(slow, name), rtol=1e-9, err_msg=name)


def test_a_scenario_is_the_same_alone_in_a_batch_and_on_any_thread(monkeypatch):
    structure, rows, _ = twelve()
    some = tables.take(rows, np.array([0, 11, 16, 40, 90]))
    monkeypatch.setattr(running, "CHUNK", 2)
    done = []
    together = running.run(structure, some, 6.0, threads=2, progress=lambda now, of: done.append((now, of)))
    alone = running.run(structure, tables.take(some, slice(3, 4)), 6.0, threads=1)
    np.testing.assert_array_equal(together.crossed[3], alone.crossed[0])
    np.testing.assert_array_equal(together.x[3], alone.x[0])
    assert done[-1] == (5, 5)
    assert len(done) == 3


def test_steps_end_where_a_phase_ends():
    made = batches.Plant()
    made.vessel("tank", 10.0, 1.0, **dict.fromkeys(("evaporation", "velocity", "warmth"), 0.0))
    made.way("in", "", "tank", tables.PUMPED, flow=3.6)
    x, volume = batches.rough(made)

    def shut(now, phase):
        if phase == 1:
            now.set_way("in", "flow", lambda _: 0.0)

    batch = made.batch([[shut]], x, volume, until=(1234.5, 5000.0, 1e9))
    found = running.run(made.structure(), batch, 2.0)
    assert found.volume[0, 0] == pytest.approx(10.0 + 1e-3 * (1234.5 + 2200.0), abs=1e-9)


def test_curves_begin_where_the_scenario_does_and_end_where_a_run_does():
    structure, rows, _ = twelve()
    x, volume = running.curves(structure, rows, 11, np.array([0.0, 1.0, 3.0, 6.0]))
    np.testing.assert_array_equal(x[0], rows.x[11])
    np.testing.assert_array_equal(volume[0], rows.volume[11])
    end = running.run(structure, tables.take(rows, slice(11, 12)), 6.0)
    np.testing.assert_allclose(x[-1], end.x[0], rtol=1e-4, atol=1e-3)
    middle = running.run(structure, tables.take(rows, slice(11, 12)), 3.0)
    np.testing.assert_allclose(x[2], middle.x[0], rtol=1e-4, atol=1e-3)


def test_a_batch_of_nothing_is_nothing():
    structure, rows = small()
    found = running.run(structure, tables.take(rows, slice(0, 0)), 1.0)
    assert found.crossed.shape == (0, 2)
    assert running.warm() is compiling.COMPILED


def test_a_course_that_needs_too_many_steps_is_given_up_and_said(monkeypatch):
    monkeypatch.setattr(uncompiled.load().courses, "MOST", 4)
    structure, rows = small()
    found = uncompiled.run(structure, rows, 1.0, threads=1)
    assert not found.whole.any()
    assert found.steps.max() <= 4


def test_what_is_not_a_number_is_given_up_and_the_rest_goes_on():
    structure, rows = small()
    broken = dataclasses.replace(rows, place=rows.place.copy())
    broken.place[1, 0, 0, tables.AT["warmth"]] = math.nan
    found = running.run(structure, broken, 24.0)
    assert found.whole.tolist() == [True, False]
    assert np.isfinite(found.x[0]).all()


@pytest.mark.parametrize("volume", [0.0, 1e-9, 1e-3, 0.9])
def test_a_sump_that_runs_dry_stands_still_and_ends(volume):
    structure, rows = small()
    dry = dataclasses.replace(rows, volume=rows.volume.copy())
    dry.volume[:, 0] = volume
    found = running.run(structure, dry, 72.0)
    assert found.whole.all()
    assert np.isfinite(found.x).all()
    assert found.volume.min() > -1e-3


def test_a_stagnant_place_without_surface_keeps_its_water():
    made = batches.Plant()
    quiet = dict.fromkeys(
        ("evaporation", "velocity", "warmth", "breath", "ammonia", "first", "second", "decay"), 0.0
    )
    made.vessel("still", 10.0, 1.0, **quiet)
    x, volume = batches.rough(made)
    found = running.run(made.structure(), made.batch([[]], x, volume, until=(1e9,)), 72.0)
    np.testing.assert_allclose(found.x[0], x, rtol=1e-12)
    assert found.steps[0] < 60


@pytest.mark.skipif(not running.COMPILED, reason="nothing is compiled")
def test_tables_that_may_only_be_read_are_not_compiled_for_anew():
    from brinehouse.network.transients.kernel import courses

    structure, rows = small()
    running.run(structure, rows, 0.1)
    before = len(courses.entry.signatures)
    for array in (rows.way, rows.op, rows.place, rows.until, rows.x, rows.volume, rows.clock, structure.day):
        array.flags.writeable = False
    running.run(structure, rows, 0.1)
    running.curves(structure, rows, 0, np.array([0.0, 0.1]))
    assert len(courses.entry.signatures) == before == 1
