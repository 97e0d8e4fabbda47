"""Which places share one circulating volume: as stated, else by the runs."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Iterable, Mapping

from brinehouse.facility import model

Links = dict[str, set[str]]


def complete(facility: model.Facility) -> model.Facility:
    """The facility with every place in a system, and every system with its places.

    Water that goes round joins: places that can be reached from one another along the runs. A tank or sump
    outside every ring joins the first tank or sump that a run ties it to; other vessels stay by themselves.
    A computed system is called after its first place.
    """
    of = _stated(facility)
    for ring in rings(links(facility)):
        _join(of, [name for name in facility.vessels if name in ring])
    for run in facility.runs.values():
        ends = [end for end in (run.source, run.target) if end in facility.vessels]
        if len(ends) == 2 and all(facility.vessels[end].kind != "vessel" for end in ends):
            _join(of, ends)
    for name in facility.vessels:
        of.setdefault(name, name)
    vessels = {n: dataclasses.replace(v, system=of[n]) for n, v in facility.vessels.items()}
    found = dict(facility.systems)
    for name in of.values():
        if name not in found:
            vessel = facility.vessels.get(name)
            title = f"{vessel.name} system" if vessel is not None else name
            found[name] = model.System(
                id=name, name=title, stated=False, spot=vessel.spot if vessel else model.NOWHERE
            )
    members = {
        name: dataclasses.replace(system, places=tuple(n for n in vessels if of[n] == name))
        for name, system in found.items()
    }
    return dataclasses.replace(facility, vessels=vessels, systems=members)


def _stated(facility: model.Facility) -> dict[str, str]:
    """The stated systems; what is part of another place goes with it."""
    of = {name: vessel.system for name, vessel in facility.vessels.items() if vessel.system}
    for name, vessel in facility.vessels.items():
        seen = {name}
        outer = vessel.part_of
        while name not in of and outer in facility.vessels and outer not in seen:
            seen.add(outer)
            if outer in of:
                of[name] = of[outer]
            outer = facility.vessels[outer].part_of
    return of


def _join(of: dict[str, str], names: list[str]) -> None:
    """Put places without a system into the one that their neighbours have."""
    known = next((of[name] for name in names if name in of), names[0] if names else "")
    for name in names:
        of.setdefault(name, known)


def links(facility: model.Facility) -> Links:
    """Where water goes next, for every place and machine."""
    out: Links = {}
    group = {pump: duty.id for duty in facility.duties.values() for pump in duty.pumps}
    for run in facility.runs.values():
        steps = [group.get(step, step) for step in (run.source, *run.through, run.target)]
        for start, end in itertools.pairwise(steps):
            if model.OUTSIDE not in (start, end) and start and end:
                out.setdefault(start, set()).add(end)
    for vessel in facility.vessels.values():
        for feeder in vessel.fed_by:
            out.setdefault(feeder, set()).add(vessel.id)
        if vessel.part_of:
            out.setdefault(vessel.id, set()).add(vessel.part_of)
            out.setdefault(vessel.part_of, set()).add(vessel.id)
    return out


def rings(out: Mapping[str, Iterable[str]]) -> list[set[str]]:
    """Groups of nodes of which each can be reached from each other one, larger than one node.

    >>> [sorted(ring) for ring in rings({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}})]
    [['a', 'b', 'c']]
    """
    back: Links = {}
    for start, ends in out.items():
        for end in ends:
            back.setdefault(end, set()).add(start)
    order: list[str] = []
    seen: set[str] = set()
    for node in list(out):
        order += _finished(node, out, seen)
    seen = set()
    found: list[set[str]] = []
    for node in reversed(order):
        if node not in seen:
            group = set(_finished(node, back, seen))
            if len(group) > 1:
                found.append(group)
    return found


def _finished(start: str, out: Mapping[str, Iterable[str]], seen: set[str]) -> list[str]:
    """Nodes reached from a start and not seen before, in the order in which they are done with."""
    if start in seen:
        return []
    seen.add(start)
    done: list[str] = []
    stack = [(start, iter(sorted(out.get(start, ()))))]
    while stack:
        node, ends = stack[-1]
        fresh = next((end for end in ends if end not in seen), None)
        if fresh is None:
            done.append(node)
            stack.pop()
        else:
            seen.add(fresh)
            stack.append((fresh, iter(sorted(out.get(fresh, ())))))
    return done
