"""What only a series shows."""

import numpy as np

from brinehouse import glossary
from brinehouse.logbook.intake import runs, subjects

MINUTE = 60_000_000


def series(word="temperature"):
    found = glossary.find(word)
    scale = found.scale(found.unit)
    return subjects.Series(1, quantity=found, scale=scale, unit=found.unit, automatic=True)


def look(values, step=10 * MINUTE, faults=()):
    run = runs.Run(series())
    for at, value in enumerate(values):
        run.ticks.append(at * step)
        run.values.append(value)
        run.lines.append(at + 2)
        run.ordinals.append(at)
    run.faults.update(faults)
    return runs.look(run)


def wandering(count):
    return list(24.0 + np.sin(np.arange(count) / 20.0) / 2)


def test_a_wandering_series_has_no_mark():
    found = look(wandering(500))
    assert (found.flat.size, found.spikes.size, found.faults) == (0, 0, ())


def test_a_series_that_stands_still_for_a_night_is_marked_from_its_first_row():
    values = wandering(200)
    values[100:160] = [values[100]] * 60
    found = look(values)
    assert (found.flat.min(), found.flat.max()) == (100, 159)
    [(fault, line)] = found.faults
    assert (fault.code, line) == ("intake/flat", 102)


def test_a_coarse_display_that_stands_still_by_nature_is_not_marked():
    values = [24.0 + (at // 55) % 2 / 10 for at in range(600)]
    assert look(values).flat.size == 0


def test_a_series_that_never_moves_is_marked_after_a_day_only():
    assert look([24.0] * 60).flat.size == 0
    assert look([24.0] * 150).flat.size == 150


def test_one_sample_far_from_both_neighbours_is_a_spike_and_a_step_is_not():
    values = wandering(100)
    values[50] += 7.0
    found = look(values)
    assert found.spikes.tolist() == [50]
    assert [(fault.code, line) for fault, line in found.faults] == [("intake/spike", 52)]
    stepped = wandering(50) + [value + 7.0 for value in wandering(50)]
    assert look(stepped).spikes.size == 0


def test_a_noisy_series_is_not_all_spikes():
    values = list(24.0 + 3.0 * np.random.default_rng(1).standard_normal(500))
    assert look(values).spikes.size < 5


def test_rows_out_of_order_are_looked_at_in_order_of_time():
    values = wandering(100)
    run = runs.Run(series())
    for at in reversed(range(100)):
        run.ticks.append(at * MINUTE)
        run.values.append(values[at] + 7.0 * (at == 50))
        run.lines.append(at)
        run.ordinals.append(at)
    assert runs.look(run).spikes.tolist() == [50]


def test_fault_codes_are_left_out_before_neighbours_are_compared():
    values = wandering(100)
    values[50] = 85.0
    assert look(values, faults=[50]).spikes.size == 0
