"""What share of its usual flow each run keeps with other pumps running or a hand valve turned."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from brinehouse.facility import model
from brinehouse.network.hydraulics import solving
from brinehouse.network.plumbing import case as cases
from brinehouse.network.plumbing import curves, losses, netting, parts, way

NEARLY = 0.999  # a valve that is fully open still gets a link of its own, so that it can be turned
MOST = 3.0  # times the usual flow: no pump gives more

Valves = tuple[tuple[str, float], ...]
Key = tuple[frozenset[str], Valves]


@dataclass(slots=True)
class _Net:
    """Runs that pumps drive together, ready to be solved for many sets of running pumps."""

    made: netting.Net
    pumps: tuple[str, ...]
    known: dict[Key, Mapping[str, float]] = field(default_factory=dict[Key, Mapping[str, float]])


class Shares:
    """Shares of usual flows, by pumps that run and valves that are turned; worked out once for each.

    Where curves, losses and pipes are told they come from the hydraulics, all sets asked for at a time; else
    a group gives in proportion to its running pumps, and a valve to its opening.
    """

    def __init__(
        self, facility: model.Facility, flows: Mapping[str, float], running: Mapping[str, bool]
    ) -> None:
        self.facility = facility
        self.usual = frozenset(name for name, on in running.items() if on)
        self.groups = way.group_of(facility)
        self._flows = dict(flows)
        self._nets: list[_Net] | None = None
        self._plain: dict[Key, Mapping[str, float]] = {}

    @property
    def nets(self) -> list[_Net]:
        """Nets of runs that can be solved; made when first asked for."""
        if self._nets is None:
            self._nets = list(_nets(self.facility, self._flows))
        return self._nets

    @property
    def computed(self) -> frozenset[str]:
        """Runs whose shares come from curves and pipes."""
        return frozenset(run for net in self.nets for run in net.made.carries)

    def prepare(self, asked: Iterable[Key]) -> None:
        """Solve every set that is not known yet, all of a net at a time."""
        keys = list(asked)
        for net in self.nets:
            mine = {self._cut(net, key) for key in keys}
            new = [key for key in mine if key not in net.known]
            if new:
                _solve(net, self._cut(net, (self.usual, ())), new)

    def of(self, on: frozenset[str], valves: Valves) -> Mapping[str, float]:
        """Run to the share of its usual flow that it keeps; runs not named keep all."""
        found = dict(self._in_proportion(on, valves))
        for net in self.nets:
            key = self._cut(net, (on, valves))
            if key not in net.known:
                self.prepare([key])
            found |= net.known[key]
        return found

    def _cut(self, net: _Net, key: Key) -> Key:
        on, valves = key
        return on & frozenset(net.pumps), tuple(one for one in valves if one[0] in net.made.carries)

    def _in_proportion(self, on: frozenset[str], valves: Valves) -> Mapping[str, float]:
        key = (on, valves)
        if key not in self._plain:
            found: dict[str, float] = {}
            turned = dict(valves)
            for run in self.facility.runs.values():
                share = 1.0
                for group in way.groups_on(self.facility, run):
                    pumps = frozenset(way.members(self.facility, group))
                    usual = len(self.usual & pumps)
                    share *= len(on & pumps) / usual if usual else 1.0
                if run.id in turned:
                    share *= turned[run.id] / (run.open or 1.0)
                if share != 1.0:
                    found[run.id] = min(share, MOST)
            self._plain[key] = found
        return self._plain[key]


def _nets(facility: model.Facility, flows: Mapping[str, float]) -> Iterable[_Net]:
    runs = {
        run.id: dataclasses.replace(run, open=min(NEARLY if run.open is None else run.open, NEARLY))
        for run in facility.runs.values()
    }
    turned = dataclasses.replace(facility, runs=runs)
    case = cases.Case(
        facility=turned,
        flows=dict(flows),
        running=dict.fromkeys(facility.pumps, True),
        levels=cases.surfaces(facility, flows, None),
        pump_flows={},
        surroundings=parts.Surroundings(),
    )
    for cut in netting.together(case):
        groups = {step.part for piece in cut for step in piece.steps if step.kind == "pumps"}
        if not groups or not _told(turned, cut):
            continue
        fixed = netting.fixed_heads(case, cut)
        made = netting.net(case, cut, fixed) if fixed is not None else None
        if made is not None:
            pumps = tuple(pump for group in made.groups for pump in way.members(facility, group))
            yield _Net(made, pumps)


def _told(facility: model.Facility, cut: list[netting.Piece]) -> bool:
    """Whether curves, losses and pipes of all are told."""
    for piece in cut:
        if piece.first and not losses.described(piece.run):
            return False
        for part in piece.parts:
            machine = facility.equipment.get(part)
            if machine is not None and machine.loss is None:
                return False
            if any(curves.usable(facility.pumps[pump]) is None for pump in way.members(facility, part)):
                return False
    return True


def _solve(net: _Net, usual: Key, new: list[Key]) -> None:
    """Shares of some sets over the usual one; one that does not settle goes by the number of pumps."""
    keys = [usual, *(key for key in new if key[0])]
    for key in new:
        if not key[0]:
            net.known[key] = dict.fromkeys(net.made.carries, 0.0)
    links = {link.id for link in net.made.links}
    is_open: dict[str, list[float]] = {
        f"pump:{pump}": [float(pump in on) for on, _ in keys] for pump in net.pumps if f"pump:{pump}" in links
    }
    turned: dict[str, list[float]] = {}
    for run in dict.fromkeys(run for _, valves in keys for run, _ in valves):
        link = f"valve:{run}"
        if link in links:
            first = next(one.share_open for one in net.made.links if one.id == link)
            values = [dict(valves).get(run, first) for _, valves in keys]
            turned[link] = [max(value, losses.SHUT) for value in values]
            is_open[link] = [float(value > losses.SHUT) for value in values]
    many = solving.solve_many(
        net.made.nodes,
        net.made.links,
        variations={"open": is_open, "share_open": turned} if turned else {"open": is_open},
    )
    columns = {run: many.link_ids.index(link) for run, link in net.made.carries.items()}
    first = {run: max(float(many.flows[0, at]), 0.0) for run, at in columns.items()}
    for row, key in enumerate(keys):
        if not (many.converged[row] and many.converged[0]) or not any(first.values()):
            share = len(key[0]) / max(len(usual[0]), 1)
            net.known[key] = dict.fromkeys(columns, min(share, MOST))
            continue
        net.known[key] = {
            run: float(np.clip(many.flows[row, at] / first[run], 0.0, MOST)) if first[run] > 0.0 else 0.0
            for run, at in columns.items()
        }
