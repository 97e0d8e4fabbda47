"""Zones and rounds in the facility file: walked from clean to dirty, every stop asks for something."""

import pytest

from brinehouse import findings
from brinehouse.facility import reading

HALL = """
schema = 1
[facility]
name = "Two zones"
altitude = "12 m"
timezone = "UTC"
[zone.hall]
order = 1
[zone.apart]
name = "quarantine"
order = 2
foot_bath = true
own_tools = true
[tank.reef]
volume = "2 m3"
depth = "1 m"
zone = "hall"
stands_alone = true
[tank.q-1]
volume = "1 m3"
depth = "1 m"
zone = "apart"
stands_alone = true
[point.reef-low]
at = "reef"
quantity = "temperature"
[point.q-1-mid]
at = "q-1"
[instrument.probe]
measures = ["temperature"]
[round.morning]
name = "Morning round"
at = ["13:30", "07:00"]
within = "90 min"
[[round.morning.stop]]
at = "reef-low"
[[round.morning.stop]]
at = "q-1-mid"
read = ["temperature", "pH"]
look = ["appetite"]
feed = "mysis"
ration = "40 g"
"""


def codes(text):
    return [found.code for found in reading.read(text).findings]


def said(text, code):
    return next(found for found in reading.read(text).findings if found.code == code)


def test_a_round_in_walking_order_has_no_remark_and_is_read_whole():
    checked = reading.read(HALL)
    assert [str(found) for found in checked.findings] == []
    morning = checked.facility.rounds["morning"]
    assert (morning.name, morning.at, morning.within) == ("Morning round", (420, 810), 5400.0)
    assert [stop.at for stop in morning.stops] == ["reef-low", "q-1-mid"]
    last = morning.stops[-1]
    assert (last.read, last.look, last.feed) == (("temperature", "pH"), ("appetite",), "mysis")
    assert last.ration == pytest.approx(0.04)
    zone = checked.facility.zone_of("q-1-mid")
    assert (zone.id, zone.order, zone.foot_bath, zone.own_tools) == ("apart", 2, True, True)


def test_a_way_back_from_quarantine_to_the_hall_is_told_at_its_stop():
    back = HALL + '[[round.morning.stop]]\nat = "reef"\nlook = ["appetite"]\n'
    found = said(back, "facility/round-order")
    assert found.level is findings.Level.ASK
    assert "reef lies in hall" in found.text
    assert "quarantine" in found.text
    assert found.spot.line == len(HALL.splitlines()) + 1


def test_the_same_way_without_zones_is_nobodys_business():
    bare = HALL.replace('zone = "hall"\n', "").replace('zone = "apart"\n', "")
    bare = bare[: bare.index("[zone.hall]")] + bare[bare.index("[tank.reef]") :]
    assert codes(bare + '[[round.morning.stop]]\nat = "reef"\nlook = ["appetite"]\n') == []


def test_a_tank_in_no_zone_is_told_where_zones_are_drawn():
    found = said(HALL.replace('zone = "apart"\n', ""), "facility/zone")
    assert found.level is findings.Level.NOTE
    assert "q-1" in found.text


def test_a_stop_that_asks_for_nothing_is_refused():
    found = said(HALL + '[[round.morning.stop]]\nat = "q-1"\n', "facility/round")
    assert found.level is findings.Level.STOP
    assert "stop 3 of round morning asks for nothing" in found.text


def test_a_meter_that_cannot_measure_it_is_asked_about():
    found = said(
        HALL.replace('read = ["temperature", "pH"]', 'read = ["pH"]\nwith = ["probe"]'), "facility/round"
    )
    assert found.level is findings.Level.ASK
    assert "none of its meters measures pH" in found.text


def test_a_retired_place_in_a_round_is_asked_about():
    text = HALL.replace("[tank.q-1]\n", "[tank.q-1]\nretired = 2026-01-01\n")
    assert "facility/retired" in codes(text)


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ('at = "q-1-mid"', 'at = "q-1-mdi"', "facility/dangling"),
        ('at = "q-1-mid"', 'at = "probe"', "facility/wrong-reference"),
        ('zone = "apart"', 'zone = "aprat"', "facility/dangling"),
        ('"13:30"', '"25:30"', "facility/wrong-kind"),
        ('look = ["appetite"]', 'look = ["mood"]', "facility/wrong-kind"),
        ('feed = "mysis"', 'food = "mysis"', "facility/unknown-word"),
    ],
)
def test_what_is_wrong_in_a_round_is_named_with_its_line(old, new, code):
    found = said(HALL.replace(old, new), code)
    assert found.level is findings.Level.STOP
    assert found.spot.line is not None
