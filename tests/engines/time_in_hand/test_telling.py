"""What is told of a table: sentence, findings, tables, what was assumed."""

import dataclasses

import pytest
from tests.engines.time_in_hand import still_water

from brinehouse import findings
from brinehouse.engines.time_in_hand import answering, question, telling
from brinehouse.network.transients import effects

Effect = effects.Effect
STOP = {"all stops": (Effect("stop", "D"),)}


def told(limits=still_water.LIMITS, effects=STOP, **asked):
    plant = still_water.facility(limits=limits)
    return answering.Work(still_water.asked(plant, effects=effects, **asked)).table()


def codes(table):
    return {one.code: one for one in table.findings}


def test_without_any_limit_it_is_said_that_only_floods_and_dry_places_can_be_told():
    table = told(limits="")
    assert codes(table)["time/no-limits"].level is findings.Level.ASK
    assert "for oxygen and temperature it cannot be told everywhere" in telling.sentence(table)


def test_what_comes_when_nothing_fails_is_told_and_no_failure_is_blamed_for_it():
    limits = '[[limit]]\nquantity = "pH"\nact = "below 8.05"\n'
    table = told(limits=limits, known={"t": {"ph": 8.3}}, effects={"fed double": (Effect("feed", "", 2.0),)})
    anyway = codes(table)["time/anyway"]
    assert anyway.data["quantity"] == "ph"
    assert anyway.data["hours"] > 0.0
    assert "When nothing fails, after" in anyway.text
    assert "pH at Tank is below 8.05" in anyway.text
    assert all(one.anyway or one.hours < 0.9 * anyway.data["hours"] for one in table.rows[0].crossings)


def test_a_limit_beyond_at_the_start_asks_for_action_first():
    table = told(known={"t": {"oxygen": 4.0}})
    already = codes(table)["time/already"]
    assert already.level is findings.Level.ACT
    assert already.text.startswith("At the start already oxygen at Tank is below 4.5 mg/L")


def test_a_flood_is_told_as_one():
    table = told(effects={"stuck": (Effect("top-up", "s", 1e-3),)})
    first = table.rows[0].first
    assert first.line.band == "spills"
    assert telling.line_said(table.asked.facility, first.line).startswith("Sump runs over its rim")


def test_a_plant_in_which_nothing_crosses_says_so():
    table = told(effects={"nothing much": (Effect("feed", "", 1.0),)})
    assert telling.sentence(table).startswith("No single failure crosses a limit within 72 h")
    assert telling.state(table) == "in hand"
    made = telling.answer(table)
    assert made.values["hours"].text == "no limit crossed"


def test_a_table_without_failures_cannot_say():
    table = dataclasses.replace(told(), rows=())
    assert telling.state(table) == "cannot-say"
    assert "nothing that can fail" in telling.sentence(table)


def test_what_was_assumed_is_listed_with_where_it_is_from():
    table = told()
    whats = {one.what: one for one in table.assumed}
    assert whats["until it is noticed"].value == question.NOTICE
    assert all(one.source for one in table.assumed)
    assert any("standard uncertainty" in what for what in whats)


@pytest.mark.parametrize(
    ("hours", "said"),
    [(0.0, "at once"), (0.5, "30 min"), (2.0, "2 h"), (9.99, "9 h 59 min"), (10.2, "10 h")],
)
def test_times_are_said_as_a_keeper_says_them(hours, said):
    assert telling.span(hours) == said
