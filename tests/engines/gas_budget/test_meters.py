"""Gas meters over their visits, their rivals weighed by other oxygen in the same water."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from brinehouse import records
from brinehouse.engines import gas_budget
from brinehouse.engines.gas_budget import closure, kernel
from brinehouse.facility import model

START = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
END = START + timedelta(days=40)
HALL = model.Facility(
    name="hall",
    altitude=5.0,
    vessels={"tank": model.Vessel(id="tank", kind="tank", name="tank", salinity=34.0)},
    instruments={name: model.Instrument(id=name, name=name) for name in ("A", "B")},
)


def visit(meter, day, mg_factor=1.0, residual_at=34.0, oxygen=6.5):
    """One meter's display: mg/L times a factor, residual worked out from it at a salinity."""
    rng = np.random.default_rng(day)
    warm, total = 25.2 + 0.3 * rng.random(), round(101.5 + 2.0 * float(rng.random()), 1)
    shown = round(oxygen * mg_factor, 2)
    water = kernel.water(np.array([warm]), np.array([residual_at]))
    air = np.array([755.0 * 133.322])
    nitrogen = closure.nitrogen_shown(water, air, np.array([total / 100.0]), np.array([shown]))[0]
    when = START + timedelta(days=day, minutes=3 if meter == "B" else 0)
    figures = (
        ("total gas pressure", f"{total:.1f}", "%"),
        ("oxygen", f"{shown:.2f}", "mg/L"),
        ("nitrogen residual", f"{nitrogen:.1f}", "%"),
        ("temperature", f"{warm:.2f}", "°C"),
        ("barometer", "755", "mmHg"),
    )
    return [
        records.Reading(
            id=f"{meter}{day}{quantity}", measured=when, entered=when, place="tank", quantity=quantity,
            value=float(number), unit=unit, text=f"{number} {unit}", instrument=meter,
            basis="air" if quantity == "barometer" else "",
        )
        for quantity, number, unit in figures
    ]  # fmt: skip


def survey(rows, facts=()):
    return gas_budget.survey(HALL, rows, facts=facts, as_of=END)


def best(answer):
    table = next(one for one in answer.tables if one.name == "meters")
    return {row["meter"]: (row["explanation"], row["weight"]) for row in table.rows}


ZERO = 1.2115  # what salinity 0 makes of the oxygen of S 34 near 25.3 °C


def test_alone_a_meter_at_zero_and_its_rival_cannot_be_told_apart():
    answer = survey([row for day in range(12) for row in visit("A", day, ZERO, 0.0)])
    code, weight = best(answer)["A"]
    assert code == "gas/meter-salinity-zero"
    assert weight < 0.8
    rival = {one.code: one.weight for one in answer.explanations}["gas/residual-salinity-zero"]
    assert rival > 0.2
    assert answer.tables[0].rows[0]["put_right"] == ""


def test_a_sound_fellow_in_the_same_water_settles_it():
    both = [row for day in range(12) for row in (*visit("A", day, ZERO, 0.0), *visit("B", day))]
    answer = survey(both)
    code, weight = best(answer)["A"]
    assert code == "gas/meter-salinity-zero"
    assert weight > 0.95
    assert best(answer)["B"][0] == "gas/closes"


def test_it_settles_it_the_other_way_as_well():
    both = [row for day in range(12) for row in (*visit("A", day, 1.0, 0.0), *visit("B", day))]
    code, weight = best(survey(both))["A"]
    assert code == "gas/residual-salinity-zero"
    assert weight > 0.9


def test_numbers_that_nothing_explains_are_said_to_be_so_with_the_meters_name():
    rows = [row for day in range(6) for row in visit("A", day)]
    rows = [
        records.Reading(**{n: getattr(r, n) for n in r.__slots__} | {"value": r.value + 30.0, "text": ""})
        if r.quantity == "nitrogen residual"
        else r
        for r in rows
    ]
    finding = next(one for one in survey(rows).findings if one.code == "gas/unexplained")
    assert finding.spot.thing == "A"
    assert "A since" in finding.text


@pytest.mark.parametrize(("reads", "is_open"), [(100.1, False), (101.2, True)])
def test_a_passed_air_check_closes_zero_drift_and_a_failed_one_does_not(reads, is_open):
    check = records.Fact(
        id="f", kind="instrument-check", measured=END - timedelta(days=2), entered=END,
        details={"instrument": "A", "check": "air", "quantity": "total gas pressure", "reads": reads,
                 "should_read": 100.0, "unit": "%"},
    )  # fmt: skip
    answer = survey([row for day in range(38, 40) for row in visit("A", day)], [check])
    assert ("gas/zero-drift" in [one.code for one in answer.not_excluded]) is is_open
