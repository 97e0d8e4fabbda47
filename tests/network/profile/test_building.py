"""A whole profile of small halls whose numbers can be worked by hand."""

import dataclasses
import importlib.resources

import oddhalls
import pytest
import sketching

from brinehouse.facility import reading
from brinehouse.network.profile import building, parts

MMHG = 133.322387415


def facility(text):
    checked = reading.read(text.encode())
    assert checked.facility is not None, [str(one) for one in checked.findings]
    return checked.facility


def excess(mmhg, half=2.0):
    return parts.Excess(value=mmhg * MMHG, low=(mmhg - half) * MMHG, high=(mmhg + half) * MMHG)


def profile(text, system="p", held=None, blocked=()):
    hall = facility(text)
    known = {"high": excess(21.0), "low": excess(28.0)} if held is None else held
    return building.build(hall, system, sketching.layout(hall, blocked), known)


def demo():
    return importlib.resources.files("brinehouse.demo").joinpath("hall.toml").read_text("utf-8")


def shape(made):
    """A profile without its names."""
    return [
        (
            [(stop.kind, stop.elevation, stop.surface, stop.flag) for stop in reach.stops],
            [
                [(dot.s, dot.z) for dot in line]
                for kind in ("pipe", "head", "gas", "tinted", "under")
                for line in getattr(reach, kind)
            ],
        )
        for reach in made.reaches
    ]


def test_water_stands_at_its_crest_and_the_gas_line_under_it():
    made = profile(oddhalls.loop())
    tank = next(stop for stop in made.stops if stop.id == "high")
    assert (tank.elevation, tank.surface) == (3.0, 5.0)
    assert tank.surface - tank.line.value == pytest.approx(
        0.28, abs=0.005
    )  # 21 mmHg, the sketch of the sheet


def test_a_closed_loop_comes_back_to_its_sump():
    made = profile(oddhalls.loop())
    assert made.closed
    assert [stop.kind for stop in made.reaches[0].stops] == ["sump", "pumps", "tank", "flag"]
    assert made.reaches[0].stops[-1].id == "low"


def test_a_pump_above_the_water_has_its_suction_below_air_pressure():
    made = profile(oddhalls.loop())
    assert made.reaches[0].under
    assert min(dot.z for line in made.reaches[0].under for dot in line) >= 0.7 - 1e-6  # head at the suction
    assert [one.air for stop in made.stops for one in stop.members] == ["yes"]


def test_a_flooded_suction_is_not_marked():
    made = profile(oddhalls.loop(pump_height=0.1))
    assert made.reaches[0].under == ()


def test_the_gas_line_breaks_at_the_packing_and_starts_again_at_the_pool():
    held = {"high": excess(5.0), "low": excess(28.0), "up/tower": excess(3.0)}
    made = profile(oddhalls.loop_with_column(), held=held)
    reach = made.reaches[0]
    tower = next(n for n, stop in enumerate(reach.stops) if stop.id == "tower")
    inside = (2 * tower + 0.05, 2 * tower + 0.55)  # the packing: between the inlet and the pool
    crossing = [line for line in reach.gas if line[0].s < inside[0] and line[-1].s > inside[1]]
    assert crossing == []
    assert any(line[0].where == "pool" and line[0].part == "tower" for line in reach.gas)


def test_without_packing_the_same_line_goes_through():
    """The planted fault of the test above: a machine that is no column keeps its gas line whole."""
    text = oddhalls.loop_with_column().replace('kind = "packed column"', 'kind = "filter"')
    reach = profile(text).reaches[0]
    tower = next(n for n, stop in enumerate(reach.stops) if stop.id == "tower")
    assert any(line[0].s < 2 * tower + 0.05 and line[-1].s > 2 * tower + 0.55 for line in reach.gas)


def test_behind_a_column_nobody_read_there_is_no_gas_line_until_the_tank():
    reach = profile(oddhalls.loop_with_column()).reaches[0]
    tower = next(n for n, stop in enumerate(reach.stops) if stop.id == "tower")
    assert not [dot for line in reach.gas for dot in line if 2 * tower + 0.3 < dot.s < 2 * tower + 2]


def test_only_what_stands_above_the_gas_line_is_tinted():
    for system in ("m", "k", "c"):
        hall = facility(demo())
        made = building.build(
            hall, system, sketching.layout(hall), {place: excess(25.0) for place in hall.vessels}
        )
        for reach in made.reaches:
            for line in reach.tinted:
                for dot in line:
                    edge = _at(reach.gas, dot.s)
                    assert edge is not None
                    assert dot.z >= edge - 1e-6


