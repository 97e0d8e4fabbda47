"""The latest budget of a place: animals, gas line, limits and age, and nothing where nothing is wrong."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import findings, records
from brinehouse.engines import gas_budget
from brinehouse.facility import model

START = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)


def hall(depth=0.3, limits=()):
    return model.Facility(
        name="hall",
        altitude=5.0,
        vessels={"tank": model.Vessel(id="tank", kind="tank", name="tank", salinity=35.0, temperature=25.5)},
        animals=(model.Animals(at="tank", species="fish", depth=(depth, 2.0)),) if depth is not None else (),
        instruments={
            "A": model.Instrument(id="A", name="A", measures=("total gas pressure",), salinity_setting=35.0)
        },
        limits=limits,
    )


def rows(total, when=START):
    figures = (
        ("total gas pressure", total, "%"),
        ("oxygen", 6.56, "mg/L"),
        ("temperature", 25.5, "°C"),
        ("barometer", 760.0, "mmHg"),
    )
    return [
        records.Reading(
            id=f"{k:032x}", measured=when, entered=when, place="tank", quantity=quantity, value=value,
            unit=unit, text=f"{value} {unit}", instrument="A", basis="air" if quantity == "barometer" else "",
        )
        for k, (quantity, value, unit) in enumerate(figures)
    ]  # fmt: skip


def survey(facility, readings, days=0.1, u=0.2):
    known = {"A": {"total gas pressure": (0.0, u)}}
    return gas_budget.survey(facility, readings, corrections=known, as_of=START + timedelta(days=days))


def levels(answer):
    return {one.code: one.level for one in answer.findings}


def test_animals_above_the_gas_line_are_an_alarm_with_a_way_out():
    answer = survey(hall(0.1), rows(104.5))
    finding = next(one for one in answer.findings if one.code == "gas/animals-above-gas-line")
    assert finding.level is findings.Level.ACT
    assert finding.hint
    row = answer.tables[0].rows[0]
    # ΔP 34.2 mmHg over 75.262 mmHg/m
    assert row["gas_line_at"].value == pytest.approx(34.2 / 75.262, abs=0.001)
    assert row["margin"].value == pytest.approx(0.1 - 34.2 / 75.262, abs=0.001)


def test_where_the_interval_holds_the_animals_depth_it_may_reach_them():
    said = levels(survey(hall(0.48), rows(104.5)))
    assert said["gas/animals-may-be-above-gas-line"] is findings.Level.WATCH
    assert "gas/animals-above-gas-line" not in said


def test_deep_animals_raise_nothing():
    assert not [code for code in levels(survey(hall(1.5), rows(104.5))) if "gas-line" in code]


def test_where_no_depth_is_stated_there_is_no_margin():
    row = survey(hall(None), rows(104.5)).tables[0].rows[0]
    assert row["animals_at"] is None
    assert row["margin"] is None


def test_an_old_reading_says_its_age_and_calls_for_a_look_only():
    said = levels(survey(hall(0.1), rows(104.5), days=9))
    assert said["gas/old"] is findings.Level.NOTE
    assert said["gas/animals-above-gas-line"] is findings.Level.WATCH


def test_undersaturated_water_is_a_note():
    answer = survey(hall(0.1), rows(98.5))
    assert levels(answer)["gas/undersaturated"] is findings.Level.NOTE
    assert answer.tables[0].rows[0]["gas_line_at"].value == 0.0
    assert "gas/animals-may-be-above-gas-line" not in levels(answer)


@pytest.mark.parametrize(
    ("total", "code", "level"),
    [
        (104.5, "gas/limit-crossed", findings.Level.ACT),
        (103.1, "gas/limit-may-be-crossed", findings.Level.ACT),
        (102.0, "gas/limit-crossed", findings.Level.WATCH),
        (101.1, "gas/limit-may-be-crossed", findings.Level.WATCH),
        (100.2, None, None),
    ],
)
def test_limits_are_held_against_the_interval(total, code, level):
    limit = model.Limit(
        quantity="total gas pressure", at="tank", watch=model.Band(low=None, high=101.0),
        act=model.Band(low=None, high=103.0), text="watch above 101 %; act above 103 %",
    )  # fmt: skip
    said = {c: v for c, v in levels(survey(hall(None, (limit,)), rows(total))).items() if "limit" in c}
    assert said == ({code: level} if code else {})
