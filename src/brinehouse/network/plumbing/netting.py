"""From driven runs to nodes and links: what is shared is one pipe, what parts has a pipe of its own."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from dataclasses import dataclass, field

from brinehouse.facility import model
from brinehouse.network.hydraulics import links
from brinehouse.network.plumbing import curves, losses, way
from brinehouse.network.plumbing.case import Case


@dataclass(slots=True)
class Piece:
    """A stretch under pressure: from water or a pool through closed machines and pumps to where it ends."""

    run: model.Run
    start: str  # node
    steps: tuple[way.Step, ...]
    end: str  # node
    first: bool  # the run's first piece: it tells the run's flow
    hops: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        """Pairs of nodes from one part's outlet to the next one's inlet."""
        inlets = [*(f"in:{step.part}" for step in self.steps), self.end]
        outlets = [self.start, *(f"out:{step.part}" for step in self.steps)]
        self.hops = tuple(zip(outlets, inlets, strict=True))

    @property
    def parts(self) -> tuple[str, ...]:
        """Machines and pumps in order, with a machine that it ends at: other runs go on from there."""
        kind, _, last = self.end.partition(":")
        return (*(step.part for step in self.steps), *((last,) if kind == "in" else ()))

    def behind_pumps(self) -> tuple[tuple[str, str], ...]:
        """The hops behind its last pump, or all where it has none."""
        last = max((n for n, step in enumerate(self.steps) if step.kind == "pumps"), default=-1)
        return self.hops[last + 1 :]


@dataclass(slots=True)
class Net:
    """Nodes and links that hang together, and which link tells what."""

    runs: list[model.Run] = field(default_factory=list[model.Run])
    groups: list[str] = field(default_factory=list[str])
    machines: list[str] = field(default_factory=list[str])
    nodes: list[links.Node] = field(default_factory=list[links.Node])
    links: list[links.Link] = field(default_factory=list[links.Link])
    carries: dict[str, str] = field(default_factory=dict[str, str])  # run to the link with its flow
    same: dict[str, str] = field(default_factory=dict[str, str])  # node to the node it is one with

    def node(self, name: str) -> str:
        """The node that stands for another."""
        while self.same.get(name, name) != name:
            name = self.same[name]
        return name

    def join(self, one: str, other: str, fixed: dict[str, float]) -> bool:
        """Make two nodes one; whether that can be (two water surfaces are never one)."""
        a, b = self.node(one), self.node(other)
        if a == b:
            return True
        if a in fixed and b in fixed:
            return False
        keep, drop = (a, b) if a in fixed else (b, a)
        self.same[drop] = keep
        return True


def pressed(case: Case) -> list[model.Run]:
    """Runs that pumps drive: with one on their way, or beginning at a machine that such a run passes."""
    facility = case.facility
    found = {run.id: run for run in facility.runs.values() if way.driven(facility, run)}
    grown = True
    while grown:
        passed = {step.part for run in found.values() for step in way.steps(facility, run)}
        more = {
            run.id: run
            for run in facility.runs.values()
            if run.id not in found and run.source in facility.equipment and run.source in passed
        }
        grown = bool(more)
        found |= more
    return [run for run in facility.runs.values() if run.id in found]


def pieces(case: Case, run: model.Run) -> list[Piece]:
    """A run cut where it is open to air; pieces behind the last pump that fall by themselves are left out."""
    steps = way.steps(case.facility, run)
    start = _start(steps[0])
    found: list[Piece] = []
    here: list[way.Step] = []
    for step in steps[1:-1]:
        if step.pressed:
            here.append(step)
            continue
        found.append(Piece(run, start, tuple(here), f"top:{step.part}", not found))
        here, start = [], f"pool:{step.part}"
    last = steps[-1]
    if last.kind in ("open", "column"):
        end = f"top:{last.part}"
    elif last.kind in ("closed", "pumps"):
        end = f"in:{last.part}"
    else:
        end = f"end:{run.id}"
    found.append(Piece(run, start, tuple(here), end, not found))
    return [one for one in found if one.first or any(step.kind == "pumps" for step in one.steps)]


def _start(step: way.Step) -> str:
    if step.kind == "place":
        return f"at:{step.part}"
    return f"pool:{step.part}" if step.kind in ("open", "column") else f"out:{step.part}"


def fixed_heads(case: Case, cut: Iterable[Piece]) -> dict[str, float] | None:
    """Head of every water surface and open end that the pieces meet; None where one is not told."""
    found: dict[str, float] = {}
    for piece in cut:
        for node in (piece.start, piece.end):
            kind, _, name = node.partition(":")
            if kind in ("in", "out"):
                continue
            head = _fixed(case, piece.run, kind, name)
            if head is None:
                return None
            found[node] = head
    return found


def _fixed(case: Case, run: model.Run, kind: str, name: str) -> float | None:
    if kind == "at":
        level = case.levels.get(name)
        return level.value if level else None
    if kind == "end":
        end = case.end(run)
        return end.value if end else None
    machine = case.facility.equipment[name]
    return column_top(case.facility, run, name) if kind == "top" else column_pool(machine)


def column_top(facility: model.Facility, run: model.Run, name: str) -> float | None:
    """Where water comes out over a packing, or into an open machine. [m]."""
    machine = facility.equipment[name]
    if not way.is_column(machine):
        return machine.elevation
    if machine.pool is not None and machine.height is not None:
        return max(machine.pool + machine.height, run.high or machine.pool)
    return run.high if run.high is not None else machine.elevation


def column_pool(machine: model.Equipment) -> float | None:
    """Height of the water under a packing, or in an open machine. [m]."""
    if machine.pool is not None:
        return machine.pool
    if machine.elevation is None:
        return None
    return machine.elevation + (0.3 if way.is_column(machine) else 0.0)


def together(case: Case) -> list[list[Piece]]:
    """Pieces in groups that share a machine, pumps or water under pressure."""
    cut = [piece for run in pressed(case) for piece in pieces(case, run)]
    groups: list[list[Piece]] = []
    for piece in cut:
        mine = _parts(piece)
        near = [g for g in groups if any(mine & _parts(one) for one in g)]
        merged = [one for g in near for one in g] + [piece]
        groups = [g for g in groups if g not in near] + [merged]
    return groups


def _parts(piece: Piece) -> set[str]:
    """Machines and pumps whose inlet or outlet a piece meets: also one that it ends or begins at."""
    ends = (node.partition(":") for hop in piece.hops for node in hop)
    return {part for kind, _, part in ends if kind in ("in", "out")}


def net(case: Case, cut: list[Piece], fixed: dict[str, float]) -> Net | None:
    """Nodes and links of pieces that hang together; None where they cannot be told apart."""
    made = Net(runs=_runs(cut))
    uses: dict[tuple[str, str], set[str]] = {}
    for piece in cut:
        for hop in piece.hops:
            uses.setdefault(hop, set()).add(piece.run.id)
    for piece in cut:
        own = [hop for hop in piece.behind_pumps() if len(uses[hop]) == 1]
        if not own and piece.first:
            return None
        bare = [hop for hop in piece.hops if hop not in (*own[:1], *own[-1:])]
        if not all(made.join(*hop, fixed) for hop in bare):
            return None
        if own:
            _pipe(case, made, piece, own)
    for part in dict.fromkeys(part for piece in cut for part in piece.parts):
        if part in case.facility.equipment:
            _machine(case, made, part, [piece.run for piece in cut])
        else:
            _pumps(case, made, part)
    _nodes(made, fixed)
    return made


def _runs(cut: Iterable[Piece]) -> list[model.Run]:
    return list({piece.run.id: piece.run for piece in cut}.values())


def _pipe(case: Case, made: Net, piece: Piece, own: list[tuple[str, str]]) -> None:
    """The run's own hand valve, in its first own hop, and its own pipe, in its last."""
    run = piece.run
    bore = run.diameter or 0.1
    begin, end = own[-1]
    check = case.falls_free(run) or end.startswith("top:")
    valved = run.open is not None and run.open < 1.0
    if valved:
        start, stop = own[0]
        if len(own) == 1:
            stop = f"valved:{run.id}"
            begin = stop
        made.links.append(
            links.Link(id=f"valve:{run.id}", source=start, target=stop, kind="valve", diameter=bore,
                       share_open=run.open or 0.0, open=(run.open or 0.0) > losses.SHUT)
        )  # fmt: skip
    elif len(own) > 1:
        made.join(*own[0], {})
    points = run.loss.points if run.loss is not None else ()
    heads = losses.velocity_heads(run.fittings, bore)
    heads += run.loss.heads if run.loss is not None and run.loss.heads else 0.0
    if points:
        middle = f"before-loss:{run.id}"
        made.links.append(
            links.Link(id=f"loss:{run.id}", source=begin, target=middle, kind="loss", points=points)
        )
        begin = middle
    made.links.append(
        links.Link(id=f"pipe:{run.id}", source=begin, target=end, kind="pipe", length=run.length or 0.0,
                   diameter=bore, roughness=losses.roughness(run), loss=heads, check=check)
    )  # fmt: skip
    if piece.first:
        made.carries[run.id] = f"pipe:{run.id}"


