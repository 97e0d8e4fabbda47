"""The placer of labels: every text finds a place where nothing else stands."""

import itertools
import random

import inked
import pytest

from brinehouse.web import loop_labels


def wanted(x, y, width=60.0, height=13.0, anchor=None, reach=0.0):
    return loop_labels.Wanted(width=width, height=height, spots=[(x, y)], anchor=anchor, reach=reach)


def box(found, one):
    return (found.x, found.y, found.x + one.width, found.y + one.height)


def test_a_free_spot_is_taken_as_it_was_wanted():
    found = loop_labels.place(loop_labels.Sheet(400), wanted(50, 60), loop_labels.Sheet(400))
    assert (found.x, found.y, found.leader) == (50, 60, None)


def test_a_label_steps_aside_for_a_line():
    sheet = loop_labels.Sheet(400)
    sheet.line([(0, 66), (400, 66)])
    one = wanted(50, 60)
    found = loop_labels.place(sheet, one, loop_labels.Sheet(400))
    assert not inked.crosses(box(found, one), (0, 66), (400, 66))
    assert abs(found.y - 60) < 20


@pytest.mark.parametrize("seed", range(8))
def test_no_two_labels_and_no_line_ever_meet(seed):
    chance = random.Random(seed)
    sheet, texts = loop_labels.Sheet(500), loop_labels.Sheet(500)
    lines = [[(chance.uniform(0, 500), chance.uniform(0, 300)) for _ in range(2)] for _ in range(12)]
    for line in lines:
        sheet.line(line)
    placed = []
    for _ in range(40):
        one = wanted(
            chance.uniform(0, 430),
            chance.uniform(0, 290),
            chance.uniform(20, 120),
            chance.choice((13.0, 29.0)),
        )
        placed.append(box(loop_labels.place(sheet, one, texts), one))
    assert not [pair for pair in itertools.combinations(placed, 2) if inked.over(*pair)]
    assert not [(line, one) for line in lines for one in placed if inked.crosses(one, *line)]


def test_a_placer_that_looks_at_nothing_is_found():
    """The planted fault of the test above."""
    chance = random.Random(0)
    blind = [box(loop_labels.Placed(x=x, y=y), wanted(x, y)) for x, y in
             ((chance.uniform(0, 430), chance.uniform(0, 290)) for _ in range(40))]  # fmt: skip
    assert [pair for pair in itertools.combinations(blind, 2) if inked.over(*pair)]


def test_a_full_sheet_grows_downwards():
    sheet = loop_labels.Sheet(100)
    sheet.take((0, 0, 100, 900))
    one = wanted(10, 10)
    assert loop_labels.place(sheet, one, loop_labels.Sheet(100)).y > 900


def test_a_label_that_went_far_gets_a_line_that_ends_at_the_edge_of_its_thing():
    sheet = loop_labels.Sheet(400)
    sheet.take((60, 60, 140, 140))
    found = loop_labels.place(
        sheet, wanted(90, 95, 20, anchor=(100, 100), reach=17.0), loop_labels.Sheet(400)
    )
    assert found.leader is not None
    (_, end) = found.leader
    assert ((end[0] - 100) ** 2 + (end[1] - 100) ** 2) ** 0.5 == pytest.approx(17.0, abs=0.1)


def test_nothing_stands_outside_the_sheet():
    sheet = loop_labels.Sheet(120)
    found = loop_labels.place(sheet, wanted(100, 20), loop_labels.Sheet(120))
    assert 0 <= found.x <= 60


def test_a_label_as_wide_as_its_sheet_still_ends_up_somewhere():
    sheet = loop_labels.Sheet(100)
    sheet.take((0, 0, 100, 50))
    for width in (96.0, 100.0, 140.0):
        assert loop_labels.place(sheet, wanted(0, 10, width), loop_labels.Sheet(100)).y >= 10
