"""Time in hand of small plants: what must be so whatever the numbers are."""

import dataclasses
import functools
import itertools
import json
import math

import numpy as np
import pytest
from tests.engines.time_in_hand import still_water

from brinehouse.engines.time_in_hand import answering, question, sampling, starting, telling
from brinehouse.network.compartments import conditions as given
from brinehouse.network.transients import effects, running

Effect = effects.Effect
STOP = (Effect("stop", "D"),)
GAS_LIMITS = """
[[limit]]
quantity = "oxygen"
act = "below 4.5 mg/L"
[[limit]]
quantity = "carbon dioxide"
act = "above 4 mg/L"
[[limit]]
quantity = "ammonia"
act = "above 0.3 mg/L as N"
[[limit]]
quantity = "un-ionised ammonia"
act = "above 0.004 mg/L as N"
"""


@functools.cache
def one_loop():
    return answering.Work(still_water.asked())


PAIRED = (
    "power",
    "change-over",
    "pump-A-stops",
    "standby",
    "leak-s-50",
    "top-up-s",
    "chiller-C",
    "valve-down",
)


@functools.cache
def in_pairs():
    """Pairs of a part of the catalogue: all of it takes seconds."""
    asked = still_water.asked()
    some = [one for one in asked.failures if one.id.startswith(PAIRED)]
    work = answering.Work(dataclasses.replace(asked, failures=some))
    return work.with_pairs(work.table())


def row_of(table, name):
    return next(row for row in (*table.rows, *table.pairs) if row.id == name)


def hours_by_biomass(times, limits=GAS_LIMITS, mass=60.0):
    """Hours until each limit of the tank is crossed with everything stopped, for more and more animals."""
    plant = still_water.facility(limits=limits, mass=mass)
    work = answering.Work(still_water.asked(plant, effects={"all stops": STOP}))
    water = work.courses.waters[0]
    made = water.batch([STOP])
    found = [
        running.run(
            water.structure, sampling.varied(water.structure, made, np.array([more, 1.0, 1.0])), 72.0
        ).crossed[0]
        / 3600.0
        for more in times
    ]
    return {line.quantity: np.array([one[at] for one in found]) for at, line in enumerate(water.lines)
            if line.band == "act"}  # fmt: skip


# -- what must be so -------------------------------------------------------------------------------------


@pytest.mark.parametrize("quantity", ["oxygen", "co2", "tan"])
def test_more_animals_never_give_more_time(quantity):
    hours = hours_by_biomass((0.5, 0.8, 1.0, 1.4, 2.0, 3.0))[quantity]
    assert math.isfinite(hours[-1])
    assert all(after <= before for before, after in itertools.pairwise(hours))


def test_more_animals_may_give_more_time_for_unionised_ammonia_because_their_carbon_dioxide_sours_the_water():
    limit = '[[limit]]\nquantity = "un-ionised ammonia"\nact = "above 0.0162 mg/L as N"\n'
    asked = still_water.asked(
        still_water.facility(limits=limit),
        effects={"all stops": STOP},
        known={"t": {"tan": 0.05, "ph": 8.2, "oxygen": 6.5, "alkalinity": 1200.0}},
    )
    feed = {"t": given.Feed(rate=0.1 / 86400.0)}
    bare = dataclasses.replace(asked.conditions, feed=feed, nitrifying={})  # nothing takes ammonia
    water = answering.Work(dataclasses.replace(asked, conditions=bare)).courses.waters[0]
    made = water.batch([STOP])
    hours, at_18 = [], []
    for more in (1.0, 2.0, 4.0):
        varied = sampling.varied(water.structure, made, np.array([more, 1.0, 1.0]))
        hours.append(running.run(water.structure, varied, 72.0).crossed[0, 0] / 3600.0)
        x, volume = running.curves(water.structure, varied, 0, np.array([18.0]))
        at_18.append(starting.along(["tan", "ph", "ammonia"], x[:, :, 0], volume[:, 0], 101325.0)[0])
    assert hours[0] < 72.0
    assert math.isinf(hours[1])  # twice the animals: the limit is never met ...
    assert hours[2] < hours[0]  # ... four times: their ammonia wins at last
    (tan, ph, ammonia), (tan_of_two, ph_of_two, ammonia_of_two), _ = at_18
    assert tan_of_two > 1.5 * tan
    assert ph_of_two < ph - 0.2
    assert ammonia_of_two < ammonia


