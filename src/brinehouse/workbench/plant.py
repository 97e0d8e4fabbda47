"""The plant as a drawing shows it: machines and places joined by pipes, what runs, how much water passes."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from brinehouse import findings, records, units
from brinehouse.facility import model
from brinehouse.network import flows
from brinehouse.workbench import hall

INLET, OUTLET, HEADER = "from outside", "to outside", "header"
# ISA-5.1: the first letter is what is measured; oxygen, gas, salt and the like are analyses.
LETTERS: Mapping[str, str] = {"temperature": "T", "flow": "F", "level": "L", "pressure": "P", "speed": "S"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """Instruments of one kind at one part, after ISA-5.1: ``TIT`` logs by itself, ``AI`` is read by hand."""

    letters: str
    points: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One thing in the drawing.

    Attributes
    ----------
    kind : str
        ``tank``, ``sump``, ``vessel``, ``pump``, ``header``, `INLET`, `OUTLET`, or the kind of equipment.
    state : str
        Of a pump: ``runs``, ``rests``, ``unknown``; else empty.
    since : datetime or None
        When that state was written down.
    flow : float or None
        Water it moves or takes. [m³/s]
    """

    id: str
    name: str
    kind: str
    tag: str = ""
    state: str = ""
    since: datetime | None = None
    flow: float | None = None
    volume: float | None = None
    tags: tuple[Tag, ...] = ()
    spot: findings.Spot = model.NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipe:
    """Water from one part to another: the runs that share it, what passes in m³/s."""

    source: str
    target: str
    runs: tuple[str, ...]
    flow: float | None = None
    basis: str = ""

    @property
    def id(self) -> str:
        """The same for the same two ends."""
        return f"{self.source} > {self.target}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A duty group: how many are kept running and how many run."""

    id: str
    name: str
    keep: int
    pumps: tuple[str, ...]
    running: int | None
    turn: float | None
    standby: str

    @property
    def short(self) -> bool:
        """Whether fewer run than are to be kept running."""
        return self.running is not None and self.running < self.keep


@dataclass(frozen=True, slots=True, kw_only=True)
class Scheme:
    """One system as it is drawn."""

    id: str
    name: str
    parts: tuple[Part, ...]
    pipes: tuple[Pipe, ...]
    groups: tuple[Group, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """All systems, and the places that no water joins."""

    schemes: tuple[Scheme, ...]
    alone: tuple[Part, ...] = ()
    findings: tuple[findings.Finding, ...] = ()
    as_of: datetime | None = None
    display: units.Display = units.Display()  # noqa: RUF009 - frozen, and without parts that change

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "schemes": [
                {
                    "id": scheme.id,
                    "parts": [{"id": p.id, "kind": p.kind, "state": p.state} for p in scheme.parts],
                    "pipes": [{"from": p.source, "to": p.target, "flow": p.flow} for p in scheme.pipes],
                }
                for scheme in self.schemes
            ],
            "findings": [finding.as_json() for finding in self.findings],
            "advice": "Advice, not a command.",
        }


def look(place: hall.Hall) -> Plant:
    """The plant of a hall, its pumps as they were last written down."""
    turns = records.turns(place.facts(kinds=("pump-run",))) if hall.Hall.has_book(place.folder) else []
    last: dict[str, tuple[bool, datetime]] = {}
    for turn in sorted(turns, key=lambda one: one.at):
        last[turn.pump] = (turn.running, turn.at)
    return of(place.facility, last)


def of(facility: model.Facility, running: Mapping[str, tuple[bool, datetime]] | None = None) -> Plant:
    """The drawing's parts and pipes.

    Parameters
    ----------
    facility : Facility
    running : mapping, optional
        Pump to whether it runs and since when, as far as anyone wrote it down.
    """
    last = running or {}
    known = flows.stated(facility, running={pump: state for pump, (state, _) in last.items()} or None)
    schemes: list[Scheme] = []
    drawn: set[str] = set()
    for system in facility.systems.values():
        mine = [run for run in facility.runs.values() if _touches(facility, run, system.places)]
        if mine:
            scheme = _scheme(facility, system, mine, known, last)
            schemes.append(scheme)
            drawn |= {part.id for part in scheme.parts}
    alone = tuple(_vessel(facility, one) for one in facility.places if one.id not in drawn)
    return Plant(
        schemes=tuple(schemes),
        alone=alone,
        findings=known.findings,
        as_of=max((at for _, at in last.values()), default=None),
        display=facility.shown,
    )


def _touches(facility: model.Facility, run: model.Run, places: Sequence[str]) -> bool:
    """Whether a run is drawn with a system: by where it ends, or where it starts if it ends elsewhere."""
    for end in (run.target, run.source):
        vessel = facility.place(end)
        if vessel is not None:
            return vessel.id in places
    system = facility.system_of(run.id)
    return system is not None and set(system.places) <= set(places)


