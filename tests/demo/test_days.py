"""The rest of the log: food, lamps, events, pumps."""

import numpy as np
import pytest

from brinehouse.demo import days, generator


@pytest.fixture(scope="module")
def history():
    return generator.generate(6, quick=True)


def kinds(history, kind):
    return [fact for fact in history.facts if fact.kind == kind]


def test_a_meal_takes_oxygen_for_some_hours_and_then_no_more():
    hours = np.arange(0.0, 48.0, 1.0 / 6.0)
    taken = days.eaten_oxygen([(10.0, 0, 1.0)], hours)
    assert taken[hours < 9.9].max() == 0.0
    assert taken[(hours > 11.0) & (hours < 13.0)].min() > 1.0
    assert taken[hours > 20.0].max() == 0.0


def test_only_meals_in_mangrove_count_there():
    hours = np.arange(0.0, 48.0, 1.0 / 6.0)
    assert days.eaten_oxygen([(10.0, 1, 1.0), (10.0, 3, 1.0)], hours).max() == 0.0


def test_meals_have_food_grams_and_what_was_eaten(history):
    meals = kinds(history, "feeding")
    assert len(meals) > 800
    assert {fact.details["eaten"] for fact in meals} == {"all", "most", "little"}
    assert all(fact.details["grams"] > 0 and fact.details["food"] and fact.place for fact in meals)


def test_the_column_is_put_into_service_by_a_dated_event(history):
    dated = [fact for fact in kinds(history, "event") if "G-2" in fact.details["what"]]
    assert [fact.measured.date() for fact in dated] == [history.truths.column_since.date()]


def test_nobody_has_cleaned_the_strainer_yet(history):
    assert not any("strainer" in str(fact.details) + fact.note for fact in history.facts)


def test_at_most_one_pump_rests_but_for_a_minute_at_a_change(history):
    runs = sorted(kinds(history, "pump-run"), key=lambda fact: fact.measured)
    state, since = {}, runs[0].measured
    for fact in runs:
        name = fact.details["pump"]
        if not name.startswith("P-2"):
            continue
        if len(state) == 4 and sum(state.values()) != 3:
            assert (fact.measured - since).total_seconds() <= 120.0
        state[name], since = fact.details["running"], fact.measured
    assert sum(state.values()) == 3


def test_a_tripped_pump_stops_before_the_standby_starts(history):
    trip = sorted((f for f in kinds(history, "pump-run") if "tripped" in f.note), key=lambda f: f.measured)
    assert [fact.details["running"] for fact in trip] == [False, True]


def test_lamps_burn_some_hours_a_day(history):
    assert all(7.0 < fact.details["hours"] < 12.0 for fact in kinds(history, "light"))
