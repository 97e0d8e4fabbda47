"""The layout program: the same plant gives the same drawing, and what cannot be drawn is said."""

import concurrent.futures
import copy
import itertools
import json

import pytest

from brinehouse.web.elk import layout

BOX = {"width": 40, "height": 30}


def ring(size):
    """A loop of boxes, as a plant is."""
    return {
        "id": "plant",
        "children": [{"id": f"n{i}", **BOX} for i in range(size)],
        "edges": [
            {"id": f"e{i}", "sources": [f"n{i}"], "targets": [f"n{(i + 1) % size}"]} for i in range(size)
        ],
    }


def places(drawn):
    return {node["id"]: (node["x"], node["y"]) for node in drawn["children"]}


def test_the_same_plant_is_drawn_the_same_by_another_engine():
    graph = {**ring(7), "layoutOptions": dict(layout.SETTINGS)}
    first, second = (json.loads(layout.Engine().layout(json.dumps(graph))) for _ in range(2))
    assert places(first) == places(second) == places(layout.laid_out(ring(7)))


def test_no_two_boxes_share_a_spot_and_pipes_run_at_right_angles():
    drawn = layout.laid_out(ring(9))
    spots = sorted(places(drawn).values())
    for i, (x, y) in enumerate(spots):
        assert all(abs(x - u) >= 40 or abs(y - v) >= 30 for u, v in spots[i + 1 :])
    for edge in drawn["edges"]:
        for section in edge["sections"]:
            line = [section["startPoint"], *section.get("bendPoints", []), section["endPoint"]]
            for a, b in itertools.pairwise(line):
                assert abs(a["x"] - b["x"]) < 1e-6 or abs(a["y"] - b["y"]) < 1e-6


def test_a_pipe_that_ends_at_nothing_cannot_be_drawn_and_the_next_drawing_still_can():
    broken = copy.deepcopy(ring(3))
    broken["edges"][0]["targets"] = ["nowhere"]
    with pytest.raises(layout.Unplaceable, match="nowhere"):
        layout.laid_out(broken)
    assert len(layout.laid_out(ring(3))["children"]) == 3


def test_many_readers_ask_at_once():
    with concurrent.futures.ThreadPoolExecutor(6) as pool:
        drawn = list(pool.map(lambda size: layout.laid_out(ring(size)), [4, 5, 6, 4, 5, 6]))
    assert places(drawn[0]) == places(drawn[3])
    assert [len(one["children"]) for one in drawn] == [4, 5, 6, 4, 5, 6]


def test_a_kept_drawing_cannot_be_spoilt_by_whoever_took_it():
    taken = layout.laid_out(ring(4))
    taken["children"].clear()
    assert len(layout.laid_out(ring(4))["children"]) == 4
