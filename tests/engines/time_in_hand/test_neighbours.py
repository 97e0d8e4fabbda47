"""What stands around a part is called by what is on its plate, and the most pressing tank comes first."""

import functools
import importlib.resources

from brinehouse.engines.time_in_hand import neighbours
from brinehouse.facility import reading


@functools.cache
def demo():
    page = importlib.resources.files("brinehouse.demo").joinpath("hall.toml")
    return reading.read(page.read_text("utf-8")).facility


def test_a_machine_is_called_by_its_name_and_its_plate():
    assert neighbours.label(demo(), "chiller-m") == "chiller of m (E-201)"
    assert neighbours.plate(demo(), "chiller-m") == "E-201"
    assert neighbours.label(demo(), "mangrove") == "Mangrove"
    assert neighbours.label(demo(), "nobody") == "nobody"


def test_a_long_row_of_names_is_cut_where_a_person_stops_reading():
    assert neighbours.row(demo(), ["mangrove"]) == "Mangrove"
    assert neighbours.row(demo(), ["mangrove", "kelp"]) == "Mangrove and Kelp tower"
    assert neighbours.row(demo(), list(demo().tanks)).endswith("and 6 more")
    assert neighbours.row(demo(), []) == ""


def test_tanks_behind_tanks_are_reached_too():
    assert neighbours.fed_by(demo(), "P-201") == ["mangrove", "pipefish", "estuary"]
    assert neighbours.fed_by(demo(), "uv-k") == ["kelp", "ledge"]


def test_the_most_animals_for_their_water_come_first():
    order = neighbours.pressing(demo(), demo().tanks)
    assert order[:2] == ["kelp", "ledge"]  # 1.5 and 1.3 kg in a cubic metre
    assert set(order[-3:]) == {"q-2", "q-3", "nursery"}  # empty


def test_a_pump_draws_from_the_sump_its_run_begins_at():
    assert neighbours.sump_of(demo(), "P-302") == "sump-k"
    assert neighbours.pumps_on(demo(), "sump-m") == ["return-m"]


def test_a_valve_is_where_it_is_told_or_where_a_pumped_run_tells_nothing():
    runs = demo().runs
    assert neighbours.has_valve(demo(), runs["m-supply"])  # told
    assert neighbours.has_valve(demo(), runs["c-supply"])  # nothing told, pumped
    assert not neighbours.has_valve(demo(), runs["kelp-back"])  # falls
    assert [run.id for run in neighbours.supplies(demo(), "kelp")] == ["k-supply"]


def test_what_is_at_hand_is_found_for_what_it_helps():
    assert neighbours.remedy(demo(), "battery air", "pipefish") == "battery air on the trolley"
    assert neighbours.remedy(demo(), "battery air", "nursery") == ""
    assert neighbours.remedy(demo(), "spare pump", "P-201", "return-m") == "spare pump on the shelf"
