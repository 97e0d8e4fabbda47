"""A logger's own columns held against one another: a ship's day, which nobody here wrote.

R. W. Izett and P. D. Tortell (2020), Oceanography 33(2), doi 10.5670/oceanog.2020.214; data
doi 10.5281/zenodo.4024952. Their optode stood at salinity 0.
"""

import csv
import functools
import pathlib
from datetime import datetime

import pytest

from brinehouse import records
from brinehouse.facility import reading as files
from brinehouse.facility import starting as first_file
from brinehouse.workbench import gas_series

FILE = pathlib.Path(__file__).parents[1] / "data" / "underway_gas_2019-08-10.csv"
COLUMNS = (("oxygen saturation", "%", "optode"), ("oxygen", "µmol/L", "optode"),
           ("temperature", "°C", "optode"), ("total gas pressure", "mbar", "gauge"),
           ("temperature", "°C", "gauge"))  # fmt: skip


@pytest.fixture(scope="module")
def facility():
    text, _ = first_file.write(name="Ship", altitude="0 m", zone="Etc/UTC", tanks=["loop, 1 m3, 1 m"],
                               meters=["optode: oxygen", "gauge: total gas pressure"])  # fmt: skip
    return files.read(text).facility


@functools.cache
def log():
    found = []
    with FILE.open(encoding="utf-8", newline="") as page:
        for number, cells in enumerate(list(csv.reader(page))[1:601]):
            at = datetime.fromisoformat(cells[0])
            for (quantity, unit, meter), cell in zip(COLUMNS, cells[1:], strict=False):
                found.append(
                    records.Reading(
                        id=f"{number}{quantity}{meter}",
                        measured=at,
                        entered=at,
                        place="loop",
                        quantity=quantity,
                        value=float(cell),
                        unit=unit,
                        text=cell,
                        instrument=meter,
                        source="import",
                    )
                )
    return tuple(found)


@pytest.fixture(scope="module")
def examined(facility):
    return gas_series.examine(facility, log())


def codes(answer):
    return [one.code for one in answer.findings]


def test_the_optode_that_stood_at_salinity_zero_is_found(examined):
    answer = examined["loop"]
    assert list(examined) == ["loop"]
    assert answer.explanations[0].code == "gas/oxygen-salinity-zero"
    assert answer.values["implied_salinity"].value == pytest.approx(0.0, abs=0.3)
    assert "gas/oxygen-salinity-zero" in codes(answer)
    assert answer.used == 600


def test_what_hangs_on_the_two_thermometers_is_told(examined):
    (found,) = [one for one in examined["loop"].findings if one.code == "gas/two-temperatures"]
    assert "these columns cannot decide" in found.text
    assert found.data["apart"] > 0.4
    assert len(examined["loop"].tables[0].rows) == 2


def test_salinity_and_air_pressure_that_nobody_logged_are_said_to_be_assumed(examined):
    told = [one.text for one in examined["loop"].findings if one.code == "gas/assumed"]
    assert len(told) == 2
    assert any(text.startswith("Salinity 35") for text in told)
    assert any(text.startswith("Air pressure 1013") for text in told)


def test_planted_fault_an_optode_told_its_salinity_is_not_blamed(facility):
    from brinehouse.science import gases

    def right(one, warm):
        if one.quantity != "oxygen":
            return one
        share = next(
            p for p in log() if p.measured == one.measured and p.quantity == "oxygen saturation"
        ).value
        litre = share / 100.0 * float(gases.oxygen_at_saturation(warm, 35.0)) * 1.025
        return records.Reading(**{name: getattr(one, name) for name in one.__slots__} | {"value": litre})

    few = log()[: 5 * 60]
    warm = {
        one.measured: one.value for one in few if (one.quantity, one.instrument) == ("temperature", "optode")
    }
    answer = gas_series.examine(facility, [right(one, warm[one.measured]) for one in few])["loop"]
    assert "gas/oxygen-salinity-zero" not in codes(answer)
    assert answer.values["implied_salinity"].value > 30.0


def test_without_a_second_thermometer_nothing_hangs_on_it(facility):
    few = [one for one in log()[: 5 * 60] if (one.quantity, one.instrument) != ("temperature", "gauge")]
    answer = gas_series.examine(facility, few)["loop"]
    assert "gas/two-temperatures" not in codes(answer)


def test_too_few_rows_or_one_typed_by_hand_are_no_series(facility):
    rows = len(COLUMNS)
    assert gas_series.examine(facility, log()[: rows * (gas_series.FEWEST - 1)]) == {}
    typed = [
        records.Reading(**{n: getattr(one, n) for n in one.__slots__} | {"source": "hand"}) for one in log()
    ]
    assert gas_series.examine(facility, typed) == {}


@pytest.mark.parametrize("quantity", ["oxygen", "oxygen saturation", "temperature", "total gas pressure"])
def test_a_log_without_one_of_the_needed_columns_is_not_examined(facility, quantity):
    assert gas_series.examine(facility, [one for one in log() if one.quantity != quantity]) == {}
