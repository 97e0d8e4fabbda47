"""Clamp-on flow meters of the invented hall, read on some mornings; one of them has slipped on its pipe."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from brinehouse.demo import crew, pumps, truths, weather

POINTS: tuple[tuple[str, str, str], ...] = (
    ("m-supply", "supply-m-flow", "FT-211"),
    ("m-estuary", "estuary-flow", "FT-212"),
    ("m-overflow", "overflow-m-flow", "FT-213"),
    ("m-side", "side-flow", "FT-214"),
    ("estuary-back", "estuary-back-flow", "FT-215"),
    ("k-supply", "supply-k-flow", "FT-311"),
    ("kelp-back", "kelp-back-flow", "FT-312"),
)
"""The way of the flow round: run, point, meter."""

BIASED = ("FT-211", "FT-212", "FT-213", "FT-215")
"""Meters of which one is off, by 8 to 15 %."""

DESIGN: Mapping[str, float] = {
    "m-supply": 48.0,
    "m-estuary": 16.0,
    "m-side": 6.0,
    "k-supply": 22.0,
}
"""What the hall was laid out for. [m³/h]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Meters:
    """What is wrong with each meter, and the water that really runs.

    Attributes
    ----------
    gains : mapping
        Meter to what it shows over what is so.
    wear : mapping
        Run to its flow over the one it was laid out for.
    strength : mapping
        Return pump to what it gives over the mean of all.
    biased, share : str, float
        The meter that slipped, and by which share it reads too high (below nought: too low).
    """

    gains: Mapping[str, float]
    wear: Mapping[str, float]
    strength: Mapping[str, float]
    biased: str
    share: float


def draw(rng: np.random.Generator) -> Meters:
    """One meter off by 8 to 15 %, the others within their maker's word; flows near the drawing."""
    gains = {meter: 1.0 + float(rng.uniform(-0.012, 0.012)) for _, _, meter in POINTS}
    biased = str(rng.choice(BIASED))
    share = float(rng.uniform(0.08, 0.15)) * float(rng.choice((-1.0, 1.0)))
    gains[biased] = 1.0 + share
    return Meters(
        gains=gains,
        wear={run: 1.0 + float(rng.uniform(-0.07, 0.03)) for run in DESIGN},
        strength={pump: 1.0 + float(rng.uniform(-0.02, 0.02)) for pump in pumps.RETURNS},
        biased=biased,
        share=share,
    )


def flows(meters: Meters, resting: str, sway: Mapping[str, float]) -> dict[str, float]:
    """What really runs while one return pump rests, in m³/h."""
    on = [give for pump, give in meters.strength.items() if pump != resting]
    pumped = sum(on) / len(on)
    real = {
        run: design * meters.wear[run] * sway[run] * (1.0 if run == "k-supply" else pumped)
        for run, design in DESIGN.items()
    }
    real["m-overflow"] = real["m-supply"] - real["m-side"] - 0.004
    real["estuary-back"] = real["m-estuary"] - 0.001
    real["kelp-back"] = real["k-supply"] - 0.001
    return real


def walk(
    book: crew.Ledger,
    meters: Meters,
    changes: list[pumps.Rest],
    shifts: Sequence[tuple[crew.Person, crew.Person]],
    begin_clock: float,
    hours: float,
) -> dict[str, float]:
    """Every flow round of the history; the true flows at the last one, in m³/h."""
    rng = book.rng
    grid = np.arange(0.0, hours + 24.0, 6.0)
    sways = {run: 1.0 + weather.wander(rng, grid, size=0.006, memory=120.0) for run in DESIGN}
    edges = np.array([change.hour for change in changes])
    real: dict[str, float] = {}
    day = int(rng.integers(0, 2))
    while (hour := 24.0 * day + 10.7 - begin_clock + float(rng.normal(0.0, 0.4))) < hours:
        sway = {run: float(np.interp(hour, grid, column)) for run, column in sways.items()}
        if hour >= 0.0:
            at = max(int(np.searchsorted(edges, hour, side="right")) - 1, 0)
            real = flows(meters, changes[at].pump, sway)
            _round(book, meters, real, shifts[min(day, len(shifts) - 1)][0], hour)
        day += int(rng.choice((2, 2, 3)))
    return real


def _round(
    book: crew.Ledger, meters: Meters, real: Mapping[str, float], person: crew.Person, hour: float
) -> None:
    for stop, (run, point, meter) in enumerate(POINTS):
        shown = real[run] * meters.gains[meter] * (1.0 + float(book.rng.normal(0.0, 0.006)))
        book.read(
            person,
            hour + 0.03 * stop,
            run,
            "flow",
            shown,
            "m³/h",
            decimals=2 if real[run] < 10.0 else 1,
            point=point,
            instrument=meter,
            method="clamp-on, mean of a minute",
        )


def told(meters: Meters, real: Mapping[str, float]) -> truths.FlowTruth:
    """The truth about flows."""
    return truths.FlowTruth(meter=meters.biased, bias=meters.share, flows=dict(real))
