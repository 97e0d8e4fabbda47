"""Heads along runs: computed where told, else estimated; and no plant, however odd, brings a traceback."""

import random
import re

import pytest
from piped_hall import HALL, SUCTION, at

from brinehouse.demo import generator
from brinehouse.facility import reading
from brinehouse.network import plumbing

M3H = 3600.0
DEMO = generator.facility_text()


def test_a_plant_with_curves_and_pipes_is_computed(lay):
    layout = lay()
    assert layout.basis == "computed"
    assert layout.computed == {"supply", "second"}
    assert layout.flows["supply"] * M3H == pytest.approx(15, rel=0.15)


def test_no_water_is_lost_between_pumps_and_runs(lay):
    layout = lay(running={"A": True, "B": True})
    pumped = sum(state.flow for state in layout.pumps.values() if state.running)
    assert pumped == pytest.approx(layout.flows["supply"] + layout.flows["second"], abs=1e-9)


def test_equal_pumps_may_change_places(lay):
    one, two = lay(running={"A": True}), lay(running={"B": True})
    assert one.flows == pytest.approx(two.flows, rel=1e-9)


def test_a_second_pump_adds_less_than_the_first_brought(lay):
    one, two = lay(running={"A": True}), lay(running={"A": True, "B": True})
    assert one.flows["supply"] < two.flows["supply"] < 2 * one.flows["supply"]


def test_a_slower_pump_moves_less(lay):
    slow = lay(("[pump.A]\ncurve", '[pump.A]\nspeed = "80 %"\ncurve'))
    assert slow.flows["supply"] < 0.9 * lay().flows["supply"]


def test_what_is_shared_has_one_head_and_what_parts_has_its_own(lay):
    layout = lay()
    assert at(layout, "supply", "chiller", "out").head == at(layout, "second", "chiller", "out").head
    assert at(layout, "supply", "", "high").head != at(layout, "second", "", "high").head


def test_the_head_closes_from_the_water_to_the_water(lay):
    layout = lay()
    state = layout.pumps["A"]
    sent = at(layout, "supply", "lift", "discharge").head
    assert sent - state.suction_head == pytest.approx(state.head, abs=0.02)
    lost = at(layout, "supply", "chiller", "in").head - at(layout, "supply", "chiller", "out").head
    flow = (layout.flows["supply"] + layout.flows["second"]) * M3H
    assert lost == pytest.approx((flow / 20) ** 2, rel=1e-3)  # the loss stated: 1 m at 20 m³/h


def test_a_mouth_above_the_water_is_a_free_fall_and_one_below_is_not(lay):
    layout = lay()
    fall = at(layout, "second", "side", "fall")
    assert (fall.open, fall.elevation, fall.head) == (True, 2.6, 2.6)
    assert not any(s.where == "fall" for s in layout.stations["supply"])


def test_stations_run_from_nought_to_one(lay):
    for row in lay().stations.values():
        assert [row[0].along, row[-1].along] == [0.0, 1.0]
        assert sorted(s.along for s in row) == [s.along for s in row]


def test_what_is_pumped_comes_back_over_the_crest(lay):
    layout = lay()
    assert layout.flows["reef-back"] == pytest.approx(layout.flows["supply"])


def test_with_stated_flows_only_heads_are_estimated_with_bounds(lay):
    curve = 'curve = [["0 m3/h", "14 m"], ["20 m3/h", "11 m"], ["40 m3/h", "4 m"]]\n'
    layout = lay((curve, ""))
    assert (layout.basis, layout.computed) == ("stated", frozenset())
    station = at(layout, "supply", "chiller", "in")
    assert station.basis == "estimated"
    assert station.low < station.head < station.high


def test_the_estimate_holds_what_is_computed_when_more_is_told(lay):
    computed = lay()
    rough = lay(*[(f'{word} = "{value}"\n', "") for word, value in
                  (("length", "20 m"), ("length", "12 m"))], ('loss = ["20 m3/h", "1 m"]\n', ""),
                ('fittings = ["1 tee", "5 elbows", "1 exit"]\n', ""))  # fmt: skip
    assert rough.basis == "stated"
    for run, row in computed.stations.items():
        for one, two in zip(row, rough.stations[run], strict=True):
            if one.head is not None:
                assert two.low - 0.02 <= one.head <= two.high + 0.02, (run, one.part, one.where)


def test_a_curve_that_cannot_lift_so_high_is_told(lay, codes):
    weak = (
        '"14 m"], ["20 m3/h", "11 m"], ["40 m3/h", "4 m"',
        '"3 m"], ["20 m3/h", "2.5 m"], ["40 m3/h", "1 m"',
    )
    bare = (('length = "20 m"\n', ""), ('fittings = ["1 tee", "5 elbows", "1 exit"]\n', ""))
    layout = lay(weak, *bare)
    assert "plumbing/cannot-lift" in codes(layout)
    assert "plumbing/cannot-lift" not in codes(lay())


def test_a_stated_flow_far_from_what_the_pumps_make_is_asked_about(lay, codes):
    wrong = lay(('to = "reef"\nflow = "15 m3/h"', 'to = "reef"\nflow = "30 m3/h"'))
    assert "plumbing/flow-differs" in codes(wrong)
    assert "plumbing/flow-differs" not in codes(lay())


def test_all_pumps_off_stands_still_and_says_so(lay, codes):
    layout = lay(running={})
    assert "plumbing/stands-still" in codes(layout)
    assert layout.flows["supply"] == pytest.approx(0.0, abs=1e-9)
    assert not any(state.running for state in layout.pumps.values())


