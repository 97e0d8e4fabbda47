"""Gas against depth: who stands above the gas line, at one scale, and what is cut away."""

import re

import pytest
from pieces import kinds

from brinehouse.web import drawing

PIPEFISH = drawing.Column(
    name="pipefish", depth=0.9, gas=0.45, low=0.41, high=0.49, shallow=0.2, deep=0.7, level="act"
)
MANGROVE = drawing.Column(name="mangrove", depth=2.6, gas=0.28, low=0.2, high=0.36, shallow=0.6, deep=2.2)


def test_animals_above_the_gas_line_are_drawn_above_it_with_the_mark_of_act():
    drawn = drawing.gas_depths([PIPEFISH])
    fish = float(re.search(r"translate\(50 ([\d.]+)\)", drawn)[1])
    line = float(re.search(r'M26 ([\d.]+)L90 \1" class="d-gas"', drawn)[1])
    assert fish < line
    assert kinds(drawn, "d-act-fill")


def test_animals_below_the_gas_line_carry_no_mark():
    drawn = drawing.gas_depths([MANGROVE])
    assert not kinds(drawn, "d-act-fill")
    assert not kinds(drawn, "d-watch-fill")


def test_one_depth_stands_at_one_height_in_every_tank():
    drawn = drawing.gas_depths([PIPEFISH, MANGROVE])
    lines = [float(y) for y in re.findall(r'M26 ([\d.]+)L90 \1" class="d-gas"', drawn)]
    scale = [(line - 18.0) / depth for line, depth in zip(lines, (0.45, 0.28), strict=True)]
    assert scale[0] == pytest.approx(scale[1], rel=0.01)


def test_deep_water_is_broken_off_and_says_how_deep_it_is():
    drawn = drawing.gas_depths([PIPEFISH, MANGROVE])
    assert len(kinds(drawn, "d-blank")) == 1
    assert ">2.6</text>" in drawn


def test_water_below_saturation_has_no_tint():
    drawn = drawing.gas_depths([drawing.Column(name="x", depth=1.0, gas=0.0, shallow=0.3)])
    assert not kinds(drawn, "d-gas-water")


def test_an_unknown_gas_line_is_not_drawn():
    drawn = drawing.gas_depths([drawing.Column(name="x", depth=1.0, gas=None, shallow=0.3)])
    assert not kinds(drawn, "d-gas")
