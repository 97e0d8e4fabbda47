"""A what-if that takes a machine out, or brings one, still lies on the way as it is today."""

import pathlib
import sys

import pytest

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "network" / "profile"))

import inked
import oddhalls
import sketching

from brinehouse.facility import reading
from brinehouse.network.profile import building
from brinehouse.web import catalogue, loop_drawing, loop_overlay, loop_words

SAY = loop_words.Say(catalogue.Words())


def profile(text):
    hall = reading.read(text.encode()).facility
    return building.build(hall, "p", sketching.layout(hall), {})


def long():
    text = oddhalls.loop().replace('through = ["P-9"]', 'through = ["P-9", "uv", "hx"]')
    return text + oddhalls.machine("uv", "uv", "U-9", 1.0) + oddhalls.machine("hx", "chiller", "E-9", 1.0)


def short():
    return long().replace('through = ["P-9", "uv", "hx"]', 'through = ["P-9", "hx"]')


def test_what_stays_stands_where_it_stands_today():
    today, then = profile(long()).reaches[0], profile(short()).reaches[0]
    pairs, left = loop_overlay.paired([today], [then])
    assert left == []
    tank = next(n for n, stop in enumerate(today.stops) if stop.place and n)
    assert [dot.s for line in pairs[0].head for dot in line if dot.where == "surface"][-2:] == [
        2 * tank,
        2 * tank + 1,
    ]


def test_what_goes_is_said_at_its_place():
    drawn = str(loop_drawing.picture(profile(long()), SAY, then=profile(short())))
    assert "then taken out" in drawn
    assert inked.touching(drawn) == []


def test_what_comes_stands_between_its_neighbours():
    today, then = profile(short()).reaches[0], profile(long()).reaches[0]
    ((stop, s),) = loop_overlay.added(today, then)
    assert stop.id == "uv"
    assert s == pytest.approx(
        2 * 1 + 1.5
    )  # half way along the pipe after the pump, which is the second thing
    drawn = str(loop_drawing.picture(profile(short()), SAY, then=profile(long())))
    assert "then U-9" in drawn
    assert inked.touching(drawn) == []


def test_quite_another_way_is_drawn_apart():
    other = profile(oddhalls.loop(sump_name="well", tank_name="pool")).reaches[0]
    pairs, left = loop_overlay.paired([profile(long()).reaches[0]], [other])
    assert pairs == {}
    assert left == [other]


def test_a_system_that_is_gone_leaves_today_as_it_is():
    assert loop_overlay.paired([profile(long()).reaches[0]], []) == ({}, [])
