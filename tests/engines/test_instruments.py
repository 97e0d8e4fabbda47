import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from brinehouse import findings, records, units
from brinehouse.engines import instruments
from brinehouse.engines.instruments import concluding
from brinehouse.science import statistics_meters

TGP = "total gas pressure"
MONDAY = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SWAP = {"meter": "A B A B", "place": "t1 t2 t2 t1", "sitting": "1 1 2 2", "value": "103.4 101.1 102.5 102.3"}
THREE = {"meter": "A B C " * 4, "place": "t1 t1 t1 t2 t2 t2 t3 t3 t3 t4 t4 t4"}


def codes(answer):
    return {found.code for found in answer.findings}


def table(answer, name):
    return next(t for t in answer.tables if t.name == name).rows


def offsets(answer):
    return {row["meter"]: row["offset"] for row in table(answer, "meters")}


def reading(instrument, place, hours, value, **more):
    given = {"id": f"{instrument}-{place}-{hours}", "quantity": TGP, "unit": "%", "text": f"{value}"} | more
    when = MONDAY + timedelta(hours=hours)
    return records.Reading(
        measured=when, entered=when, place=place, value=value, instrument=instrument, **given
    )


def check(instrument, hours, reads, should=100.0, kind="air", **more):
    when = MONDAY + timedelta(hours=hours)
    details = {"instrument": instrument, "check": kind, "quantity": TGP, "unit": "%"}
    details |= {"reads": reads, "should_read": should} | more
    return records.Fact(
        id=f"c{instrument}{hours}{kind}",
        kind="instrument-check",
        measured=when,
        entered=when,
        details=details,
    )


def zeroed(instrument, hours):
    when = MONDAY + timedelta(hours=hours)
    details = {"what": "zeroed", "instrument": instrument}
    return records.Fact(id=f"z{hours}", kind="event", measured=when, entered=when, details=details)


def survey(readings, checks=(), accuracies=None, **more):
    return instruments.survey(readings, checks, accuracies or {}, TGP, "%", **more)


# -------------------------------------------------------------------------------------- comparisons


def test_a_swap_tells_by_how_much_two_meters_differ_and_no_more():
    answer = instruments.answer({**SWAP, "u": "0.2", "drift": "0.001"})
    assert answer.state == "differ"
    assert "B" in answer.sentence
    assert "needs an absolute reference" in answer.sentence
    difference = answer.values["largest_difference"]
    assert difference.value == pytest.approx((103.4 + 102.5 - 101.1 - 102.3) / 2, abs=1e-3)
    assert difference.u == pytest.approx(0.2, rel=1e-3)  # closed form: Grizzle (1965), from memory
    assert offsets(answer)["A"].value is None
    assert {"instruments/common-level", "instruments/assumed-accuracy", "instruments/differ"} <= codes(answer)


def test_a_flipped_sign_in_the_design_would_be_noticed(monkeypatch):
    whole = statistics_meters.Frame.rows

    def flipped(self):
        level, few, y, sd = whole(self)
        few[1, self.column["B"]] *= -1
        return level, few, y, sd

    monkeypatch.setattr(statistics_meters.Frame, "rows", flipped)
    with pytest.raises(AssertionError):
        test_a_swap_tells_by_how_much_two_meters_differ_and_no_more()


def test_stated_accuracies_carry_the_common_offset_into_every_interval():
    answer = instruments.answer({**SWAP, "u": "0.2 %", "accuracy": "1 %"})
    offset = offsets(answer)
    assert offset["A"].value == pytest.approx(-offset["B"].value)
    common = 1 / math.sqrt(3) / math.sqrt(2)  # u = a/√3 of two meters, JCGM 100:2008, 4.3.7
    assert answer.values["common_level"].value == pytest.approx(1.96 * common, rel=1e-3)
    assert offset["A"].u > common
    assert table(answer, "meters")[0]["against"] == "stated accuracies only"
    assert all(row["level"].u > common for row in table(answer, "places"))


