"""The solver against EPANET and print; water neither made nor lost; whatever cannot run is said."""

import dataclasses
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from brinehouse import findings
from brinehouse.network.hydraulics import links, solving

sys.path.insert(0, str(Path(__file__).parent))
import epanet

pytestmark = pytest.mark.filterwarnings("ignore")  # the oracle's own imports warn
H = 3600.0
CURVE = ((0.0, 14.0), (60 / H, 11.0), (110 / H, 4.0))
# EPANET 2.0 report of Net1 in a public copy (epanetReader, Net1-gui.rpt), gpm and ft, printed to 0.01
NET1_FLOWS = {
    "9": 1866.18, "12": 129.34, "21": 191.16, "22": 120.66, "31": 40.81, "110": -766.18, "111": 481.97,
    "113": 29.34, "121": 140.81, "122": 59.19,
}  # fmt: skip
NET1_HEADS = {"10": 1004.35, "11": 985.23, "12": 970.07, "13": 968.87, "22": 969.08, "23": 968.65}


def plant(on=(True, True, True), *, level=4.0, curve=CURVE, riser=True):
    """Three pumps behind check valves, a filter and a riser (the page of worked values gives its sizes)."""
    nodes = [
        links.Node(id="sump", head=0.0), links.Node(id="s"), links.Node(id="m"), links.Node(id="f"),
        links.Node(id="tank", head=level),
    ]  # fmt: skip
    joined = [
        links.Link(id="suction", source="sump", target="s", length=2, diameter=0.2, loss=1),
        links.Link(id="filter", source="m", target="f", length=5, diameter=0.15, loss=8),
        links.Link(id="riser", source="f", target="tank", length=20, diameter=0.2, loss=4, open=riser),
    ]
    for i in range(3):
        nodes.append(links.Node(id=f"d{i}"))
        joined += [
            links.Link(id=f"p{i}", source="s", target=f"d{i}", kind="pump", curve=curve, open=on[i]),
            links.Link(id=f"c{i}", source=f"d{i}", target="m", length=1, diameter=0.15, loss=2.5, check=True),
        ]
    return nodes, joined


def run(*args, **kwargs):
    return solving.solve(*plant(*args, **kwargs), viscosity=1.07e-6 * 0.965)


def codes(made):
    return {finding.code for finding in made.findings}


@pytest.mark.parametrize(
    ("on", "flow"),
    [((True, False, False), 100.259), ((True, True, False), 169.278), ((True, True, True), 208.94)],
)
def test_parallel_pumps_give_what_epanet_gives(on, flow):
    # computed by EPANET 2.2 and by an independent calculation; not 1 : 2 : 3
    assert run(on).flows["riser"] * H == pytest.approx(flow, abs=0.03)


def test_net1_reproduces_the_printed_report():
    made = solving.solve(*epanet.ours(epanet.model("Net1")))
    for id, printed in NET1_FLOWS.items():
        assert made.flows[id] / epanet.GPM == pytest.approx(printed, abs=0.02), id
    for id, printed in NET1_HEADS.items():
        assert made.heads[id] / epanet.FOOT == pytest.approx(printed, abs=0.02), id


def test_the_tutorial_network_is_reproduced():
    # sizes: EPANET 2.2 manual, its tutorial (pattern 0.5, gpm and ft); heads and flows computed by EPANET
    # 2.2 in wntr 1.5.0, which an independent solver meets to 0.01
    nodes = [links.Node(id="1", head=700 * epanet.FOOT), links.Node(id="7", head=855 * epanet.FOOT)]
    demands = {"2": 0, "3": 650, "4": 150, "5": 200, "6": 150}
    nodes += [links.Node(id=id, demand=0.5 * gpm * epanet.GPM) for id, gpm in demands.items()]
    pipes = ("2 3 3000 12", "3 6 5000 12", "3 4 5000 8", "4 5 5000 8", "5 6 5000 8", "6 7 7000 10")
    joined = [
        links.Link(
            id="7", source="1", target="2", kind="pump", curve=((1000 * epanet.GPM, 200 * epanet.FOOT),)
        )
    ]
    for number, pipe in enumerate(pipes, 1):
        source, target, length, bore = pipe.split()
        joined.append(
            links.Link(
                id=str(number), source=source, target=target, kind="hazen", smoothness=100.0,
                length=float(length) * epanet.FOOT, diameter=float(bore) * 0.0254,
            )
        )  # fmt: skip
    made = solving.solve(nodes, joined)
    flows = (1049.81, 559.25, 165.56, 90.56, -9.44, 474.81, 1049.81)
    heads = (893.19, 879.67, 874.36, 872.62, 872.65)
    assert [made.flows[str(k)] / epanet.GPM for k in range(1, 8)] == pytest.approx(flows, abs=0.02)
    assert [made.heads[str(k)] / epanet.FOOT for k in range(2, 7)] == pytest.approx(heads, abs=0.02)


