"""Readings that belong together, and the water and air around them."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import records
from brinehouse.engines.gas_budget import shelves, understanding, visits
from brinehouse.facility import model

START = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
HALL = model.Facility(
    name="hall",
    altitude=412.0,
    systems={"m": model.System(id="m", name="m", places=("tank", "sump"))},
    vessels={
        "tank": model.Vessel(
            id="tank", kind="tank", name="tank", system="m", salinity=34.0, temperature=25.0
        ),
        "sump": model.Vessel(id="sump", kind="sump", name="sump", system="m"),
    },
    animals=(model.Animals(at="tank", species="fish", depth=(0.4, 1.0)),),
    instruments={
        "A": model.Instrument(id="A", name="A", measures=("total gas pressure",)),
        "feed": model.Instrument(id="feed", name="feed"),
    },
)
_count = iter(range(10_000))


def read(quantity, value, unit, minutes=0.0, place="tank", instrument="A", **more):
    return records.Reading(
        id=f"{next(_count):032x}", measured=START + timedelta(minutes=minutes), entered=START, place=place,
        quantity=quantity, value=value, unit=unit, text=f"{value} {unit}", instrument=instrument, **more,
    )  # fmt: skip


def sitting(minutes=0.0, **more):
    return [
        read("total gas pressure", 103.0, "%", minutes, **more),
        read("oxygen", 6.5, "mg/L", minutes + 1, **more),
        read("nitrogen residual", 104.6, "%", minutes + 2, **more),
    ]


def filled(rows):
    usable = shelves.usable(rows, START + timedelta(days=90))
    around = visits.Surroundings(HALL, usable, shelves.Worth(HALL, None))
    found = visits.gather(usable)
    for visit in found:
        around.fill(visit)
    return found, around


def test_readings_of_one_meter_at_one_place_within_three_quarters_of_an_hour_are_one_visit():
    found, _ = filled([*sitting(), *sitting(60.0)])
    assert len(found) == 2
    assert all(visit.triple for visit in found)


def test_the_same_meter_at_another_place_is_another_visit():
    found, _ = filled([*sitting(), *sitting(5.0, place="sump")])
    assert {visit.place for visit in found} == {"tank", "sump"}


def test_a_second_figure_of_the_same_kind_begins_a_new_visit():
    found, _ = filled([*sitting(), *sitting(10.0)])
    assert len(found) == 2


def test_the_nearest_temperature_serves_and_grows_unsure_with_age():
    near, far = (
        filled([*sitting(), read("temperature", 25.4, "°C", minutes, instrument="T")])[0][0]
        for minutes in (10.0, 600.0)
    )
    assert near.known.temperature.value == 25.4
    assert far.known.temperature.u > near.known.temperature.u
    none = filled([*sitting(), read("temperature", 25.4, "°C", 3000.0, instrument="T")])[0][0]
    assert none.known.temperature.source == "the facility file"


def test_salinity_may_come_from_elsewhere_in_the_system_with_less_trust():
    here = filled([*sitting(), read("salinity", 33.0, "PSU", 5.0, instrument="C")])[0][0]
    there = filled([*sitting(), read("salinity", 33.0, "PSU", 5.0, place="sump", instrument="C")])[0][0]
    assert here.known.salinity.value == there.known.salinity.value == 33.0
    assert there.known.salinity.u > here.known.salinity.u


def test_without_a_barometer_the_altitude_serves():
    visit = filled(sitting())[0][0]
    # standard atmosphere at 412 m, from memory: 723.6 mmHg
    assert visit.known.barometer.value / understanding.MMHG == pytest.approx(723.6, abs=0.2)
    assert visit.known.barometer.u / understanding.MMHG == pytest.approx(8.0, abs=0.1)


def test_a_feed_near_760_at_412_metres_is_taken_for_sea_level_and_reduced():
    feed = [
        read("barometer", 758.0 + k % 5, "mmHg", 20.0 * k, place="", instrument="feed") for k in range(20)
    ]
    found, around = filled([*sitting(), *feed])
    assert around.barometers["feed"].sea_level
    assert found[0].known.barometer.value / understanding.MMHG == pytest.approx(723.0, abs=2.0)


def test_a_feed_near_724_at_412_metres_is_left_as_it_is():
    feed = [
        read("barometer", 722.0 + k % 5, "mmHg", 20.0 * k, place="", instrument="feed") for k in range(20)
    ]
    _, around = filled([*sitting(), *feed])
    assert not around.barometers["feed"].sea_level


def test_a_barometer_that_says_sea_level_is_believed():
    one = read("barometer", 745.0, "mmHg", 2.0, place="", instrument="feed", basis="sea level")
    found, around = filled([*sitting(), one])
    assert around.barometers["feed"].stated
    assert found[0].known.barometer.value / understanding.MMHG < 712.0


def test_a_meter_without_oxygen_borrows_it_and_then_tests_nothing():
    rows = [one for one in sitting() if one.quantity != "oxygen"]
    found, _ = filled([*rows, read("oxygen", 6.4, "mg/L", 20.0, instrument="B")])
    assert found[0].known.oxygen.value == 6.4
    assert found[0].known.nitrogen is None
    assert not found[0].triple


def test_the_surest_of_the_newest_visits_speaks_for_a_place():
    rows = [*sitting(), *sitting(60.0, instrument="feed")]
    usable = shelves.usable(rows, START + timedelta(days=1))
    worth = shelves.Worth(HALL, {"A": {"total gas pressure": (-0.9, 0.05)}})
    around = visits.Surroundings(HALL, usable, worth)
    found = visits.gather(usable)
    for visit in found:
        around.fill(visit)
    assert visits.latest(found)["tank"].instrument == "A"
    assert found[0].known.total.value == pytest.approx(102.1)
    assert found[0].known.total.display == pytest.approx(103.0)


def test_bounds_faults_and_later_readings_are_not_used():
    rows = [
        replace(read("oxygen", 6.0, "mg/L"), bound="<"),
        replace(read("oxygen", 6.0, "mg/L"), quality="fault"),
        replace(read("oxygen", None, "mg/L"), missing="meter flat"),
        read("oxygen", 6.0, "mg/L", 60.0 * 24 * 200),
        read("pH", 8.0, "pH"),
    ]
    assert shelves.usable(rows, START + timedelta(days=90)) == []
