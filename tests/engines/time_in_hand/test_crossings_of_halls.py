"""Crossing times of whole halls, from their facility files, against SciPy's LSODA at 1e-9."""

import importlib.resources

import numpy as np
import pytest
from benchmarks import transient_peer as peer
from tests.engines.time_in_hand import facilities
from tests.network.transients import comparing

from brinehouse.engines.time_in_hand import answering, courses, failures, question
from brinehouse.facility import reading
from brinehouse.network import flows
from brinehouse.network.compartments import conditions
from brinehouse.network.transients import running, tables

LONGEST = 450.0  # s: so that limits are looked at often enough


def hall(which):
    """The invented hall, or one made from a number; 0 tells its flows only."""
    if which != "demo":
        return reading.read(facilities.generated(which)).facility
    page = importlib.resources.files("brinehouse.demo").joinpath("hall.toml")
    return reading.read(page.read_text("utf-8")).facility


def work_of(which):
    facility = hall(which)
    asked = question.Asked(
        facility=facility, flows=flows.stated(facility).flows, conditions=conditions.Conditions(),
        failures=failures.catalogue(facility), clock=20.0,
    )  # fmt: skip
    return answering.Work(asked)


def compared(which, most):
    """Failures of a hall, a few for each body of water, by both; every body that has limits takes part."""
    work = work_of(which)
    found = []
    for water in work.courses.waters:
        keys = list(dict.fromkeys(water.reached(one.effects) for one in work.failures))
        if not water.lines or not keys:
            continue
        keys = [keys[at] for at in np.unique(np.linspace(0, len(keys) - 1, most).round().astype(int))]
        batch = water.batch(keys)
        ours = running.run(water.structure, batch, 72.0, rtol=courses.RTOL)
        assert ours.whole.all()
        frame = peer.Frame(water.structure)
        theirs = [
            peer.solve(
                water.structure,
                batch,
                one,
                method="LSODA",
                rtol=1e-9,
                samples=8,
                longest=LONGEST,
                frame=frame,
            )
            for one in range(len(keys))
        ]
        found.append((water, ours, theirs))
    return found


def off(found):
    """The worst of all bodies of water, and the crossings compared."""
    return [
        comparing.apart(
            water.structure, ours.crossed, ours.margin,
            np.array([one.crossed for one in theirs]), np.array([one.margin for one in theirs]),
        )
        for water, ours, theirs in found
    ]  # fmt: skip


@pytest.mark.parametrize("which", [0])
def test_a_hall_that_tells_only_its_flows_crosses_its_limits_when_the_outside_integrator_says(which):
    found = compared(which, 2)
    assert all(one.keeps for one in off(found)), off(found)
    assert sum(one.crossings for one in off(found)) > 2


def test_a_limit_that_lies_elsewhere_is_seen():
    (water, ours, theirs), *_ = compared(0, 2)
    moved = tables.Outcome(
        crossed=ours.crossed * 1.05, margin=ours.margin, margin_at=ours.margin_at, x=ours.x,
        volume=ours.volume, steps=ours.steps, whole=ours.whole,
    )  # fmt: skip
    assert not all(one.keeps for one in off([(water, moved, theirs)]))


@pytest.mark.soak
@pytest.mark.parametrize("which", ["demo", *facilities.SEEDS])
def test_every_hall_crosses_its_limits_when_the_outside_integrator_says(which):
    found = compared(which, 6)
    print(which, off(found))
    assert all(one.keeps for one in off(found)), off(found)
