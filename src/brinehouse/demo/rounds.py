"""Two rounds a day, kits once a week, and the probes and the weather feed that log by themselves."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import Any

import numpy as np

from brinehouse.demo import crew, meters, truths

STOPS: tuple[tuple[str, str, float], ...] = (
    ("mangrove", "mangrove-rail", 0.6),
    ("pipefish", "pipefish-low", 0.45),
    ("estuary", "estuary-rail", 0.6),
    ("kelp", "kelp-rail", 0.8),
    ("ledge", "ledge-rail", 0.5),
    ("cold-bench", "cold-bench-mid", 0.35),
    ("nursery", "nursery-mid", 0.2),
    ("q-1", "q-1-mid", 0.4),
    ("q-2", "q-2-mid", 0.4),
    ("q-3", "q-3-mid", 0.3),
)
"""The way of the round: clean water first, quarantine last. Place, point, depth [m]."""

ACIDITY = {
    "mangrove": 7.98,
    "pipefish": 7.96,
    "estuary": 7.95,
    "kelp": 8.12,
    "ledge": 8.08,
    "cold-bench": 8.02,
}
NITRATE = {
    "mangrove": 38.0,
    "pipefish": 38.0,
    "estuary": 39.0,
    "kelp": 14.0,
    "ledge": 14.0,
    "cold-bench": 22.0,
}
WHYS = ("meter flat", "tap closed", "tank being cleaned", "no time", "probe being soaked")


def walk(
    book: crew.Ledger,
    levels: truths.Levels,
    shifts: Sequence[tuple[crew.Person, crew.Person]],
    begin_clock: float,
    wrong_until: float,
) -> None:
    """Every round of the history.

    Parameters
    ----------
    begin_clock : float
        What the wall clock shows at the start of the history. [h]
    wrong_until : float
        Hour until which DO-2 stands at salinity 0.
    """
    rng = book.rng
    for day, shift in enumerate(shifts):
        for number, (clock, person) in enumerate(((7.0, shift[0]), (16.5, shift[1]))):
            hour = 24.0 * day + clock - begin_clock + float(rng.normal(0.0, 0.35))
            if hour < 0.0 or rng.random() < (0.03 if number == 0 else 0.07):
                continue  # nobody went, and nobody wrote why
            delay = float(rng.gamma(1.5, 0.08)) if rng.random() < 0.9 else float(rng.uniform(3.0, 9.0))
            _round(book, levels, person, hour, delay, wrong_until, morning=number == 0)


def _round(
    book: crew.Ledger,
    levels: truths.Levels,
    person: crew.Person,
    hour: float,
    delay: float,
    wrong_until: float,
    *,
    morning: bool,
) -> None:
    rng = book.rng
    cut_short = len(STOPS) if rng.random() > 0.05 else int(rng.integers(4, 9))
    told = 0.0 if hour < wrong_until else 34.0
    for stop, (place, point, depth) in enumerate(STOPS[:cut_short]):
        at = hour + 0.06 * stop
        here = {
            name: float(column[levels.index(book.when(at))]) for name, column in levels.series[place].items()
        }
        write = functools.partial(
            book.read, person, place=place, delay=delay, slips=True, point=point, depth=depth
        )
        warm, oxygen, salt, acid = rng.normal(0.0, (0.06, 0.05, 0.08, 0.02)).tolist()
        warm += here["temperature"]
        warm = round(warm * 2.0) / 2.0 if person.coarse else warm
        write(at, quantity="temperature", value=warm, unit="°C", instrument="T-2")
        if rng.random() < 0.008:
            why = WHYS[int(rng.integers(len(WHYS)))]
            book.missed(
                person, at + 0.02, place, "oxygen", "mg/L", why, instrument="DO-2", point=point, depth=depth
            )
            continue
        oxygen += (
            meters.hand_oxygen(here["oxygen"], here["temperature"], here["salinity"], told) + person.lean
        )
        write(at + 0.02, quantity="oxygen", value=oxygen, unit="mg/L", decimals=2, instrument="DO-2")
        if morning:
            salt += here["salinity"]
            write(at + 0.03, quantity="salinity", value=salt, unit="PSU", instrument="C-1")
        acid += ACIDITY.get(place, 7.9) + 0.004 * (here["oxygen %"] - 96.0)
        write(at + 0.04, quantity="pH", value=acid, unit="pH", decimals=2, basis="NBS", instrument="pH-1")


def kits(
    book: crew.Ledger,
    shifts: Sequence[tuple[crew.Person, crew.Person]],
    begin_clock: float,
    weekday: int,
) -> None:
    """Ammonia, nitrite and nitrate, once a week where water goes round and twice where it does not."""
    rng = book.rng
    for day, shift in enumerate(shifts):
        of_week = (weekday + day) % 7
        if of_week not in (0, 3):
            continue
        for stop, (place, point, depth) in enumerate(STOPS):
            alone = place in ("q-1", "q-2", "q-3", "nursery")
            if of_week == 3 and not alone:
                continue
            at = 24.0 * day + 10.2 - begin_clock + 0.12 * stop
            if at < 0.0:
                continue
            where: dict[str, Any] = {
                "point": point,
                "depth": depth,
                "instrument": "kit-N",
                "method": "colour kit",
                "slips": True,
            }
            high = 0.12 if alone else 0.03
            ammonia = float(rng.gamma(2.0, high / 2.0))
            if ammonia < 0.02:
                book.read(
                    shift[0], at, place, "ammonia", 0.02, "mg/L", decimals=2, basis="N", bound="<", **where
                )
            else:
                book.read(shift[0], at, place, "ammonia", ammonia, "mg/L", decimals=2, basis="N", **where)
            nitrite = float(rng.gamma(2.0, high / 4.0))
            book.read(
                shift[0], at + 0.05, place, "nitrite", nitrite, "mg/L", decimals=2, basis="ion", **where
            )
            nitrate = NITRATE.get(place, 30.0) + 0.05 * day + float(rng.normal(0.0, 2.5))
            book.read(shift[0], at + 0.1, place, "nitrate", nitrate, "mg/L", decimals=0, basis="ion", **where)


def by_themselves(book: crew.Ledger, levels: truths.Levels, hours: float, *, quick: bool) -> None:
    """The weather feed through all days, and each tank's thermometer through the last ten."""
    rng = book.rng
    every = 6.0 if quick else 1.0
    for hour in np.arange(0.0, hours, every).tolist():
        if rng.random() < 0.012:
            continue  # the line was down
        k = levels.index(book.when(hour))
        shown = float(levels.sea_level[k]) + float(rng.normal(0.0, 0.15))
        book.read(None, hour, "", "barometer", shown, "mmHg", instrument="weather-feed", delay=0.01)
    begin = max(hours - 240.0, 0.0)
    times = np.arange(begin, hours, every)
    for place, _, _ in STOPS:
        zero = float(rng.normal(0.0, 0.12))
        creep = float(rng.normal(0.0, 0.01))
        ripple = 0.08 * np.sin(2.0 * np.pi * times / 0.7 + float(rng.uniform(0.0, 6.0)))
        noise = rng.normal(0.0, 0.02, times.size)
        for hour, wave, small in zip(times.tolist(), ripple.tolist(), noise.tolist(), strict=True):
            real = float(levels.series[place]["temperature"][levels.index(book.when(hour))])
            shown = real + zero + creep * (hour - begin) / 24.0 + wave + small
            book.read(
                None,
                hour,
                place,
                "temperature",
                shown,
                "°C",
                decimals=2,
                delay=0.01,
                instrument=f"T-{place}",
                point=f"{place}-probe",
            )