def test_a_check_of_one_meter_tells_about_the_other():
    answer = instruments.answer(
        {**SWAP, "u": "0.1 %", "drift": "0", "accuracy": "A 0.7 %; B 0.5 %", "checked": "A 0.3 %"}
    )
    assert answer.state == "off"
    offset = offsets(answer)
    assert offset["A"].value == pytest.approx(0.3)
    assert offset["B"].value == pytest.approx(0.3 - 1.25)
    assert table(answer, "meters")[1]["against"] == "the check of A"
    assert "B reads" in answer.sentence
    assert "too low" in answer.sentence
    assert "instruments/off" in codes(answer)
    assert "instruments/common-level" not in codes(answer)


def test_a_meter_further_off_than_its_maker_says_is_named():
    answer = instruments.answer({**SWAP, "u": "0.05 %", "accuracy": "0.1 %", "checked": "A 0"})
    assert "instruments/beyond-accuracy" in codes(answer)
    pair = instruments.answer({**SWAP, "u": "0.05 %", "accuracy": "0.1 %", "hours": "0 0 0.1 0.1"})
    assert "instruments/beyond-accuracy" in codes(pair)
    assert "instruments/beyond-accuracy" not in codes(
        instruments.answer({**SWAP, "u": "0.05", "accuracy": "2"})
    )


def test_the_odd_one_out_of_three_is_called_likelier_and_not_guilty():
    value = "103 103.1 105 101 101.1 103.1 104 104.1 105.9 102 101.9 104.1"
    answer = instruments.answer({**THREE, "value": value, "accuracy": "1 %"})
    assert answer.state == "differ"
    assert answer.sentence.startswith("C reads 2.00 %")
    assert "likelier" in answer.sentence


def test_meters_that_agree_are_said_to_agree_and_how_well():
    value = "103 103.1 103 101 101.1 101.1 104 104.1 104.1 102 101.9 102.1"
    answer = instruments.answer({**THREE, "value": value, "accuracy": "1 %"})
    assert answer.state == "agree"
    assert "at most 0." in answer.sentence


def test_meters_whose_readings_scatter_widely_are_not_said_to_agree():
    value = "103 106 100 101 98 104 104 101 107 102 105 99"
    answer = instruments.answer({**THREE, "value": value, "accuracy": "1 %"})
    assert answer.state == "cannot-say"
    assert "would not show" in answer.sentence


def test_parts_that_nothing_connects_are_named_with_the_reading_that_would():
    answer = instruments.answer({"meter": "A B C D", "place": "t1 t1 t2 t2", "value": "103 102 101 100"})
    assert answer.state == "disconnected"
    assert "instruments/disconnected" in codes(answer)
    assert [row["meters"] for row in table(answer, "parts")] == ["A, B", "C, D"]
    first = answer.next_readings[0]
    assert "side by side" in first
    assert "now not at all" in first
    assert "Read A " in first or "Read B " in first
    assert " C " in first or " D " in first


def test_parts_that_are_all_checked_are_comparable():
    answer = instruments.answer(
        {"meter": "A B", "place": "t1 t2", "value": "103 102", "checked": "A 0.1; B 0.2", "accuracy": "1 %"}
    )
    assert answer.state == "agree" or answer.state == "off"
    assert "instruments/disconnected" not in codes(answer)


def test_one_meter_alone_cannot_be_judged():
    answer = instruments.answer({"meter": "A A", "place": "t1 t2", "value": "103 102"})
    assert answer.state == "cannot-say"
    assert "instruments/too-few" in codes(answer)


def test_one_meter_with_a_check_can():
    answer = instruments.answer({"meter": "A A", "place": "t1 t2", "value": "103 102", "checked": "A 0.1"})
    assert answer.state == "agree"
    assert table(answer, "places")[0]["level"].value == pytest.approx(102.9)


def test_a_mistyped_reading_is_named_kept_and_a_refit_offered():
    value = "103 103.1 103 101 101.1 101.1 104 104.1 109.9 102 101.9 102.1"
    answer = instruments.answer({**THREE, "value": value, "accuracy": "1 %"})
    odd = next(found for found in answer.findings if found.code == "instruments/odd-reading")
    assert odd.spot.item == 9
    assert "C at t3" in odd.text
    assert odd.data["off"] == pytest.approx(5.85, abs=0.1)
    assert answer.used == 12
    without = {row["meter"]: row for row in table(answer, "meters_without")}
    assert without["C"]["readings"] == 3
    assert abs(without["C"]["offset"].value) < 0.2
    assert "does not fit" in answer.sentence


