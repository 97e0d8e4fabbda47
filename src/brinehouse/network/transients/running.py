"""Batches of courses: `run` for crossings of limits, `curves` for the water over time, `rates` for checks."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, as_completed

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.transients import tables
from brinehouse.network.transients.kernel import compiling, frames

Floats = NDArray[np.float64]
COMPILED = compiling.COMPILED
COARSE = 100.0  # the error that a step estimates, of the order below, over what crossings are off by
CHUNK = 16  # scenarios a thread takes at once


def _own(values: Floats) -> Floats:
    """An array as what is compiled knows it: in one piece, and not marked as only to be read."""
    return np.require(values, dtype=np.float64, requirements=("C", "W"))


def _ready(rows: tables.Tables) -> tuple[Floats, ...]:
    state = frames.rows_of(rows.x, rows.volume)
    return tuple(_own(each) for each in (rows.way, rows.op, rows.place, rows.until, state, rows.clock))


def _frame(structure: tables.Structure) -> frames.Frame:
    frame = frames.lay(structure)
    return frame._replace(day=_own(frame.day))


def _work(
    frame: frames.Frame, rows: tables.Tables, end: float, rtol: float, samples: Floats
) -> tuple[tables.Outcome, Floats]:
    """One chunk of scenarios on the thread at hand."""
    from brinehouse.network.transients.kernel import courses

    many, limits = rows.scenarios, len(frame.limits)
    way, op, place, until, state, clock = _ready(rows)
    crossed, margin, margin_at = (np.full((many, limits), value) for value in (np.inf, np.inf, 0.0))
    counts, whole = np.zeros((many, 3), dtype=np.int64), np.zeros(many, dtype=np.bool_)
    out = np.full((many, len(samples), *state.shape[1:]), np.nan)
    with np.errstate(all="ignore"):
        courses.entry(
            frame, way, op, place, until, state, clock, end, rtol * COARSE, samples,
            (crossed, margin, margin_at, counts, whole, out),
        )  # fmt: skip
    return tables.Outcome(
        crossed=crossed, margin=margin, margin_at=margin_at, x=frames.species_of(state),
        volume=np.ascontiguousarray(state[..., frames.VOLUME]), steps=counts[:, 0].astype(np.intp),
        whole=whole,
    ), out  # fmt: skip


def run(
    structure: tables.Structure,
    rows: tables.Tables,
    hours: float = 72.0,
    *,
    rtol: float = 1e-6,
    threads: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> tables.Outcome:
    """Every scenario of a batch to its end.

    Parameters
    ----------
    structure, rows : Structure, Tables
        The batch.
    hours : float
        How long each runs. [h]
    rtol : float
        What crossings are about as far off as with this relative tolerance of a method that does not
        overestimate: a step's own estimate, one order lower, may be `COARSE` times as much.
    threads : int
        How many run at once; as many as the machine has where not told.
    progress : callable
        Given how many scenarios are done, and of how many, from time to time.
    """
    frame, end, many = _frame(structure), hours * 3600.0, rows.scenarios
    chunks = [slice(at, min(at + CHUNK, many)) for at in range(0, many, CHUNK)]
    workers = max(1, min(threads or os.cpu_count() or 1, len(chunks)))
    parts: list[tables.Outcome | None] = [None] * len(chunks)
    done = 0

    def one(number: int) -> int:
        parts[number] = _work(frame, tables.take(rows, chunks[number]), end, rtol, np.empty(0))[0]
        return number

    def told(number: int) -> None:
        nonlocal done
        done += chunks[number].stop - chunks[number].start
        if progress is not None:
            progress(done, many)

    if workers == 1:
        for number in range(len(chunks)):
            told(one(number))
    else:
        with ThreadPoolExecutor(workers) as pool:
            for future in as_completed([pool.submit(one, number) for number in range(len(chunks))]):
                told(future.result())
    return _joined(structure, [part for part in parts if part is not None])


def _joined(structure: tables.Structure, parts: list[tables.Outcome]) -> tables.Outcome:
    if not parts:
        limits, places = len(structure.limit_place), len(structure.places)
        none = np.empty((0, limits))
        return tables.Outcome(
            crossed=none, margin=none.copy(), margin_at=none.copy(), x=np.empty((0, 11, places)),
            volume=np.empty((0, places)), steps=np.empty(0, dtype=np.intp), whole=np.empty(0, dtype=np.bool_),
        )  # fmt: skip
    names = ("crossed", "margin", "margin_at", "x", "volume", "steps", "whole")
    return tables.Outcome(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in names})


def curves(
    structure: tables.Structure, rows: tables.Tables, scenario: int, hours: Floats, *, rtol: float = 1e-6
) -> tuple[Floats, Floats]:
    """Water of one scenario at rising times [h]: x (times, species, places), and volume (times, places).

    Not a number where the course was given up before.
    """
    times = np.ascontiguousarray(hours, dtype=np.float64) * 3600.0
    first = times <= 0.0
    end = float(times[-1]) if len(times) else 0.0
    one = tables.take(rows, slice(scenario, scenario + 1))
    state = frames.rows_of(one.x, one.volume)
    out = np.repeat(state, len(times), axis=0)
    if end > 0.0:
        out[~first] = _work(_frame(structure), one, end, rtol, times[~first])[1][0]
    return frames.species_of(out), np.ascontiguousarray(out[..., frames.VOLUME])


def rates(
    structure: tables.Structure, rows: tables.Tables, scenario: int, seconds: float, x: Floats, volume: Floats
) -> tuple[Floats, Floats]:
    """How fast water changes: dx/dt (species, places) and dV/dt (places,) at a time of one scenario."""
    from brinehouse.network.transients.kernel import courses

    one = tables.take(rows, slice(scenario, scenario + 1))
    way, op, place, until, _, clock = (each[0] for each in _ready(one))
    at = min(int(np.searchsorted(until, seconds, side="right")), len(until) - 1)
    state = frames.rows_of(np.asarray(x, dtype=np.float64), np.asarray(volume, dtype=np.float64))
    out = np.zeros_like(state)
    with np.errstate(all="ignore"):
        courses.rating(
            _frame(structure), way[at], op[at], place[at], state, float(clock) + seconds / 3600.0, out
        )
    return frames.species_of(out), np.ascontiguousarray(out[:, frames.VOLUME])


def warm() -> bool:
    """Compile once and keep it, so that the first question does not wait; whether there is a compiler."""
    empty = tables.Structure(
        places=(), ways=(), machines=(), source=np.empty(0, dtype=np.intp), target=np.empty(0, dtype=np.intp),
        law=np.empty(0, dtype=np.intp), begin=np.empty(0, dtype=np.intp), end=np.empty(0, dtype=np.intp),
        kind=np.empty(0, dtype=np.intp), outside=np.empty((0, 11)), day=np.zeros(len(tables.DAY)),
        limit_place=np.empty(0, dtype=np.intp), limit_quantity=np.empty(0, dtype=np.intp),
        limit_value=np.empty(0), limit_upper=np.empty(0, dtype=np.bool_),
    )  # fmt: skip
    nothing = tables.Tables(
        way=np.empty((1, 1, 0, len(tables.WAY))), op=np.empty((1, 1, 0, tables.OP_COLUMNS)),
        place=np.empty((1, 1, 0, len(tables.PLACE))), until=np.full((1, 1), math.inf),
        x=np.empty((1, 11, 0)), volume=np.empty((1, 0)), clock=np.zeros(1),
    )  # fmt: skip
    run(empty, nothing, 1.0, threads=1)
    rates(empty, nothing, 0, 0.0, nothing.x[0], nothing.volume[0])
    return COMPILED
