"""Ninety days of Highmoor Sea Hall from one seed: readings, facts, and the truths they hide.

Pure: the same seed gives the same history. It shares no law with the engines and the science floor.
"""

from __future__ import annotations

import dataclasses
import importlib.resources
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from brinehouse import records
from brinehouse.demo import crew, flow_meters, meters, plant, pumps, rounds, sittings, truths, water, weather
from brinehouse.demo import days as daily

Floats = NDArray[np.float64]
History = truths.History
Laws = truths.Laws
Truths = truths.Truths
WANDER = 0.16  # points of TGP by which a meter's zero wanders, with a memory of ten days
GAIN = 0.0165  # how far a meter's oxygen is off, as a standard deviation: at times beyond its maker's word
STREAMS = (
    "hidden",
    "weather",
    "water",
    "pumps",
    "meters",
    "sittings",
    "rounds",
    "crew",
    "days",
    "sensors",
    "flows",
)


def facility_text() -> str:
    """The hall's facility file."""
    return importlib.resources.files("brinehouse.demo").joinpath("hall.toml").read_text("utf-8")


def generate(
    seed: int = 1,
    *,
    days: int = 90,
    end: datetime = truths.END,
    laws: truths.Laws | None = None,
    quick: bool = False,
) -> truths.History:
    """An invented history and what it hides.

    Parameters
    ----------
    seed : int
        Sets the size and dates of the hidden truths and all chance.
    days : int
        How far it reaches back from `end`; 60 or more, so that the column's day lies within.
    end : datetime
        The last moment. Aware.
    laws : Laws, optional
        How this world works; the usual ones where left out.
    quick : bool
        Thins out what logs by itself.
    """
    laws = laws or truths.Laws()
    seeds = np.random.SeedSequence(seed).spawn(len(STREAMS))
    chance: dict[str, np.random.Generator] = dict(
        zip(STREAMS, map(np.random.default_rng, seeds), strict=True)
    )
    hidden = _draw(chance["hidden"], laws, days)
    start = end - timedelta(days=days)
    begin_clock = start.hour + start.minute / 60.0
    hours = np.arange(0.0, 24.0 * days + plant.STEP / 2.0, plant.STEP)
    changes, test = pumps.turns(chance["pumps"], 24.0 * days, begin_clock, laws.leak_pump)
    meals = daily.meals(chance["days"], days + 1, begin_clock)
    levels, lit, live = _levels(chance, laws, hidden, hours, begin_clock, changes, meals, start)
    shifts = crew.on_shift(chance["crew"], days + 2)
    books = {
        name: crew.Ledger(rng=chance[name], start=start, end=end, slips=laws.slips)
        for name in ("sittings", "rounds", "days", "sensors", "flows")
    }
    tools = sittings.Round(
        book=books["sittings"],
        levels=levels,
        meters=_meters(chance["meters"], laws, hidden, days),
        probe=laws.probe,
    )
    rested = pumps.rests(changes, laws.leak_pump, 24.0 * days)
    last = _sit(tools, hidden, 24.0 * days, begin_clock, rested, test, shifts)
    rounds.walk(books["rounds"], levels, shifts, begin_clock, hidden.setting_hour)
    rounds.kits(books["rounds"], shifts, begin_clock, start.weekday())
    rounds.by_themselves(books["sensors"], levels, 24.0 * days, quick=quick)
    _days(books["days"], hidden, 24.0 * days, begin_clock, changes, meals, lit, shifts)
    clamped = flow_meters.draw(chance["flows"])
    running = flow_meters.walk(books["flows"], clamped, changes, shifts, begin_clock, 24.0 * days)
    told = _told(laws, hidden, levels, dict(tools.meters), start + timedelta(hours=last), live)
    return truths.History(
        facility_text=facility_text(),
        people=[person.name for person in crew.CREW],
        readings=sorted((r for book in books.values() for r in book.readings), key=_by_time),
        facts=sorted((f for book in books.values() for f in book.facts), key=_by_time),
        truths=dataclasses.replace(told, flow_meter_bias=flow_meters.told(clamped, running)),
    )


