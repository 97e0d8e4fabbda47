"""Gas sittings: two meters hung at two places, left to settle, sometimes swapped, sometimes held in air."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from brinehouse.demo import crew, meters, truths

SPOTS: Mapping[str, tuple[str, float | None]] = {
    "mangrove": ("mangrove-low", 2.2),
    "pipefish": ("pipefish-low", 0.45),
    "sump-m": ("sump-m-well", 0.8),
    "estuary": ("estuary-rail", 0.6),
    "kelp": ("kelp-low", 4.6),
    "cold-bench": ("cold-bench-mid", 0.35),
    "m-supply": ("supply-tap", None),
}
"""Where a meter hangs at each place: point, depth [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One visit: hour, and pairs of places for meters A and B, one pair after the other."""

    hour: float
    pairs: tuple[tuple[str, str], ...]
    note: str = ""


def plans(
    rng: np.random.Generator,
    hours: float,
    begin_clock: float,
    test: float,
    rested: Sequence[tuple[float, float]],
) -> list[Plan]:
    """When and where the crew hangs its meters.

    Parameters
    ----------
    test : float
        Hour at which the pump is started on purpose.
    rested : sequence of (float, float)
        Hours from and to which the leaking pump rests in the leak's time: some visit falls into each.
    """
    found: list[Plan] = []
    day, swap = 0.4, 1
    while 24.0 * day < hours - 20.0:
        clock = float(rng.uniform(7.6, 10.5)) if rng.random() < 0.6 else float(rng.uniform(13.0, 18.5))
        hour = 24.0 * np.floor(day) + clock - begin_clock
        if hour > 1.0 and abs(hour - test) > 20.0:
            found.append(Plan(hour=float(hour), pairs=_pairs(rng, swap)))
            swap += 1
        late = 24.0 * day > hours - 35.0 * 24.0
        day += float(rng.choice([1.0, 1.0, 2.0]) if late else rng.choice([1.0, 2.0, 2.0, 3.0]))
    for begin, until in rested:
        inside = [plan for plan in found if begin + 4.0 < plan.hour < until]
        if not inside and until - begin > 9.0 and abs(begin - test) > 24.0:
            hour = float(rng.uniform(begin + 5.0, until - 2.0))
            found.append(Plan(hour=hour, pairs=_pairs(rng, swap), note="again, with other pumps running"))
            swap += 1
    found += [
        Plan(hour=test - 0.75, pairs=(("m-supply", "pipefish"),), note="before the start"),
        Plan(hour=test + 10.0 / 60.0, pairs=(("m-supply", "pipefish"),), note="ten minutes after the start"),
        Plan(hour=test + 4.0, pairs=(("mangrove", "pipefish"),), note="four hours after the start"),
        Plan(
            hour=hours - 1.25, pairs=(("mangrove", "pipefish"), ("pipefish", "mangrove")), note="both swapped"
        ),
    ]
    return sorted((plan for plan in found if plan.hour < hours - 0.9), key=lambda plan: plan.hour)


def _pairs(rng: np.random.Generator, number: int) -> tuple[tuple[str, str], ...]:
    """A visit's places: mostly mangrove and pipefish, either way round; every third visit swapped."""
    both = ("mangrove", "pipefish") if rng.random() < 0.5 else ("pipefish", "mangrove")
    if number % 3 == 0:
        return (both, (both[1], both[0]))
    if number % 7 == 2:
        return (both, ("sump-m", "sump-m"))
    if number % 11 == 4:
        return (both, ("kelp", "cold-bench"))
    if number % 5 == 1:
        other = "sump-m" if rng.random() < 0.6 else "estuary"
        return (both, (other, both[1]))
    return (both,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """What every hang needs."""

    book: crew.Ledger
    levels: truths.Levels
    meters: Mapping[str, meters.GasMeter]
    probe: str


def sit(tools: Round, plan: Plan, number: int, person: crew.Person) -> float:
    """One visit; the hour at which its last meter was read."""
    sitting = f"gas-{number:03d}"
    begin = done = plan.hour
    shown = {"meter-A": 100.0, "meter-B": 100.0 + tools.meters["meter-B"].bias_at(plan.hour)}
    for pair in plan.pairs:
        for late, (name, place) in enumerate(zip(("meter-A", "meter-B"), pair, strict=True)):
            done = _hang(tools, name, place, begin + 0.03 * late, sitting, person, shown, plan.note)
        begin = done + float(tools.book.rng.uniform(0.03, 0.08))
    return done


def _hang(
    tools: Round,
    name: str,
    place: str,
    hour: float,
    sitting: str,
    person: crew.Person,
    shown: dict[str, float],
    note: str,
) -> float:
    """One meter at one place: the trial, then the figures it came to. Returns when they were read."""
    book, meter = tools.book, tools.meters[name]
    rng = book.rng
    span = float(np.clip(rng.normal(26.0, 2.5) * person.patience, 20.0, 33.0))
    minutes = np.unique(np.round(np.cumsum(rng.choice([2.0, 2.0, 3.0, 4.0], size=16))))
    minutes = np.concatenate([[1.0], minutes[minutes < span - 1.0], [round(span)]])
    point, depth = SPOTS[place]
    ks = [tools.levels.index(book.when(hour + float(minute) / 60.0)) for minute in minutes]
    rest = tools.levels.series[place]["tgp"][ks] + meter.bias_at(hour)
    way = meters.approach(tools.probe, minutes, shown[name], 0.0, meter.speed)
    held = meters.approach(tools.probe, minutes, 0.0, 1.0, meter.speed)
    values = np.round(way + held * rest + rng.normal(0.0, 0.04, minutes.size), 1)
    book.tell(
        "gas-trial",
        hour,
        place,
        person,
        note=note,
        delay=span / 60.0,
        instrument=name,
        sitting=sitting,
        quantity="total gas pressure",
        unit="%",
        minutes=minutes.tolist(),
        values=values.tolist(),
        depth=depth,
        point=point,
    )
    shown[name] = float(values[-1])
    at = hour + span / 60.0
    _figures(tools, meter, place, at, float(values[-1]), sitting, person)
    return at


def _figures(
    tools: Round, meter: meters.GasMeter, place: str, at: float, tgp: float, sitting: str, person: crew.Person
) -> None:
    """The five figures on the meter's display."""
    book, rng = tools.book, tools.book.rng
    point, depth = SPOTS[place]
    k = tools.levels.index(book.when(at))
    here = tools.levels.series[place]
    warm = float(here["temperature"][k]) + float(rng.normal(0.0, 0.05))
    oxygen = meter.oxygen(float(here["oxygen"][k]), float(here["temperature"][k]), float(here["salinity"][k]))
    oxygen += float(rng.normal(0.0, 0.02))
    pressure = float(tools.levels.pressure[k]) + meter.barometer + float(rng.normal(0.0, 0.2))
    nitrogen = meter.nitrogen(tgp, oxygen, warm, pressure)
    common = {
        "instrument": meter.id,
        "sitting": sitting,
        "point": point,
        "depth": depth,
        "method": "hung and left",
    }
    rows = (
        ("total gas pressure", tgp, "%", 1, ""),
        ("oxygen", oxygen, "mg/L", 2, ""),
        ("nitrogen residual", nitrogen, "%", 1, ""),
        ("temperature", warm, "°C", 1, ""),
        ("barometer", pressure, "mmHg", 0, "air"),
    )
    for quantity, value, unit, decimals, basis in rows:
        slips = quantity in ("total gas pressure", "oxygen")
        book.read(
            person,
            at,
            place,
            quantity,
            value,
            unit,
            decimals=decimals,
            basis=basis,
            slips=slips,
            delay=0.08,
            **common,
        )


def air_checks(tools: Round, hours: float, shifts: Sequence[tuple[crew.Person, crew.Person]]) -> None:
    """Each meter hung in dry air a few times: what it reads where 100.0 would be right; nobody zeroed it."""
    book = tools.book
    for name, meter in tools.meters.items():
        for k in range(int(book.rng.integers(2, 5))):
            hour = hours * (0.12 + 0.24 * k) + float(book.rng.uniform(0.0, 48.0))
            reads = round(100.0 + meter.bias_at(hour) + float(book.rng.normal(0.0, 0.08)), 1)
            person = shifts[min(int(hour / 24.0), len(shifts) - 1)][0]
            note = "membrane wiped and dried; left as it is, the next service will see to it" if k else ""
            book.tell(
                "instrument-check",
                hour,
                "",
                person,
                note=note,
                instrument=name,
                check="air",
                quantity="total gas pressure",
                reads=reads,
                should_read=100.0,
                unit="%",
            )
