"""The history of the invented hall: the same for the same seed, untidy, and with truths that can be found."""

import importlib.resources
import time
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from brinehouse import findings, glossary
from brinehouse.demo import generator, truths
from brinehouse.facility import reading


@pytest.fixture(scope="module")
def history():
    return generator.generate(1)


@pytest.fixture(scope="module")
def several():
    return [generator.generate(seed, quick=True) for seed in range(1, 7)]


@pytest.fixture(scope="module")
def facility(history):
    checked = reading.read(history.facility_text)
    assert findings.worst(checked.findings) in (None, findings.Level.NOTE)
    return checked.facility


def effective(history):
    gone = {row.supersedes for row in history.readings if row.supersedes}
    return [row for row in history.readings if row.id not in gone and row.value is not None]


def test_the_facility_file_passes_the_check_and_says_it_is_invented(facility, history):
    assert facility.name == "Highmoor Sea Hall"
    assert len(facility.systems) >= 3
    assert len(facility.tanks) >= 9
    assert facility.duties["return-m"].keep == 3
    assert "invented" in history.facility_text.splitlines()[0]


def test_the_same_seed_gives_the_same_history(several):
    again = generator.generate(1, quick=True)
    assert again.readings == several[0].readings
    assert again.facts == several[0].facts


def test_another_seed_gives_another_history(several):
    assert len({one.readings[0].id for one in several}) == len(several)
    assert len({one.truths.bias_b for one in several}) == len(several)
    assert len({one.truths.leak_start for one in several}) == len(several)


def test_every_reading_is_of_something_the_facility_knows(history, facility):
    for row in history.readings:
        assert row.place == "" or facility.place(row.place) or row.place in facility.runs
        assert row.instrument in facility.instruments
        assert row.quantity in facility.instruments[row.instrument].measures
        assert not row.point or row.point in facility.points
        assert row.person is None or 1 <= row.person <= len(history.people)
        assert (row.person is None) == (row.source == "sensor")


def test_every_quantity_and_unit_is_the_glossarys(history):
    for quantity, unit in {(row.quantity, row.unit) for row in history.readings}:
        assert glossary.quantity(quantity).word == quantity
        assert glossary.quantity(quantity).unit == unit


def test_no_value_is_one_that_the_entry_form_refuses(history):
    for row in history.readings:
        if row.value is not None:
            verdict = glossary.quantity(row.quantity).judge(row.value, row.unit)
            assert verdict == row.quality, row


def test_ids_are_hex_and_never_twice(history):
    ids = [fact.id for fact in [*history.readings, *history.facts]]
    assert len(set(ids)) == len(ids)
    assert all(len(id) == 32 and int(id, 16) >= 0 for id in ids)


def test_nothing_is_later_than_the_end_or_entered_before_it_was_measured(history):
    for fact in [*history.readings, *history.facts]:
        assert truths.END - timedelta(days=90) <= fact.measured <= fact.entered <= truths.END


def test_the_log_is_in_the_order_in_which_it_was_written(history):
    for rows in (history.readings, history.facts):
        assert [row.entered for row in rows] == sorted(row.entered for row in rows)
    place = {row.id: number for number, row in enumerate(history.readings)}
    assert all(place[row.supersedes] < place[row.id] for row in history.readings if row.supersedes)


def test_the_history_is_large_enough_and_quick_to_make(history):
    assert 10_000 <= len(history.readings) <= 25_000
    begin = time.process_time()
    generator.generate(2, quick=True)
    assert time.process_time() - begin < 2.0


def test_it_is_untidy_as_people_are(history):
    assert any("slip" in row.reason for row in history.readings)
    assert any(row.missing for row in history.readings)
    assert any(row.entered - row.measured > timedelta(hours=2) for row in history.readings)
    assert any(row.bound == "<" and row.text.startswith("<") for row in history.readings)
    rounds = {row.measured.date() for row in history.readings if row.instrument == "DO-2"}
    mornings = {
        row.measured.date() for row in history.readings if row.instrument == "DO-2" and row.measured.hour < 12
    }
    assert len(mornings) < len(rounds) <= 91


