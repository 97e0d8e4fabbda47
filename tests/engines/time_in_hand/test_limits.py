"""Limits that courses are held against."""

import dataclasses
import math

import pytest
from tests.engines.time_in_hand import still_water

from brinehouse import findings
from brinehouse.engines.time_in_hand import limits


def test_a_limit_of_the_whole_hall_counts_where_animals_may_live_and_not_in_the_sump():
    plant = still_water.facility()
    lines = limits.of_facility(plant, ["t", "s"])
    assert {line.place for line in lines} == {"t"}
    assert [(line.quantity, line.band, line.upper, line.value) for line in lines] == [
        ("temperature", "act", False, 22.0),
        ("temperature", "act", True, 28.0),
        ("oxygen", "act", False, 4.5),
        ("oxygen", "watch", False, 5.5),
    ]
    assert lines[2].text == "below 4.5 mg/L"


def test_a_limit_named_for_the_sump_counts_there():
    more = '[[limit]]\nquantity = "oxygen"\nat = "s"\nact = "below 3 mg/L"\n'
    plant = still_water.facility(more=more)
    assert [line.value for line in limits.of_facility(plant, ["s"])] == [3.0]


def test_what_has_no_limit_is_asked_for_and_no_number_is_invented():
    plant = still_water.facility(limits="")
    lines = limits.of_facility(plant, ["t", "s"])
    told = limits.missing(plant, ["t", "s"], lines)
    assert lines == []
    assert {one.data["quantity"]: one.level for one in told if one.code == "time/no-limit"} == {
        "oxygen": findings.Level.ASK,
        "temperature": findings.Level.ASK,
        "salinity": findings.Level.NOTE,
        "total gas pressure": findings.Level.NOTE,
        "pH or carbon dioxide": findings.Level.NOTE,
        "ammonia": findings.Level.NOTE,
    }


def test_a_watch_limit_alone_decides_no_time():
    plant = still_water.facility(limits='[[limit]]\nquantity = "oxygen"\nwatch = "below 5 mg/L"\n')
    told = limits.missing(plant, ["t"], limits.of_facility(plant, ["t"]))
    assert "oxygen" in {one.data["quantity"] for one in told}


def test_ammonia_is_counted_as_nitrogen_whatever_the_file_counts_it_as():
    # 14.0067/17.0305 and 14.0067/18.0385: IUPAC standard atomic weights
    assert limits.as_nitrogen("ammonia", 1.0, "NH3") == pytest.approx(0.8224, abs=1e-4)
    assert limits.as_nitrogen("tan", 1.0, "ion") == pytest.approx(0.7765, abs=1e-4)
    assert limits.as_nitrogen("tan", 1.0, "N") == 1.0


def test_a_ph_limit_by_dilute_buffers_is_carried_to_the_total_scale():
    # 0.137 at 25 °C and salinity 35: `dissociation.ph_between_scales` (Takahashi and others 1982)
    assert limits.as_nitrogen("ph", 8.137, "NBS") == pytest.approx(8.0, abs=0.005)


def test_carbon_dioxide_and_alkalinity_are_said_in_a_keepers_units():
    # 1 mg/L of CO2 in sea water of 1023 kg/m3: 1e6/44.0095/1023 = 22.2 µmol/kg
    assert limits.per_unit("co2", 25.0, 34.0) == pytest.approx(22.2, abs=0.1)
    assert limits.per_unit("alkalinity", 25.0, 34.0) == pytest.approx(977.9, abs=1.0)
    assert limits.per_unit("oxygen", 25.0, 34.0) == 1.0


def test_floods_dry_sumps_and_bare_animals_need_no_stated_limit():
    plant = still_water.facility(limits="")
    tank = limits.of_levels(plant, "t", 10.0, 11.6, math.nan)
    sump = limits.of_levels(plant, "s", 2.0, 3.0, 0.3)
    assert [(line.band, line.upper, line.value) for line in tank] == [
        ("spills", True, 11.6),
        ("uncovered", False, 2.0),  # 10 m3 less 8 m2 times the deepest 1 m
    ]
    assert [(line.band, line.upper, line.value) for line in sump] == [
        ("spills", True, 3.0),
        ("dry", False, 0.3),
    ]


def test_where_no_depth_is_stated_a_quarter_of_the_water_counts_as_bare():
    plant = still_water.facility()
    plant = dataclasses.replace(plant, animals=())
    lines = limits.of_levels(plant, "t", 10.0, math.inf, math.nan)
    assert [(line.band, line.value) for line in lines] == [("uncovered", 2.5)]
