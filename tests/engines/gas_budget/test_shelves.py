"""What a reading is worth: its value, its uncertainty, and what its last digit leaves open."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import records, units
from brinehouse.engines.gas_budget import shelves
from brinehouse.facility import model

START = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
HALL = model.Facility(
    name="hall",
    instruments={
        "A": model.Instrument(
            id="A", name="A",
            accuracy={"total gas pressure": units.read_amount("0.7 %"), "oxygen": units.read_amount("2 %")},
        )
    },
)  # fmt: skip


def read(quantity, value, unit, text="", instrument="A", hours=0.0):
    return records.Reading(
        id="0" * 32, measured=START + timedelta(hours=hours), entered=START, place="tank", quantity=quantity,
        value=value, unit=unit, text=text or f"{value} {unit}", instrument=instrument,
    )  # fmt: skip


def worth(one, corrections=None):
    return shelves.Worth(HALL, corrections).of(one)


def test_a_stated_accuracy_is_read_as_bounds():
    # GUM 4.3.7: u = a/sqrt(3); the display's step adds its own twelfth
    got = worth(read("total gas pressure", 103.0, "%"))
    assert got.u == pytest.approx(((0.7**2) / 3 + 0.1**2 / 12) ** 0.5)


def test_an_accuracy_in_percent_of_the_reading_follows_the_reading():
    assert worth(read("oxygen", 8.0, "mg/L", "8.00 mg/L")).u == pytest.approx(0.16 / 3**0.5, rel=0.01)


def test_an_unknown_instrument_has_the_usual_accuracy():
    assert worth(read("total gas pressure", 103.0, "%", instrument="")).u == pytest.approx(0.578, abs=0.001)


@pytest.mark.parametrize(
    ("text", "step"), [("103.4 %", 0.1), ("103,4%", 0.1), ("103 %", 1.0), ("103.40", 0.01)]
)
def test_the_last_digit_is_that_of_the_text_as_typed(text, step):
    assert worth(read("total gas pressure", 103.4, "%", text)).rounding == pytest.approx(step / 12**0.5)


def test_a_correction_is_added_and_its_own_uncertainty_takes_over():
    got = worth(read("total gas pressure", 104.2, "%"), {"A": {"total gas pressure": (-1.2, 0.2)}})
    assert got.value == pytest.approx(103.0)
    assert got.display == pytest.approx(104.2)
    assert got.u == pytest.approx(0.2, abs=0.003)


@pytest.mark.parametrize(("unit", "value"), [("mg/L", 6.4), ("µmol/L", 200.0), ("µmol/kg", 195.5)])
def test_oxygen_in_any_of_its_units_is_taken_in_mg_per_litre(unit, value):
    assert worth(read("oxygen", value, unit)).value == pytest.approx(6.4, abs=0.005)


def test_fahrenheit_keeps_its_zero():
    got = worth(read("temperature", 77.0, "°F"))
    assert got.value == pytest.approx(25.0)


def test_the_nearest_reading_is_found_within_its_reach():
    rows = [read("salinity", 30.0 + k, "PSU", hours=k) for k in range(5)]
    shelf = shelves.shelve(rows)[("tank", "salinity")]
    assert shelf.near(START + timedelta(hours=2.4), 1.0).value == 32.0
    assert shelf.near(START + timedelta(hours=9.0), 1.0) is None
    assert [one.value for one in shelf.within(START + timedelta(hours=2.0), 1.0)] == [31.0, 32.0, 33.0]
