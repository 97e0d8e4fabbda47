"""Heads and flows of a sixty-link plant, beside EPANET 2.2 with its file round trip through wntr.

Targets: at most a fifth of EPANET's time for one plant, and at most 0.2 ms a scenario for a thousand of them
(told as milliseconds over 0.2). The peer's time is that of `run_sim` alone: writing its file, EPANET itself
and reading what it wrote; the bare library stands beside. The turns alternate, the best of each is compared.
"""

from __future__ import annotations

import pathlib
import tempfile
import time
import warnings

import numpy as np

from brinehouse.network.hydraulics import links, solving

TURNS = 20
SCENARIOS = 1000
TARGET = 0.2  # ours over theirs
EACH = 0.2  # ms a scenario
HOUR = 3600.0
CURVE = ((0.0, 14.0), (24 / HOUR, 11.0), (45 / HOUR, 5.5))
VISCOSITY = 1.1e-5 * 0.3048**2  # EPANET's own for a relative viscosity of 1


def plant(pumps: int = 4, tanks: int = 8, machines: int = 3) -> tuple[list[links.Node], list[links.Link]]:
    """One sump, pumps with strainers and checks, machines, and a branch with a valve to each tank."""
    nodes = [links.Node(id="sump", head=1.0), links.Node(id="m")]
    joined: list[links.Link] = []
    for i in range(pumps):
        nodes += [links.Node(id=f"{word}{i}") for word in ("s", "d")]
        joined += [
            links.Link(id=f"suction{i}", source="sump", target=f"s{i}", length=3, diameter=0.1, loss=5.0),
            links.Link(id=f"pump{i}", source=f"s{i}", target=f"d{i}", kind="pump", curve=CURVE),
            links.Link(
                id=f"check{i}", source=f"d{i}", target="m", length=2, diameter=0.1, loss=2.5, check=True
            ),
        ]
    last = "m"
    for i in range(machines):
        for word, length, loss in (("a", 4.0, 9.0), ("b", 5.0, 1.5)):
            nodes.append(links.Node(id=f"{word}{i}"))
            joined.append(
                links.Link(
                    id=f"{word}-{i}",
                    source=last,
                    target=f"{word}{i}",
                    length=length,
                    diameter=0.15,
                    loss=loss,
                )
            )
            last = f"{word}{i}"
    for i in range(tanks):
        here = last
        nodes.append(links.Node(id=f"t{i}", head=3.0 + 0.4 * i))
        for k in range(5):
            there = f"t{i}" if k == 4 else f"t{i}-{k}"
            if k < 4:
                nodes.append(links.Node(id=there))
            joined.append(
                links.Link(id=f"r{i}-{k}", source=here, target=there, length=3.0, diameter=0.08, loss=1.5 + k)
            )
            here = there
    return nodes, joined


def _peer(nodes: list[links.Node], joined: list[links.Link]):
    """The same plant for wntr."""
    import wntr

    made = wntr.network.WaterNetworkModel()
    made.options.hydraulic.headloss = "D-W"
    made.options.hydraulic.accuracy = 1e-8
    made.options.time.duration = 0
    made.add_curve("c", "HEAD", list(CURVE))
    for node in nodes:
        if node.head is None:
            made.add_junction(node.id, base_demand=0.0, elevation=0.0)
        else:
            made.add_reservoir(node.id, base_head=node.head)
    for link in joined:
        if link.kind == "pump":
            made.add_pump(link.id, link.source, link.target, "HEAD", "c")
        else:
            made.add_pipe(
                link.id, link.source, link.target, length=link.length, diameter=link.diameter,
                roughness=link.roughness, minor_loss=link.loss, check_valve=link.check,
            )  # fmt: skip
    return made


def run(turns: int = TURNS, scenarios: int = SCENARIOS) -> list[dict[str, object]]:
    """Time one plant and many; refuses to compare speeds where the flows differ."""
    nodes, joined = plant()
    with warnings.catch_warnings(), tempfile.TemporaryDirectory() as folder:
        warnings.simplefilter("ignore")
        import wntr

        model = _peer(nodes, joined)
        prefix = str(pathlib.Path(folder) / "net")
        ours, theirs, bare = [], [], []
        for _ in range(turns):
            start = time.perf_counter()
            made = solving.solve(nodes, joined, viscosity=VISCOSITY)
            ours.append(time.perf_counter() - start)
            start = time.perf_counter()
            found = wntr.sim.EpanetSimulator(model).run_sim(file_prefix=prefix)
            theirs.append(time.perf_counter() - start)
            bare.append(_bare(prefix))
        flows = found.link["flowrate"].iloc[0]
        for link in joined:
            np.testing.assert_allclose(made.flows[link.id], flows[link.id], atol=2e-5)
    best = min(ours[1:])
    return [
        {
            "name": f"one plant of {len(joined)} links over EPANET by wntr",
            "ratio": best / min(theirs[1:]), "target": TARGET, "ours_milliseconds": 1e3 * best,
            "epanet_milliseconds": 1e3 * min(theirs[1:]), "bare_epanet_milliseconds": 1e3 * min(bare),
        },
        _many(nodes, joined, scenarios, turns, best),
    ]  # fmt: skip


def _bare(prefix: str) -> float:
    """EPANET's own reading and solving of the file that wntr wrote."""
    from wntr.epanet.toolkit import ENepanet

    start = time.perf_counter()
    kernel = ENepanet()
    kernel.ENopen(f"{prefix}.inp", f"{prefix}.rpt", f"{prefix}.bin")
    kernel.ENsolveH()
    kernel.ENclose()
    return time.perf_counter() - start


def _many(
    nodes: list[links.Node], joined: list[links.Link], scenarios: int, turns: int, alone: float
) -> dict[str, object]:
    chance = np.random.default_rng(20261125)
    variations = {
        "open": {f"pump{i}": (chance.random(scenarios) < 0.8).astype(float) for i in range(4)},
        "loss": {f"suction{i}": chance.uniform(5.0, 60.0, scenarios) for i in range(4)},
        "head": {"sump": chance.uniform(0.6, 1.2, scenarios)},
    }
    times = []
    for _ in range(turns):
        start = time.perf_counter()
        many = solving.solve_many(nodes, joined, variations=variations, viscosity=VISCOSITY)
        times.append(time.perf_counter() - start)
    assert many.converged.all()
    each = 1e3 * min(times) / scenarios
    return {
        "name": f"each of {scenarios} scenarios together, over {EACH} ms",
        "ratio": each / EACH, "target": 1.0, "milliseconds_each": each, "alone_milliseconds": 1e3 * alone,
    }  # fmt: skip