def test_a_spare_that_works_never_gives_less_but_for_pairs_that_are_named():
    table = in_pairs()
    named = {one.data["failures"][1] for one in table.findings if one.code == "time/spare-harms"}
    assert row_of(table, "pump-A-stops").hours >= row_of(table, "change-over-D-fails").hours
    for row in table.pairs:
        first, second = row.failures
        other = second if first == "pump-A-stops" else first if second == "pump-A-stops" else ""
        worse = {frozenset(one.failures): one for one in table.pairs}.get(
            frozenset((other, "change-over-D-fails"))
        )
        if other and worse is not None and other not in named:
            assert row.hours >= 0.9 * worse.hours, other
    assert all("leak" in one or "top-up" in one or "valve" in one or "way" in one for one in named)


def test_a_larger_tank_cools_slower_at_the_same_surface_and_heat_loss():
    cold = {"cold": (Effect("power"), Effect("room", value=2.0))}
    hours = [
        answering.Work(still_water.asked(still_water.facility(volume=volume, mass=0.5), effects=cold))
        .table().rows[0]
        for volume in (8.0, 12.0, 20.0)
    ]  # fmt: skip
    when = [next(one.hours for one in row.crossings if one.quantity == "temperature") for row in hours]
    assert when[0] < when[1] < when[2]


def test_a_dead_standby_is_told_as_a_failure_nobody_notices_with_what_it_makes_worse():
    row = row_of(one_loop().table(), "standby-B-dead")
    assert not row.noticed
    assert row.first is None
    assert "pump-A-stops" in row.bites_with
    told = [one for one in one_loop().table().findings if one.code == "time/not-noticed"]
    assert "nothing at the plant shows it" in told[0].text


def test_pairs_of_different_waters_are_put_together_from_their_singles():
    lone = (
        '[tank.q]\nname = "Quarantine"\nvolume = "1 m3"\nsurface = "1 m2"\nstands_alone = true\n'
        '[[animals]]\nat = "q"\nspecies = "goby"\nmass = "2 kg"\n'
    )
    work = answering.Work(
        still_water.asked(
            still_water.facility(more=lone),
            effects={"all stops": STOP, "leak": (Effect("leak", "q", 0.02, "floor"),)},
        )
    )
    table = work.table()
    known = sum(len(water.known) for water in work.courses.waters)
    table = work.with_pairs(table)
    assert sum(len(water.known) for water in work.courses.waters) == known
    both = row_of(table, "all stops + leak").hours
    assert both == min(row_of(table, "all stops").hours, row_of(table, "leak").hours)


# -- rows ------------------------------------------------------------------------------------------------


def test_rows_come_shortest_first_and_those_that_cross_nothing_last():
    hours = [row.hours for row in one_loop().table().rows]
    assert hours == sorted(hours)
    assert math.isfinite(hours[0])
    last = one_loop().table().rows[-1]
    assert last.least_margins
    assert last.left is None


def test_the_time_that_is_left_is_without_notice_and_travel():
    row = row_of(one_loop().table(), "power-fails")
    assert row.left == pytest.approx(row.hours - 1.0)


def test_air_from_a_battery_helps_where_oxygen_runs_out():
    row = row_of(one_loop().table(), "power-fails")
    assert row.first is not None
    assert row.first.quantity == "oxygen"
    assert "aerate" in {one.kind for one in row.helps}
    assert all(one.gained > 0.0 for one in row.helps)


def test_nothing_that_needs_power_is_offered_while_the_power_is_off():
    row = row_of(one_loop().table(), "power-fails")
    assert "start" not in {one.kind for one in row.helps}


def test_a_standby_that_did_not_start_is_started_by_hand():
    row = row_of(one_loop().table(), "change-over-D-fails")
    assert row.helps
    assert row.helps[0].kind == "start"


