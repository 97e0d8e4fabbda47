"""What faces show of the time in hand: of a system, of a kind, the first steps, and the JSON object."""

import json
import pathlib
import sys

import pytest

from brinehouse.workbench import mishaps, time_told

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import invented_hours as invented


@pytest.fixture
def table(hall):
    return invented.table(hall.facility)


def test_a_failure_is_act_where_the_limit_comes_before_anybody_does(table):
    levels = {row.id: time_told.level(row, table) for row in table.rows}
    assert levels == {
        "power-off": "act", "board-B2-off": "watch", "chiller-off": "", "uv-off": "", "P-204-dead": "",
    }  # fmt: skip


def test_of_a_system_only_what_happens_in_it_is_shown(hall, table):
    facility = hall.facility
    systems = {place: id for id, one in facility.systems.items() for place in one.places}
    wanted = time_told.Wanted(system=systems["mangrove"])
    shown = time_told.rows(table, facility, wanted)
    places = {one.place for row in shown for one in row.crossings}
    assert places <= time_told.places_of(facility, wanted.system)
    power = next(row for row in shown if row.id == "power-off")
    if systems["mangrove"] != systems["pipefish"]:
        assert power.hours == 3.0
        assert power.helps == ()  # they were tried for another limit
        assert power.left == pytest.approx(2.0)


def test_of_a_kind_only_that_kind_is_shown(hall):
    wanted = time_told.Wanted(pairs=True, kind="standby")
    shown = time_told.rows(invented.table(hall.facility, wanted), hall.facility, wanted)
    assert [row.id for row in shown] == ["uv-off + P-204-dead"]


def test_the_failure_s_own_steps_come_first_and_then_what_gains_time(table):
    steps = time_told.first_steps(table, table.rows[0])
    assert [one.text for one in steps] == [*invented.STEPS, "battery air into Pipefish"]
    assert [one.gained for one in steps] == [None, None, None, 8.4]
    assert time_told.cautions(table, table.rows[0]) == ("Nobody resets a breaker twice.",)


def test_a_failure_that_is_not_there_is_refused(table):
    with pytest.raises(mishaps.Refused) as refusal:
        time_told.needed(table, "nothing")
    assert refusal.value.findings[0].code == "drill/no-failure"


def test_the_json_object_has_the_keys_that_were_promised_and_no_endless_number(hall):
    made = invented.table(hall.facility, time_told.Wanted(pairs=True))
    told = json.loads(json.dumps(time_told.as_json(made, "sentence", hall.facility), allow_nan=False))
    assert {"failures", "cut_sets", "assumed", "findings", "cautions", "pairs"} <= told.keys()
    first = told["failures"][0]
    assert {"id", "title", "kind", "crossings", "least_margins", "first_steps"} <= first.keys()
    assert {"place", "quantity", "limit", "hours", "low", "high"} <= first["crossings"][0].keys()
    assert first["crossings"][0]["limit"] == 4.5
    assert (first["crossings"][1]["low"], first["crossings"][1]["high"]) == (None, None)
    assert first["first_steps"][-1]["gained"] == 8.4
    assert told["failures"][1]["first_steps"][-1] == {
        "text": "battery air into Pipefish", "gained": None, "hours": None, "clears": True,
    }  # fmt: skip