def test_total_gas_pressure_stays_where_such_water_stays(several):
    for one in several:
        values = [row.value for row in effective(one) if row.quantity == "total gas pressure"]
        within = [value for value in values if 97.0 <= value <= 112.0]
        assert len(values) - len(within) <= 4  # slips of the pen that nobody saw
        assert len(within) > 120


def test_truths_stand_within_their_stated_limits(several):
    for one in several:
        for name, (low, high) in truths.LIMITS.items():
            assert low <= getattr(one.truths, name) <= high, name
        days = (truths.END - one.truths.leak_start).days
        assert 27 <= days <= 35
        assert one.truths.leak_pump == "P-203"
        assert one.truths.column_since < one.truths.leak_start


def test_sittings_are_many_with_the_pump_in_and_out(several):
    for one in several:
        trials = [fact for fact in one.facts if fact.kind == "gas-trial"]
        assert len({fact.details["sitting"] for fact in trials}) >= 25
        late = [fact.measured for fact in trials if fact.measured > one.truths.leak_start]
        on = [running(one, "P-203", at) for at in late]
        assert sum(on) >= 20
        assert len(on) - sum(on) >= 8


def running(history, pump, at):
    told = [
        fact
        for fact in history.facts
        if fact.kind == "pump-run" and fact.details["pump"] == pump and fact.measured <= at
    ]
    return max(told, key=lambda fact: fact.measured).details["running"]


def test_meters_change_places_within_a_sitting_and_are_checked_in_air(several):
    for one in several:
        seen = {}
        for fact in one.facts:
            if fact.kind == "gas-trial":
                seen.setdefault((fact.details["sitting"], fact.place), set()).add(fact.details["instrument"])
        assert sum(len(meters) == 2 for meters in seen.values()) >= 15
        checks = [fact.details["instrument"] for fact in one.facts if fact.kind == "instrument-check"]
        assert all(2 <= checks.count(name) <= 4 for name in ("meter-A", "meter-B"))


def test_trials_read_every_few_minutes_for_twenty_minutes_or_more(history):
    for fact in history.facts:
        if fact.kind == "gas-trial":
            minutes = fact.details["minutes"]
            assert len(minutes) == len(fact.details["values"]) >= 5
            assert 19 <= minutes[-1] <= 34
            assert minutes == sorted(set(minutes))


def test_a_deliberate_start_is_read_before_and_ten_minutes_after(history):
    started = [f for f in history.facts if f.kind == "pump-run" and "started on purpose" in f.note]
    start = min(fact.measured for fact in started)
    hung = [f.measured - start for f in history.facts if f.kind == "gas-trial" and f.place == "m-supply"]
    assert sorted(hung) == [timedelta(minutes=-45), timedelta(minutes=10)]


def test_the_leak_adds_what_the_truth_says_in_its_ratio(several):
    for seed, one in enumerate(several[:3], start=1):
        dry = generator.generate(seed, quick=True, laws=truths.Laws(leak_mmhg=0.0))
        rise = {
            name: one.truths.levels.series["mangrove"][name] - dry.truths.levels.series["mangrove"][name]
            for name in ("delta p", "oxygen %", "nitrogen %")
        }
        full = np.percentile(rise["delta p"], 95.0)
        assert full == pytest.approx(one.truths.leak_mangrove, rel=0.15)
        on = rise["delta p"] > 0.8 * full
        ratio = np.median(rise["nitrogen %"][on] / rise["oxygen %"][on])
        assert ratio == pytest.approx(one.truths.leak_ratio, rel=0.02)
        assert np.abs(rise["delta p"][: 24 * 6 * 50]).max() < 0.01


