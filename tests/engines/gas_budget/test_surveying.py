"""A whole logbook surveyed: the invented hall's hidden truths come out, its sound meters are left alone."""

import functools
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from brinehouse.demo import generator, truths
from brinehouse.engines import gas_budget
from brinehouse.facility import reading


@functools.cache
def hall():
    history = generator.generate(1, quick=True)
    facility = reading.read(history.facility_text).facility
    gone = {one.supersedes for one in history.readings if one.supersedes}
    rows = tuple(one for one in history.readings if one.id not in gone)
    return history, facility, rows


@functools.cache
def surveyed():
    history, facility, rows = hall()
    return gas_budget.survey(facility, rows, facts=history.facts, as_of=truths.END)


def said(answer, code, thing=None):
    return [f for f in answer.findings if f.code == code and (thing is None or f.spot.thing == thing)]


def table(answer, name):
    return next(one for one in answer.tables if one.name == name)


def test_the_hand_meter_left_at_salinity_zero_is_named_with_the_day_it_was_put_right():
    finding = said(surveyed(), "gas/meter-salinity-zero", "DO-2")[0]
    truth = hall()[0].truths
    early = datetime.fromisoformat(finding.data["earliest"])
    late = datetime.fromisoformat(finding.data["latest"])
    assert early <= truth.hand_meter_wrong_until <= late
    assert late - early < timedelta(days=4)
    assert finding.data["factor"] == pytest.approx(truth.hand_meter_factor, abs=0.02)
    assert "until 0" in finding.text


def test_its_readings_are_told_as_they_should_have_been_and_the_record_is_left_alone():
    history, _, rows = hall()
    fixed = table(surveyed(), "corrected DO-2")
    by_id = {one.id: one for one in rows}
    off = []
    for row in fixed.rows:
        one = by_id[row["reading"]]
        assert row["shown"].value == one.value
        off.append(row["corrected"].value - history.truths.levels.at(one.place, "oxygen", one.measured))
    assert abs(sum(off) / len(off)) < 0.05


def test_the_weather_feed_is_found_to_give_sea_level_pressure():
    finding = said(surveyed(), "gas/barometer-sea-level", "weather-feed")[0]
    assert finding.data["apart_mmhg"] == pytest.approx(36, abs=8)
    assert not said(surveyed(), "gas/barometer-sea-level", "meter-A")


def test_sound_gas_meters_are_left_alone():
    best = {row["meter"]: row["explanation"] for row in table(surveyed(), "meters").rows}
    assert best == {"meter-A": "gas/closes", "meter-B": "gas/closes"}


@pytest.mark.parametrize("place", ["pipefish", "mangrove"])
def test_the_budget_of_a_place_holds_the_truth_once_the_meters_are_corrected(place):
    history, facility, rows = hall()
    truth = history.truths
    word = "total gas pressure"
    corrections = {"meter-A": {word: (-truth.bias_a, 0.15)}, "meter-B": {word: (-truth.bias_b, 0.15)}}
    answer = gas_budget.survey(facility, rows, corrections=corrections, as_of=truths.END)
    row = next(one for one in table(answer, "budget").rows if one["place"] == place)
    real = truth.last_visit[place]
    for name, word in (
        ("total_gas_pressure", "tgp"),
        ("oxygen_percent", "oxygen %"),
        ("nitrogen_percent", "nitrogen %"),
        ("delta_p", "delta p"),
    ):
        low, high = row[name].interval()
        assert low <= real[word] <= high, (name, row[name], real[word])


def test_pipefish_that_come_up_above_the_gas_line_are_an_alarm():
    assert said(surveyed(), "gas/animals-above-gas-line", "pipefish")
    row = next(one for one in table(surveyed(), "budget").rows if one["place"] == "pipefish")
    assert row["animals_at"].value == 0.2
    assert row["margin"].value == pytest.approx(0.2 - row["gas_line_at"].value)


def test_a_limit_is_crossed_only_where_the_whole_interval_lies_beyond():
    codes = {f.code for f in said(surveyed(), "gas/limit-crossed") if f.spot.thing == "pipefish"}
    assert codes
    _, facility, rows = hall()
    wide = {"meter-A": {"total gas pressure": (0.0, 3.0)}, "meter-B": {"total gas pressure": (0.0, 3.0)}}
    answer = gas_budget.survey(facility, rows, corrections=wide, as_of=truths.END)
    assert not said(answer, "gas/limit-crossed", "pipefish")
    assert said(answer, "gas/limit-may-be-crossed", "pipefish")


def planted(rows, meter, change):
    """The same logbook with one gas meter's figures as another setting would have shown them."""
    return [change(one) if one.instrument == meter else one for one in rows]


def test_a_gas_meter_turned_to_salinity_zero_half_way_is_caught_with_its_date():
    _, facility, rows = hall()
    turn = truths.END - timedelta(days=30)

    def change(one):
        if one.quantity != "oxygen" or one.value is None or one.measured < turn:
            return one
        return replace(one, value=round(one.value * 1.21, 2), text=f"{one.value * 1.21:.2f} mg/L")

    answer = gas_budget.survey(facility, planted(rows, "meter-A", change), as_of=truths.END)
    courses = [row for row in table(answer, "meters").rows if row["meter"] == "meter-A"]
    assert [row["explanation"] for row in courses] == ["gas/closes", "gas/meter-salinity-zero"]
    finding = said(answer, "gas/setting-changed", "meter-A")[0]
    early = datetime.fromisoformat(finding.data["earliest"])
    assert early - timedelta(days=1) <= turn <= datetime.fromisoformat(finding.data["latest"])
    put_right = next(one for one in table(answer, "budget").rows if one["meter"] == "meter-A")
    assert put_right["put_right"] == "gas/meter-salinity-zero"
    assert put_right["oxygen_percent"].value == pytest.approx(99, abs=4)


def test_vapour_left_in_is_named_over_many_visits():
    _, facility, rows = hall()

    def change(one):
        if one.quantity != "nitrogen residual" or one.value is None:
            return one
        return replace(one, value=round(one.value + 4.0, 1), text=f"{one.value + 4.0:.1f} %")

    warm = [one for one in rows if one.place in ("mangrove", "pipefish", "")]
    answer = gas_budget.survey(facility, planted(warm, "meter-B", change), as_of=truths.END)
    best = {row["meter"]: row["explanation"] for row in table(answer, "meters").rows}
    assert best["meter-B"] == "gas/vapour-not-subtracted"
    assert best["meter-A"] == "gas/closes"


def test_bounds_doubtful_values_and_later_readings_are_left_out():
    _, facility, rows = hall()
    when = truths.END - timedelta(days=20)
    answer = gas_budget.survey(facility, rows, as_of=when)
    assert answer.as_of <= when
    doubtful = [replace(one, quality="doubtful") if one.instrument == "meter-A" else one for one in rows]
    answer = gas_budget.survey(facility, doubtful, as_of=truths.END)
    assert {row["meter"] for row in table(answer, "budget").rows} == {"meter-B"}


def test_an_empty_logbook_says_what_to_read():
    _, facility, _ = hall()
    answer = gas_budget.survey(facility, [], as_of=truths.END)
    assert answer.state == "not-enough"
    assert answer.findings[0].hint