def test_a_swapped_pump_would_not_reproduce_it():
    nodes, joined = epanet.ours(epanet.model("Net1"))
    lame = [dataclasses.replace(one, speed=0.99) if one.kind == "pump" else one for one in joined]
    made = solving.solve(nodes, lame)
    assert made.flows["9"] / epanet.GPM != pytest.approx(NET1_FLOWS["9"], abs=0.02)


@pytest.mark.parametrize("name", ["Net1", "Net2", "Net3"])
def test_heads_and_flows_are_epanet_s(name, tmp_path):
    model = epanet.model(name)
    made = solving.solve(*epanet.ours(model))
    heads, flows = epanet.answer(model, tmp_path)
    assert made.converged
    for id, head in heads.items():
        assert made.heads[id] == pytest.approx(head, abs=2e-3)
    largest = max(abs(flow) for flow in flows.values())
    for id, flow in flows.items():
        assert made.flows[id] == pytest.approx(flow, abs=1e-4 * largest)


def test_darcy_and_weisbach_are_epanet_s_too(tmp_path):
    """The viscosity is what must agree: EPANET's own default is 1.022e-6 m2/s for a relative one of 1."""
    model = epanet.model("Net1")
    model.options.hydraulic.headloss = "D-W"
    for _, pipe in model.pipes():
        pipe.roughness = 0.1e-3
    nodes, joined = epanet.ours(model, darcy=True)
    heads, flows = epanet.answer(model, tmp_path)
    made = solving.solve(nodes, joined, viscosity=1.1e-5 * epanet.FOOT**2)
    for id, head in heads.items():
        assert made.heads[id] == pytest.approx(head, abs=5e-3)
    for id, flow in flows.items():
        assert made.flows[id] == pytest.approx(flow, abs=1e-5)


@settings(max_examples=40)
@given(
    some.tuples(*[some.booleans()] * 3),
    some.floats(-2.0, 16.0),
    some.lists(some.floats(0.0, 60.0), min_size=3, max_size=3),
)
def test_no_water_is_made_or_lost(on, level, blocked):
    nodes, joined = plant(on, level=level)
    joined = [
        dataclasses.replace(one, loss=one.loss + blocked[int(one.id[1])]) if one.id.startswith("c") else one
        for one in joined
    ]
    made = solving.solve(nodes, joined)
    assert made.converged
    for node in nodes:
        if node.head is not None:
            continue
        entering = sum(made.flows[one.id] for one in joined if one.target == node.id)
        leaving = sum(made.flows[one.id] for one in joined if one.source == node.id)
        assert entering == pytest.approx(leaving, abs=1e-9)
    assert all(made.flows[f"c{i}"] >= -1e-9 for i in range(3))


def test_swapping_equal_pumps_changes_nothing():
    assert run((True, False, True)).flows["riser"] == pytest.approx(
        run((True, True, False)).flows["riser"], rel=1e-9
    )


@settings(max_examples=25)
@given(some.floats(0.05, 1.0), some.floats(0.05, 1.0))
def test_opening_a_valve_never_lowers_the_flow(less, more):
    less, more = sorted((less, more))
    flows = []
    for share in (less, more):
        nodes, joined = plant()
        valve = links.Link(
            id="riser", source="f", target="tank", kind="valve", diameter=0.2, loss=0.3, share_open=share
        )
        flows.append(
            solving.solve(nodes, [valve if one.id == "riser" else one for one in joined]).flows["riser"]
        )
    assert flows[1] >= flows[0] * (1 - 1e-9)


