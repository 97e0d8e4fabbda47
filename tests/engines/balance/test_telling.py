"""A balance in words and tables: the sentence, the limits, what was assumed and matters."""

import datetime as dt
import math

import pytest

from brinehouse.engines.balance import cases, comparing, question, telling
from brinehouse.facility import reading

HALL = """
schema = 1
[facility]
name = "Two places"
timezone = "UTC"
[tank.reef]
name = "Reef"
volume = "20 m3"
[sump.low]
volume = "3 m3"
[[limit]]
quantity = "total gas pressure"
at = "reef"
watch = "above 102 %"
act = "above 104 %"
source = "house rule"
"""
TGP, SUMP, NITRATE = ("reef", "tgp"), ("low", "tgp"), ("reef", "nitrate")
AT = dt.datetime(2026, 3, 14, tzinfo=dt.UTC)


@pytest.fixture
def hall():
    return reading.read(HALL).facility


def side(hall, tgp, u=0.1, nitrate=40.0):
    values = {TGP: tgp, SUMP: tgp + 0.2, NITRATE: nitrate}
    terms = {
        ("reef", "nitrogen"): [
            question.Term(name="surface", amount=-3.0, unit="g/day", source="two-film exchange"),
            question.Term(name="water", amount=3.0, unit="g/day"),
        ]
    }
    spread = {key: comparing.Spread(u=u, parts={"air": u}) for key in values}
    return cases.Side(facility=hall, settled=question.Settled(values=values, terms=terms), spread=spread)


def case(hall, today, then=None, known=None, **more):
    moved = comparing.differences(today.values, then.values) if then else {}
    change = (
        question.Plant(facility=hall, flows=None, conditions=None, title="remove column") if then else None
    )
    told = {
        "today": today,
        "then": then,
        "change": change,
        "moved": moved,
        "spread": {key: comparing.Spread(u=0.05, parts={"air": 0.05}) for key in moved},
        "hours": {TGP: 3.0, NITRATE: 2000.0},
        "assumed": [
            cases.Assumed(name="air", label="air drawn in", value=0.0, u=1.0, unit="mL/L", source="assumed"),
            cases.Assumed(name="feed", label="feed", value=1.0, u=0.2, unit="kg/day", source="assumed"),
        ],
        "known": known or {},
        "as_of": AT,
    }
    return cases.Case(**(told | more))


def found(answer):
    return {one.code for one in answer.findings}


def test_inside_every_limit_the_slowest_quantity_is_named(hall):
    answer = telling.answer(case(hall, side(hall, 100.5)))
    assert answer.sentence == (
        "Left as it is, the plant settles inside every limit; slowest is nitrate, as N, which takes 12 weeks."
    )
    assert found(answer) == set()


def test_a_limit_that_is_crossed_is_the_first_thing_said(hall):
    answer = telling.answer(case(hall, side(hall, 105.0)))
    assert answer.sentence == "Reef settles at total gas pressure 105.0 %, past its act limit."
    one = next(one for one in answer.findings if one.code == "balance/limit-crossed")
    assert one.level.value == "act"
    assert "house rule" in one.text
    assert "Held there by surface \u22123.00 g/day" in one.text
    assert "gas sources" in one.hint


def test_an_interval_that_holds_a_limit_may_cross_it(hall):
    answer = telling.answer(case(hall, side(hall, 101.9, u=0.2)))
    assert found(answer) == {"balance/limit-may-be-crossed"}


def test_a_change_is_told_today_beside_then(hall):
    answer = telling.answer(case(hall, side(hall, 100.5), side(hall, 104.6)))
    assert answer.sentence == (
        "Reef would settle at total gas pressure 104.6 % instead of 100.5 %, within 3 h: past its act limit."
    )
    row = next(table for table in answer.tables if table.name == "differences").rows[0]
    assert (row["place"], row["quantity"]) == TGP
    assert row["difference"].value == pytest.approx(4.1)
    assert row["settles"].value == 3.0
    assert row["verdict"] == "act limit crossed"
    assert answer.state == "compared"
    assert "the change brings it" in answer.findings[0].text


def test_a_change_that_moves_nothing_says_so(hall):
    answer = telling.answer(case(hall, side(hall, 100.5), side(hall, 100.52)))
    assert answer.sentence == "This change moves no quantity by more than these numbers can tell."


def test_a_change_that_cannot_be_worked_out_is_refused(hall):
    change = question.Plant(facility=hall, flows=None, conditions=None, title="remove colum")
    answer = telling.answer(case(hall, side(hall, 100.5), change=change))
    assert answer.state == "refused"
    assert answer.sentence == "This change cannot be worked out: the list says why."


def test_a_quantity_without_balance_has_no_number(hall):
    answer = telling.answer(case(hall, side(hall, 100.5, nitrate=math.nan)))
    rows = {(row["place"], row["quantity"]): row for row in answer.tables[0].rows}
    assert rows[NITRATE]["today"].value is None
    assert rows[NITRATE]["today"].text == "no balance"


def test_a_reading_that_the_balance_does_not_explain_is_told_once(hall):
    read = question.Known(value=104.7, u=0.2, at=AT)
    known = {"reef": {"total gas pressure": read}, "low": {"total gas pressure": read}}
    answer = telling.answer(case(hall, side(hall, 100.5), known=known))
    told = [one for one in answer.findings if one.code == "balance/reading-apart"]
    assert len(told) == 1
    assert "was read as 104.7 %" in told[0].text
    assert "one more place" in told[0].text or "1 more place" in told[0].text


def test_the_assumption_that_matters_most_stands_first(hall):
    answer = telling.answer(case(hall, side(hall, 100.5)))
    table = next(table for table in answer.tables if table.name == "assumptions")
    assert [row["name"] for row in table.rows] == ["air", "feed"]
    assert table.rows[0]["bears"].startswith("\u00b1 ")
    assert table.rows[1]["bears"] == ""
    assert answer.next_readings[0].startswith("Read carbon dioxide in the air")


def test_the_working_balances_term_by_term(hall):
    answer = telling.answer(case(hall, side(hall, 100.5)))
    step = next(step for step in answer.working if step.name.startswith("total gas pressure in Reef"))
    assert step.inputs["surface"] == (-3.0, "g/day")
    assert step.source == "two-film exchange"


def test_places_stand_in_the_order_of_the_file(hall):
    answer = telling.answer(case(hall, side(hall, 100.5)))
    assert [row["place"] for row in answer.tables[0].rows] == ["reef", "reef", "low"]