def test_without_its_bound_every_survey_would_have_an_odd_reading(monkeypatch):
    monkeypatch.setattr(concluding, "ODD", 1.1)
    value = "103 103.1 103 101 101.1 101.1 104 104.1 104.1 102 101.9 102.1"
    assert "instruments/odd-reading" in codes(instruments.answer({**THREE, "value": value}))


def test_readings_that_scatter_more_than_they_may_are_said_to():
    value = "103 103.9 103 101 101.9 101.1 104 103.1 104.1 102 101.3 102.8"
    answer = instruments.answer({**THREE, "value": value, "u": "0.1 %"})
    assert "instruments/poor-fit" in codes(answer)


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"meter": "A B", "place": "t1 t1", "value": "100 x"}, "instruments/unreadable"),
        ({"meter": "A B", "place": "t1", "value": "100 101"}, "instruments/unequal-columns"),
        ({"meter": "A", "place": "t1", "value": "100"}, "instruments/too-few"),
        ({}, "instruments/too-few"),
        ({**SWAP, "u": "lots"}, "instruments/unreadable"),
        ({**SWAP, "accuracy": "A 1 flurb"}, "instruments/unreadable"),
    ],
)
def test_what_cannot_be_compared_is_refused_with_a_way_out(given, code):
    answer = instruments.answer(given)
    assert answer.state == "cannot-say"
    assert code in codes(answer)
    assert findings.worst(answer.findings) == findings.Level.STOP
    assert all(found.hint for found in answer.findings)


def test_columns_may_be_lists_and_names_may_be_numbers():
    answer = instruments.answer(
        {"meter": [1.0, 2.0], "place": ["t1", "t1"], "value": [100.0, 102.0], "hours": [0.0, 0.0]}
    )
    assert answer.values["largest_difference"].value == pytest.approx(2.0)
    assert table(answer, "differences")[0]["higher"] == "2"


def test_an_answer_shows_its_working_and_what_it_cannot_see():
    answer = instruments.answer({**SWAP, "accuracy": "1 %", "checked": "A 0.2"})
    assert {"offsets", "drift", "offset of A"} <= {step.name for step in answer.working}
    assert all(step.source for step in answer.working)
    assert {item.code for item in answer.not_excluded} == {
        "instruments/shared",
        "instruments/wet-check",
        "instruments/meter-suits-place",
    }
    assert set(answer.values) == {output.name for output in instruments.QUESTION.outputs}
    assert {"instruments/assumed-scatter", "instruments/assumed-drift"} <= codes(answer)
    plain = instruments.answer({**SWAP, "accuracy": "1 %"})
    assert "common level" in {step.name for step in plain.working}


@pytest.mark.parametrize(
    ("unit", "word"), [("%", "in air"), ("mmHg", "in air"), ("mg/L", "wet chemistry"), ("°C", "a standard")]
)
def test_each_quantity_has_its_own_absolute_reference(unit, word):
    answer = instruments.answer({**SWAP, "unit": unit})
    assert any(word in line for line in answer.next_readings)


# -------------------------------------------------------------------------------------- from the logbook


def test_the_logbook_is_read_by_meter_place_and_time():
    rows = [
        reading("A", "t1", 0.0, 103.4), reading("B", "t2", 0.1, 101.1),
        reading("A", "t2", 1.0, 102.5), reading("B", "t1", 1.1, 102.3),
    ]  # fmt: skip
    accuracies = {"A": units.read_amount("1 %"), "B": 1.0, "C": units.read_amount("3 mg/L")}
    answer = survey(rows, accuracies=accuracies, u=0.2, drift=0.01)
    assert answer.state == "differ"
    assert answer.values["largest_difference"].value == pytest.approx(1.25, abs=0.01)
    assert {row["sitting"] for row in table(answer, "places")} == {"2026-03-02 09:00", "2026-03-02 10:00"}
    assert answer.as_of == rows[-1].measured
    assert answer.used == 4
    assert "instruments/left-out" not in codes(answer)