def test_a_thousand_scenarios_are_each_what_one_alone_would_be():
    nodes, joined = plant()
    rng = np.random.default_rng(3)
    rows = 60
    on = {f"p{i}": (rng.random(rows) < 0.7).astype(float) for i in range(3)}
    loss = {"filter": rng.uniform(2.0, 90.0, rows)}
    level = {"tank": rng.uniform(-1.0, 13.0, rows)}
    many = solving.solve_many(nodes, joined, variations={"open": on, "loss": loss, "head": level})
    at = many.link_ids.index("riser")
    for row in range(rows):
        alone = solving.solve(
            [dataclasses.replace(n, head=level["tank"][row]) if n.id == "tank" else n for n in nodes],
            [
                dataclasses.replace(one, loss=loss["filter"][row]) if one.id == "filter"
                else dataclasses.replace(one, open=bool(on[one.id][row])) if one.id in on else one
                for one in joined
            ],
        )  # fmt: skip
        assert many.flows[row, at] == pytest.approx(alone.flows["riser"], abs=1e-8)


def test_water_falls_back_through_a_pump_that_has_no_check_but_not_through_one_that_has():
    made = run((False, False, False))
    assert abs(made.flows["riser"]) < 1e-12
    nodes, joined = plant((True, False, False))
    open_back = [
        dataclasses.replace(one, kind="pipe", length=1.0, open=True) if one.id == "p1" else one
        for one in joined
    ]
    open_back = [dataclasses.replace(one, check=False) if one.id == "c1" else one for one in open_back]
    made = solving.solve(nodes, open_back)
    assert made.flows["c1"] < -1e-3  # the idle pump's branch leaks back: why a check valve stands there


def test_a_pump_against_a_shut_valve_gives_its_shut_off_head_and_is_said():
    nodes, joined = plant((True, False, False), riser=False)
    made = solving.solve(nodes, joined)
    assert "hydraulics/pump-against-shut" in codes(made)
    assert made.flows["p0"] == 0.0


def test_a_pump_that_cannot_lift_is_said():
    made = run((True, False, False), level=20.0)
    assert "hydraulics/pump-cannot-lift" in codes(made)
    assert made.flows["riser"] == pytest.approx(0.0, abs=1e-9)
    assert made.states["c0"] == "held"


def test_a_pump_beyond_its_curve_is_said():
    made = run((True, False, False), level=-6.0)
    assert made.flows["p0"] > CURVE[-1][0]
    assert "hydraulics/pump-beyond-curve" in codes(made)
    assert "hydraulics/pump-beyond-curve" not in codes(run())


def test_everything_shut_is_said():
    nodes, joined = plant()
    made = solving.solve(nodes, [dataclasses.replace(one, open=False) for one in joined])
    assert "hydraulics/all-shut" in codes(made)
    assert set(made.flows.values()) == {0.0}


def test_a_part_that_no_way_joins_has_no_head_and_is_said():
    nodes, joined = plant()
    nodes = [*nodes, links.Node(id="a"), links.Node(id="b"), links.Node(id="c")]
    joined = [
        *joined,
        *(
            links.Link(id=f"x{i}", source=s, target=t, length=1)
            for i, (s, t) in enumerate(("ab", "bc", "ca"))
        ),
    ]
    joined.append(links.Link(id="stub", source="a", target="f", length=1, open=False))
    made = solving.solve(nodes, joined)
    assert "hydraulics/cut-off" in codes(made)
    assert "b" not in made.heads


def test_water_wanted_where_none_can_come_is_said():
    nodes, joined = plant()
    nodes = [*nodes, links.Node(id="tap", demand=1e-3)]
    joined.append(links.Link(id="branch", source="f", target="tap", length=1, open=False))
    assert "hydraulics/demand-cut-off" in codes(solving.solve(nodes, joined))


def test_a_dry_sump_gives_no_water():
    nodes, joined = plant()
    nodes = [dataclasses.replace(one, elevation=0.2) if one.id == "sump" else one for one in nodes]
    made = solving.solve(nodes, joined)
    assert "hydraulics/dry-source" in codes(made)
    assert made.flows["riser"] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"head": None}, "hydraulics/no-fixed-head"),
        ({"target": "nowhere"}, "hydraulics/bad-link"),
        ({"diameter": 0.0}, "hydraulics/bad-link"),
        ({"curve": ()}, "hydraulics/bad-link"),
        ({"points": ((0.0, 1.0),)}, "hydraulics/bad-link"),
        ({"loss": -1.0}, "hydraulics/bad-link"),
    ],
)
def test_what_cannot_be_solved_stops_with_its_reason(change, code):
    nodes, joined = plant()
    if "head" in change:
        nodes = [dataclasses.replace(one, head=None) for one in nodes]
    else:
        which = "p0" if "curve" in change else "filter"
        joined = [dataclasses.replace(one, **change) if one.id == which else one for one in joined]
    made = solving.solve(nodes, joined)
    assert code in codes(made)
    assert all(finding.level is findings.Level.STOP for finding in made.findings)
    assert made.flows == {}


