"""What is out of the ordinary in a net, as findings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from brinehouse import findings
from brinehouse.network.hydraulics import links
from brinehouse.science import hydraulics

STILL = 1e-9  # m³/s
BEYOND = 1.0001  # over the last flow of a curve


def _say(code: str, level: findings.Level, text: str, hint: str, **data: object) -> findings.Finding:
    return findings.Finding(code=code, level=level, text=text, hint=hint, data=dict(data))


def faults(nodes: Sequence[links.Node], joined: Sequence[links.Link]) -> list[findings.Finding]:
    """What keeps a net from being solved at all: ends not there, sizes that cannot be, no surface."""
    found: list[findings.Finding] = []
    known = {node.id for node in nodes}
    if len(known) != len(nodes) or len({link.id for link in joined}) != len(joined):
        found.append(_bad("two parts have one id", "give each its own id"))
    for link in joined:
        missing = [end for end in (link.source, link.target) if end not in known]
        if missing:
            found.append(_bad(f"'{link.id}' ends at '{missing[0]}', which is not there", "join it to a node"))
        elif link.source == link.target:
            found.append(_bad(f"'{link.id}' leads from '{link.source}' to itself", "join it to another node"))
        found += [_bad(f"'{link.id}' {why}", hint) for why, hint in _wrong(link)]
    if joined and not any(node.head is not None for node in nodes):
        found.append(
            _say(
                "hydraulics/no-fixed-head",
                findings.Level.STOP,
                "no water surface stands in this net, so its heads cannot be told",
                "name the level of at least one tank or sump",
            )
        )
    return found


def _bad(text: str, hint: str) -> findings.Finding:
    return _say("hydraulics/bad-link", findings.Level.STOP, text, hint)


def _wrong(link: links.Link) -> Iterable[tuple[str, str]]:
    """Sizes that cannot be."""
    if not link.diameter > 0.0:
        yield "has no bore", "state its diameter"
    if link.length < 0.0 or link.loss < 0.0 or link.roughness < 0.0:
        yield "has a negative length, roughness or loss", "state what was measured"
    if link.kind == "pump":
        try:
            hydraulics.pump_curve(link.curve)
        except ValueError as fault:
            yield f"has a curve that cannot be: {fault}", "give points from its maker's curve, by rising flow"
    if link.points and not any(flow > 0.0 for flow, _ in link.points):
        yield "has no point with a flow", "give a head lost at a flow"


def told(nodes: Sequence[links.Node], joined: Sequence[links.Link], made: links.Solution) -> links.Solution:
    """The solution with what is to be said about it."""
    found = [*_ways(nodes, joined, made), *_pumps(nodes, joined, made)]
    if not made.converged:
        found.append(
            _say(
                "hydraulics/not-settled",
                findings.Level.ACT,
                f"heads and flows did not come to rest in {made.iterations} steps",
                "take these numbers for nothing; look for two pumps that press against one another",
            )
        )
    return replace(made, findings=found)


def _ways(
    nodes: Sequence[links.Node], joined: Sequence[links.Link], made: links.Solution
) -> Iterable[findings.Finding]:
    for node in nodes:
        if node.head is not None and node.elevation is not None and node.head < node.elevation:
            yield _say(
                "hydraulics/dry-source",
                findings.Level.ACT,
                f"the outlet at '{node.id}' stands {node.elevation - node.head:.2f} m above its water",
                "raise the level; a pump that draws here runs dry",
                node=node.id,
            )
    lone = [node for node in nodes if node.id not in made.heads]
    thirsty = [node.id for node in lone if node.demand > 0.0]
    if thirsty:
        yield _say(
            "hydraulics/demand-cut-off",
            findings.Level.ACT,
            f"water is to be taken at {', '.join(thirsty)}, and no open way leads there",
            "open a way, or take nothing there",
            nodes=thirsty,
        )
    meets = Counter(end for link in joined for end in (link.source, link.target))
    cut = [node.id for node in lone if node.demand <= 0.0 and meets[node.id] != 2]  # not: beside a shut pump
    if cut:
        yield _say(
            "hydraulics/cut-off",
            findings.Level.NOTE,
            f"no open way joins {', '.join(cut)} to a water surface: their heads are not known",
            "open a valve on the way, or leave them out",
            nodes=cut,
        )
    if joined and all(state == "shut" or state == "cut off" for state in made.states.values()):
        yield _say(
            "hydraulics/all-shut",
            findings.Level.WATCH,
            "every way is shut: no water moves",
            "open one, or see what stands still",
        )


def _leads_on(nodes: Sequence[links.Node], joined: Sequence[links.Link], pump: links.Link) -> bool:
    """Whether an open way leads from a pump's discharge to any water surface."""
    surfaces = {node.id for node in nodes if node.head is not None}
    seen, front = {pump.target}, [pump.target]
    while front:
        here = front.pop()
        if here in surfaces:
            return True
        for link in joined:
            if link.shut or link.kind == "pump" or here not in (link.source, link.target):
                continue
            there = link.target if link.source == here else link.source
            if link.check and link.target == here:
                continue
            if there not in seen:
                seen.add(there)
                front.append(there)
    return False


def _pumps(
    nodes: Sequence[links.Node], joined: Sequence[links.Link], made: links.Solution
) -> Iterable[findings.Finding]:
    for link in joined:
        if link.kind != "pump" or link.shut:
            continue
        flow = made.flows[link.id]
        curve = hydraulics.pump_curve(link.curve)
        if abs(flow) < STILL and not _leads_on(nodes, joined, link):
            yield _say(
                "hydraulics/pump-against-shut",
                findings.Level.ACT,
                f"pump {link.id} runs against a shut valve",
                "open the valve or stop the pump: the water in it heats",
                pump=link.id,
            )
        elif abs(flow) < STILL:
            lift = float(hydraulics.pump_head(curve, 0.0, link.speed))
            yield _say(
                "hydraulics/pump-cannot-lift",
                findings.Level.ACT,
                f"pump {link.id} runs and moves nothing: its {lift:.1f} m at no flow do not reach",
                "look for a level, a valve or a speed that is not as drawn",
                pump=link.id,
            )
        elif flow > BEYOND * curve.last * link.speed:
            yield _say(
                "hydraulics/pump-beyond-curve",
                findings.Level.WATCH,
                f"pump {link.id} moves {flow * 3600.0:.1f} m³/h, and its curve ends at "
                f"{curve.last * link.speed * 3600.0:.1f} m³/h",
                "throttle it, or get more of its curve: motor load and suction are not known there",
                pump=link.id,
            )