def test_a_limit_that_is_beyond_at_the_start_is_said_and_no_failure_is_blamed_for_it():
    known = {"t": {"oxygen": 4.2}}
    table = answering.Work(still_water.asked(known=known, effects={"all stops": STOP})).table()
    assert [line.quantity for line in table.start.crossed] == ["oxygen"]
    assert "time/already" in {one.code for one in table.findings}
    crossing = next(one for one in table.rows[0].crossings if one.quantity == "oxygen")
    assert (crossing.hours, crossing.anyway) == (0.0, True)
    assert table.rows[0].first is None or table.rows[0].first.quantity != "oxygen"


def test_the_worst_hour_of_the_day_is_named_and_leaves_no_more_than_a_better_one():
    hard = answering.Work(still_water.asked(begin="worst", effects={"all stops": STOP}))
    assert hard.ready.start.begin == "worst"
    assert "worst hour" in hard.ready.start.text
    assert 0.0 <= hard.ready.start.clock < 24.0


# -- how sure --------------------------------------------------------------------------------------------


def test_samples_come_out_alike_in_whatever_parts_they_are_worked():
    ids = ("power-fails", "change-over-D-fails")
    whole = one_loop().samples(ids, 0, 6)
    parts = np.concatenate([one_loop().samples(ids, 0, 2), one_loop().samples(ids[:1] + ids[1:], 2, 6)])
    assert np.array_equal(whole, parts)


def test_intervals_hold_the_hours_and_stay_none_where_nothing_was_sampled():
    table, ids = one_loop().table(), ("power-fails",)
    made = one_loop().with_intervals(table, ids, one_loop().samples(ids, 0, 20))
    first = row_of(made, "power-fails").first
    assert first is not None
    assert first.low is not None
    assert first.high is not None
    assert first.low <= first.hours <= first.high
    assert first.low < first.high
    assert row_of(made, "change-over-D-fails").first.low is None
    assert made.intervals == "ready"


# -- what is told ----------------------------------------------------------------------------------------


def test_the_answer_names_the_shortest_failure_where_and_which_limit():
    made = telling.answer(answering.Work(still_water.asked(effects={"all stops": STOP})).table())
    assert "when all stops: after" in made.sentence
    assert "oxygen at Tank is below 4.5 mg/L" in made.sentence
    assert {table.name for table in made.tables} >= {"failures", "assumed"}
    assert any("Life safety first" in one for one in made.question.cautions)
    json.dumps(made.as_json())


def test_the_plain_object_has_what_programs_from_outside_read():
    plain = in_pairs().as_json()
    json.dumps(plain, allow_nan=False)
    first = plain["failures"][0]
    assert {"id", "title", "kind", "crossings", "least_margins"} <= first.keys()
    assert {"place", "quantity", "limit", "hours", "low", "high"} <= first["crossings"][0].keys()
    assert plain["cut_sets"]
    assert plain["assumed"]


def test_the_shortest_single_failures_and_the_pairs_without_them_are_the_least_sets():
    table = in_pairs()
    singles = {row.id for row in table.rows if row.hours < 4.0}
    assert {one.failures[0] for one in table.cut_sets if len(one.failures) == 1} == singles
    for one in table.cut_sets:
        assert one.hours < 4.0
        assert len(one.failures) == 1 or not singles & set(one.failures)


def test_no_two_failures_are_two_states_of_one_part():
    for one, two in one_loop().pairs():
        kinds = {(e.kind, e.part) for e in one.effects} & {(e.kind, e.part) for e in two.effects}
        assert not kinds


def test_curves_show_first_what_crosses_with_its_limits():
    told = one_loop().curves("power-fails", points=25)
    assert (told[0].place, told[0].quantity, told[0].unit) == ("t", "oxygen", "mg/L")
    assert {line.value for line in told[0].lines} == {4.5, 5.5}
    assert told[0].values[0] > told[0].values[-1]


def test_a_typed_tank_gets_an_answer_and_a_wrong_amount_a_way_out():
    from brinehouse.engines.time_in_hand import asked

    made = asked.answer({"volume": "20 m3", "mass": "60 kg", "least": "4.5 mg/L"})
    assert made.values["hours"].value is not None
    assert "its pump" in made.sentence or "power" in made.sentence
    wrong = asked.answer({"volume": "twenty", "mass": "60 kg", "least": "4.5 mg/L"})
    assert wrong.state == "refused"
    assert wrong.findings[0].hint
    assert dataclasses.is_dataclass(question.Table)
