"""Heads and flows of a net by the global gradient method: Newton's on every link at once.

Levels stand outside: a water surface is a fixed head. Chains of links are one unknown each; check valves and
pumps are shut or opened until none stands against the sense of its own flow. The same arrays serve one plant
and a thousand scenarios of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.network.hydraulics import chains, links, losses, telling

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
VISCOSITY = 1.05e-6  # m2/s: sea water near 20 °C
MOST = 60  # Newton steps
ROUNDS = 40  # times that check valves are looked at
START = 0.3  # m/s in every pipe
LEAST = 1e-12  # m³/s
REST = 1e-8  # m³/s, all changes of a step together: water that stands still is told as such
QUICK = 0.01  # of the step before: Newton has found the straight of it
BLOCK = 200  # scenarios: a column of links of so many fits the second cache


@dataclass(slots=True)
class Many:
    """Scenarios solved together; arrays are (scenarios, links) in the links' own order, or (…, nodes)."""

    flows: Array
    heads: Array
    held: Flags
    shut: Flags
    cut_off: Flags
    converged: Flags
    iterations: int
    lost: Array
    link_ids: tuple[str, ...]
    node_ids: tuple[str, ...]


@dataclass(slots=True)
class _Way:
    """Chains as columns: what each is made of, and which may only be passed forward."""

    net: chains.Net
    table: losses.Table
    ordered: tuple[links.Link, ...]
    forward: Flags  # (C,)
    passable: Flags  # (S, C)
    fixed: Array  # (S, fixed knots)
    demand: Array  # (free knots,)


def solve(
    nodes: Sequence[links.Node],
    joined: Sequence[links.Link],
    *,
    viscosity: float = VISCOSITY,
    tolerance: float = 1e-8,
) -> links.Solution:
    """Heads and flows of one plant.

    Parameters
    ----------
    nodes : sequence of Node
    joined : sequence of Link
        Their ends are ids of `nodes`.
    viscosity : float
        Kinematic viscosity of the water at hand. [m²/s]
    tolerance : float
        Largest change of any flow in the last step, over the sum of all flows. [-]

    Returns
    -------
    Solution
        With a finding for whatever is out of the ordinary; never an exception for a plant that cannot run.
    """
    faults = telling.faults(nodes, joined)
    if faults:
        return links.Solution(heads={}, flows={}, states={}, converged=False, findings=faults)
    if not joined:
        heads = {node.id: node.head for node in nodes if node.head is not None}
        return links.Solution(heads=heads, flows={}, states={})
    many = solve_many(nodes, joined, viscosity=viscosity, tolerance=tolerance)
    flows = dict(zip(many.link_ids, many.flows[0].tolist(), strict=True))
    heads = {id: head for id, head in zip(many.node_ids, many.heads[0].tolist(), strict=True) if head == head}
    words = np.select([many.shut[0], many.held[0], many.cut_off[0]], ["shut", "held", "cut off"], "open")
    states = dict(zip(many.link_ids, words.tolist(), strict=True))
    made = links.Solution(
        heads=heads,
        flows=flows,
        states=states,
        iterations=many.iterations,
        converged=bool(many.converged[0]),
        lost=float(many.lost[0]),
    )
    return telling.told(nodes, joined, made)


