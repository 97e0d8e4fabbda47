"""From a facility and its readings to statements about flow: part of the plant by part, span by span.

Nothing is averaged over a change of pumps: a span lies between two changes, and one span is judged at a time.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from brinehouse import records, units
from brinehouse.engines.flows import question
from brinehouse.facility import model
from brinehouse.network import flows as network

FEWEST_LEVELS = 3600.0  # s between the first and last level that tell a change of storage


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Places and runs that share balances: a wrong meter in one part says nothing about another.

    Attributes
    ----------
    places, runs, pumps : tuple of str
    matrix : ndarray
        What each run adds to each place: +1 in, -1 out.
    """

    places: tuple[str, ...]
    runs: tuple[str, ...]
    pumps: tuple[str, ...]
    matrix: NDArray[np.float64]

    @property
    def closed(self) -> bool:
        """Whether every run leads from place to place: nothing is drawn that tops up or drains."""
        return bool(np.all(np.abs(self.matrix.sum(axis=0)) < 0.5))


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A time in which the same pumps ran.

    Attributes
    ----------
    begin, end : datetime or None
        Open where nothing bounds it.
    running : mapping
        Pump to whether it ran; empty where no turn is known.
    items : tuple of Item
        What was measured in it.
    storage : mapping
        Place to (change of storage, standard uncertainty) where its level was read. [m³/h]
    """

    begin: datetime | None
    end: datetime | None
    running: Mapping[str, bool]
    items: tuple[question.Item, ...]
    storage: Mapping[str, tuple[float, float]]

    @property
    def hours(self) -> float:
        """From the change-over to the newest reading; a day where none bounds it, an hour at least."""
        newest = max((item.at for item in self.items if item.at is not None), default=None)
        if self.begin is None or newest is None:
            return 24.0
        return max((newest - self.begin).total_seconds() / 3600.0, 1.0)


def parts(facility: model.Facility) -> list[Part]:
    """The plant in parts that share no balance, in file order; runs in no balance are parts by themselves."""
    net = network.balances(facility)
    home = {run: run for run in net.runs}

    def root(run: str) -> str:
        while home[run] != run:
            run = home[run]
        return run

    for row in net.matrix:
        touched = [run for run, sign in zip(net.runs, row, strict=True) if sign]
        for other in touched[1:]:
            home[root(other)] = root(touched[0])
    made: dict[str, list[str]] = {}
    for run in net.runs:
        made.setdefault(root(run), []).append(run)
    out: list[Part] = []
    for runs in made.values():
        columns = [net.runs.index(run) for run in runs]
        rows = np.flatnonzero(net.matrix[:, columns].any(axis=1))
        out.append(
            Part(
                places=tuple(net.places[row] for row in rows),
                runs=tuple(runs),
                pumps=tuple(_pumps(facility, runs)),
                matrix=net.matrix[rows][:, columns],
            )
        )
    return out


def _pumps(facility: model.Facility, runs: Sequence[str]) -> list[str]:
    """The pumps that move water in these runs."""
    found: list[str] = []
    for run in runs:
        for part in (facility.runs[run].source, *facility.runs[run].through):
            found += facility.duties[part].pumps if part in facility.duties else ()
            found += [part] if part in facility.pumps else []
    return list(dict.fromkeys(found))


def sound(reading: records.Reading) -> bool:
    """Whether a reading says how large something was."""
    return (
        reading.value is not None
        and not reading.bound
        and not reading.missing
        and reading.quality in ("good", "unusual")
    )


def spans(
    facility: model.Facility,
    part: Part,
    readings: Sequence[records.Reading],
    turns: Sequence[question.Turn],
) -> list[Span]:
    """The times between changes of this part's pumps in which a flow was read, newest first."""
    mine = sorted((turn for turn in turns if turn.pump in part.pumps), key=lambda turn: turn.at)
    edges = sorted({turn.at for turn in mine})
    flows = [one for one in readings if one.quantity == "flow" and sound(one)]
    told = [(one, which) for one in flows if (which := _about(facility, part, one))]
    levels = [one for one in readings if one.quantity == "level" and sound(one) and one.place in part.places]
    bounds = [None, *edges, None]
    out: list[Span] = []
    for begin, end in itertools.pairwise(bounds):
        here = [pair for pair in told if _within(pair[0].measured, begin, end)]
        if not here:
            continue
        running = _running(mine, begin)
        out.append(
            Span(
                begin=begin,
                end=end,
                running=running,
                items=_items(facility, here, running),
                storage=_storage(facility, [one for one in levels if _within(one.measured, begin, end)]),
            )
        )
    return out[::-1]


def _within(at: datetime, begin: datetime | None, end: datetime | None) -> bool:
    return (begin is None or at >= begin) and (end is None or at < end)


def _running(turns: Sequence[question.Turn], begin: datetime | None) -> dict[str, bool]:
    if begin is None:
        return {}
    return {turn.pump: turn.running for turn in turns if turn.at <= begin}


def _about(facility: model.Facility, part: Part, reading: records.Reading) -> tuple[str, ...]:
    """Runs whose water a reading tells of: its run, or those that pass the machine it was taken at."""
    point = facility.points.get(reading.point)
    at = point.at if point else reading.place
    if at in facility.runs:
        return (at,) if at in part.runs else ()
    names = {at} | {duty.id for duty in facility.duties.values() if at in duty.pumps}
    return tuple(
        run.id
        for run in facility.runs.values()
        if run.id in part.runs
        and names & {run.source, run.target, *run.through}
        and at not in facility.vessels
    )