def _at(lines, s):
    from brinehouse.network.profile import gas_lines

    return gas_lines.at(lines, s)


def test_new_names_change_no_line():
    one = profile(oddhalls.loop())
    held = {"zzz": excess(21.0), "aaa": excess(28.0)}
    other = profile(oddhalls.loop(sump_name="aaa", tank_name="zzz"), held=held)
    assert shape(one) == shape(other)


def test_a_higher_crest_does_change_the_lines():
    assert shape(profile(oddhalls.loop())) != shape(profile(oddhalls.loop(crest=5.4)))


def test_a_shallower_animal_is_above_the_line_by_the_difference():
    made = profile(oddhalls.loop(shallow=0.1))
    group = next(one for stop in made.stops for one in stop.animals)
    assert group.state == "above"
    assert group.above == pytest.approx(0.279 - 0.1, abs=0.003)


def test_the_tap_behind_the_pump_moves_the_line_at_the_pump():
    held = {"low": excess(5.0), "high": excess(21.0), "up": excess(40.0)}
    reach = profile(oddhalls.loop(), held=held).reaches[0]
    rows = {one.where: one for one in reach.stations if one.part == "P-9"}
    assert rows["suction"].gas.value == pytest.approx(5.0 * MMHG)
    assert rows["discharge"].gas.value == pytest.approx(40.0 * MMHG)
    assert [
        one.where for one in reach.stations if one.gas and one.gas.basis == "read" and one.where != "surface"
    ] == ["discharge"]


def test_without_heights_each_tank_stands_alone_and_what_is_missing_is_listed():
    made = profile(oddhalls.bare(), "x", {"one": excess(21.0)})
    assert made.reaches == ()
    assert {stop.id for stop in made.alone} == {"one", "two", "s"}
    assert {(one.thing, one.word) for one in made.missing} == {
        ("one", "elevation"),
        ("two", "elevation"),
        ("s", "elevation"),
    }
    tank = next(stop for stop in made.alone if stop.id == "one")
    assert tank.line.value == pytest.approx(-0.28, abs=0.005)


def test_one_missing_height_leaves_the_rest_drawn():
    text = oddhalls.shore().replace('elevation = "1.4 m"\n', "")
    made = profile(text, "o", {})
    assert [stop.id for stop in made.alone] == ["lagoon"]
    assert any(stop.id == "reef" for reach in made.reaches for stop in reach.stops)
    assert [one.thing for one in made.missing] == ["lagoon"]


def test_an_open_line_runs_from_outside_to_outside():
    made = profile(oddhalls.shore(), "o", {})
    first = made.reaches[0].stops
    assert (first[0].flag, first[-1].flag) == ("outside", "outside")
    assert not made.closed
    assert [stop.id for stop in first if stop.place] == ["well", "head", "reef", "touch"]


def test_a_branch_and_its_tee_carry_the_same_letter():
    hall = facility(demo())
    made = building.build(hall, "m", sketching.layout(hall), {})
    tees = {
        letter: stop.id
        for reach in made.reaches
        for stop in reach.stops
        if not stop.flag
        for letter in stop.letters
    }
    flags = {
        stop.letters[0]: stop.id
        for reach in made.reaches
        for stop in reach.stops[:1]
        if stop.flag and stop.letters
    }
    assert tees == flags


def test_every_place_of_thirty_is_shown_once():
    hall = facility(oddhalls.rack())
    for system in ("a", "b", "z"):
        made = building.build(hall, system, sketching.layout(hall), {})
        shown = [stop.id for stop in made.stops if stop.place]
        assert sorted(shown) == sorted(hall.systems[system].places)


def test_pumps_at_two_heights_keep_their_own():
    hall = facility(oddhalls.rack())
    made = building.build(hall, "a", sketching.layout(hall), {})
    members = next(stop.members for stop in made.stops if stop.members)
    assert [one.elevation for one in members] == [0.3, 1.9]
    assert [one.air for one in members] == ["no", "yes"]


def test_without_stations_the_pipe_is_still_drawn():
    hall = facility(oddhalls.loop())
    made = building.build(hall, "p", None, {"high": excess(21.0)})
    assert made.reaches[0].pipe
    assert made.reaches[0].head == ()
    assert next(stop for stop in made.stops if stop.id == "high").line is not None


def test_a_profile_is_plain_data():
    made = profile(oddhalls.loop())
    assert dataclasses.asdict(made)["reaches"][0]["stops"][0]["id"] == "low"
