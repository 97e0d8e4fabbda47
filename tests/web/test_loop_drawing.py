"""The drawing of a loop: nothing touches, heights are true to scale, every mark tells its numbers."""

import importlib.resources
import itertools
import pathlib
import random
import re
import sys

import inked
import pytest

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "network" / "profile"))

import oddhalls
import sketching

from brinehouse.facility import reading
from brinehouse.network.profile import building, parts
from brinehouse.web import (
    catalogue,
    letters,
    loop_drawing,
    loop_file,
    loop_layout,
    loop_sheet,
    loop_symbols,
    loop_words,
)
from brinehouse.workbench import loop

SAY = loop_words.Say(catalogue.Words())
MMHG = 133.322387415


def demo():
    return importlib.resources.files("brinehouse.demo").joinpath("hall.toml").read_text("utf-8")


HALLS = {
    "demo": demo,
    "rack": oddhalls.rack,
    "shore": oddhalls.shore,
    "loop": oddhalls.loop,
    "column": oddhalls.loop_with_column,
}


def excess(mmhg, half=3.0, **more):
    return parts.Excess(value=mmhg * MMHG, low=(mmhg - half) * MMHG, high=(mmhg + half) * MMHG, **more)


def profiles(text, seed=0, blamed=""):
    hall = reading.read(text.encode()).facility
    chance = random.Random(seed)
    held = {
        place: excess(
            chance.uniform(-5, 45),
            total=102.3,
            total_half=0.6,
            old=chance.random() < 0.3,
            when="2026-02-25T02:03:00+00:00",
        )
        for place in [*hall.vessels, *hall.runs]
        if chance.random() < 0.8
    }
    layout = sketching.layout(hall)
    made = [building.build(hall, system, layout, held, blamed=blamed) for system in hall.systems]
    return [one for one in made if one.reaches]


@pytest.mark.parametrize("seed", [0, 1])
@pytest.mark.parametrize("size", loop_drawing.SIZES)
@pytest.mark.parametrize("name", HALLS)
def test_no_text_touches_a_text_a_line_or_an_edge(name, size, seed):
    for profile in profiles(HALLS[name](), seed, blamed="P-203"):
        assert inked.touching(loop_drawing.picture(profile, SAY, size)) == []


def test_a_label_moved_onto_a_line_is_found():
    drawn = str(loop_drawing.picture(profiles(oddhalls.loop())[0], SAY))
    kind, one, _ = next(row for row in inked.segments(drawn) if row[0] == "l-pipe")
    moved = re.sub(
        r'<text x="[^"]*" y="[^"]*" class="l-t name',
        f'<text x="{one[0]}" y="{one[1] + 4}" class="l-t name',
        drawn,
        count=1,
    )
    assert moved != drawn
    assert any(kind in fault for fault in inked.touching(moved))