def test_a_shut_hand_valve_passes_nothing(lay, codes):
    layout = lay(('open = "15 %"', 'open = "0 %"'))
    assert layout.flows["second"] == 0.0
    assert layout.flows["supply"] > lay().flows["supply"]
    assert "plumbing/shut" in codes(layout)


def test_a_pump_against_shut_valves_only_is_called_at_once(lay, codes):
    layout = lay(('open = "15 %"', 'open = "0 %"'), ('"1 exit"]', '"1 exit"]\nopen = "0 %"'))
    assert "plumbing/moves-nothing" in codes(layout)
    assert layout.flows["supply"] == 0.0


def test_a_dry_sump_is_called_at_once(lay, codes):
    layout = lay(levels={"basin": 0.0})
    assert "plumbing/dry" in codes(layout)
    assert layout.pumps["A"].below_air == "yes"
    assert "plumbing/dry" not in codes(lay())


def test_a_place_without_height_leaves_heads_unknown_and_says_what_to_write(lay, codes):
    layout = lay(('elevation = "0 m"\n', ""))
    assert at(layout, "supply", "basin", "surface").head is None
    found = next(one for one in layout.findings if one.code == "plumbing/no-level")
    assert "elevation" in found.hint
    assert found.data["places"] == ["basin"]


def test_pumps_that_draw_from_two_places_are_estimated_and_named(lay, codes):
    layout = lay(('[run.second]\nfrom = "basin"', '[run.second]\nfrom = "reef"'))
    assert "plumbing/not-apart" in codes(layout)
    assert layout.basis == "stated"


def test_what_cannot_be_solved_is_estimated_and_asked_about(lay, codes):
    twice = ('"lift", "chiller"]\nto = "reef"', '"lift", "chiller", "chiller"]\nto = "reef"')
    layout = lay(twice)
    assert "plumbing/not-solved" in codes(layout)
    assert layout.basis == "stated"
    assert "plumbing/not-solved" not in codes(lay())


def test_a_level_curve_is_not_computed_with(lay):
    assert lay(('["20 m3/h", "11 m"]', '["20 m3/h", "14 m"]')).basis == "stated"


def test_runs_between_machines_hang_on_what_feeds_them(lay):
    header = '[equipment.header]\nkind = "header"\nelevation = "3 m"\nloss = 0\n[run.reef-back]'
    layout = lay(("[run.reef-back]", header), ('through = ["lift", "chiller"]\nto = "side"', 'to = "side"'),
                 ('[run.second]\nfrom = "basin"', '[run.second]\nfrom = "chiller"'))  # fmt: skip
    assert layout.flows["second"] > 0
    assert layout.computed == {"supply", "second"}


def test_water_from_outside_has_no_head_we_know(lay):
    layout = lay(("[run.reef-back]", '[run.mains]\nfrom = "outside"\nto = "basin"\n[run.reef-back]'))
    assert layout.stations["mains"][-1].part == "basin"


def test_the_demo_flows_as_its_file_states():
    facility = reading.read(DEMO).facility
    layout = plumbing.stations(facility)
    for run in ("m-supply", "m-estuary", "m-skim", "k-supply", "k-ledge"):
        assert layout.flows[run] == pytest.approx(facility.runs[run].flow, rel=0.05)
    assert layout.basis == "partly"  # the cold bench has stated flows only
    assert layout.pumps["P-201"].below_air == "yes"
    assert layout.pumps["P-301"].below_air == "no"
    assert layout.pumps["P-401"].below_air == "may be"


WORDS = (
    "elevation|crest|depth|working|surface|curve|flow|high|length|diameter|fittings|loss|open|outlet|rim|pool"
)
PARTS = ("outside", "sump-m", "sump-k", "mangrove", "chiller-m", "return-m", "column-m", "screen-m", "P-201")


def _odd(seed):
    """The demo with lines taken out, amounts blown up, ends sent elsewhere."""
    rng = random.Random(seed)
    lines = DEMO.split("\n")
    told = [n for n, line in enumerate(lines) if re.match(rf"({WORDS}) =", line)]

    def blown(hit):
        return f'"{rng.choice([0.01, 0.5, 2, 40]) * float(hit[1]):.4g} {hit[2]}"'

    for n in rng.sample(told, rng.choice([1, 10, 60])):
        lines[n] = "" if rng.random() < 0.6 else re.sub(r'"(-?[\d.]+) (m|mm|m3/h)"', blown, lines[n])
    ends = [n for n, line in enumerate(lines) if line.startswith(("from =", "to ="))]
    n = rng.choice(ends)
    lines[n] = f'{lines[n].split(" =")[0]} = "{rng.choice(PARTS)}"'
    return "\n".join(lines)


@pytest.mark.parametrize("seed", range(25))
def test_no_plant_however_odd_brings_a_traceback(seed):
    facility = reading.read(_odd(seed)).facility
    if facility is None:
        return
    for more in ({}, {"running": {}}, {"levels": {"sump-m": -3.0}}, {"flows": {}}):
        layout = plumbing.stations(facility, **more)
        assert set(layout.stations) == set(facility.runs)
        for row in layout.stations.values():
            for one in row:
                assert one.head is None or one.low <= one.head + 1e-9 <= one.high + 2e-9


def test_the_hall_of_these_tests_is_a_good_one():
    assert [one.code for one in reading.read(HALL).findings] == []
    assert reading.read(HALL.replace("strainer = false\n", f"strainer = false\n{SUCTION}")).findings == ()