def solve_many(
    nodes: Sequence[links.Node],
    joined: Sequence[links.Link],
    *,
    variations: Mapping[str, Mapping[str, ArrayLike]] | None = None,
    viscosity: float = VISCOSITY,
    tolerance: float = 1e-8,
) -> Many:
    """Heads and flows of many scenarios of one plant.

    Parameters
    ----------
    nodes : sequence of Node
    joined : sequence of Link
    variations : mapping, optional
        Word to link (or node, for ``head``) to one value a scenario: ``open`` (0 or 1), ``speed``, ``loss``,
        ``roughness``, ``share_open``, ``curve_factor`` (of a pump's head) and ``head``.
    viscosity : float
        [m²/s]
    tolerance : float
        As `solve`.

    Returns
    -------
    Many

    Raises
    ------
    ValueError
        Where variations are of unequal length or of a word that is not known.
    """
    varied, rows = _varied(variations or {})
    if rows <= BLOCK:
        return _block(nodes, joined, varied, rows, viscosity, tolerance, None)
    net = chains.net(nodes, joined)
    usual = _settled(_way(nodes, joined, net, {}, 1), viscosity, tolerance)[0][0]
    parts = [
        _block(
            nodes, joined, _cut(varied, at, at + BLOCK), min(BLOCK, rows - at), viscosity, tolerance, usual
        )
        for at in range(0, rows, BLOCK)
    ]
    whole = {
        name: np.concatenate([getattr(part, name) for part in parts])
        for name in ("flows", "heads", "held", "shut", "cut_off", "converged", "lost")
    }
    steps = max(part.iterations for part in parts)
    return Many(**whole, iterations=steps, link_ids=parts[0].link_ids, node_ids=parts[0].node_ids)


def _cut(varied: Mapping[str, Mapping[str, Array]], start: int, end: int) -> dict[str, dict[str, Array]]:
    return {word: {id: values[start:end] for id, values in one.items()} for word, one in varied.items()}


def _block(
    nodes: Sequence[links.Node],
    joined: Sequence[links.Link],
    varied: Mapping[str, Mapping[str, Array]],
    rows: int,
    viscosity: float,
    tolerance: float,
    usual: Array | None,
) -> Many:
    """Scenarios that fit the processor's cache together; `usual` are flows to begin with."""
    net = chains.net(nodes, joined)
    way = _way(nodes, joined, net, varied, rows)
    found = _settled(way, viscosity, tolerance, usual)
    return _unfolded(nodes, joined, way, *found[:3], viscosity, *found[3:])


