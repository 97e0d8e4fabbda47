"""What can be done once somebody stands before it, tried one by one on the shortest failures."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from brinehouse.engines.time_in_hand import at_hand, courses, failures, question, tabling
from brinehouse.facility import model
from brinehouse.network.transients import effects as acts
from brinehouse.network.transients import happening

MOST = 30  # failures for which what helps is tried, of those that leave time for it
STONES = (
    5.0  # times the gas exchange of the surface, with air stones on a battery: common practice, no source
)
CHANGE = 0.1  # share of the water changed in an hour, while the store lasts: common practice, no source
SEA = 20.0  # practical salinity from which a store holds salt water
WORTH = 0.05  # h: what gains less does not help
MENDS = ("start", "valve", "stop")
_HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """One thing to do: what it is, and the effects it has."""

    id: str
    title: str
    kind: str
    effects: tuple[acts.Effect, ...]


def helps(
    plant: courses.Courses,
    frame: tabling.Frame,
    facility: model.Facility,
    rows: Sequence[question.Row],
    known: dict[str, failures.Failure],
) -> list[question.Row]:
    """Rows with what helps most: each remedy tried from the hour somebody is there, in one batch."""
    short = [row for row in rows if frame.delay < row.hours < math.inf][:MOST]
    tried = {
        row.id: (tuple(one for name in row.failures for one in known[name].effects), remedies_of(
            plant, facility, row, [known[name] for name in row.failures], frame.delay
        ))
        for row in short
    }  # fmt: skip
    plant.work([(*done, *one.effects) for done, found in tried.values() for one in found])
    made: dict[str, tuple[question.Help, ...]] = {}
    for row in short:
        done, found = tried[row.id]
        before = plant.of(done)
        told = [_help(frame, row, one, before, plant.of((*done, *one.effects))) for one in found]
        useful = [one for one in told if one.gained > WORTH]
        made[row.id] = tuple(sorted(useful, key=_rank))
    return [dataclasses.replace(row, helps=made[row.id]) if row.id in made else row for row in rows]


def _rank(one: question.Help) -> tuple[float, int, str]:
    """Most gained first; of what gains alike, what puts it right before what bears it."""
    return -one.gained, MENDS.index(one.kind) if one.kind in MENDS else len(MENDS), one.id


def _help(
    frame: tabling.Frame, row: question.Row, remedy: Remedy, before: courses.Came, came: courses.Came
) -> question.Help:
    """What a remedy brings where it gets tight first: other places may still cross as they did."""
    here = np.array([row.first is not None and line.place == row.first.place for line in frame.lines])
    hours, was = frame.hours(came, here), frame.hours(before, here)
    return question.Help(
        id=remedy.id, title=remedy.title, kind=remedy.kind, hours=hours, gained=hours - was
    )  # fmt: skip


def remedies_of(
    plant: courses.Courses,
    facility: model.Facility,
    row: question.Row,
    failed: Sequence[failures.Failure],
    delay: float,
) -> list[Remedy]:
    """What this plant has that may help against these failures; nothing where it would come too late."""
    first = row.first
    if first is None or first.hours <= delay:
        return []
    water = next(one for one in plant.waters if first.place in one.body.home)
    done = [one for failure in failed for one in failure.effects]
    after = delay * _HOUR
    found = [
        *_air(facility, first, after),
        *_change(facility, water, first, after),
        *_hunger(facility, after),
    ]
    found += [*_spares(facility, water, done, after), *_undone(facility, done, after)]
    return found


def _kept(found: Iterable[at_hand.Kept], kind: str) -> list[Remedy]:
    """What the facility file says is at hand."""
    return [
        Remedy(id=f"{kind} {part} {one.id}", title=title, kind=kind, effects=done)
        for one, part, title, done in found
    ]


def _air(facility: model.Facility, first: question.Crossing, after: float) -> Iterable[Remedy]:
    """Air stones on a battery or cylinder where it gets tight first: what is kept for it, else the usual."""
    kept = _kept(at_hand.air(facility, first.place, after), "aerate")
    yield from kept
    if not kept:
        yield Remedy(
            id=f"aerate {first.place}",
            title=f"battery air into {facility.vessels[first.place].name}",
            kind="aerate",
            effects=(acts.Effect("aerate", first.place, STONES, after=after),),
        )


def _change(
    facility: model.Facility, water: courses.Water, first: question.Crossing, after: float
) -> Iterable[Remedy]:
    """New water from a store, a tenth of the place's in an hour, for as long as the store lasts."""
    stores = [
        one for one in facility.places
        if one.kind == "vessel" and one.id not in water.body.home and (one.salinity or 0.0) >= SEA
    ]  # fmt: skip
    held = sum(one.working or one.volume or 0.0 for one in stores)
    usual = float(water.volume[water.body.home[first.place]])
    kept = _kept(at_hand.water(facility, first.place, usual, after), "exchange")
    yield from kept
    if held <= 0.0 or kept:
        return
    lasts = held / (CHANGE * usual) * _HOUR
    yield Remedy(
        id=f"exchange {first.place}",
        title=f"change water of {facility.vessels[first.place].name} from {stores[0].name}",
        kind="exchange",
        effects=(
            acts.Effect("exchange", first.place, CHANGE, after=after),
            acts.Effect("exchange", first.place, 0.0, after=after + lasts),
        ),
    )