def test_only_readings_that_can_be_compared_are_used():
    rows = [
        reading("A", "t1", 0, 103.0), reading("B", "t1", 0.1, 102.0),
        reading("B", "t1", 0.2, 150.0, quality="doubtful"), reading("", "t1", 0.2, 99.0),
        reading("A", "t1", 0.3, 110.0, bound="<"), reading("A", "t1", 0.3, None, missing="broken", id="m"),
        reading("A", "t1", 0.4, 780.0, unit="mg/L", id="u"),
        reading("A", "t1", 0.4, 7.0, quantity="oxygen", id="o"),
    ]  # fmt: skip
    answer = survey(rows)
    assert answer.used == 2
    assert answer.values["largest_difference"].value == pytest.approx(1.0)
    left = next(found for found in answer.findings if found.code == "instruments/left-out")
    assert "5 of 7" in left.text


def test_of_a_trial_only_the_last_reading_counts():
    rows = [
        reading("A", "t1", m / 60, v, sitting="trial-7") for m, v in [(0, 100.4), (5, 102.0), (20, 103.0)]
    ]
    answer = survey([*rows, reading("B", "t1", 0.4, 102.0)])
    assert answer.values["largest_difference"].value == pytest.approx(1.0)
    assert answer.used == 2


def test_too_few_readings_in_the_logbook_are_refused():
    answer = survey([reading("A", "t1", 0, 103.0)])
    assert answer.state == "cannot-say"
    assert "instruments/too-few" in codes(answer)


def test_an_air_check_fixes_the_zero_and_grows_old():
    rows = [reading("A", "t1", 0, 103.0), reading("B", "t1", 0.1, 102.0)]
    stated = {"A": 1.0, "B": 1.0}
    fresh = survey(rows, [check("A", -1, 100.9)], stated, u=0.1)
    old = survey(rows, [check("A", -24 * 40, 100.9)], stated, u=0.1)
    assert offsets(fresh)["A"].value == pytest.approx(0.9)
    assert offsets(fresh)["A"].u == pytest.approx(0.4 / math.sqrt(3), rel=0.01)  # USGS SIR 2004-5249: ±0.4 %
    assert offsets(old)["A"].u > 2.5 * offsets(fresh)["A"].u
    assert "instruments/old-check" in codes(old)
    assert "instruments/old-check" not in codes(fresh)
    assert table(fresh, "meters")[0]["against"] == "air check"


def test_a_check_may_say_its_own_uncertainty_and_unit():
    rows = [reading("A", "t1", 0, 103.0), reading("B", "t1", 0.1, 102.0)]
    answer = survey(rows, [check("A", 0, 100.5, u=0.05)], u=0.1)
    assert offsets(answer)["A"].u == pytest.approx(0.05, rel=0.05)


def test_a_check_that_says_too_little_is_named():
    rows = [reading("A", "t1", 0, 103.0), reading("B", "t1", 0.1, 102.0)]
    answer = survey(rows, [check("A", 0, None), check("Z", 0, 100.0), check("B", 0, 6.5, quantity="oxygen")])
    assert "instruments/unused-check" in codes(answer)
    assert offsets(answer)["A"].value is None


def test_a_pressure_check_fixes_the_gain():
    # A shows 2 % too much of what is above air, B is right: they differ where the pressure is high only
    levels = [101.0, 104.0, 110.0, 120.0]
    rows = [r for k, level in enumerate(levels) for r in (
        reading("A", f"t{k}", 0.1 * k, 100 + 1.02 * (level - 100)), reading("B", f"t{k}", 0.1 * k, level)
    )]  # fmt: skip
    checks = [check("A", 0, 100.0), check("A", 0, 140.8, 140.0, "pressure")]
    answer = survey(rows, checks, u=0.05)
    assert answer.state == "agree"
    blind = survey(rows, checks[:1], u=0.05)
    assert "instruments/poor-fit" in codes(blind)
    level = {row["place"]: row["level"].value for row in table(answer, "places")}
    assert level["t3"] == pytest.approx(120.0, abs=0.1)