def _by_time(fact: records.Reading | records.Fact) -> tuple[datetime, datetime, bool, str]:
    """In the order of the log: as entered, and what is put right before what puts it right."""
    return fact.entered, fact.measured, bool(fact.supersedes), fact.id


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hidden:
    """What the seed drew, in hours of the history."""

    loop: plant.Loop
    leak_hour: float
    leak_mmhg: float
    fraction: float
    ratio: float
    inject: tuple[float, float]
    column_hour: float
    columns: tuple[float, float]
    setting_hour: float
    setting_recorded: bool
    bias_a: float
    bias_b: float


def _draw(rng: np.random.Generator, laws: truths.Laws, days: int) -> _Hidden:
    """Sizes and dates of the hidden truths."""
    drawn_fraction, drawn_leak = float(rng.uniform(0.78, 1.0)), float(rng.uniform(12.5, 21.5))
    fraction = drawn_fraction if laws.leak_fraction_dissolved is None else laws.leak_fraction_dissolved
    leak = drawn_leak if laws.leak_mmhg is None else laws.leak_mmhg
    loop = plant.Loop(
        column=float(rng.uniform(0.52, 0.62)),
        churn=float(rng.uniform(5.2, 6.2)),
        fall=float(rng.uniform(8.5, 12.0)),
        warming=float(rng.uniform(2.0, 3.0)),
    )
    left = loop.column if laws.column else 1.0
    columns = (left**0.95, left)  # oxygen, nitrogen: not quite alike
    shares = water.air_shares(fraction, 25.5, 34.2)
    unit = [
        loop.steady(share, column)["mangrove"] - loop.steady(0.0, column)["mangrove"]
        for share, column in zip(shares, columns, strict=True)
    ]
    scale = leak / sum(unit)
    air = (water.OXYGEN_IN_AIR, water.INERT_IN_AIR)
    return _Hidden(
        loop=loop,
        leak_hour=24.0 * (days - float(rng.uniform(28.0, 35.0))),
        leak_mmhg=leak,
        fraction=fraction,
        ratio=(unit[1] / air[1]) / (unit[0] / air[0]),
        inject=(scale * shares[0], scale * shares[1]),
        column_hour=24.0 * (days - round(float(rng.uniform(55.0, 60.0)))) + 5.0,
        columns=columns,
        setting_hour=24.0 * (days - float(rng.uniform(9.0, 11.5))),
        setting_recorded=bool(rng.random() < 0.75),
        bias_a=float(np.clip(rng.normal(0.0, 0.06), -0.12, 0.12)),
        bias_b=1.2 + float(rng.uniform(-0.38, 0.38)),
    )