def _hunger(facility: model.Facility, after: float) -> Iterable[Remedy]:
    if facility.animals:
        yield Remedy(
            id="no-feed", title="stop feeding", kind="no-feed", effects=(acts.Effect("no-feed", after=after),)
        )


def _spares(
    facility: model.Facility, water: courses.Water, done: Sequence[acts.Effect], after: float
) -> Iterable[Remedy]:
    """Pumps that rest and still have power started by hand; a spare fitted in the place of a broken one."""
    dark = happening.without_power(facility, done)
    broken = [one.part for one in done if one.kind in ("stop", "dead-standby")]
    out = dark | set(broken)
    for group in water.body.groups.values():
        lost = [pump for pump in group.running if pump in out]
        rest = [pump for pump in group.pumps if pump not in group.running and pump not in out][: len(lost)]
        if rest:
            yield Remedy(
                id=f"start {' '.join(rest)}",
                title=f"start {' and '.join(facility.pumps[pump].name or pump for pump in rest)} by hand",
                kind="start",
                effects=tuple(acts.Effect("start", pump, after=after) for pump in rest),
            )
    yield from _kept(at_hand.spares(facility, broken, after), "start")


def _undone(facility: model.Facility, done: Sequence[acts.Effect], after: float) -> Iterable[Remedy]:
    """What failed put right by hand: a valve back, a top-up shut, a machine that runs away switched off."""
    for one in done:
        if one.kind == "valve":
            run = facility.runs.get(one.part)
            share = 1.0 if run is None or run.open is None else run.open
            yield Remedy(
                id=f"valve {one.part}",
                title=f"set the hand valve of {(run.name if run else '') or one.part} as it was",
                kind="valve",
                effects=(acts.Effect("valve", one.part, share, after=after),),
            )
        elif one.kind == "top-up" and one.value:
            vessel = facility.place(one.part)
            yield Remedy(
                id=f"shut {one.part}",
                title=f"shut the top-up of {vessel.name if vessel else one.part} by hand",
                kind="valve",
                effects=(acts.Effect("top-up", one.part, 0.0, after=after),),
            )
        elif one.kind == "full-on":
            machine = facility.equipment.get(one.part)
            yield Remedy(
                id=f"off {one.part}",
                title=f"switch off {(machine.name if machine else '') or one.part}",
                kind="stop",
                effects=(acts.Effect("stop", one.part, after=after),),
            )
        elif one.kind == "leak":
            yield from _dry_feed(facility, one, after)


def _dry_feed(facility: model.Facility, leak: acts.Effect, after: float) -> Iterable[Remedy]:
    """The supply of a place that leaks shut, so that no more is pumped out through it."""
    for run in facility.runs.values():
        if run.target == leak.part and {*facility.duties, *facility.pumps} & set(run.through):
            yield Remedy(
                id=f"valve {run.id}",
                title=f"shut the hand valve of {run.name or run.id}",
                kind="valve",
                effects=(acts.Effect("valve", run.id, 0.0, after=after),),
            )