def _settled(
    way: _Way, viscosity: float, tolerance: float, usual: Array | None = None
) -> tuple[Array, Array, Flags, int, Flags]:
    """Flows, heads, what is blocked, steps taken, and which scenarios came to rest."""
    rows = way.passable.shape[0]
    begin = START * np.pi / 4.0 * _bore(way) ** 2
    if usual is not None:
        begin = np.where(np.abs(usual) > LEAST, usual, begin)
    flow = np.where(way.passable, begin, 0.0)
    blocked = ~way.passable
    heads = np.zeros((rows, way.net.free))
    settled = np.zeros(rows, dtype=bool)
    steps = 0
    for turn in range(ROUNDS):
        reached = _reached(way.net, ~blocked)
        flow, heads, used, settled = _newton(way, flow, blocked, reached, viscosity, tolerance)
        steps += used
        if not _turn_valves(way, flow, heads, blocked, viscosity, few=turn > ROUNDS // 4):
            return flow, heads, blocked, steps, settled
    return flow, heads, blocked, steps, np.zeros(rows, dtype=bool)


def _varied(given: Mapping[str, Mapping[str, ArrayLike]]) -> tuple[dict[str, dict[str, Array]], int]:
    made = {
        word: {id: np.atleast_1d(np.asarray(values, dtype=np.float64)) for id, values in one.items()}
        for word, one in given.items()
    }
    strange = set(made) - {*losses.VARIED, "head"}
    if strange:
        raise ValueError(f"not varied: {', '.join(sorted(strange))}; known: {', '.join(losses.VARIED)}, head")
    lengths = {values.size for one in made.values() for values in one.values()}
    if len(lengths) > 1:
        raise ValueError(f"variations of unequal length: {sorted(lengths)}")
    return made, lengths.pop() if lengths else 1


def _way(
    nodes: Sequence[links.Node],
    joined: Sequence[links.Link],
    net: chains.Net,
    varied: Mapping[str, Mapping[str, Array]],
    rows: int,
) -> _Way:
    known = {node.id: node for node in nodes}
    ordered = tuple(joined[at] for at in net.order)
    has = losses.table(ordered, varied, rows)
    only = np.array([link.check or link.kind == "pump" for link in ordered])
    forward = np.logical_or.reduceat(only, net.first)
    passable = np.logical_and.reduceat(has.passable, net.first, axis=1)
    fixed = np.empty((rows, len(net.knots) - net.free))
    for at, id in enumerate(net.knots[net.free :]):
        fixed[:, at] = varied.get("head", {}).get(id, known[id].head)
    # two things in one chain that let water pass in opposite senses let none pass
    against = np.logical_or.reduceat(only & (net.sign < 0.0), net.first)
    passable = passable & ~against
    passable &= ~_dry(net, known, fixed, forward)
    demand = np.array([known[id].demand for id in net.knots[: net.free]])
    return _Way(net, has, ordered, forward, passable, fixed, demand)


def _dry(net: chains.Net, known: Mapping[str, links.Node], fixed: Array, forward: Flags) -> Flags:
    """Chains that would draw from a surface below their outlet; what falls into it stays open. (S, C)."""
    made = np.zeros((fixed.shape[0], net.source.size), dtype=bool)
    for at, (source, target) in enumerate(zip(net.source, net.target, strict=True)):
        for end, other in ((source, target), (target, source)):
            if end < net.free or (floor := known[net.knots[end]].elevation) is None:
                continue
            here = fixed[:, end - net.free]
            falls_in = end == target and bool(forward[at])
            higher = (
                fixed[:, other - net.free] > here if other >= net.free else np.zeros_like(here, dtype=bool)
            )
            made[:, at] |= (here < floor) & ~higher & (not falls_in)
    return made


def _bore(way: _Way) -> Array:
    return np.minimum.reduceat(np.array([link.diameter for link in way.ordered]), way.net.first)


def _reached(net: chains.Net, open_: Flags) -> Flags:
    """Which free knots an open way joins to a fixed head. (S, free)."""
    reached = np.zeros((open_.shape[0], len(net.knots)), dtype=bool)
    reached[:, net.free :] = True
    touch = _touch(net)
    while True:
        joins = open_ & (reached[:, net.source] | reached[:, net.target])
        more = reached | (joins.astype(np.float32) @ touch > 0.0)
        if (more == reached).all():
            return reached[:, : net.free]
        reached = more


def _touch(net: chains.Net) -> NDArray[np.float32]:
    """One where a chain ends at a knot. (C, K)."""
    made = np.zeros((net.source.size, len(net.knots)), dtype=np.float32)
    made[np.arange(net.source.size), net.source] = 1.0
    made[np.arange(net.target.size), net.target] = 1.0
    return made


def _balance(net: chains.Net) -> Array:
    """+1 where a chain brings water to a knot, -1 where it takes it. (C, K)."""
    made = np.zeros((net.source.size, len(net.knots)))
    np.add.at(made, (np.arange(net.source.size), net.source), -1.0)
    np.add.at(made, (np.arange(net.target.size), net.target), 1.0)
    return made


def _along(way: _Way, flow: Array, viscosity: float) -> tuple[Array, Array]:
    """Head lost along each chain and its slope: links in a row add up."""
    each = flow[:, way.net.chain] * way.net.sign
    lost, slope = losses.losses(way.table, each, viscosity)
    return (
        np.add.reduceat(lost * way.net.sign, way.net.first, axis=1),
        np.add.reduceat(slope, way.net.first, axis=1),
    )


def _newton(
    way: _Way, flow: Array, blocked: Flags, reached: Flags, viscosity: float, tolerance: float
) -> tuple[Array, Array, int, Flags]:
    """Flows and heads while every chain stays as open or shut as it is."""
    net = way.net
    open_ = ~blocked & _sourced(net, reached)  # what no surface is joined to has no flow that can be told
    rows = flow.shape[0]
    flow = np.where(open_, np.where(flow == 0.0, START * np.pi / 4.0 * _bore(way) ** 2, flow), 0.0)
    balance = _balance(net)[:, : net.free]
    across, apart = balance.T[None], not reached.all()
    brought = _fixed_part(way)
    heads = np.zeros((rows, net.free))
    settled = np.zeros(rows, dtype=bool)
    last = np.zeros(rows)
    step = 0
    for step in range(1, MOST + 1):
        lost, slope = _along(way, flow, viscosity)
        ease = np.where(open_, 1.0 / slope, 0.0)
        still = flow - ease * lost
        if net.free:
            matrix = np.matmul(across * ease[:, None, :], balance)
            right = (still + ease * brought) @ balance - way.demand
            if apart:
                matrix += np.where(reached, 0.0, 1.0)[:, :, None] * np.eye(net.free)
                right = np.where(reached, right, 0.0)
            heads = np.linalg.solve(matrix, right[:, :, None])[:, :, 0]
        falls = brought - heads @ balance.T
        new = np.where(open_, still + ease * falls, 0.0)
        change = np.abs(new - flow).sum(axis=1)
        if step > MOST // 3:
            new = flow + 0.6 * (new - flow)  # two curves may hand a step to and fro
        flow = new
        moved = np.abs(flow).sum(axis=1)
        # a step a hundred times smaller than the last one leaves an error of its own square
        quick = (change <= QUICK * last) & (change * change <= tolerance * moved * moved)
        settled = (change <= tolerance * moved + REST) | quick
        last = change
        if settled.all():
            break
    return flow, heads, step, settled


def _fixed_part(way: _Way) -> Array:
    """What fixed heads at its ends add to the fall along each chain. (S, C)."""
    net = way.net
    return _fall(net, np.zeros((way.fixed.shape[0], net.free)), way.fixed)


def _fall(net: chains.Net, heads: Array, fixed: Array) -> Array:
    """Head at the source of each chain less that at its target. (S, C)."""
    whole = np.concatenate([heads, fixed], axis=1)
    return np.asarray(whole[:, net.source] - whole[:, net.target])


def _turn_valves(
    way: _Way, flow: Array, heads: Array, blocked: Flags, viscosity: float, *, few: bool
) -> bool:
    """Shut what runs backward, open what would run forward; `few` turns one at a time, the worst first."""
    if not way.forward.any():
        return False
    net = way.net
    back = np.where(~blocked & way.forward, np.maximum(-flow, 0.0), 0.0)
    held = blocked & way.passable & way.forward
    if not held.any() and not (back > 1e-10).any():
        return False
    fall = _fall(net, heads, way.fixed)
    at_rest, _ = _along(way, np.zeros_like(flow), viscosity)
    reached = _reached(net, ~blocked)
    known = _ends_known(net, reached)
    idle = held & _sourced(net, reached) & ~known  # leads to what has no head
    wants = np.where(held & known, fall - at_rest, 0.0)
    wrong = (back > 1e-10) | (wants > 1e-7) | idle
    if few and wrong.any():
        size = np.where(back > 1e-10, back / np.abs(flow).max(initial=1e-9), wants / 100.0)
        worst = size.argmax(axis=1)
        single = np.zeros_like(wrong)
        single[np.arange(wrong.shape[0]), worst] = True
        wrong &= single
    blocked ^= wrong
    return bool(wrong.any())


def _ends_known(net: chains.Net, reached: Flags) -> Flags:
    """Chains of which at least one end has a head: what an isolated part would do is not known otherwise."""
    rows = reached.shape[0]
    whole = np.concatenate([reached, np.ones((rows, len(net.knots) - net.free), dtype=bool)], axis=1)
    return np.asarray(whole[:, net.source] & whole[:, net.target])


def _sourced(net: chains.Net, reached: Flags) -> Flags:
    """Chains whose source has a head. (S, C)."""
    whole = np.concatenate(
        [reached, np.ones((reached.shape[0], len(net.knots) - net.free), dtype=bool)], axis=1
    )
    return np.asarray(whole[:, net.source])


def _unfolded(
    nodes: Sequence[links.Node],
    joined: Sequence[links.Link],
    way: _Way,
    flow: Array,
    heads: Array,
    blocked: Flags,
    viscosity: float,
    steps: int,
    settled: Flags,
) -> Many:
    """Chains back to links, with the heads between them."""
    net = way.net
    rows = flow.shape[0]
    each = flow[:, net.chain] * net.sign
    reached = _reached(net, ~blocked)
    knots = np.concatenate([np.where(reached, heads, np.nan), way.fixed], axis=1)
    number = {node.id: at for at, node in enumerate(nodes)}
    all_heads = np.full((rows, len(nodes)), np.nan)
    for at, id in enumerate(net.knots):
        all_heads[:, number[id]] = knots[:, at]
    lost, _ = losses.losses(way.table, each, viscosity)
    _between(way, knots, lost * net.sign, blocked, number, all_heads)
    links_flow = np.empty((rows, len(joined)))
    links_flow[:, net.order] = each
    shut_chain = ~way.passable
    held = np.empty((rows, len(joined)), dtype=bool)
    held[:, net.order] = (blocked & way.passable)[:, net.chain]
    shut = np.empty_like(held)
    shut[:, net.order] = ~way.table.passable
    cut = np.empty_like(held)
    ends = _ends_known(net, reached)
    cut[:, net.order] = (shut_chain | ~ends)[:, net.chain]
    gaps = _gaps(net, flow, way.demand, reached)
    return Many(
        flows=links_flow,
        heads=all_heads,
        held=held,
        shut=shut,
        cut_off=cut & ~shut & ~held,
        converged=settled,
        iterations=steps,
        lost=gaps,
        link_ids=tuple(link.id for link in joined),
        node_ids=tuple(node.id for node in nodes),
    )


def _gaps(net: chains.Net, flow: Array, demand: Array, reached: Flags) -> Array:
    """The largest gap of any balance in each scenario."""
    gap = flow @ _balance(net)
    free = np.where(reached, gap[:, : net.free] - demand, 0.0)
    return np.abs(free).max(axis=1, initial=0.0)


def _between(
    way: _Way, knots: Array, lost: Array, blocked: Flags, number: Mapping[str, int], heads: Array
) -> None:
    """Heads inside chains: from the source on, and in a blocked one from both ends to what blocks it."""
    net = way.net
    down = np.cumsum(lost, axis=1)
    whole = down - np.where(net.first[net.chain] > 0, down[:, net.first[net.chain] - 1], 0.0)
    running = knots[:, net.source][:, net.chain] - whole
    ever = np.asarray(blocked.any(axis=0))
    for at, inside in enumerate(net.between):
        if not inside:
            continue
        first = int(net.first[at])
        columns = [number[id] for id in inside]
        heads[:, columns] = running[:, first : first + len(inside)]
        if ever[at]:
            _stopped(way, at, first, columns, knots, lost, blocked[:, at], heads)


def _stopped(
    way: _Way,
    at: int,
    first: int,
    columns: list[int],
    knots: Array,
    lost: Array,
    blocked: Flags,
    heads: Array,
) -> None:
    """In a blocked chain the source's head holds up to what blocks it, and the target's behind that."""
    stopped = np.zeros(blocked.shape, dtype=bool)
    for k, column in enumerate(columns):
        stopped |= blocked & _holds(way, first + k)
        heads[stopped, column] = np.nan
    back = knots[:, way.net.target[at]].copy()
    free = np.ones(blocked.shape, dtype=bool)
    for k in range(len(columns) - 1, -1, -1):
        free &= ~_holds(way, first + k + 1)
        back = back + lost[:, first + k + 1]
        use = blocked & free & np.isnan(heads[:, columns[k]])
        heads[use, columns[k]] = back[use]


def _holds(way: _Way, at: int) -> Flags:
    """Whether a link lets no water pass when its chain is blocked: shut, or a check valve."""
    link = way.ordered[at]
    stops = link.check if link.kind != "pump" else not _checked(way, at)
    held: Flags = ~way.table.passable[:, at]
    return held | stops


def _checked(way: _Way, at: int) -> bool:
    """Whether a check valve stands beside a pump in its chain: then that holds the water, not the pump."""
    mine = way.net.chain == way.net.chain[at]
    return any(way.ordered[k].check and way.ordered[k].kind != "pump" for k in np.flatnonzero(mine))