def _levels(
    chance: dict[str, np.random.Generator],
    laws: truths.Laws,
    hidden: _Hidden,
    hours: Floats,
    begin_clock: float,
    changes: list[pumps.Rest],
    meals: list[tuple[float, int, float]],
    start: datetime,
) -> tuple[truths.Levels, Floats, float]:
    """What the water really held, each day's hours of lamps, and what life adds to mangrove's oxygen."""
    clock = np.mod(hours + begin_clock, 24.0)
    sky, rng = chance["weather"], chance["water"]
    sea = weather.sea_level_pressure(sky, hours)
    station = weather.station_pressure(sea, weather.outdoors(sky, hours, clock))
    light, lit = weather.light(sky, hours, clock)
    warm, salt = plant.temperatures(rng, hours, clock), plant.salinities(rng, hours)
    on = pumps.running(changes, laws.leak_pump, hours) * np.clip((hours - hidden.leak_hour) / 18.0, 0.0, 1.0)
    on = on * (1.0 + weather.wander(rng, hours, size=0.06, memory=15.0))
    in_use = hours >= hidden.column_hour
    churn = hidden.loop.churn * (1.0 + weather.wander(rng, hours, size=0.06, memory=10.0))
    fall = hidden.loop.fall * (1.0 + weather.wander(rng, hours, size=0.07, memory=8.0))
    forces = plant.Forces(
        inject={gas: on * size for gas, size in zip(("oxygen", "nitrogen"), hidden.inject, strict=True)},
        columns={
            gas: np.where(in_use, k, 1.0)
            for gas, k in zip(("oxygen", "nitrogen"), hidden.columns, strict=True)
        },
        churn=churn,
        fall=fall,
        eaten=daily.eaten_oxygen(meals, hours),
        light=light,
    )
    free = water.dry(station, warm["mangrove"], salt["mangrove"])
    loop = {
        gas: plant.loop_gas(hidden.loop, forces, gas, share * free, warm["mangrove"], salt["mangrove"])
        for gas, share in (("oxygen", water.OXYGEN_IN_AIR), ("nitrogen", water.INERT_IN_AIR))
    }
    series: dict[str, dict[str, Floats]] = {}
    for place in plant.PLACES:
        if place in loop["oxygen"]:
            oxygen, inert = loop["oxygen"][place], loop["nitrogen"][place]
        else:
            here = water.dry(station, warm[place], salt[place])
            oxygen, inert = (
                plant.lone_gas(rng, place, gas, share * here, hours, light)
                for gas, share in (("oxygen", water.OXYGEN_IN_AIR), ("nitrogen", water.INERT_IN_AIR))
            )
        series[place] = plant.figures(oxygen, inert, station, warm[place], salt[place])
    levels = truths.Levels(start=start, step=plant.STEP, series=series, pressure=station, sea_level=sea)
    return levels, lit, float(forces.live().mean())


def _meters(
    rng: np.random.Generator, laws: truths.Laws, hidden: _Hidden, days: int
) -> dict[str, meters.GasMeter]:
    """The two gas meters, each with a bias that is not quite steady."""
    count = days + 2
    grid = np.arange(count, dtype=float)
    ripple_a, ripple_b = (weather.wander(rng, grid * 24.0, size=WANDER, memory=240.0) for _ in range(2))
    walk = np.cumsum(rng.normal(0.0, 0.22, count))
    bias_b = hidden.bias_b + ripple_b - float(ripple_b.mean()) + laws.drift_per_day * grid
    if laws.meter_b_bias_walk:
        bias_b = bias_b + walk
    return {
        "meter-A": meters.GasMeter(
            id="meter-A",
            bias=hidden.bias_a + ripple_a - float(ripple_a.mean()),
            gain=1.0 + float(rng.normal(0.0, GAIN)),
            barometer=float(rng.normal(0.0, 0.5)),
            speed=1.0,
        ),
        "meter-B": meters.GasMeter(
            id="meter-B",
            bias=bias_b,
            gain=1.0 + float(rng.normal(0.0, GAIN)),
            barometer=float(rng.normal(0.0, 0.5)),
            speed=1.12,
        ),
    }


def _sit(
    tools: sittings.Round,
    hidden: _Hidden,
    hours: float,
    begin_clock: float,
    rested: list[tuple[float, float]],
    test: float,
    shifts: list[tuple[crew.Person, crew.Person]],
) -> float:
    """All gas sittings and air checks; the hour of the last figures."""
    wanted = [
        (max(begin, hidden.leak_hour + 20.0), until)
        for begin, until in rested
        if until > hidden.leak_hour + 30.0
    ]
    last = 0.0
    for number, plan in enumerate(sittings.plans(tools.book.rng, hours, begin_clock, test, wanted), start=1):
        person = shifts[min(int((plan.hour + begin_clock) / 24.0), len(shifts) - 1)][number % 2]
        last = sittings.sit(tools, plan, number, person)
    sittings.air_checks(tools, hours, shifts)
    return last


