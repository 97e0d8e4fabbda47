"""Courses: each is run once, and closely enough."""

import numpy as np
import pytest
from tests.engines.time_in_hand import still_water

from brinehouse.engines.time_in_hand import answering, courses, failures, preparing
from brinehouse.network.transients import effects, running

Effect = effects.Effect
LONE = (
    '[tank.q]\nname = "Quarantine"\nvolume = "1 m3"\nsurface = "1 m2"\nstands_alone = true\n'
    '[[animals]]\nat = "q"\nspecies = "goby"\nmass = "2 kg"\n'
)


def ready(**told):
    return preparing.prepare(still_water.asked(still_water.facility(**told))).courses


def test_crossings_stand_within_what_a_keeper_can_tell_of_those_of_far_smaller_steps():
    plant = ready()
    water = plant.waters[0]
    keys = list(
        dict.fromkeys(water.reached(one.effects) for one in failures.catalogue(still_water.facility()))
    )
    made = water.batch(keys)
    close, closer, rough = (
        running.run(water.structure, made, 72.0, rtol=rtol).crossed / 60.0
        for rtol in (courses.RTOL, 1e-8, 1e-2)
    )
    known = np.isfinite(closer)
    assert np.array_equal(np.isfinite(close), known)
    off = np.abs(close[known] - closer[known])
    assert np.sqrt(np.mean(off**2)) < 0.15  # min: the accuracy that is asked of crossings
    assert off.max() < 1.5
    both = known & np.isfinite(rough)
    assert np.abs(rough[both] - closer[both]).max() > 1.5  # the test bites


def test_a_failure_runs_only_in_the_water_that_it_reaches():
    plant = ready(more=LONE)
    loop, lone = sorted(plant.waters, key=lambda water: "q" in water.body.home)
    assert loop.reached([Effect("stop", "D")]) == (Effect("stop", "D"),)
    assert lone.reached([Effect("stop", "D")]) == ()
    assert plant.touched([Effect("power")]) == frozenset((0, 1))


def test_failures_that_do_the_same_to_the_water_are_run_once():
    plant = ready()
    plant.work([(), [Effect("dead-standby", "B")], [Effect("feed", "", 1.0)]])
    water = plant.waters[0]
    assert len(water.known) == 3
    assert len(water.alike) == 1


def test_numbers_are_the_same_whatever_else_is_in_the_batch():
    water = ready().waters[0]
    short, long = (Effect("power"),), (Effect("power"), Effect("aerate", "t", 4.0, after=3600.0))
    alone, both = water.batch([short]), water.batch([short, long])
    assert both.until.shape[1] > alone.until.shape[1]
    assert courses.mark(alone, 0) == courses.mark(both, 0)
    assert courses.mark(both, 0) != courses.mark(both, 1)


def test_effects_are_known_in_whatever_order_they_are_told():
    water = ready().waters[0]
    one, two = Effect("stop", "D"), Effect("feed", "", 2.0)
    assert water.reached([one, two]) == water.reached([two, one])


@pytest.mark.parametrize("many", [1, 3])
def test_progress_is_told_of_all_that_is_run(many):
    told = []
    sets = [[Effect("leak", "t", 0.01 * (at + 1), "floor")] for at in range(many)]
    ready().work(sets, lambda done, whole: told.append((done, whole)))
    assert told[-1] == (many, many)


def test_a_pair_has_no_less_time_than_its_worse_half_only_where_something_mends_it():
    work = answering.Work(
        still_water.asked(effects={"a": (Effect("stop", "D"),), "b": (Effect("feed", "", 2.0),)})
    )
    table = work.with_pairs(work.table())
    (pair,) = table.pairs
    assert pair.hours <= min(row.hours for row in table.rows)