def _machine(case: Case, made: Net, part: str, runs: list[model.Run]) -> None:
    made.machines.append(part)
    loss = case.facility.equipment[part].loss or model.Loss(heads=0.0)
    bore = next((run.diameter for run in runs if part in run.through and run.diameter), 0.1)
    made.links.append(
        links.Link(id=f"machine:{part}", source=f"in:{part}", target=f"out:{part}", kind="loss",
                   diameter=bore, loss=loss.heads or 0.0, points=loss.points)
    )  # fmt: skip


def _pumps(case: Case, made: Net, group: str) -> None:
    made.groups.append(group)
    for name in way.members(case.facility, group):
        pump = case.facility.pumps[name]
        if not case.running.get(name):
            continue
        usual = curves.middle(pump) or 1e-3
        piped, strained = losses.suction(pump, usual)
        bore = pump.suction_diameter or 0.1
        if losses.suction_described(pump):
            heads = losses.velocity_heads(pump.suction_fittings, bore)
            length, points = pump.suction_length or 0.0, ()
        else:
            heads, length, points = 0.0, 0.0, ((usual, piped.value),)
        made.links += [
            links.Link(id=f"suction:{name}", source=f"in:{group}", target=f"basket:{name}",
                       kind="loss" if points else "pipe", length=length, diameter=bore,
                       roughness=losses.ROUGHNESS["plastic"], loss=heads, points=points),
            links.Link(id=f"strainer:{name}", source=f"basket:{name}", target=f"inlet:{name}", kind="loss",
                       points=((usual, strained.value),)),
            links.Link(id=f"pump:{name}", source=f"inlet:{name}", target=f"out:{group}", kind="pump",
                       curve=pump.curve, speed=pump.speed or 1.0),
        ]  # fmt: skip


def _nodes(made: Net, fixed: dict[str, float]) -> None:
    """Nodes as the links name them, each by the node that stands for it."""
    made.links = [
        dataclasses.replace(link, source=made.node(link.source), target=made.node(link.target))
        for link in made.links
    ]
    names = dict.fromkeys(end for link in made.links for end in (link.source, link.target))
    made.nodes = [links.Node(id=name, head=fixed.get(name)) for name in names]
