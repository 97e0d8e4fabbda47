"""Rows of one automatic series side by side: what stands still, and what stands alone."""

from __future__ import annotations

import array
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brinehouse.logbook.intake import saying, subjects

FLAT = "intake/flat"
SPIKE = "intake/spike"
FLAT_FOR = 8 * 3_600_000_000  # a value that stands still so long is looked at [µs]
FLAT_LEAST = 5  # samples
FLAT_ALL = 24 * 3_600_000_000  # where the series never moves at all, there is nothing to compare with [µs]
FLAT_UNLIKE = 4.0  # times the mean length of the other stretches: a coarse display stands still by nature
SPIKE_SHARE = 0.1  # of the usual range
SPIKE_STEPS = 8.0  # times the usual step


@dataclass(slots=True)
class Run:
    """The accepted rows of one series, as they come."""

    series: subjects.Series
    ticks: array.array[int] = field(default_factory=lambda: array.array("q"))
    values: array.array[float] = field(default_factory=lambda: array.array("d"))
    lines: array.array[int] = field(default_factory=lambda: array.array("q"))
    ordinals: array.array[int] = field(default_factory=lambda: array.array("q"))
    faults: set[int] = field(default_factory=set[int])


@dataclass(frozen=True, slots=True)
class Marked:
    """Rows that got a mark, by their ordinal, and what is said about them."""

    flat: NDArray[np.int64]
    spikes: NDArray[np.int64]
    faults: tuple[tuple[saying.Fault, int], ...]


def look(run: Run) -> Marked:
    """Flat stretches and one-sample spikes of an automatic series, in order of time."""
    ticks, values = np.frombuffer(run.ticks, np.int64), np.frombuffer(run.values, np.float64)
    lines, ordinals = np.frombuffer(run.lines, np.int64), np.frombuffer(run.ordinals, np.int64)
    if run.faults:
        keep = ~np.isin(ordinals, list(run.faults))
        ticks, values, lines, ordinals = ticks[keep], values[keep], lines[keep], ordinals[keep]
    if np.any(ticks[1:] < ticks[:-1]):
        order = np.argsort(ticks, kind="stable")
        ticks, values, lines, ordinals = ticks[order], values[order], lines[order], ordinals[order]
    said: list[tuple[saying.Fault, int]] = []
    spikes = _spikes(run.series, values)
    word, unit = _name(run.series)
    for at in spikes:
        between = f"{values[at - 1]:g} and {values[at + 1]:g}"
        text = f"{word} {values[at]:g} {unit} stands alone between {between}: a spike; kept and marked"
        said.append((saying.note(SPIKE, text, "look at the sensor and its cable", "value"), int(lines[at])))
    flat = np.zeros(ticks.size, bool)
    for first, last in _flats(ticks, values):
        flat[first : last + 1] = True
        hours = (ticks[last] - ticks[first]) / 3_600_000_000
        still = f"{hours:.0f} h ({last - first + 1} samples)"
        text = f"{word} stands at {values[first]:g} {unit} for {still}; kept and marked"
        said.append(
            (saying.note(FLAT, text, "a sensor that stands still may be stuck", "value"), int(lines[first]))
        )
    return Marked(ordinals[flat], ordinals[spikes], tuple(said))


def _name(series: subjects.Series) -> tuple[str, str]:
    return (series.quantity.word if series.quantity else "the value"), series.unit


def _flats(ticks: NDArray[np.int64], values: NDArray[np.float64]) -> list[tuple[int, int]]:
    """First and last of each stretch without any change that lasts `FLAT_FOR` and is unlike the others."""
    if values.size < FLAT_LEAST:
        return []
    edges = np.flatnonzero(np.diff(values) != 0.0)
    first = np.concatenate(([0], edges + 1))
    last = np.concatenate((edges, [values.size - 1]))
    length = last - first + 1
    if length.size == 1:
        return [(0, int(last[0]))] if ticks[-1] - ticks[0] >= FLAT_ALL else []
    others = (values.size - length) / (length.size - 1)
    long = (ticks[last] - ticks[first] >= FLAT_FOR) & (length >= FLAT_LEAST) & (length > FLAT_UNLIKE * others)
    return [(int(a), int(b)) for a, b in zip(first[long], last[long], strict=True)]


def _spikes(series: subjects.Series, values: NDArray[np.float64]) -> NDArray[np.int64]:
    """Samples far from both neighbours, which agree with each other."""
    if values.size < 5:
        return np.array([], np.int64)
    before, here, after = values[:-2], values[1:-1], values[2:]
    jump = np.minimum(np.abs(here - before), np.abs(here - after))
    step = float(np.median(np.abs(np.diff(values))))
    usual = series.scale.form.plausible if series.scale else (series.usual_low, series.usual_high)
    width = usual[1] - usual[0]
    least = max(SPIKE_SHARE * width, SPIKE_STEPS * step)
    same_side = np.sign(here - before) == np.sign(here - after)
    alone = same_side & (jump > least) & (np.abs(after - before) < 0.25 * jump)
    return np.flatnonzero(alone) + 1
