"""The gas sheet says of each place what its whole interval says, and names things as the keeper does."""

import datetime as dt

import pytest

from brinehouse import answers
from brinehouse.web import catalogue, gas_sheet
from brinehouse.workbench import investigation

T = catalogue.Words()


@pytest.fixture
def found(demo):
    return investigation.investigate(demo.app.state.desk.hall())


@pytest.fixture
def facility(demo):
    return demo.app.state.desk.hall().facility


@pytest.mark.parametrize(
    ("value", "u", "said"),
    [
        (-0.2, 0.03, "0.20 m too shallow"),
        (-0.02, 0.03, "may be too shallow"),
        (0.05, 0.04, "may be too shallow"),
        (0.2, 0.03, ""),
    ],
)
def test_a_verdict_needs_the_whole_interval(value, u, said):
    assert gas_sheet._verdict(answers.Value(value=value, unit="m", u=u), T) == said


def test_every_place_of_the_budget_stands_in_the_table_and_old_ones_say_so(found, facility):
    rows = gas_sheet.water(found, facility, T)
    budget = gas_sheet.table(found.water, "budget")
    assert [row.place for row in rows] == [row["place"] for row in budget.rows]
    assert all(row.old == (found.as_of - row.when > dt.timedelta(days=3)) for row in rows)
    assert {row.name for row in rows} >= {"Mangrove", "Pipefish side tank"}


def test_a_column_is_drawn_in_the_level_of_its_verdict(found, facility):
    columns = {
        column.name: column for column in gas_sheet.depths(gas_sheet.water(found, facility, T), facility, T)
    }
    pipefish = columns["Pipefish side tank"]
    assert pipefish.level == "act"
    assert pipefish.shallow < pipefish.low
    assert all(bool(column.level) == bool(column.verdict) for column in columns.values())


def test_what_is_said_of_meters_stands_with_the_meters_and_what_is_said_of_places_with_the_places(found):
    about = gas_sheet.about_meters(found)
    assert about
    assert not [finding for finding in about if finding.spot.thing in found.names]


def test_pumps_that_were_named_stand_first(found, facility):
    told = gas_sheet.pumps(found, facility)
    states = [one.answer.state == "found" for one in told]
    assert states == sorted(states, reverse=True)
    assert told[0].weights[0][0] == "P-203"


def test_explanations_that_weigh_nothing_are_folded_away_but_never_lost(found):
    heavy, light = gas_sheet.split(found.water.explanations)
    assert [*heavy, *light] == list(found.water.explanations) or len(heavy) + len(light) == len(
        found.water.explanations
    )
    assert all(item.weight < gas_sheet.SMALL for item in light)
    assert gas_sheet.split([]) == ([], [])


@pytest.mark.parametrize(
    ("text", "metres"),
    [("0.3 m", 0.3), ("30 cm", 0.3), ("0.3", 0.3), ("deep", None), ("", None), ("3 kg", None)],
)
def test_a_typed_depth_is_a_length_or_nothing(text, metres):
    assert gas_sheet.metres(text) == (pytest.approx(metres) if metres is not None else None)


def test_repeated_checks_are_counted():
    assert gas_sheet._once("air check, air check, swap") == "2 × air check, swap"
