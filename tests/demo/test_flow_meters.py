"""Clamp-on meters of the invented hall: true flows that balance, one meter off, nothing else moved."""

import numpy as np
import pytest

from brinehouse.demo import flow_meters, generator, pumps


@pytest.fixture(scope="module")
def some():
    return [generator.generate(seed, quick=True) for seed in (1, 2, 3)]


def test_what_really_runs_balances_but_for_what_the_air_takes():
    meters = flow_meters.draw(np.random.default_rng(5))
    real = flow_meters.flows(meters, "P-202", dict.fromkeys(flow_meters.DESIGN, 1.0))
    assert real["m-supply"] - real["m-side"] - real["m-overflow"] == pytest.approx(0.0, abs=0.01)
    assert real["m-estuary"] - real["estuary-back"] == pytest.approx(0.0, abs=0.01)
    assert all(flow > 0 for flow in real.values())


def test_one_meter_is_off_and_the_others_keep_their_makers_word():
    for seed in range(20):
        meters = flow_meters.draw(np.random.default_rng(seed))
        off = {meter: abs(gain - 1.0) for meter, gain in meters.gains.items()}
        assert 0.08 <= off.pop(meters.biased) <= 0.15
        assert max(off.values()) <= 0.02


def test_a_few_rounds_a_week_are_read_at_every_point(some):
    for history in some:
        rows = [row for row in history.readings if row.quantity == "flow"]
        days = {row.measured.date() for row in rows}
        assert 30 <= len(days) <= 46
        assert {row.place for row in rows} == {run for run, _, _ in flow_meters.POINTS}
        assert all(row.unit == "m³/h" and row.instrument and row.person for row in rows)


def test_the_bias_is_in_the_readings(some):
    for history in some:
        truth = history.truths.flow_meter_bias
        last = {row.instrument: row for row in history.readings if row.quantity == "flow"}
        run = next(run for run, _, meter in flow_meters.POINTS if meter == truth.meter)
        assert last[truth.meter].value / truth.flows[run] - 1.0 == pytest.approx(truth.bias, abs=0.03)


def test_flows_have_chance_of_their_own_so_no_other_reading_moved(some):
    """A child of a seed depends on its number only: the last one does not move the ones before it."""
    before = np.random.SeedSequence(7).spawn(len(generator.STREAMS) - 1)
    after = np.random.SeedSequence(7).spawn(len(generator.STREAMS))
    assert generator.STREAMS.index("flows") == len(before)
    for one, two in zip(before, after[:-1], strict=True):
        assert np.random.default_rng(one).random() == np.random.default_rng(two).random()
    assert tuple(flow_meters.draw(np.random.default_rng(0)).strength) == pumps.RETURNS
