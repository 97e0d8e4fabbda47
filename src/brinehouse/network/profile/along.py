"""One reach: its stations along the way, and from them the pipe, the static head and the gas line."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Mapping, Sequence
from typing import Any

from brinehouse.facility import model
from brinehouse.network.profile import gas_lines, parts, pipes, way

OPEN_ENDS = ("fall",)  # where water falls free: neither line has a meaning until the next pool
DIPS = 0.3  # how deep a pipe reaches into water where it does not fall free [m]
STRAINER = 0.28  # how far before the pump its strainer is drawn, in `s`


def stations(layout: Any, run: str) -> Sequence[Any]:
    """The stations of a run; none where nothing was worked out."""
    shelf: Mapping[str, Sequence[Any]] = getattr(layout, "stations", {})
    return shelf.get(run, ())


def surface(layout: Any, place: str) -> float | None:
    """How high the water of a place stands, as the stations have it. [m]."""
    levels: Mapping[str, Any] = getattr(layout, "levels", {})
    if place in levels:
        return float(levels[place].value)
    shelf: Mapping[str, Sequence[Any]] = getattr(layout, "stations", {})
    for row in shelf.values():
        for one in row:
            if one.part == place and one.where == "surface" and one.head is not None:
                return float(one.head)
    return None


def height(layout: Any, part: str, where: str) -> float | None:
    """The height of one station of a machine, on whichever run has it. [m]."""
    shelf: Mapping[str, Sequence[Any]] = getattr(layout, "stations", {})
    for row in shelf.values():
        for one in row:
            if one.part == part and one.where == where and one.elevation is not None:
                return float(one.elevation)
    return None


@dataclasses.dataclass(frozen=True, slots=True)
class _At:
    """A station with its place in the reach: at `stop` or, where `link` is true, in the pipe after it."""

    station: Any
    run: str
    stop: int
    link: bool
    s: float = 0.0
    gas: parts.Excess | None = None


def reach(
    stretch: Sequence[way.Step],
    stops: Sequence[parts.Stop],
    layout: Any,
    excess: Mapping[str, parts.Excess],
    facility: model.Facility,
) -> parts.Reach:
    """The reach of a stretch, its stops already made."""
    rows = _spread(_placed(stretch, stops, layout, facility), stops)
    rows = _with_gas(rows, stretch, excess, facility)
    levelled = _levelled(stops, rows)
    pipe = tuple(line for line in pipes.corners(levelled, _ends(levelled, rows)) if line)
    head = _head(rows)
    gas = _gas(rows, levelled)
    pressed = _pressed(pipe, levelled)
    return parts.Reach(
        stops=tuple(levelled),
        runs=tuple(step.run for step in stretch),
        pipe=pipe,
        tinted=gas_lines.above(pressed, gas),
        under=gas_lines.above(pressed, head),
        head=head,
        gas=gas,
        stations=tuple(_row(one, levelled) for one in rows),
    )


def _placed(
    stretch: Sequence[way.Step], stops: Sequence[parts.Stop], layout: Any, facility: model.Facility
) -> list[_At]:
    group = {pump: duty.id for duty in facility.duties.values() for pump in duty.pumps}
    rows: list[_At] = []
    first = 0
    for step in stretch:
        run = facility.runs.get(step.run)
        through = run.through if run is not None else ()
        sequence = [step.source, *through, step.target]
        begin = 0 if step.start == step.source else 1 + through.index(step.start)
        last = first + len(step.parts) + 1
        at = 0
        for one in stations(layout, step.run):
            part = group.get(one.part, one.part) if group.get(one.part, "") in sequence else one.part
            if part in sequence[at:]:
                at = sequence.index(part, at)
            if one.where == "surface" and at == 0 and rows and rows[-1].station.where == "surface":
                continue
            n = first + at - begin
            link = part not in sequence
            if begin > 0 and at == begin and not link and one.where in ("out", "discharge") and n == 0:
                rows.append(_At(one, step.run, 0, False))  # where a branch leaves, it has the head of the tee
                continue
            if at < begin or (at == begin and begin > 0 and not link) or n > last:
                continue
            flagged = stops[n].flag != ""
            if flagged and not link and at != begin:
                continue
            rows.append(_At(one, step.run, n, link or (flagged and one.where != "surface")))
        first = last
    return rows


def _spread(rows: Sequence[_At], stops: Sequence[parts.Stop]) -> list[_At]:
    """Give each station its place: over the width of its stop, or even along the pipe."""
    placed: list[_At] = []
    for (n, link), group in itertools.groupby(rows, key=lambda one: (one.stop, one.link)):
        members = list(group)
        for k, one in enumerate(members):
            if link:
                s = 2 * n + 1 + (k + 1) / (len(members) + 1)
            else:
                s = _within(one, stops[n], n, k, len(members))
            placed.append(dataclasses.replace(one, s=s))
    return sorted(placed, key=lambda one: one.s)


def _within(one: _At, stop: parts.Stop, n: int, k: int, count: int) -> float:
    where = one.station.where
    if stop.flag:
        return 2 * n + 1.0
    if stop.place:
        return {"outlet": 2 * n + 1.0, "fall": 2 * n + pipes.MOUTH, "pool": 2 * n + pipes.MOUTH}.get(
            where, 2 * n + 0.5
        )
    if where == "strainer":
        return 2 * n - STRAINER
    if where in ("suction", "in"):
        return 2.0 * n
    if where in ("discharge", "out"):
        return 2 * n + 1.0
    return 2 * n + (0.5 if count < 2 else 0.15 + 0.7 * k / (count - 1))


def _levelled(stops: Sequence[parts.Stop], rows: Sequence[_At]) -> list[parts.Stop]:
    """Stops without a height get the one of their station, else of their neighbour, and say so."""
    made = list(stops)
    for n, stop in enumerate(made):
        if stop.elevation is not None:
            continue
        told = next(
            (
                one.station.elevation
                for one in rows
                if one.stop == n and not one.link and one.station.elevation is not None
            ),
            None,
        )
        near = [made[k] for k in (*range(n - 1, -1, -1), *range(n + 1, len(made)))]
        beside = next((z for one in near if (z := pipes.height(one)) is not None), 0.0)
        made[n] = dataclasses.replace(stop, elevation=told if told is not None else beside, assumed=True)
    return made


def _ends(stops: Sequence[parts.Stop], rows: Sequence[_At]) -> list[pipes.Ends]:
    found: list[pipes.Ends] = []
    for n in range(len(stops) - 1):
        high = [
            one.station.elevation
            for one in rows
            if one.stop == n
            and one.link
            and one.station.where == "high"
            and one.station.elevation is not None
        ]
        leave = _elevation(rows, n, ("outlet",) if stops[n].place else ("pool", "out"))
        two = stops[n + 1]
        enter = two.top if two.top is not None else None
        falls = _elevation(rows, n + 1, ("fall", "pool")) if two.place else None
        if falls is None and two.place and two.depth is not None and _known(rows, n + 1):
            falls = (two.surface or 0.0) - min(DIPS, two.depth / 3)  # it ends under water
        found.append(pipes.Ends(leave=leave, high=max(high, default=None), enter=enter, pool=falls))
    return found


def _known(rows: Sequence[_At], n: int) -> bool:
    return any(one.stop == n and not one.link for one in rows)


def _elevation(rows: Sequence[_At], n: int, wheres: Sequence[str]) -> float | None:
    return next(
        (
            one.station.elevation
            for where in wheres
            for one in rows
            if one.stop == n
            and not one.link
            and one.station.where == where
            and one.station.elevation is not None
        ),
        None,
    )


# -- what the water holds along the way ------------------------------------------------------------


def _with_gas(
    rows: Sequence[_At],
    stretch: Sequence[way.Step],
    excess: Mapping[str, parts.Excess],
    facility: model.Facility,
) -> list[_At]:
    """Carry ΔP down the way: from the last place, changed at pumps by a tap, lost at a fall."""
    sources = {step.run: step.source for step in stretch}
    made: list[_At] = []
    held: parts.Excess | None = None
    run, pumped = "", False
    for one in rows:
        if one.run != run:
            run, pumped = one.run, False
            held = _carried(excess.get(sources.get(run, "")))
        where, part = one.station.where, one.station.part
        if part in facility.vessels and where in ("surface", "pool"):
            made.append(dataclasses.replace(one, gas=excess.get(part)))
            continue
        if where == "discharge" and not pumped and (tap := _tap(run, part, excess, facility)):
            held, pumped = _carried(excess[tap]), True
        if where in OPEN_ENDS:
            held = None
        if where in ("out", "pool") and f"{run}/{part}" in excess:
            held = excess[f"{run}/{part}"]
        made.append(dataclasses.replace(one, gas=held))
    return _tapped(made, excess)


def _tap(run: str, part: str, excess: Mapping[str, parts.Excess], facility: model.Facility) -> str:
    """The run whose tap tells what these pumps send out: its own, else one that they feed too."""
    if run in excess:
        return run
    group = {pump: duty.id for duty in facility.duties.values() for pump in duty.pumps}
    names = {part, group.get(part, part)}
    return next(
        (id for id, other in facility.runs.items() if id in excess and names & set(other.through)), ""
    )


def _tapped(rows: list[_At], excess: Mapping[str, parts.Excess]) -> list[_At]:
    """Put the reading of a tap where it was taken: at the tap, else at the last machine before a fall."""
    for run in dict.fromkeys(one.run for one in rows):
        if run not in excess:
            continue
        mine = [
            n
            for n, one in enumerate(rows)
            if one.run == run and one.gas is not None and one.gas.value == excess[run].value
        ]
        taps = [n for n in mine if rows[n].station.where == "tap"]
        outs = [n for n in mine if rows[n].station.where in ("out", "discharge")]
        chosen = taps or outs[-1:]
        for n in chosen:
            rows[n] = dataclasses.replace(rows[n], gas=excess[run])
    return rows


def _carried(known: parts.Excess | None) -> parts.Excess | None:
    return (
        dataclasses.replace(known, basis="carried") if known is not None and known.basis == "read" else known
    )


# -- lines -----------------------------------------------------------------------------------------


def _dot(one: _At, z: float, low: float, high: float, s: float | None = None) -> parts.Dot:
    return parts.Dot(
        s=one.s if s is None else s,
        z=z,
        low=low,
        high=high,
        run=one.run,
        part=one.station.part,
        where=one.station.where,
        basis=one.station.basis,
    )


def _wide(one: _At) -> tuple[float, ...]:
    """A surface lies over the whole width of its place."""
    return (
        (2.0 * one.stop, 2.0 * one.stop + 1) if one.station.where == "surface" and not one.link else (one.s,)
    )


def _head(rows: Sequence[_At]) -> tuple[parts.Line, ...]:
    found: list[list[parts.Dot]] = [[]]
    for one in rows:
        station = one.station
        if station.head is None:
            found.append([])
            continue
        low, high = (
            station.low if station.low is not None else station.head,
            station.high if station.high is not None else station.head,
        )
        if found[-1] and one.station.where == "surface" and found[-1][-1].where in ("", *OPEN_ENDS):
            found.append([])
        found[-1] += [_dot(one, station.head, low, high, s) for s in _wide(one)]
        if station.where in OPEN_ENDS:
            found.append([])
    return tuple(tuple(line) for line in found if len(line) > 1)


def _gas(rows: Sequence[_At], stops: Sequence[parts.Stop]) -> tuple[parts.Line, ...]:
    found: list[list[parts.Dot]] = [[]]
    density = 1025.0
    for one in rows:
        if stops[one.stop].place:
            density = stops[one.stop].density
        station = one.station
        if one.gas is None or station.head is None or station.where in OPEN_ENDS:
            found.append([])
            continue
        # the head may be off by metres; how far the gas line stands under it is known far better
        line = gas_lines.below(station.head, station.head, station.head, one.gas, density)
        found[-1] += [_dot(one, line.value, line.low, line.high, s) for s in _wide(one)]
    return tuple(tuple(line) for line in found if len(line) > 1)


def _pressed(pipe: Sequence[parts.Line], stops: Sequence[parts.Stop]) -> tuple[parts.Line, ...]:
    """The pipe where it runs full under pressure, without the end that only shows where it falls."""
    kept: list[parts.Line] = []
    for line in pipe:
        n = int(line[0].s) // 2
        two = stops[n + 1] if n + 1 < len(stops) else None
        limit = 2 * n + 2.0
        if two is not None and two.place:
            limit = 2 * n + 1.66
        cut = tuple(dot for dot in line if dot.s <= limit)
        if len(cut) > 1:
            kept.append(cut)
    return tuple(kept)


def _row(one: _At, stops: Sequence[parts.Stop]) -> parts.Station:
    station = one.station
    near = [stops[n] for n in range(one.stop, -1, -1) if stops[n].place]
    density = near[0].density if near else 1025.0
    known = one.gas is not None and station.head is not None and station.where not in OPEN_ENDS
    below = gas_lines.metres(one.gas, density)[0] if one.gas is not None and known else None
    return parts.Station(
        run=one.run,
        part=station.part,
        where=station.where,
        s=one.s,
        elevation=station.elevation,
        head=station.head,
        low=station.low,
        high=station.high,
        basis=station.basis,
        flow=station.flow,
        gas=one.gas if known else None,
        density=density,
        line=station.head - below if below is not None and station.head is not None else None,
        air=station.elevation is not None
        and station.head is not None
        and station.head < station.elevation - 1e-6
        and not station.open,
    )