def test_two_parts_with_one_id_and_a_link_to_itself_are_refused():
    nodes, joined = plant()
    assert "hydraulics/bad-link" in codes(solving.solve([*nodes, nodes[0]], joined))
    ring = dataclasses.replace(joined[0], source="s", target="s")
    assert "hydraulics/bad-link" in codes(solving.solve(nodes, [ring, *joined[1:]]))


def test_what_does_not_come_to_rest_says_so(monkeypatch):
    monkeypatch.setattr(solving, "MOST", 1)
    made = run()
    assert not made.converged
    assert "hydraulics/not-settled" in codes(made)


def test_a_net_without_links_is_its_surfaces():
    made = solving.solve([links.Node(id="a", head=1.0)], [])
    assert made.heads == {"a": 1.0}


def test_variations_that_do_not_fit_are_refused():
    nodes, joined = plant()
    with pytest.raises(ValueError, match="not varied"):
        solving.solve_many(nodes, joined, variations={"colour": {"p0": [1.0]}})
    with pytest.raises(ValueError, match="unequal"):
        solving.solve_many(nodes, joined, variations={"open": {"p0": [1.0, 0.0], "p1": [1.0]}})


def test_a_part_that_no_surface_is_joined_to_shows_no_flow_even_where_a_pump_runs():
    nodes = [links.Node(id="tank", head=2.0), *(links.Node(id=id) for id in ("a", "b", "c"))]
    joined = [
        links.Link(id="alone", source="a", target="b", kind="pump", curve=CURVE),
        links.Link(id="left", source="b", target="a", length=4.0),
        links.Link(id="right", source="b", target="a", length=4.0),
        links.Link(id="shut", source="tank", target="a", kind="valve", open=False),
        links.Link(id="side", source="tank", target="c", length=1.0),
    ]
    made = solving.solve(nodes, joined)
    assert all(flow == pytest.approx(0.0, abs=1e-9) for flow in made.flows.values())
    assert made.states["alone"] == "cut off"
    assert "hydraulics/cut-off" in codes(made)


def test_a_check_valve_hands_the_standing_head_on():
    nodes = [links.Node(id="tank", head=5.0), *(links.Node(id=id) for id in ("a", "b", "c"))]
    joined = [
        links.Link(id="check", source="tank", target="a", length=1.0, check=True),
        links.Link(id="b", source="a", target="b", length=1.0),
        links.Link(id="c", source="a", target="c", length=1.0),
    ]
    made = solving.solve(nodes, joined)
    assert made.converged
    assert [made.heads[id] for id in ("a", "b", "c")] == pytest.approx([5.0] * 3, abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(some.integers(0, 2**32 - 1))
def test_any_net_comes_to_rest_and_keeps_every_drop(seed):
    chance = np.random.default_rng(seed)
    nodes = [
        links.Node(
            id=f"n{i}",
            head=float(chance.uniform(0, 8)) if i == 0 or chance.random() < 0.3 else None,
            demand=float(chance.uniform(0, 5e-3)) if chance.random() < 0.1 else 0.0,
        )
        for i in range(int(chance.integers(2, 9)))
    ]
    joined = []
    for at in range(int(chance.integers(1, 14))):
        source, target = chance.choice(len(nodes), 2, replace=False)
        kind = str(chance.choice(["pipe", "pump", "valve", "loss"]))
        joined.append(
            links.Link(
                id=f"l{at}", source=f"n{source}", target=f"n{target}", kind=kind, length=5.0, loss=1.0,
                check=bool(chance.random() < 0.3), open=bool(chance.random() < 0.9),
                diameter=float(chance.choice([0.05, 0.1, 0.2])), curve=CURVE if kind == "pump" else (),
                speed=float(chance.choice([1.0, 0.5])), share_open=float(chance.choice([1.0, 0.3, 0.0])),
            )
        )  # fmt: skip
    made = solving.solve(nodes, joined)
    assert made.converged
    for node in nodes:
        ends = [(one, (one.target == node.id) - (one.source == node.id)) for one in joined]
        if node.head is None:
            wanted = node.demand if node.id in made.heads else 0.0
            assert sum(made.flows[one.id] * sense for one, sense in ends) == pytest.approx(wanted, abs=1e-8)
    for one in joined:
        assert not one.shut or made.flows[one.id] == 0.0
        assert made.flows[one.id] > -1e-8 or not (one.check or one.kind == "pump")