def _scheme(
    facility: model.Facility,
    system: model.System,
    runs: Sequence[model.Run],
    known: flows.RunFlows,
    last: Mapping[str, tuple[bool, datetime]],
) -> Scheme:
    pipes: dict[tuple[str, str], Pipe] = {}
    order: dict[str, None] = dict.fromkeys(place for place in system.places if place in facility.vessels)
    for run in runs:
        steps = list(_steps(facility, run))
        for one in itertools.chain(*steps):
            order.setdefault(one)
        for before, after in itertools.pairwise(steps):
            for source, target in itertools.product(before, after):
                _lay(pipes, source, target, run, known)
    pumps = {pump for pump in order if pump in facility.pumps}
    shared = _shared(facility, pipes, pumps, known)
    parts = [_part(facility, id, shared, last) for id in order]
    touched = {end for pipe in shared for end in (pipe.source, pipe.target)}
    kept = [part for part in parts if part.id in touched or part.id in facility.vessels]
    groups = [_group(duty, last) for duty in facility.duties.values() if pumps & set(duty.pumps)]
    return Scheme(
        id=system.id, name=system.name, parts=tuple(kept), pipes=tuple(shared), groups=tuple(groups)
    )


def _steps(facility: model.Facility, run: model.Run) -> Iterable[tuple[str, ...]]:
    """The stations of a run; a duty group is its pumps side by side, then the header in which they meet."""
    ends = (f"{INLET}:{run.id}" if run.source == model.OUTSIDE else run.source, *run.through,
            f"{OUTLET}:{run.id}" if run.target == model.OUTSIDE else run.target)  # fmt: skip
    for one in ends:
        duty = facility.duties.get(one)
        if duty is None:
            yield (one,)
            continue
        yield duty.pumps
        if len(duty.pumps) > 1:
            yield (f"{HEADER}:{duty.id}",)


def _lay(
    pipes: dict[tuple[str, str], Pipe], source: str, target: str, run: model.Run, known: flows.RunFlows
) -> None:
    """Water of one more run in the pipe between two parts."""
    flow, basis = known.flows.get(run.id), known.basis.get(run.id, "")
    old = pipes.get((source, target))
    if old is None:
        pipes[source, target] = Pipe(source=source, target=target, runs=(run.id,), flow=flow, basis=basis)
    elif run.id not in old.runs:
        total = None if flow is None or old.flow is None else old.flow + flow
        pipes[source, target] = replace(old, runs=(*old.runs, run.id), flow=total)


def _shared(
    facility: model.Facility,
    pipes: Mapping[tuple[str, str], Pipe],
    pumps: set[str],
    known: flows.RunFlows,
) -> list[Pipe]:
    """The pipes with each pump's own share where a group's water divides."""
    made: list[Pipe] = []
    for pipe in pipes.values():
        pump = next((end for end in (pipe.source, pipe.target) if end in pumps), "")
        alone = not any(pump in duty.pumps and len(duty.pumps) > 1 for duty in facility.duties.values())
        made.append(pipe if not pump or alone else replace(pipe, flow=known.pumps.get(pump)))
    return made


def _part(
    facility: model.Facility, id: str, pipes: Sequence[Pipe], last: Mapping[str, tuple[bool, datetime]]
) -> Part:
    if id in facility.vessels:
        return _vessel(facility, facility.vessels[id])
    through = [pipe.flow for pipe in pipes if pipe.target == id and pipe.flow is not None]
    flow = sum(through) if through else None
    if id in facility.pumps:
        pump = facility.pumps[id]
        state, since = last.get(id, (None, None))
        word = "unknown" if state is None else "runs" if state else "rests"
        return Part(
            id=id, name=pump.name, kind="pump", tag=pump.tag or id, state=word, since=since, flow=flow,
            tags=_tags(facility, id), spot=pump.spot,
        )  # fmt: skip
    if id in facility.equipment:
        one = facility.equipment[id]
        return Part(
            id=id, name=one.name, kind=one.kind, tag=one.tag or id, flow=flow, tags=_tags(facility, id),
            spot=one.spot,
        )  # fmt: skip
    kind, _, of_what = id.partition(":")
    run = facility.runs.get(of_what)
    return Part(id=id, name=run.name if run else of_what, kind=kind, flow=flow)


def _vessel(facility: model.Facility, one: model.Vessel) -> Part:
    return Part(
        id=one.id, name=one.name, kind=one.kind, volume=one.working or one.volume,
        tags=_tags(facility, one.id), spot=one.spot,
    )  # fmt: skip


def _tags(facility: model.Facility, id: str) -> tuple[Tag, ...]:
    """The test points at a part, told apart by what is measured and whether a probe logs it."""
    found: dict[str, list[str]] = {}
    for point in facility.points.values():
        if point.at != id:
            continue
        letter = LETTERS.get(point.quantity, "A")
        found.setdefault(letter + ("IT" if point.instrument and point.quantity else "I"), []).append(point.id)
    return tuple(Tag(letters=letters, points=tuple(points)) for letters, points in found.items())


def _group(duty: model.Duty, last: Mapping[str, tuple[bool, datetime]]) -> Group:
    states = [last[pump][0] for pump in duty.pumps if pump in last]
    return Group(
        id=duty.id, name=duty.name, keep=duty.keep, pumps=duty.pumps,
        running=sum(states) if len(states) == len(duty.pumps) else None, turn=duty.turn, standby=duty.standby,
    )  # fmt: skip
