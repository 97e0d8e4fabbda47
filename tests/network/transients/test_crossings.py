"""Crossing times against those of an outside integrator at 1e-9, kept in ``lsoda_crossings.json``."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest
from tests.network.transients import batches, comparing, drawn_plants, make_crossings

from brinehouse.network.transients import running, tables

RANDOM = [f"random {seed}" for seed in range(10)]


def rows_of(plant, *, few=None):
    """A plant's structure, the scenarios that are kept of it, and the reference."""
    structure, batch = drawn_plants.named(plant)
    scenarios, times, margins = comparing.reference(plant)
    if not running.COMPILED:  # the plain path is the same code, a hundred times slower
        few = 1
    some = slice(None, few)
    return structure, tables.take(batch, np.array(scenarios[some])), times[some], margins[some]


def off(structure, batch, times, margins, **told):
    found = running.run(structure, batch, 72.0, **told)
    assert found.whole.all()
    return comparing.apart(structure, found.crossed, found.margin, times, margins)


def test_what_is_kept_is_a_reference_for_at_least_sixty_scenarios_and_ten_plants():
    scenarios, times, _ = comparing.reference("twelve")
    assert len(scenarios) >= 60
    assert scenarios == make_crossings.chosen()
    assert np.isfinite(times).sum() > 250
    assert sum(np.isfinite(comparing.reference(plant)[1]).sum() for plant in RANDOM) > 100


def test_crossing_times_of_the_twelve_places_are_those_of_the_outside_integrator():
    found = off(*rows_of("twelve"))
    assert found.missed == []
    assert found.invented == []
    assert found.rms <= 0.15
    assert found.most <= 1.5
    assert found.margins <= 2.0


@pytest.mark.parametrize("plant", RANDOM)
def test_crossing_times_of_a_plant_drawn_by_chance_are_those_of_the_outside_integrator(plant):
    found = off(*rows_of(plant))
    assert found.keeps, found
    assert found.margins <= 2.0


def test_water_at_the_end_is_that_of_the_outside_integrator():
    structure, batch = drawn_plants.named("twelve")
    kept = json.loads(comparing.KEPT.read_text("utf-8"))["plants"]["twelve"][: 22 if running.COMPILED else 1]
    some = tables.take(batch, np.array([one["scenario"] for one in kept]))
    found = running.run(structure, some, 72.0)
    np.testing.assert_allclose(found.x, [one["x"] for one in kept], rtol=2e-4, atol=0.1)
    np.testing.assert_allclose(found.volume, [one["volume"] for one in kept], rtol=2e-4, atol=1e-3)


@pytest.mark.skipif(not running.COMPILED, reason="the plain path shows the same on one scenario above")
@pytest.mark.parametrize("fault", ["column", "limit", "tolerance", "phase"])
def test_a_planted_fault_is_seen(fault):
    structure, batch, times, margins = rows_of("twelve", few=22)
    told = {}
    if fault == "column":  # a column that strips two hundredths less
        at = [one == "column" for one in structure.machines]
        batch = dataclasses.replace(batch, op=batch.op.copy())
        batch.op[:, :, at, 3] *= 0.98
    elif fault == "limit":
        moved = structure.limit_value * 1.01
        structure = dataclasses.replace(structure, limit_value=moved)
    elif fault == "tolerance":
        told["rtol"] = 1e-3
    else:  # the change-over takes a minute longer, the help comes a minute later
        batch = dataclasses.replace(batch, until=batch.until + 120.0)
    found = running.run(structure, batch, 72.0, **told)
    seen = comparing.apart(structure, found.crossed, found.margin, times, margins)
    assert not seen.keeps or seen.margins > 2.0


def test_both_writings_of_the_equations_give_the_same_rates():
    from benchmarks import transient_peer as peer

    chance = np.random.default_rng(5)
    for plant in ("twelve", *RANDOM):
        structure, batch = drawn_plants.named(plant)
        frame, seconds = peer.Frame(structure), 5.0 * batches.HOUR
        for scenario in (0, 1, 2, 4, 5, 6) if plant != "twelve" else (0, 2, 4, 11, 15, 17, 60, 130):
            x = batch.x[scenario] * chance.uniform(0.9, 1.1, batch.x[scenario].shape)
            volume = batch.volume[scenario] * chance.uniform(0.2, 1.05, batch.volume[scenario].shape)
            phase = int(np.searchsorted(batch.until[scenario], seconds, side="right"))
            rates = peer.Phase(frame, batch.way[scenario, phase], batch.op[scenario, phase],
                               batch.place[scenario, phase], float(batch.clock[scenario]))  # fmt: skip
            theirs = rates(seconds, np.concatenate((x.ravel(), volume))).reshape(12, -1)
            ours, filling = running.rates(structure, batch, scenario, seconds, x, volume)
            scale = np.abs(theirs).max(axis=1, keepdims=True)
            np.testing.assert_allclose(np.vstack((ours, filling)) / scale, theirs / scale, atol=1e-9)
