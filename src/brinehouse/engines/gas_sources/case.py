"""A system's samples as arrays, and what the loop would show at each of them under given parameters."""

from __future__ import annotations

import bisect
import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from brinehouse.engines.gas_sources import balance, loop, question

Floats = NDArray[np.float64]
AT_ONCE = 4000  # numbers up to which all modes are answered in one go
FORGOTTEN = 25.0  # time constants after which nothing is left of a change
LOOKS_BACK = 6.0  # hours over which the barometer's slope is taken


@dataclass(frozen=True, slots=True, kw_only=True)
class Regime:
    """From an hour on, these machines are not in service."""

    begin: float
    idle: frozenset[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What was measured, where and when, beside the loop it was measured in.

    ``spot`` holds for each sample the number of its place; where it came from a tap, ``tap`` holds the run.
    ``seen`` is ΔP and oxygen's excess, one after the other. [mmHg]
    """

    loop: loop.Loop
    air: balance.Air
    start: datetime
    hours: Floats
    clock: Floats
    spot: NDArray[np.intp]
    tap: tuple[str, ...]
    meters: tuple[str, ...]
    meter: NDArray[np.intp]
    seen: Floats
    oxygen_pressure: Floats
    noise: Floats
    slope: Floats
    regimes: tuple[Regime, ...]
    regime: NDArray[np.intp]
    turns: Mapping[str, tuple[Floats, Floats]]

    @property
    def taps(self) -> NDArray[np.str_]:
        """The run of the tap at which each sample was taken, or empty."""
        return np.array(self.tap)

    def hour(self, when: datetime) -> float:
        """Hours since the first sample."""
        return (when - self.start).total_seconds() / 3600.0


def of(given: question.Given, lay: loop.Loop) -> Case:
    """Samples as arrays; those at no place or tap of the loop are left out."""
    samples = [s for s in given.samples if s.place in lay.places or s.place in lay.taps]
    start = min(sample.at for sample in samples)
    hours = np.array([(s.at - start).total_seconds() / 3600.0 for s in samples])
    air = balance.air(*(float(np.median([getattr(s, name) for s in samples]))
                        for name in ("temperature", "salinity", "pressure")))  # fmt: skip
    share = loop.SHARES["oxygen"]
    pressures = np.array([s.oxygen for s in samples]) / 100.0 * share * air.dry
    regimes = _regimes(given, lay, start)
    meters = tuple(sorted({s.meter for s in samples}))
    return Case(
        loop=lay,
        air=air,
        start=start,
        hours=hours,
        clock=np.array([s.at.hour + s.at.minute / 60.0 for s in samples]),
        spot=np.array([lay.places.index(s.place) if s.place in lay.places else -1 for s in samples]),
        tap=tuple(s.place if s.place not in lay.places else "" for s in samples),
        meters=meters,
        meter=np.array([meters.index(s.meter) for s in samples]),
        seen=np.concatenate([[s.delta_p for s in samples], pressures - share * air.dry]),
        oxygen_pressure=pressures,
        noise=np.array([s.u for s in samples]),
        slope=_slopes(given.barometer, start, hours),
        regimes=regimes,
        regime=np.array([_regime_at(regimes, hour) for hour in hours]),
        turns=_turns(given.turns, start),
    )


def _regimes(given: question.Given, lay: loop.Loop, start: datetime) -> tuple[Regime, ...]:
    """Machines come into service at their logged day; those never logged always were."""
    dates = sorted(
        ((change.at - start).total_seconds() / 3600.0, change.equipment)
        for change in given.changes
        if change.equipment in lay.strippers
    )
    idle = frozenset(machine for _, machine in dates)
    found = [Regime(begin=-math.inf, idle=idle)]
    for begin, machine in dates:
        idle -= {machine}
        found.append(Regime(begin=begin, idle=idle))
    return tuple(found)


def _regime_at(regimes: Sequence[Regime], hour: float) -> int:
    return max(number for number, regime in enumerate(regimes) if hour >= regime.begin)


def _turns(turns: Sequence[question.Turn], start: datetime) -> dict[str, tuple[Floats, Floats]]:
    """By pump: hours of its turns and whether it ran from then on, repeats left out."""
    found: dict[str, tuple[list[float], list[float]]] = {}
    for turn in sorted(turns, key=lambda one: one.at):
        hours, states = found.setdefault(turn.pump, ([], []))
        if not states or states[-1] != float(turn.running):
            hours.append((turn.at - start).total_seconds() / 3600.0)
            states.append(float(turn.running))
    return {pump: (np.array(hours), np.array(states)) for pump, (hours, states) in found.items()}


def _slopes(history: Sequence[tuple[datetime, float]], start: datetime, hours: Floats) -> Floats:
    """How fast the air's pressure has been rising over the hours before each sample [mmHg/h]."""
    rows = sorted(history)
    if len(rows) < 2:
        return np.zeros(hours.size)
    when = np.array([(at - start).total_seconds() / 3600.0 for at, _ in rows])
    value = np.array([pressure for _, pressure in rows])
    before = np.interp(hours - LOOKS_BACK, when, value)
    near = np.array([np.min(np.abs(when - hour)) for hour in hours])
    return np.where(near < 2 * LOOKS_BACK, (np.interp(hours, when, value) - before) / LOOKS_BACK, 0.0)


def at_time(case: Case, hour: float, clock: float) -> Case:
    """A case of one imagined sample at each place of the loop, at one time."""
    count = len(case.loop.places)
    full = np.full(count, hour)
    nearest = int(np.argmin(np.abs(case.hours - hour)))
    return dataclasses.replace(
        case,
        hours=full,
        clock=np.full(count, clock),
        spot=np.arange(count),
        tap=("",) * count,
        meter=np.full(count, -1),
        seen=np.zeros(2 * count),
        oxygen_pressure=np.zeros(count),
        noise=np.zeros(count),
        slope=np.full(count, case.slope[nearest]),
        regime=np.full(count, _regime_at(case.regimes, hour)),
    )


def steps_of(case: Case, pump: str, since: float) -> tuple[Floats, Floats]:
    """Hours and heights of a pump's starts (+1) and stops (-1), as far as they count from a date on."""
    hours, states = case.turns.get(pump, (np.zeros(0), np.zeros(0)))
    if not hours.size:
        return np.zeros(0), np.zeros(0)
    at = bisect.bisect_right(hours.tolist(), since)
    running = float(states[at - 1]) if at else 0.0
    hours = np.concatenate([[max(since, hours[0])], hours[at:]])
    return hours, np.diff(np.concatenate([[0.0, running], states[at:]]))


class Shown:
    """What the loop shows at a case's samples, for one set of parameters."""

    def __init__(self, case: Case, values: Mapping[str, float]) -> None:
        self.case, self.values = case, values
        self.systems = {
            (gas, number): balance.assemble(case.loop, values, gas, case.air, regime.idle)
            for gas in loop.GASES
            for number, regime in enumerate(case.regimes)
            if (case.regime == number).any()
        }

    def at_samples(self, gas: str, places: Mapping[int, Floats], gained: bool = False) -> Floats:
        """Excess at places by regime, read at each sample's place or tap; `gained` adds what a tap gained.

        Levels are by place, or by place and sample.
        """
        case = self.case
        out = np.zeros(case.hours.size)
        for number, level in places.items():
            here = case.regime == number
            rows = np.flatnonzero(here & (case.spot >= 0))
            spots = case.spot[rows]
            out[rows] = level[spots] if level.ndim == 1 else level[spots, rows]
            for run in {name for name in case.tap if name}:
                rows = np.flatnonzero(here & (case.taps == run))
                place, kept, sizes = self.systems[gas, number].taps[run]
                drawn = level[place] if level.ndim == 1 else level[place, rows]
                out[rows] = kept * drawn + (sum(sizes.values()) if gained else 0.0)
        return out

    def standing(self) -> dict[str, Floats]:
        """By gas: the standing excess at each sample, life's day and the barometer counted in. [mmHg]."""
        found: dict[str, Floats] = {}
        for gas in loop.GASES:
            level = {n: s.steady(s.total()) for (g, n), s in self.systems.items() if g == gas}
            found[gas] = self.at_samples(gas, level, gained=True) + self._weather(gas)
        found["oxygen"] = found["oxygen"] + self._day()
        return found

    def _weather(self, gas: str) -> Floats:
        """The barometer moves at once, the water follows."""
        level = {n: s.steady(-loop.SHARES[gas] * s.volumes) for (g, n), s in self.systems.items() if g == gas}
        return self.at_samples(gas, level) * self.case.slope

    def _day(self) -> Floats:
        """Oxygen's daily swing, with the lag that each water has."""
        names = [name.removeprefix("day cos:") for name in self.values if name.startswith("day cos:")]
        if not names:
            return np.zeros(self.case.hours.size)
        turn = np.exp(1j * balance.DAY * self.case.clock)
        level: dict[int, Floats] = {}
        for (gas, number), system in self.systems.items():
            if gas == "oxygen":
                load = np.zeros(len(self.case.loop.places), dtype=complex)
                for place in names:
                    at = self.case.loop.places.index(place)
                    size = self.values[f"day cos:{place}"] - 1j * self.values[f"day sin:{place}"]
                    load[at] = system.inflow[at] * size
                turned = 1j * balance.DAY * np.diag(system.volumes) - system.matrix
                swing = np.asarray(np.linalg.solve(turned, load), dtype=np.complex128)
                level[number] = np.asarray(np.real(swing[:, None] * turn[None, :]), dtype=np.float64)
        return self.at_samples("oxygen", level)

    def leak(self, pump: str, group: str, since: float) -> dict[str, Floats]:
        """By gas: excess at each sample for one mmHg put into what a pump's group sends out while it runs."""
        case = self.case
        hours, heights = steps_of(case, pump, since)
        found: dict[str, Floats] = {}
        passed = np.maximum(case.hours[:, None] - hours[None, :], 0.0)
        begun = (case.hours[:, None] > hours[None, :]) * heights[None, :]
        now = begun.sum(axis=1)
        after = np.any(begun != 0.0, axis=1)
        unit = {f"leak:{group}": 1.0, **{k: v for k, v in self.values.items() if moves(k)}}
        for gas in loop.GASES:
            level: dict[int, Floats] = {}
            direct = np.zeros(case.hours.size)
            for number, regime in enumerate(case.regimes):
                if (gas, number) not in self.systems:
                    continue
                share = 1.0 if gas == "oxygen" else 0.0
                unit["leak share"] = share
                system = balance.assemble(case.loop, unit, gas, case.air, regime.idle)
                load = system.sources.get(f"leak:{group}", np.zeros(len(case.loop.places)))
                rows = np.flatnonzero(after & (case.regime == number))
                level[number] = np.zeros((len(case.loop.places), case.hours.size))
                level[number][:, rows] = _answered(system, load, passed[rows], begun[rows])
                for row in np.flatnonzero((case.regime == number) & (case.spot < 0)):
                    gained = system.taps[case.tap[row]][2]
                    direct[row] = now[row] * gained.get(f"leak:{group}", 0.0)
            found[gas] = self.at_samples(gas, level) + direct
        return found

    def answers(self, gas: str, number: int) -> Floats:
        """Excess at each place (rows) for one mmHg in all that flows into each place (columns)."""
        system = self.systems[gas, number]
        return np.asarray(np.linalg.solve(system.matrix, -np.diag(system.inflow)), dtype=np.float64)


def moves(name: str) -> bool:
    """Whether a parameter says how gas moves, and not where it comes from."""
    return name.startswith(("surface:", "fall:", "strip:")) or name == "alike"


def _answered(system: balance.System, load: Floats, passed: Floats, begun: Floats) -> Floats:
    """Excess at each place (rows) and sample (columns) for a load switched on and off."""
    rates, shapes, back = system.modes()
    rest = back @ system.steady(load)
    if passed.size * rates.size < AT_ONCE:
        grown = -np.expm1(rates[:, None, None] * passed[None])
        weights = np.einsum("mns,ns->mn", grown, begun) * rest[:, None]
        return np.asarray(np.real(shapes @ weights), dtype=np.float64)
    whole = begun.sum(axis=1)
    out = np.asarray(np.outer(np.real(shapes @ rest), whole), dtype=np.float64)
    for rate, shape, size in zip(rates, shapes.T, rest, strict=True):
        lately = (-rate.real * passed < FORGOTTEN) & (begun != 0.0)
        left = np.zeros(passed.shape, dtype=complex)
        left[lately] = np.exp(rate * passed[lately]) * begun[lately]
        out -= np.asarray(np.real(np.outer(shape * size, left.sum(axis=1))), dtype=np.float64)
    return out
