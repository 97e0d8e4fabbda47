"""Every failure of a plant once, how it shows, and what the person on the spot does first."""

import dataclasses
import functools
import importlib.resources
import re

import numpy as np
import pytest
from tests.engines.time_in_hand import facilities

from brinehouse.engines.time_in_hand import failures, first_steps, mishap
from brinehouse.facility import checks_mishaps, reading
from brinehouse.network import flows
from brinehouse.network.compartments import conditions
from brinehouse.network.transients import laying

SMALL = """\
schema = 1
[facility]
name = "Small hall"
timezone = "Europe/London"
room_temperature = "20 °C"
[tank.reef]
volume = "20 m3"
[tank.nook]
volume = "1 m3"
[sump.basin]
volume = "4 m3"
[[animals]]
at = "reef"
species = "wrasse"
mass = "12 kg"
[[animals]]
at = "nook"
species = "goby"
mass = "2 kg"
[pump.P-1]
flow = "12 m3/h"
board = "B-1"
[pump.P-2]
flow = "12 m3/h"
board = "B-2"
[duty.return]
pumps = ["P-1", "P-2"]
standby = "automatic"
board = "B-1"
[board.B-1]
name = "wet board"
[board.B-2]
fed_from = "B-1"
[equipment.cold]
kind = "chiller"
power = "2 kW"
[equipment.warm]
kind = "heater"
power = "2 kW"
at = "reef"
[equipment.lamp]
kind = "uv"
power = "2 kW"
[equipment.air]
kind = "blower"
at = "reef"
[equipment.fan]
kind = "degasser"
[equipment.O2]
kind = "contactor"
[equipment.drum]
kind = "drum screen"
[equipment.sand]
kind = "sand filter"
[equipment.bugs]
kind = "biofilter"
[equipment.ozone]
kind = "ozone"
power = "200 W"
[run.supply]
from = "basin"
through = ["return", "cold", "warm", "lamp", "ozone", "fan", "O2", "sand", "bugs"]
to = "reef"
flow = "12 m3/h"
open = "60 %"
[run.over]
from = "reef"
through = ["drum"]
to = "basin"
flow = "10 m3/h"
[run.side]
from = "reef"
to = "nook"
flow = "2 m3/h"
[run.nook-back]
from = "nook"
to = "basin"
flow = "2 m3/h"
"""


@functools.cache
def hall(text=SMALL):
    made = reading.read(text).facility
    assert made is not None
    return made


@functools.cache
def demo():
    page = importlib.resources.files("brinehouse.demo").joinpath("hall.toml")
    return hall(page.read_text("utf-8"))


@functools.cache
def known(text=SMALL):
    return {one.id: one for one in failures.catalogue(hall(text))}


EVERY = {
    "power-fails": "power",
    "board-B-1-off": "power",
    "pump-P-1-stops": "pump",
    "standby-P-2-dead": "standby",
    "change-over-return-fails": "change-over",
    "chiller-cold-stuck-off": "cooling",
    "chiller-cold-stuck-on": "cooling",
    "heater-warm-stuck-off": "heating",
    "heater-warm-stuck-on": "heating",
    "uv-lamp-off": "uv",
    "blower-air-stops": "air",
    "degasser-fan-stops": "air",
    "oxygen-O2-stops": "air",
    "screen-drum-blocked": "screen",
    "filter-sand-blocked": "screen",
    "machine-ozone-stops": "machine",
    "top-up-basin-stuck-open": "top-up",
    "top-up-basin-stuck-shut": "top-up",
    "leak-reef-12-mm": "leak",
    "leak-basin-50-mm": "leak",
    "valve-supply-shut": "valve",
    "valve-supply-half-shut": "valve",
    "way-nook-back-blocked": "valve",
    "feeding-double": "feeding",
    "feeding-triple": "feeding",
    "room-cooling-lost": "room",
    "make-up-lost": "make-up",
}


@pytest.mark.parametrize("id", EVERY)
def test_every_kind_of_failure_is_made_with_a_readable_id(id):
    assert known()[id].kind == EVERY[id]


def test_what_has_nothing_to_stop_has_no_failure():
    assert not any("bugs" in id for id in known())
    assert not any(
        id.startswith("way-over") for id in known()
    )  # it runs over a screen, whose failure that is


def test_a_heater_or_chiller_stuck_on_runs_whatever_the_temperature():
    assert [one.kind for one in known()["heater-warm-stuck-on"].effects] == ["full-on"]
    assert [one.kind for one in known()["chiller-cold-stuck-off"].effects] == ["stop"]


def test_a_failed_change_over_is_the_pump_and_the_standby_that_does_not_come():
    done = known()["change-over-return-fails"].effects
    assert [(one.kind, one.part) for one in done] == [("stop", "P-1"), ("no-change-over", "return")]


