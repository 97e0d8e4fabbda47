"""The plant drawing: no two things on one spot, every pipe ends at a symbol, every mark tells its number."""

import importlib.resources
import itertools
import re
from datetime import UTC, datetime

import pytest

from brinehouse.facility import reading
from brinehouse.web import catalogue, letters, plant_drawing, plant_graph, plant_sheet
from brinehouse.workbench import plant

AT = datetime(2026, 3, 1, tzinfo=UTC)
WORDS = catalogue.Words("en")


@pytest.fixture(scope="module")
def look():
    text = importlib.resources.files("brinehouse.demo").joinpath("hall.toml").read_text("utf-8")
    facility = reading.read(text).facility
    states = {pump: (pump not in ("P-204", "P-302", "P-401"), AT) for pump in facility.pumps}
    return plant.of(facility, states)


def say(look):
    return plant_drawing.Say(WORDS, look.display)


def rooms(one, look, down):
    boxes = {part.id: plant_graph.box(part, WORDS, look.display, down=down) for part in one.parts}
    labels = plant_drawing._labels(one, say(look))
    return boxes, labels, plant_graph.laid_out(one, boxes, labels, down=down)


def apart(a, b):
    return (
        a["x"] + a["width"] <= b["x"] + 1e-6
        or b["x"] + b["width"] <= a["x"] + 1e-6
        or a["y"] + a["height"] <= b["y"] + 1e-6
        or b["y"] + b["height"] <= a["y"] + 1e-6
    )


@pytest.mark.parametrize("down", [False, True])
def test_no_symbol_and_no_words_stand_on_others(look, down):
    for one in look.schemes:
        _, _, placed = rooms(one, look, down)
        taken = [
            *placed["children"],
            *(label for edge in placed["edges"] for label in edge.get("labels", [])),
        ]
        for a, b in itertools.combinations(taken, 2):
            assert apart(a, b), (a["id"], b["id"])


def test_the_measure_of_overlap_bites():
    room = {"x": 0.0, "y": 0.0, "width": 10.0, "height": 10.0}
    assert not apart(room, {**room, "x": 9.0})
    assert apart(room, {**room, "x": 10.0})


@pytest.mark.parametrize("down", [False, True])
def test_no_pipe_runs_through_a_symbol(look, down):
    for one in look.schemes:
        boxes, _, placed = rooms(one, look, down)
        solid = {node["id"]: node for node in placed["children"] if boxes[node["id"]].words}
        for edge in placed["edges"]:
            ends = {edge["sources"][0].split("|")[0], edge["targets"][0].split("|")[0]}
            for section in edge["sections"]:
                way = [section["startPoint"], *section.get("bendPoints", []), section["endPoint"]]
                for a, b in itertools.pairwise(way):
                    line = {
                        "x": min(a["x"], b["x"]), "y": min(a["y"], b["y"]),
                        "width": abs(a["x"] - b["x"]), "height": abs(a["y"] - b["y"]),
                    }  # fmt: skip
                    for id, node in solid.items():
                        assert id in ends or apart(line, node), (edge["id"], id)


def test_words_fit_the_room_they_were_given(look):
    for one in look.schemes:
        for part in one.parts:
            room = plant_graph.box(part, WORDS, look.display)
            for text, kind in room.words:
                assert letters.width(text, plant_graph.size(kind)) <= room.width


def test_a_pump_that_runs_and_one_that_rests_differ_in_shape_and_word(look):
    text = str(plant_drawing.scheme(look.schemes[0], say(look)))
    assert text.count("p-runs") == 3
    assert text.count(">runs<") == 3
    assert text.count(">rests<") == 1
    assert "p-still" in text
    assert "act" not in re.findall(r'class="([^"]*)"', text)


def test_each_mark_leads_to_its_row_and_tells_what_it_is(look):
    for one in look.schemes:
        drawn = str(plant_drawing.both(one, say(look)))
        rows = {row.id for row in plant_sheet.section(one, WORDS, say(look)).rows}
        assert set(re.findall(r'href="#([^"]+)"', drawn)) == rows
        assert drawn.count("<title>") == drawn.count("</title>") > 2 * len(rows)


def test_the_same_plant_gives_the_same_drawing(look):
    one = look.schemes[0]
    assert plant_drawing.both(one, say(look)) == plant_drawing.both(one, say(look))


def test_the_drawing_of_the_invented_hall_stands_where_it_stood(look):
    """A changed layout program or a changed order would move it: then look at it before this is changed."""
    _, _, placed = rooms(look.schemes[2], look, False)
    spots = {node["id"]: (round(node["x"]), round(node["y"])) for node in placed["children"]}
    frozen_order = ["sump-c", "P-401", "header:return-c", "chiller-c", "cold-bench"]
    assert sorted(frozen_order, key=lambda id: spots[id][0]) == frozen_order
    assert spots["P-401"][0] == spots["P-402"][0]


def test_the_title_says_which_group_is_short(look):
    from dataclasses import replace

    assert plant_sheet.title(look, WORDS) == "5 of 8 pumps run, and every group has as many as it should"
    (group,) = look.schemes[0].groups
    lame = replace(look.schemes[0], groups=(replace(group, running=2),))
    assert (
        plant_sheet.title(replace(look, schemes=(lame,)), WORDS) == "return pumps of m: 2 run where 3 should"
    )


def test_the_page_is_served_and_leads_from_every_symbol_to_its_row(served_demo):
    page = served_demo.get("/plant").text
    wanted = set(re.findall(r'href="#(plant-[^"]+)"', page))
    assert wanted
    assert wanted <= set(re.findall(r'id="(plant-[^"]+)"', page))
    assert "licensed trades" in page


def test_a_hall_without_runs_is_told_what_to_write(small):
    page = small.get("/plant").text
    assert "[run.ID]" in page


def test_for_broad_paper_the_drawing_across_is_printed(served_demo):
    assert 'class="broad"' not in served_demo.get("/plant").text
    page = served_demo.get("/plant?paper=a3").text
    assert 'class="broad"' in page
    assert "broad-a3.css" in page
    assert 'class="broad"' not in served_demo.get("/plant?paper=a9").text
