"""Two numbers make the third, and say what they cannot."""

import pytest

from brinehouse.engines.gas_budget import completing, understanding

PLACE = {"temperature": "25.5 °C", "salinity": "35 PSU", "barometer": "760 mmHg"}


def ready(**typed):
    known, faults = understanding.read(PLACE | typed)
    assert not faults
    return completing.complete(known)


@pytest.mark.parametrize(
    "typed",
    [
        {"tgp": "103.00 %", "oxygen": "6.556 mg/L"},
        {"tgp": "103.00 %", "nitrogen": "104.59 %"},
        {"oxygen": "6.556 mg/L", "nitrogen": "104.59 %"},
        {"delta_p": "22.80 mmHg", "nitrogen": "104.59 %"},
        {"tgp": "782.80 mmHg", "nitrogen": "104.59 %"},
    ],
)
def test_any_two_of_three_give_the_same_state(typed):
    # base of the gross-error table, an independent calculation: TGP 103.00, DO 6.556, N2 104.59
    found, _ = ready(**typed)
    state = completing.state(found)
    assert state.oxygen == pytest.approx(6.556, abs=0.003)
    total = {"percent": 103.0, "delta": 22.8 * 133.322, "pressure": 782.8 * 133.322}[state.kind]
    assert state.total == pytest.approx(total, rel=2e-5 if state.kind != "percent" else 1e-4)


def test_a_derived_number_leaves_nothing_to_test():
    found, notes = ready(tgp="103.00 %", nitrogen="104.59 %")
    assert completing.as_case(found, completing.state(found)) is None
    assert [note.code for note in notes] == ["gas/derived"]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"tgp": "103 %"}, "ΔP is 23 mmHg"),
        ({"delta_p": "23 mmHg"}, "ΔP is 23 mmHg"),
        ({"oxygen": "6.71 mg/L"}, "oxygen is 100 % of saturation"),
        ({"nitrogen": "104 %"}, "water vapour is 24.0 mmHg"),
    ],
)
def test_one_number_says_what_it_can_and_which_would_complete_it(typed, words):
    found, notes = ready(**typed)
    assert found is None
    assert notes[0].code == "gas/not-enough"
    assert words in notes[0].text
    assert notes[0].hint.startswith("read ")


def test_a_corrected_total_is_tested_as_the_meter_showed_it():
    found, _ = ready(tgp="103.00 %", oxygen="6.556 mg/L", nitrogen="104.59 %")
    total = understanding.Quantity(value=102.0, u=0.1, rounding=0.003, text="103.00 %", shown=103.0)
    put_right = completing.Ready(place=found.place, total=total, oxygen=found.oxygen, known=found.known)
    state = completing.state(put_right)
    assert state.total == 102.0
    assert completing.as_case(put_right, state).total[0] == pytest.approx(1.03)


def test_too_few_numbers_give_the_values_that_they_can():
    known, _ = understanding.read(PLACE | {"tgp": "103.0 %"})
    values = completing.partial(known)
    assert set(values) == {
        "vapour_pressure", "total_gas_pressure", "total_pressure", "delta_p", "uncompensated_delta_p",
        "compensation_depth",
    }  # fmt: skip
    assert values["delta_p"].value == pytest.approx(22.8, abs=0.01)
    known, _ = understanding.read(PLACE | {"oxygen": "6.71 mg/L"})
    assert set(completing.partial(known)) == {"vapour_pressure", "oxygen_percent", "oxygen_concentration"}
    assert completing.partial(understanding.read({"tgp": "103 %"})[0]) == {}
