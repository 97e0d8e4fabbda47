"""Which places share one water: as stated, else by the way it goes round."""

import pytest

from brinehouse.facility import reading, starting, systems

HEAD = 'schema = 1\n[facility]\nname = "x"\ntimezone = "UTC"\n'


def places(*names, kind="tank"):
    return "".join(f'[{kind}.{name}]\nvolume = "1 m3"\n' for name in names)


def runs(*pairs):
    return "".join(f'[run.r{n}]\nfrom = "{a}"\nto = "{b}"\n' for n, (a, b) in enumerate(pairs))


def systems_of(text):
    facility = reading.read(HEAD + text).facility
    assert facility is not None, reading.read(HEAD + text).findings
    return {name: system.places for name, system in facility.systems.items()}


def test_water_that_goes_round_is_one_system():
    text = places("a", "b") + places("s", kind="sump") + runs(("s", "a"), ("a", "b"), ("b", "s"))
    assert systems_of(text) == {"a": ("a", "b", "s")}


def test_two_rounds_are_two_systems():
    text = places("a", "b", "c", "d") + runs(("a", "b"), ("b", "a"), ("c", "d"), ("d", "c"))
    assert systems_of(text) == {"a": ("a", "b"), "c": ("c", "d")}


def test_a_store_that_feeds_a_system_is_not_of_it():
    text = places("a", "b") + places("store", kind="vessel") + runs(("a", "b"), ("b", "a"), ("store", "a"))
    assert systems_of(text) == {"a": ("a", "b"), "store": ("store",)}


def test_a_tank_whose_way_back_is_not_drawn_joins_its_neighbour():
    assert systems_of(places("a", "b") + runs(("a", "b"))) == {"a": ("a", "b")}


def test_pumps_of_a_group_are_one_way_for_the_water():
    text = places("a", "b") + '[pump.p]\n[pump.q]\n[duty.g]\npumps = ["p", "q"]\n'
    text += '[run.out]\nfrom = "a"\nthrough = ["p"]\nto = "b"\n'
    text += '[run.back]\nfrom = "b"\nthrough = ["g"]\nto = "a"\n'
    assert systems_of(text) == {"a": ("a", "b")}


def test_what_is_stated_rules():
    text = '[system.left]\n[system.right]\n[tank.a]\nvolume = "1 m3"\nsystem = "left"\n'
    text += '[tank.b]\nvolume = "1 m3"\nsystem = "right"\n' + runs(("a", "b"), ("b", "a"))
    assert systems_of(text) == {"left": ("a",), "right": ("b",)}


def test_a_part_goes_with_its_whole():
    text = '[system.left]\n[tank.a]\nvolume = "2 m3"\nsystem = "left"\n'
    text += '[tank.b]\nvolume = "1 m3"\npart_of = "a"\n'
    assert systems_of(text) == {"left": ("a", "b")}


@pytest.fixture(scope="module")
def facility():
    return reading.read(starting.example()).facility


def test_a_place_a_point_and_a_machine_know_their_water(facility):
    for name in ("reef", "TT-1", "supply", "P-1", "sand", "heater", "reef-water"):
        assert facility.system_of(name).id == "reef-water", name
    assert facility.system_of("nowhere") is None
    assert facility.place("TT-1").id == "reef"
    assert facility.place("supply") is None


def test_the_shallow_end_is_that_of_the_animals_there(facility):
    assert facility.shallow_end("reef") == facility.shallow_end("TT-1") == 0.4
    assert facility.shallow_end("kelp") is None


def test_limits_hold_for_a_place_from_the_most_particular_on():
    text = starting.example()
    text += '[[limit]]\nquantity = "temperature"\nact = "above 30 °C"\n'
    text += '[[limit]]\nquantity = "temperature"\nat = "reef"\nact = "above 29 °C"\n'
    facility = reading.read(text).facility
    assert [limit.at for limit in facility.limits_for("temperature", "TT-1")] == ["reef", "reef-water", ""]
    assert [limit.at for limit in facility.limits_for("temperature", "quarantine")] == [""]


def test_a_limit_for_a_tank_is_none_for_the_system_that_borrows_its_name():
    text = places("a", "b") + runs(("a", "b"), ("b", "a"))
    text += '[[limit]]\nquantity = "pH"\nat = "a"\nact = "below 7.5"\n'
    facility = reading.read(HEAD + text).facility
    assert facility.system_of("b").id == "a"
    assert facility.limits_for("pH", "b") == ()


def test_values_are_si(facility):
    reef, pump = facility.vessels["reef"], facility.pumps["P-1"]
    assert (reef.volume, reef.temperature, reef.salinity) == (26.0, 25.0, 34.0)
    assert facility.vessels["quarantine"].volume == pytest.approx(0.6)
    assert pump.power == pytest.approx(1100.0)
    assert pump.curve[1] == pytest.approx((20 / 3600, 9.0))
    assert facility.duties["return"].turn == 86400.0
    assert facility.runs["supply"].diameter == pytest.approx(0.09)
    assert facility.runs["top-up"].flow is None
    assert facility.sources[0].map[0].register == 40001
    assert facility.shown.volume == "m³"


def test_rings_are_found_in_a_long_chain():
    chain = {str(n): {str(n + 1)} for n in range(5000)} | {"5000": {"0"}}
    assert len(systems.rings(chain)[0]) == 5001