def test_a_group_that_people_change_over_has_no_change_over_to_fail():
    by_hand = SMALL.replace('"automatic"', '"by hand"')
    assert not any(id.startswith("change-over") for id in known(by_hand))
    assert "Start P-2 by hand" in " ".join(known(by_hand)["pump-P-1-stops"].first_steps)


def test_a_dead_standby_cannot_be_noticed_and_everything_else_can():
    for facility in (hall(), demo()):
        for one in failures.catalogue(facility):
            assert one.unseen == (one.kind == "standby" or one.id == "board-B-2-off"), one.id


def test_pumps_that_run_stop_and_pumps_that_rest_are_dead():
    turned = {one.id for one in failures.catalogue(hall(), {"P-1": False, "P-2": True})}
    assert {"pump-P-2-stops", "standby-P-1-dead"} <= turned
    assert "pump-P-1-stops" not in turned


def test_a_board_takes_down_all_it_feeds_and_the_change_over_on_it():
    off = known()["board-B-1-off"]
    assert set(off.parts) == {"B-1", "P-1", "P-2", "return"}
    assert [(one.kind, one.part) for one in off.effects] == [("board", "B-1")]


def test_half_shut_is_half_of_where_the_valve_stands():
    assert known()["valve-supply-half-shut"].effects[0].value == pytest.approx(0.3)
    assert known()["valve-supply-shut"].effects[0].value == 0.0


def test_a_stated_top_up_sticks_at_its_own_flow_and_an_assumed_one_says_so():
    told = SMALL.replace('volume = "4 m3"', 'volume = "4 m3"\ntop_up = "0.72 m3/h"')
    assert known(told)["top-up-basin-stuck-open"].effects[0].value == pytest.approx(2e-4)
    assert "assumed" not in known(told)["top-up-basin-stuck-open"].title
    assert "assumed" in known()["top-up-basin-stuck-open"].title
    assert known()["top-up-basin-stuck-shut"].effects[0].value == 0.0


def test_air_is_drawn_in_only_where_the_suction_is_under_less_than_the_air():
    ids = {one.id for one in failures.catalogue(demo())}
    assert {"pump-P-201-draws-air", "pump-P-203-draws-air"} <= ids  # it stands above its sump
    assert "pump-P-301-draws-air" not in ids  # flooded suction
    assert not any("draws-air" in id for id in known())  # nothing tells how high anything stands


def test_an_own_failure_keeps_the_words_and_the_effects_of_the_file():
    own = next(one for one in failures.catalogue(demo()) if one.id == "own-skim-hose")
    assert [one.kind for one in own.effects] == ["leak", "valve"]
    assert own.first_steps[0].startswith("Keep off the wet floor")
    assert own.source == "the facility file"


def test_a_board_that_feeds_only_what_rests_goes_dark_without_anybody_noticing():
    dark = SMALL.replace('fed_from = "B-1"', 'name = "dry board"')
    assert known(dark)["board-B-2-off"].unseen
    assert not known(dark)["board-B-1-off"].unseen
    assert "P-1" in known(dark)["board-B-1-off"].noticed


def test_an_own_failure_without_steps_gets_the_common_ones():
    text = SMALL + '\n[failure.odd]\ntitle = "Odd"\n[[failure.odd.does]]\neffect = "stop"\npart = "cold"\n'
    own = known(text)["own-odd"]
    assert own.noticed == "The facility file does not say how it shows."
    assert len(own.first_steps) >= 3
    assert own.source == "common practice, no source"


def halls():
    yield "small", hall()
    yield "demo", demo()
    for seed in facilities.SEEDS:
        yield str(seed), hall(facilities.generated(seed))


@pytest.mark.parametrize("which", ["small", "demo", *map(str, facilities.SEEDS)])
def test_every_failure_of_every_hall_is_told_in_whole_sentences(which):
    facility = dict(halls())[which]
    made = failures.catalogue(facility)
    assert len({one.id for one in made}) == len(made)
    for one in made:
        assert re.fullmatch(r"\S+", one.id), one.id
        assert one.kind in mishap.KINDS
        assert one.effects, one.id
        assert (2 if one.kind == "own" else 3) <= len(one.first_steps) <= 7, one.id
        for said in (one.title, one.noticed, *one.first_steps, *one.cautions):
            assert said[:1] == said[:1].upper(), (one.id, said)
            assert not set(said) & set("{}"), (one.id, said)
            assert len(said) < 260, (one.id, said)
        for said in (one.noticed, *one.first_steps):
            assert said.endswith((".", "?")), (one.id, said)


@pytest.mark.parametrize("which", ["small", "demo", "0", "1", "4"])
def test_every_effect_is_done_to_a_part_of_the_hall_that_it_can_be_done_to(which):
    facility = dict(halls())[which]
    for failure in failures.catalogue(facility):
        for one in failure.effects:
            allowed = checks_mishaps.ON_PARTS[one.kind]
            assert facility.find(one.part) in (allowed or ("",)), (failure.id, one)


