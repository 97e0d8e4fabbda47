"""The balance as the generic page asks it."""

import pytest

from brinehouse.engines import balance
from brinehouse.engines.balance import asked
from brinehouse.facility import reading
from brinehouse.workbench import asking


def test_one_tank_is_answered_from_a_few_amounts():
    answer = asking.ask("balance", {"volume": "20 m3", "mass": "30 kg", "feed": "300 g", "flow": "20 m3/h"})
    assert answer.values["temperature"].value == pytest.approx(25.0, abs=1.0)
    assert 3.0 < answer.values["oxygen"].value < 7.0
    assert answer.values["oxygen"].u > 0.0


def test_more_animals_leave_less_oxygen():
    few, many = (
        balance.answer({"volume": "20 m3", "mass": mass, "flow": "20 m3/h"}).values["oxygen"].value
        for mass in ("10 kg", "40 kg")
    )
    assert many < few


def test_every_fault_is_told_at_its_box():
    answer = balance.answer({"volume": "20", "mass": "30 furlongs", "flow": "-3 m3/h"})
    assert {one.spot.field for one in answer.findings} == {"volume", "mass", "flow"}
    assert answer.state == "refused"
    assert answer.values == {}
    assert "balance/cannot" in {one.code for one in answer.findings}


def test_the_hall_it_makes_passes_its_own_check():
    checked = reading.read(asked.facility_text({"volume": 20.0, "mass": 3.0}))
    assert checked.facility is not None


@pytest.mark.parametrize("item", balance.QUESTION.inputs, ids=lambda item: item.name)
def test_every_example_beside_a_box_is_understood(item):
    given = {"volume": "20 m3", "flow": "20 m3/h"} | {item.name: item.example}
    assert balance.answer(given).values