def test_no_text_stands_outside_the_picture():
    for name, size in itertools.product(HALLS, loop_drawing.SIZES):
        for profile in profiles(HALLS[name]()):
            drawn = str(loop_drawing.picture(profile, SAY, size))
            wide, high = map(float, re.search(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)"', drawn).groups())
            out = [words for words, box in inked.texts(drawn)
                   if box[0] < -1 or box[2] > wide + 1 or box[1] < -1 or box[3] > high + 1]  # fmt: skip
            assert out == []


def test_no_letter_is_smaller_than_twelve():
    rules = (pathlib.Path(loop_file.files.folder()) / "loop.css").read_text("utf-8")
    sizes = [float(one) for one in re.findall(r"(?:font: [0-9]* ?|font-size: )([0-9.]+)px", rules)]
    assert sizes
    assert min(sizes) >= 12


@pytest.mark.parametrize("name", HALLS)
def test_elevation_is_true_to_one_scale(name):
    for profile in profiles(HALLS[name]()):
        rows = loop_layout.rows(profile, "wide")
        assert len({row.scale for row in rows}) == 1
        for row in rows:
            assert row.y(row.low) - row.y(row.low + 1.0) == pytest.approx(row.scale)


def test_the_gas_line_stands_as_deep_in_the_drawing_as_the_excess_says():
    profile = profiles(oddhalls.loop())[0]
    row = loop_layout.rows(profile, "wide")[0]
    tank = next(stop for stop in profile.stops if stop.kind == "tank")
    deep = (row.y(tank.line.value) - row.y(tank.surface)) / row.scale
    assert deep == pytest.approx(tank.gas.value / (tank.density * 9.80665))


def test_every_mark_says_its_numbers_and_leads_to_a_row_of_the_table():
    for profile in profiles(demo()):
        system = loop.System(profile=profile)
        name = f"loop-{profile.system}"
        rows = {row.id for row in loop_sheet.lines(system, SAY)}
        marks = list(inked.tree(loop_drawing.picture(profile, SAY, name=name)).iterfind(".//g[@data-row]"))
        assert len(marks) > 5
        for mark in marks:
            assert mark.get("data-row") in rows
            assert mark.get("tabindex") == "0"
            assert mark.get("aria-label") == mark.find("title").text
            assert len(mark.get("aria-label")) > 3


def test_a_mark_tells_height_excess_and_gas_line():
    profile = profiles(oddhalls.loop())[0]
    tank = next(stop for stop in profile.stops if stop.kind == "tank")
    said = SAY.place(tank)
    for part in ("3.00 m", "5.00 m", "ΔP", "kg/m³", "gas line"):
        assert part in said


def test_animals_above_the_line_carry_shape_and_words():
    hall = reading.read(oddhalls.loop(shallow=0.1).encode()).facility
    profile = building.build(hall, "p", sketching.layout(hall), {"high": excess(34.0)})
    drawn = str(loop_drawing.picture(profile, SAY))
    assert "l-fish l-act" in drawn
    assert "l-act-fill" in drawn
    assert "0.35 m too shallow" in drawn  # 34 mmHg is 0.45 m, the sketch of the sheet; animals from 0.10 m


def test_animals_under_the_line_are_in_ink():
    hall = reading.read(oddhalls.loop(shallow=1.0).encode()).facility
    profile = building.build(hall, "p", sketching.layout(hall), {"high": excess(34.0)})
    drawn = str(loop_drawing.picture(profile, SAY))
    assert "l-act" not in drawn.replace("l-act-fill", "")
    assert "too shallow" not in drawn


def test_a_suction_above_its_head_is_marked_in_words():
    drawn = str(loop_drawing.picture(profiles(oddhalls.loop())[0], SAY))
    assert "air can be drawn in" in drawn


def test_a_flooded_suction_is_left_in_peace():
    drawn = str(loop_drawing.picture(profiles(oddhalls.loop(pump_height=0.1))[0], SAY))
    assert "drawn in" not in drawn


def test_a_what_if_has_lines_of_its_own_shape():
    one, two = profiles(oddhalls.loop())[0], profiles(oddhalls.loop(crest=4.6))[0]
    drawn = str(loop_drawing.picture(one, SAY, then=two))
    assert "l-then-gas" in drawn
    assert "l-then-dot" in drawn


def test_a_what_if_that_changes_nothing_draws_nothing():
    one = profiles(oddhalls.loop())[0]
    assert str(loop_drawing.picture(one, SAY, then=one)) == str(loop_drawing.picture(one, SAY))


def test_new_names_of_the_same_length_leave_every_line_where_it_was():
    held = {"low": excess(10.0), "high": excess(20.0)}
    hall = reading.read(oddhalls.loop().encode()).facility
    other = reading.read(oddhalls.loop(sump_name="wol", tank_name="hgih").encode()).facility
    one = building.build(hall, "p", sketching.layout(hall), held)
    two = building.build(other, "p", sketching.layout(other), {"wol": held["low"], "hgih": held["high"]})
    drawn = [list(inked.segments(loop_drawing.picture(profile, SAY))) for profile in (one, two)]
    assert drawn[0] == drawn[1]


def test_a_name_with_markup_stays_a_name():
    text = oddhalls.loop().replace('name = "high"', 'name = "<script>x</script>"')
    drawn = str(loop_drawing.whole(profiles(text)[0], SAY))
    assert "<script" not in drawn
    assert "&lt;script&gt;" in drawn


def test_thirty_tanks_break_into_rows_and_stay_readable():
    for profile in profiles(oddhalls.rack()):
        assert len(loop_layout.rows(profile, "wide")) > 1


def test_a_very_high_head_is_cut_off_before_it_presses_the_tanks_flat():
    text = oddhalls.loop()
    hall = reading.read(text.encode()).facility
    layout = sketching.layout(hall)
    layout.stations["up"] = tuple(
        one
        if one.where != "discharge"
        else type(one)(**{**vars(one), "head": 60.0, "low": 59.0, "high": 61.0})
        for one in layout.stations["up"]
    )
    profile = building.build(hall, "p", layout, {})
    row = loop_layout.rows(profile, "wide")[0]
    assert row.clipped is not None
    assert row.scale > 40


def test_a_file_by_itself_holds_its_colours_and_letters():
    profile = profiles(demo())[0]
    text = loop_file.drawing(loop.System(profile=profile), SAY, "Highmoor Sea Hall", "2026-03-14 06:40")
    assert "var(--" not in text
    assert "tabindex" not in text
    assert "font/woff2;base64," in text
    inked.tree(text)  # well formed


def test_widths_are_those_of_the_letter():
    # as Chromium measures B612 at 1000 px: 'sump-m' 450+600+900+600+450+900
    assert letters.width("sump-m", 1000.0) == pytest.approx(3900.0)


@pytest.mark.parametrize(
    "kind",
    [
        "chiller",
        "heater",
        "uv",
        "ozone",
        "screen",
        "filter",
        "sand filter",
        "bag filter",
        "fractionator",
        "biofilter",
        "degasser",
        "contactor",
        "valve",
        "blower",
        "header",
        "odd thing",
    ],
)
def test_every_kind_of_machine_has_a_symbol(kind):
    assert "<path" in loop_symbols.symbol(kind, 10.0, 10.0)


def test_feet_stand_at_the_axis_where_the_house_reads_feet():
    from brinehouse import units

    say = loop_words.Say(catalogue.Words(), units.Display(length="ft"))
    drawn = str(loop_drawing.picture(profiles(oddhalls.loop())[0], say))
    assert "ft above plant-room floor" in drawn
    assert inked.touching(drawn) == []