def _days(
    book: crew.Ledger,
    hidden: _Hidden,
    hours: float,
    begin_clock: float,
    changes: list[pumps.Rest],
    meals: list[tuple[float, int, float]],
    lit: Floats,
    shifts: list[tuple[crew.Person, crew.Person]],
) -> None:
    """Everything in the log that is no reading, and the dated changes."""
    daily.pump_runs(book, changes, hours)
    daily.feed_and_watch(book, meals, shifts, begin_clock, hidden.leak_hour + 9.0 * 24.0)
    daily.lamps(book, lit, begin_clock)
    daily.happenings(book, shifts, hours, begin_clock)
    if hidden.columns[1] < 1.0 and hidden.column_hour > 0.0:
        book.tell(
            "event",
            hidden.column_hour,
            "mangrove",
            crew.CREW[0],
            what="packed column G-2 put into service",
            equipment="column-m",
        )
    if hidden.setting_recorded and hidden.setting_hour > 0.0:
        book.tell(
            "instrument-setting",
            hidden.setting_hour,
            "",
            crew.CREW[2],
            instrument="DO-2",
            setting="salinity",
            value="34 PSU",
            before="0 PSU",
            note="stood at fresh water; set right",
        )
    daily.counters(book, changes, hours)  # last: what is told before keeps its ids


def _told(
    laws: truths.Laws,
    hidden: _Hidden,
    levels: truths.Levels,
    meter: dict[str, meters.GasMeter],
    last: datetime,
    live: float,
) -> truths.Truths:
    """The truths in words and numbers of their own."""
    loop = hidden.loop
    on, off = (
        sum(
            _excess(loop, share, column, alive)
            for share, column, alive in zip(
                (water.OXYGEN_IN_AIR, water.INERT_IN_AIR), columns, (live, 0.0), strict=True
            )
        )
        for columns in (hidden.columns, (1.0, 1.0))
    )
    pipefish = sum(
        loop.steady(inject, column)["pipefish"] - loop.steady(0.0, column)["pipefish"]
        for inject, column in zip(hidden.inject, hidden.columns, strict=True)
    )
    fresh, salt = (float(water.bunsen("oxygen", 25.4, salinity)) for salinity in (0.0, 34.2))
    k = levels.index(last)
    return truths.Truths(
        leak_pump=laws.leak_pump,
        leak_start=levels.start + timedelta(hours=hidden.leak_hour),
        leak_mangrove=hidden.leak_mmhg,
        leak_pipefish=pipefish,
        leak_ratio=hidden.ratio,
        fraction_dissolved=hidden.fraction,
        bias_a=float(meter["meter-A"].bias.mean()),
        bias_b=float(meter["meter-B"].bias.mean()),
        bias_a_last=meter["meter-A"].bias_at(_hours(levels, last)),
        bias_b_last=meter["meter-B"].bias_at(_hours(levels, last)),
        hand_meter_wrong_until=levels.start + timedelta(hours=hidden.setting_hour),
        hand_meter_factor=fresh / salt,
        setting_recorded=hidden.setting_recorded,
        feed_barometer="sea level",
        column_since=levels.start + timedelta(hours=hidden.column_hour),
        column_effect=off - on,
        last_visit={
            place: {name: float(column[k]) for name, column in series.items()}
            for place, series in levels.series.items()
        },
        last_visit_at=last,
        levels=levels,
    )


def _excess(loop: plant.Loop, share: float, column: float, live: float) -> float:
    """One gas's steady excess at mangrove without a leak [mmHg]."""
    alone = plant.Loop(
        column=loop.column,
        churn=share * loop.churn + live,
        fall=share * loop.fall,
        warming=share * loop.warming,
    )
    return alone.steady(0.0, column)["mangrove"]


def _hours(levels: truths.Levels, when: datetime) -> float:
    """Hours of the history that had passed."""
    return (when - levels.start).total_seconds() / 3600.0