@pytest.mark.parametrize("how", ["event", "setting", "check"])
def test_a_zeroing_parts_the_offsets_before_and_after(how):
    rows = [
        reading("A", "t1", 0, 105.0), reading("B", "t1", 0.1, 102.0),
        reading("A", "t1", 5, 102.1), reading("B", "t1", 5.1, 102.0),
    ]  # fmt: skip
    fact = zeroed("A", 3)
    if how == "setting":
        fact = records.Fact(
            id="s", kind="instrument-setting", measured=fact.measured, entered=fact.measured,
            details={"instrument": "A", "setting": "zero", "value": 0},
        )  # fmt: skip
    if how == "check":
        fact = check("A", 3, 102.9, zeroed=True)
    answer = survey(rows, [fact], {"A": 0.5, "B": 0.5}, u=0.1)
    assert "instruments/zeroed" in codes(answer)
    offset = offsets(answer)
    assert offset["A"].value == pytest.approx(3.0, abs=0.2)
    assert offset["A from 2026-03-02 12:00"].value == pytest.approx(0.05, abs=0.1)
    assert "A reads" in answer.sentence
    against = {row["meter"]: row["against"] for row in table(answer, "meters")}
    assert against["A from 2026-03-02 12:00"] == "zeroed"
    assert not any("A and A" in line for line in answer.next_readings)


def hall(seed, meters=5, places=12, u=0.2):
    """An invented survey of two rounds, half of it missing."""
    rng = np.random.default_rng(seed)
    offset = rng.uniform(-1, 1, meters)
    level = 101 + rng.normal(0, 2, places)
    rows = []
    for turn in range(2):
        level = level + rng.normal(0, 0.2, places) * turn
        for p in range(places):
            for m in range(meters):
                if rng.random() < 0.5:
                    hours = 24 * turn + p * 0.05 + m * 0.004
                    value = round(level[p] + offset[m] + rng.normal(0, u), 2)
                    rows.append(reading(f"M{m}", f"T{p:02}", hours, value, id=f"{turn}{p}{m}"))
    air = round(100 + offset[1] + rng.uniform(-0.4, 0.4), 2)
    return rows, offset, [check("M1", 12, air)]


def held(seeds, *, spoil=1.0):
    hits = []
    for seed in seeds:
        rows, offset, checks = hall(seed)
        answer = survey(rows, checks, {f"M{m}": 1.0 for m in range(5)}, u=0.2 * spoil, drift=0.05)
        for meter, value in offsets(answer).items():
            hits.append(value.low <= offset[int(meter[1])] <= value.high)
        for row in table(answer, "differences"):
            truth = offset[int(row["higher"][1])] - offset[int(row["lower"][1])]
            hits.append(row["difference"].low <= truth <= row["difference"].high)
    return float(np.mean(hits))


def test_an_unbalanced_survey_finds_the_truth():
    assert 0.88 <= held(range(15)) <= 1.0


def test_an_interval_too_short_would_be_noticed():
    assert held(range(15), spoil=0.3) < 0.88


@pytest.mark.soak
def test_a_hundred_surveys_find_the_truth():
    assert 0.93 <= held(range(100, 200)) <= 0.985


def jumping(drift=None):
    """Two meters swap places while one place jumps by 3 points: no slip of the pen."""
    rows = []
    for day in range(12):
        for k, place in enumerate(("t1", "t2")):
            for m, meter in enumerate("AB"):
                if day % 3 == 0:
                    hours = 24 * day + 0.1 * m
                else:
                    hours = 24 * day + (0 if (k + m) % 2 else 1)
                level = 101 + k + (3 if day >= 7 and k else 0)
                noise = 0.05 * math.sin(7.3 * day + 3.1 * k + 1.7 * m)
                rows.append(reading(meter, place, hours, level + m * 0.5 + noise, id=f"{day}{place}{meter}"))
    return survey(rows, drift=drift)


def test_a_place_that_jumped_is_no_slip_of_the_pen_unless_places_are_known_to_hold_still():
    free = jumping()
    assert "instruments/odd-reading" not in codes(free)
    assert free.values["largest_difference"].value == pytest.approx(0.5, abs=0.06)
    assert "instruments/odd-reading" in codes(jumping(drift=0.001))