@pytest.mark.parametrize("which", ["small", "demo", "8"])
def test_everything_that_can_be_noticed_changes_the_plant_and_nothing_else_does(which):
    facility = dict(halls())[which]
    laid = laying.lay(facility, flows.stated(facility).flows, conditions.Conditions())
    made = failures.catalogue(facility)
    changed = dict.fromkeys((one.id for one in made), False)
    for body in laid.bodies:
        rows = laying.batch(body, [(), *(one.effects for one in made)])
        for at, one in enumerate(made, 1):
            for table in (rows.way, rows.op, rows.place, rows.volume):
                changed[one.id] |= not np.array_equal(table[at], table[0])
    quiet = {one.id for one in made if not changed[one.id]}
    assert {one.id for one in made if one.unseen} <= quiet | {"board-B-off"}
    assert quiet <= {one.id for one in made if one.unseen}


def test_life_comes_first_in_the_cautions_of_every_failure():
    for one in known().values():
        said = " ".join(one.cautions).casefold()
        assert one.cautions[0].startswith("Life safety first"), one.id
        for word in (
            "electricity and water",
            "sump",
            "lift",
            "licensed trade",
            "veterinarian",
            "local codes",
        ):
            assert word in said, (one.id, word)


def test_what_is_wet_and_electrical_begins_with_the_board():
    for id in ("pump-P-1-stops", "change-over-return-fails", "chiller-cold-stuck-off"):
        assert re.search(r"wet.*(board|off)", known()[id].first_steps[0]), id
    assert "People first" in known()["power-fails"].first_steps[0]
    assert "wet board" in known()["pump-P-1-stops"].first_steps[0]


def test_the_steps_name_the_neighbours_and_the_most_pressing_tank_first():
    steps = " ".join(known()["pump-P-1-stops"].first_steps)
    assert "P-2" in steps  # its standby
    assert "nook, then in reef" in steps  # 2 kg/m³ before 0.6 kg/m³


def test_what_is_at_hand_is_named_where_it_helps():
    more = '\n[remedy.box]\nkind = "battery air"\nname = "the blue box"\nat = ["nook"]\ntimes = 4\n'
    more += '[remedy.spare]\nkind = "spare pump"\nname = "the old pump"\nat = ["return"]\n'
    told = known(SMALL + more)
    assert any("blue box into nook" in step for step in told["power-fails"].first_steps)
    assert any("the old pump" in step for step in told["pump-P-1-stops"].first_steps)
    assert not any("blue box" in step for step in known()["power-fails"].first_steps)


def test_a_name_with_hidden_or_odd_signs_makes_no_odd_card():
    text = SMALL.replace("[tank.nook]", '[tank."north / {nook}"]').replace('"nook"', '"north / {nook}"')
    odd = reading.read(text.replace("north / ", "north ")).facility
    made = failures.catalogue(odd)
    assert any("leak-north-{nook}" in one.id for one in made)
    assert any("north {nook}" in step for one in made for step in one.first_steps)


def test_every_card_of_the_data_is_used_and_every_word_of_it_can_be_known():
    used = {
        one.card for facility in (hall(), demo(), hall(SMALL.replace('"automatic"', '"by hand"')))
        for one in failures.mishaps.every(facility)
    }  # fmt: skip
    alone = SMALL.replace('["P-1", "P-2"]', '["P-1"]').replace("[pump.P-2]", "[pump.P-2]\nat = 'basin'")
    used |= {one.card for one in failures.mishaps.every(hall(alone))}
    assert used == set(first_steps.cards())


def test_a_failure_is_frozen():
    one = known()["power-fails"]
    with pytest.raises(dataclasses.FrozenInstanceError):
        one.id = "other"


def test_battery_air_goes_first_where_it_is_needed_first():
    plant = demo()
    power = {one.id: one for one in failures.catalogue(plant)}["power-fails"]
    usual = " ".join(power.first_steps)
    told = failures.steps(power, plant, ["pipefish", "sump-m", "mangrove"])
    assert len(told) == len(power.first_steps)
    assert "into Pipefish side tank, then air into Mangrove" in " ".join(told)
    assert "into Pipefish side tank, then" not in usual  # the catalogue alone does not know the hours
    assert failures.steps(power, plant, []) == power.first_steps


def test_where_no_battery_stands_for_the_tank_in_need_other_air_is_named():
    plant = demo()
    told = failures.steps(
        {one.id: one for one in failures.catalogue(plant)}["power-fails"], plant, ["cold-bench"]
    )
    assert any(step.startswith("Air from a battery or cylinder into Cold bench") for step in told)


def test_steps_at_the_place_of_a_failure_stay_there():
    plant = demo()
    leak = next(one for one in failures.catalogue(plant) if one.kind == "leak")
    assert failures.steps(leak, plant, ["pipefish"]) == leak.first_steps
