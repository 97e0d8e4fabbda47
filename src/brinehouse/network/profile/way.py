"""In which order the water of a system is drawn: the main way first, then what branches off it.

Only flows and the order of the file decide; names never do.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from brinehouse.facility import model

MANY = 4  # stretches; with more of them a plain way home is not drawn for each


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One run as far as it is drawn in one reach.

    Attributes
    ----------
    parts : tuple of str
        The machines to draw, in order; those drawn elsewhere are left out.
    start, end : str
        What stands at its ends: a place, a machine drawn elsewhere, or `model.OUTSIDE`.
    """

    run: str
    source: str
    target: str
    parts: tuple[str, ...]
    start: str
    end: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Back:
    """A run that needs no drawing of its own: it leaves at a thing and ends in another, both drawn."""

    run: str
    start: str
    target: str
    over: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """The stretches, each a row of steps, and the runs that need none."""

    stretches: tuple[tuple[Step, ...], ...] = ()
    backs: tuple[Back, ...] = ()
    closed: bool = False


@dataclass(slots=True)
class _Walk:
    runs: list[model.Run]
    flows: Mapping[str, float]
    places: Sequence[str]
    placed: set[str] = field(default_factory=set[str])
    parts: set[str] = field(default_factory=set[str])
    after: dict[str, set[str]] = field(default_factory=dict[str, set[str]])
    drawn: set[str] = field(default_factory=set[str])
    backs: list[Back] = field(default_factory=list[Back])

    def flow(self, run: model.Run) -> float:
        return self.flows.get(run.id, run.flow or 0.0)

    def out_of(self, place: str) -> list[model.Run]:
        return [run for run in self.runs if run.source == place and run.id not in self.drawn]


def order(runs: Iterable[model.Run], places: Sequence[str], flows: Mapping[str, float]) -> Way:
    """The way through places along runs.

    Parameters
    ----------
    runs : iterable of Run
        Those of one system.
    places : sequence of str
        The places that can be drawn, in file order, sumps first where the way should begin there.
    flows : mapping
        Run to flow. [m³/s]

    >>> supply = model.Run(id="up", name="", source="s", target="t", through=("p",), flow=2.0)
    >>> back = model.Run(id="down", name="", source="t", target="s", flow=2.0)
    >>> way = order([supply, back], ["s", "t"], {})
    >>> [step.run for step in way.stretches[0]], way.closed
    (['up', 'down'], True)
    """
    walk = _Walk(runs=list(runs), flows=flows, places=places)
    stretches: list[tuple[Step, ...]] = []
    closed = False
    while (begin := _begin(walk)) is not None:
        made = _stretch(walk, begin)
        if made:
            if not stretches:
                closed = made[-1].target == made[0].source and made[0].source in places
            stretches.append(made)
    if len(stretches) > MANY:
        stretches[1:] = [_short(walk, stretch) for stretch in stretches[1:]]
    return Way(stretches=tuple(stretches), backs=tuple(walk.backs), closed=closed)


def _short(walk: _Walk, stretch: tuple[Step, ...]) -> tuple[Step, ...]:
    """A branch among many without its plain way home, which is only noted at its last place."""
    last = stretch[-1]
    if len(stretch) < 2 or last.parts or last.end not in walk.placed:
        return stretch
    walk.backs.append(Back(run=last.run, start=last.source, target=last.target, over=()))
    return stretch[:-1]


def _begin(walk: _Walk) -> model.Run | None:
    """The run that the next stretch begins with: out of what is drawn, else out of the first place."""
    left = [run for run in walk.runs if run.id not in walk.drawn]
    if not left:
        return None
    known = [run for run in left if run.source in walk.placed]
    if known:
        fresh = [run for run in known if run.target in walk.places and run.target not in walk.placed]
        return max(fresh or known, key=walk.flow)
    inside = [run for run in left if run.source in walk.places]
    if not inside:
        return max(left, key=walk.flow)
    rank = {place: n for n, place in enumerate(walk.places)}
    first = min({run.source for run in inside}, key=lambda place: rank[place])
    starting = _entering(walk, left, first) or [run for run in inside if run.source == first]
    return max(starting, key=lambda run: (_fresh(walk, run), walk.flow(run)))


def _fresh(walk: _Walk, run: model.Run) -> bool:
    """Whether a run leads to a place that is not drawn yet."""
    return run.target in walk.places and run.target not in walk.placed


def _entering(walk: _Walk, left: list[model.Run], first: str) -> list[model.Run]:
    """Runs from outside that bring the first place most of its water: an open line begins with them."""
    into = [run for run in left if run.target == first]
    outer = [run for run in into if run.source not in walk.places]
    inner = sum(walk.flow(run) for run in into if run.source in walk.places and run.source != first)
    return outer if sum(walk.flow(run) for run in outer) > inner else []


def _stretch(walk: _Walk, begin: model.Run) -> tuple[Step, ...]:
    steps: list[Step] = []
    run: model.Run | None = begin
    while run is not None:
        step = _step(walk, run, first=not steps)
        walk.drawn.add(run.id)
        if step is None:
            return tuple(steps)
        steps.append(step)
        walk.placed.update(end for end in (run.source,) if end in walk.places)
        walk.parts.update(step.parts)
        walk.after.setdefault(run.source, set()).update(step.parts)
        fresh = run.target in walk.places and run.target not in walk.placed
        ends_there = step.end == run.target
        if ends_there and run.target in walk.places:
            walk.placed.add(run.target)
        run = _next(walk, run.target) if fresh and ends_there else None
    return tuple(steps)


def _next(walk: _Walk, place: str) -> model.Run | None:
    """Where the way goes on: to a place not yet drawn before a way back, the larger flow first."""
    out = walk.out_of(place)
    if not out:
        return None
    return max(out, key=lambda run: (_fresh(walk, run), walk.flow(run)))


def _step(walk: _Walk, run: model.Run, *, first: bool) -> Step | None:
    """What of a run is drawn now; None, and a way back noted, where all of it is drawn elsewhere."""
    parts = list(run.through)
    start, end = run.source, run.target
    if run.source in walk.placed and first:
        while parts and parts[0] in walk.after.get(run.source, ()):
            start = parts.pop(0)
    target_known = run.target in walk.placed or run.target not in walk.places
    while parts and target_known and parts[-1] in walk.parts:
        end = parts.pop()
    if not parts and target_known and run.source in walk.placed and first:
        over = tuple(run.through[run.through.index(end) :]) if end != run.target else ()
        walk.backs.append(Back(run=run.id, start=start, target=run.target, over=over))
        return None
    return Step(run=run.id, source=run.source, target=run.target, parts=tuple(parts), start=start, end=end)