def test_the_column_lowers_mangrove_by_what_the_truth_says(several):
    kept, without = (
        generator.generate(1, quick=True, laws=truths.Laws(leak_mmhg=0.0, column=column)).truths
        for column in (True, False)
    )
    lower = without.levels.series["mangrove"]["delta p"] - kept.levels.series["mangrove"]["delta p"]
    since = kept.levels.index(kept.column_since)
    assert np.abs(lower[:since]).max() < 1e-9
    assert lower[since + 200 :].mean() == pytest.approx(kept.column_effect, abs=0.5)
    assert without.column_effect == pytest.approx(0.0, abs=1e-9)


def test_the_hand_meter_reads_a_fifth_high_until_it_is_set_right(history):
    told = history.truths
    over = {True: [], False: []}
    for row in effective(history):
        if row.instrument == "DO-2" and row.place == "mangrove" and row.quality == "good":
            true = told.levels.at("mangrove", "oxygen", row.measured)
            over[row.measured < told.hand_meter_wrong_until].append(row.value / true)
    assert np.median(over[True]) == pytest.approx(told.hand_meter_factor, abs=0.01)
    assert np.median(over[False]) == pytest.approx(1.0, abs=0.01)


def test_the_weather_feed_gives_sea_level_and_the_gas_meters_the_station(history):
    told = {"weather-feed": [], "meter-A": []}
    for row in effective(history):
        if row.quantity == "barometer" and row.instrument in told:
            told[row.instrument].append(row.value)
    assert 755.0 < np.mean(told["weather-feed"]) < 770.0
    assert 717.0 < np.mean(told["meter-A"]) < 733.0


def test_meter_b_reads_higher_than_meter_a_by_the_hidden_bias(several):
    for one in several:
        told = one.truths
        over = {"meter-A": [], "meter-B": []}
        for row in effective(one):
            if row.quantity == "total gas pressure" and row.quality == "good":
                true = told.levels.at(row.place, "tgp", row.measured)
                over[row.instrument].append(row.value - true)
        assert np.median(over["meter-B"]) == pytest.approx(told.bias_b, abs=0.1)
        assert np.median(over["meter-A"]) == pytest.approx(told.bias_a, abs=0.1)


def test_the_pipefish_ail_only_once_the_air_is_drawn_in(history):
    ill = [f.measured for f in history.facts if f.kind == "observation" and f.details["count"] > 0]
    assert len(ill) >= 5
    assert min(ill) > history.truths.leak_start


def test_the_last_visit_is_told_for_every_place_with_a_gas_meter(history):
    told = history.truths
    assert timedelta(0) < truths.END - told.last_visit_at < timedelta(minutes=40)
    assert told.last_visit["pipefish"]["tgp"] > told.last_visit["mangrove"]["tgp"] > 101.0


def test_a_law_can_be_changed_and_nothing_else_moves():
    usual = generator.generate(3, quick=True)
    other = generator.generate(3, quick=True, laws=truths.Laws(leak_pump="P-201", drift_per_day=0.02))
    assert other.truths.leak_pump == "P-201"
    assert other.truths.bias_b - usual.truths.bias_b == pytest.approx(0.9, abs=0.05)
    walking = generator.generate(3, quick=True, laws=truths.Laws(meter_b_bias_walk=True))
    assert walking.truths.leak_mangrove == usual.truths.leak_mangrove


@pytest.mark.parametrize(
    ("days", "end"),
    [(20, truths.END), (90, datetime(2027, 7, 1, 15, 20, tzinfo=UTC)), (120, truths.END)],
)
def test_other_spans_and_ends_work_too(days, end):
    one = generator.generate(4, days=days, end=end, quick=True)
    times = [fact.measured for fact in [*one.readings, *one.facts]]
    assert min(times) >= end - timedelta(days=days)
    assert max(times) <= end


def test_the_generator_is_not_run_by_the_clock_or_by_chance_of_its_own():
    folder = importlib.resources.files("brinehouse.demo")
    for page in folder.iterdir():
        if page.name.endswith(".py") and page.name != "building.py":
            text = page.read_text("utf-8")
            assert "import random" not in text
            assert "datetime.now" not in text
