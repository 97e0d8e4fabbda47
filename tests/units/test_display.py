"""What a person sees is theirs; what is stored stays as it is."""

import pytest

from brinehouse import units
from brinehouse.units import display


@pytest.mark.parametrize(
    ("wish", "value", "unit", "shown", "symbol"),
    [
        ({"temperature": "°F"}, 25.0, "°C", 77.0, "°F"),
        ({"volume": "US gal"}, 1.0, "m³", 264.172, "US gal"),  # NIST SP 811 (2008) B.8: 3.785412 L
        ({"volume": "imp gal"}, 4.54609, "L", 1.0, "imp gal"),
        ({"length": "ft"}, 0.3048, "m", 1.0, "ft"),
        ({"pressure": "hPa"}, 760.0, "mmHg", 1013.25, "hPa"),
        ({"pressure": "kPa"}, 100000.0, "Pa", 100.0, "kPa"),
        ({"alkalinity": "dKH"}, 2.5, "meq/L", 7.0097, "dKH"),
        ({}, 7.1, "mg/L", 7.1, "mg/L"),
        ({}, 103.0, "%", 103.0, "%"),
    ],
)
def test_a_stored_value_is_shown_in_the_unit_a_person_likes(wish, value, unit, shown, symbol):
    got, unit_shown = units.Display(**wish).show(value, unit)
    assert got == pytest.approx(shown, rel=1e-5)
    assert unit_shown == symbol


def test_a_difference_of_temperature_is_scaled_and_not_shifted():
    assert units.Display(temperature="°F").show(1.0, "K", "temperature difference") == (
        pytest.approx(1.8),
        "°F",
    )


@pytest.mark.parametrize(("word", "ratio"), [("nitrate", 4.4266), ("nitrite", 3.2844), ("ammonia", 1.2879)])
def test_nitrogen_and_its_ion_are_apart_by_their_masses(word, ratio):
    # calc from the IUPAC abridged standard atomic weights of 2021: N 14.007, O 15.999, H 1.008
    ion = units.Display(nitrogen="ion")
    assert ion.show_nitrogen(1.0, word, "N") == (pytest.approx(ratio, abs=5e-5), "ion")
    assert units.Display().show_nitrogen(ratio, word, "ion") == (pytest.approx(1.0, abs=5e-5), "N")


def test_a_basis_that_is_not_known_or_not_asked_stays():
    ion = units.Display(nitrogen="ion")
    assert ion.show_nitrogen(1.0, "phosphate", "P") == (1.0, "P")
    assert ion.show_nitrogen(1.0, "nitrate", "") == (1.0, "")
    assert ion.show_nitrogen(1.0, "nitrate", "ion") == (1.0, "ion")


def test_gas_is_shown_as_percent_or_as_the_excess_over_the_barometer():
    assert units.Display().show_gas(103.0, None) == (103.0, "%")
    got, symbol = units.Display(gas="ΔP", pressure="hPa").show_gas(103.0, 97_000.0)
    assert (got, symbol) == (pytest.approx(29.1), "hPa")
    with pytest.raises(units.NotUnderstood, match="barometer"):
        units.Display(gas="ΔP").show_gas(103.0, None)


def test_the_wrong_ion_is_caught(monkeypatch):
    """Planted fault: nitrate taken for nitrite."""
    monkeypatch.setitem(display.N_TO_ION, "nitrate", display.N_TO_ION["nitrite"])
    with pytest.raises(AssertionError):
        test_nitrogen_and_its_ion_are_apart_by_their_masses("nitrate", 4.4266)
