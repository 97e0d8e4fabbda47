"""Water: balance, sizes, and parts that nothing reaches."""

import pytest

from brinehouse.facility import reading


def test_a_negative_flow_is_refused_and_not_turned(only):
    found = only(
        "facility/negative-flow", 'to = "basin"\nflow = "18 m3/h"', 'to = "basin"\nflow = "-18 m3/h"', "stop"
    )
    assert "from reef to basin is negative" in found.text
    assert "turn the run round" in found.hint


def test_a_gap_in_the_balance_is_asked_about_with_its_size(only):
    found = only(
        "facility/mass-balance", 'to = "reef"\nflow = "18 m3/h"', 'to = "reef"\nflow = "20 m3/h"', "ask"
    )
    assert "tank reef: in 20 m³/h, out 18 m³/h: 2 m³/h too much in (10 %, where 2 % is allowed)" in found.text
    assert "with 18 m3/h the gap at basin closes too" in found.hint


def test_the_allowance_can_be_stated(good):
    text = good.replace('to = "reef"\nflow = "18 m3/h"', 'to = "reef"\nflow = "20 m3/h"')
    assert reading.read(text.replace("altitude", 'allowance = "12 %"\naltitude')).findings == ()


def test_a_gap_within_the_allowance_is_not_mentioned(planted):
    assert planted('to = "reef"\nflow = "18 m3/h"', 'to = "reef"\nflow = "18.3 m3/h"').findings == ()


def test_a_flow_left_out_is_not_judged(planted):
    assert planted('to = "reef"\nflow = "18 m3/h"', 'to = "reef"').findings == ()


def test_a_store_may_fill_and_empty_as_it_pleases(planted):
    text = '[vessel.store]\nvolume = "4 m3"\n[run.draw]\nfrom = "store"\nto = "outside"\nflow = "1 m3/h"'
    assert planted("", text).findings == ()


def test_a_tank_that_only_fills_is_asked_about(only):
    text = '[tank.pool]\nvolume = "4 m3"\n[run.fill]\nfrom = "outside"\nto = "pool"\nflow = "1 m3/h"'
    assert "in 1 m³/h, out 0 m³/h" in only("facility/mass-balance", "", text, "ask").text


@pytest.mark.parametrize("volume", ["31 m3", "2500 L"])
def test_a_volume_that_the_sizes_do_not_give_is_asked_about(only, volume):
    found = only(
        "facility/volume-against-sizes", 'volume = "26 m3"\nworking = "25 m3"', f'volume = "{volume}"', "ask"
    )
    assert "at most 26 m³" in found.text


def test_a_sloping_floor_is_no_contradiction(planted):
    assert planted('volume = "26 m3"\nworking = "25 m3"', 'volume = "18 m3"').findings == ()


def test_a_round_tank_is_measured_by_its_diameter(only):
    text = '[tank.round]\nvolume = "20 m3"\ndiameter = "2 m"\ndepth = "1 m"\nstands_alone = true'
    assert "at most 3.14 m³" in only("facility/volume-against-sizes", "", text, "ask").text


def test_more_water_in_running_than_it_holds_is_asked_about(only):
    assert only("facility/working-volume", 'working = "25 m3"', 'working = "27 m3"', "ask")


@pytest.mark.parametrize("crest", ["1.7 m", "2.8 m"])
def test_a_crest_must_stand_above_the_water(only, crest):
    assert only("facility/crest", 'crest = "3.78 m"', f'crest = "{crest}"', "ask")


def test_a_tank_without_connections_gets_a_note(only, planted):
    found = only("facility/unconnected", "", '[tank.spare]\nvolume = "1 m3"', "note")
    assert "stands_alone = true" in found.hint
    assert planted("", '[tank.spare]\nvolume = "1 m3"\nstands_alone = true').findings == ()


def test_a_pump_in_no_run_gets_a_note(only):
    assert "pump P-9" in only("facility/unconnected", "", '[pump.P-9]\npower = "1 kW"', "note").text


def test_a_file_without_runs_gets_one_note():
    text = 'schema = 1\n[facility]\nname = "x"\ntimezone = "UTC"\n'
    text += "".join(f'[tank.t{number}]\nvolume = "1 m3"\n' for number in range(5))
    assert [one.code for one in reading.read(text).findings] == ["facility/no-runs"]