def _items(
    facility: model.Facility,
    told: Sequence[tuple[records.Reading, tuple[str, ...]]],
    running: Mapping[str, bool],
) -> tuple[question.Item, ...]:
    """One item for each meter at each point: the mean of its readings."""
    groups: dict[tuple[str, str, tuple[str, ...]], list[records.Reading]] = {}
    for reading, runs in told:
        groups.setdefault((reading.point or reading.place, reading.instrument, runs), []).append(reading)
    out: list[question.Item] = []
    for (key, instrument, runs), some in groups.items():
        values = np.array([float(units.convert(one.value or 0.0, one.unit, "m³/h")) for one in some])
        mean = float(values.mean())
        share = _share(facility, key, running)
        meter = facility.instruments.get(instrument)
        out.append(
            question.Item(
                key=key,
                kind="measured",
                runs=tuple((run, share) for run in runs),
                value=mean,
                u=_doubt(meter, values),
                instrument=instrument,
                name=meter.name if meter and meter.name else instrument or key,
                count=len(some),
                at=max(one.measured for one in some),
            )
        )
    return tuple(out)


def _share(facility: model.Facility, key: str, running: Mapping[str, bool]) -> float:
    """What part of its group's water a point at one pump sees."""
    point = facility.points.get(key)
    at = point.at if point else key
    for duty in facility.duties.values():
        if at in duty.pumps:
            on = sum(running.get(pump, False) for pump in duty.pumps) or duty.keep
            return 1.0 / on
    return 1.0


def _doubt(meter: model.Instrument | None, values: np.ndarray) -> float:
    """Standard uncertainty of a mean: the maker's word, the display's step and the scatter."""
    mean = abs(float(values.mean()))
    accuracy = meter.accuracy.get("flow") if meter else None
    if accuracy is None:
        own = question.UNSTATED * mean
    elif accuracy.unit == "%":
        own = accuracy.value / 100.0 * mean
    else:
        own = float(units.convert(accuracy.value, accuracy.unit, "m³/h"))
    step = meter.resolution.get("flow") if meter else None
    rounding = 0.0
    if step is not None and step.unit != "%":
        rounding = 0.5 * float(units.convert(step.value, step.unit, "m³/h"))
    scatter = float(values.std(ddof=1)) / math.sqrt(len(values)) if len(values) > 1 else 0.0
    u = math.hypot(own * question.UNIFORM, rounding * question.UNIFORM / math.sqrt(len(values)), scatter)
    return max(u, question.LEAST)


def _storage(facility: model.Facility, levels: Sequence[records.Reading]) -> dict[str, tuple[float, float]]:
    """Change of storage where a level was read twice or more: surface times the level's slope."""
    by_place: dict[str, list[records.Reading]] = {}
    for one in levels:
        by_place.setdefault(one.place, []).append(one)
    out: dict[str, tuple[float, float]] = {}
    for place, some in by_place.items():
        surface = facility.vessels[place].surface
        some = sorted(some, key=lambda one: one.measured)
        seconds = (some[-1].measured - some[0].measured).total_seconds()
        if surface is None or seconds < FEWEST_LEVELS:
            continue
        first, last = (float(units.convert(one.value or 0.0, one.unit, "m")) for one in (some[0], some[-1]))
        meter = facility.instruments.get(some[-1].instrument)
        accuracy = meter.accuracy.get("level") if meter else None
        u = 0.01 if accuracy is None or accuracy.unit == "%" else float(
            units.convert(accuracy.value, accuracy.unit, "m")
        ) * question.UNIFORM  # fmt: skip
        hours = seconds / 3600.0
        out[place] = (surface * (last - first) / hours, surface * math.sqrt(2.0) * u / hours)
    return out


def written(
    facility: model.Facility, part: Part, span: Span | None, *, beside: bool
) -> tuple[question.Item, ...]:
    """The house file's flows as items; weaker where something was measured beside them."""
    running = dict(span.running) if span else {}
    known = network.stated(facility, running=running if _turned(facility, part, running) else None)
    out: list[question.Item] = []
    for run in part.runs:
        if known.basis.get(run) != "stated" or facility.runs[run].flow is None:
            continue
        value = known.flows[run] * question.M3H
        least = question.STATED if beside else network.DOUBT
        u = max(known.u[run] * question.M3H, least * abs(value), question.LEAST)
        out.append(question.Item(key=run, kind="stated", runs=((run, 1.0),), value=value, u=u, name=run))
    return tuple(out)


def _turned(facility: model.Facility, part: Part, running: Mapping[str, bool]) -> bool:
    """Whether another number of pumps ran than the house file keeps."""
    for duty in facility.duties.values():
        mine = [pump for pump in duty.pumps if pump in part.pumps]
        if mine and all(pump in running for pump in mine) and sum(running[p] for p in mine) != duty.keep:
            return True
    return False


def computed(part: Part, given: Mapping[str, tuple[float, float | None]]) -> tuple[question.Item, ...]:
    """Flows from the plant's hydraulics as items; given in m³/s."""
    out: list[question.Item] = []
    for run in part.runs:
        if run in given:
            flow, u = given[run]
            value = flow * question.M3H
            doubt = u * question.M3H if u is not None else question.COMPUTED * abs(value)
            out.append(
                question.Item(
                    key=run, kind="computed", runs=((run, 1.0),), value=value, name=run,
                    u=max(doubt, question.LEAST),
                )
            )  # fmt: skip
    return tuple(out)
