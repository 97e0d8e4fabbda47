"""Beside the form stands what was read last there, those before it, and the limits."""

import datetime as dt

from brinehouse import records
from brinehouse.workbench import beside, clock
from brinehouse.workbench import hall as halls


def written(hall, value, minutes, **changed):
    now = clock.now()
    given = {
        "id": halls.new_id(),
        "measured": now - dt.timedelta(minutes=minutes),
        "entered": now,
        "place": "mangrove",
        "quantity": "temperature",
        "value": value,
        "unit": "°C",
        "text": f"{value} °C",
        **changed,
    }
    hall.write([records.Reading(**given)])


ASKED = {"place": "mangrove", "quantity": "temperature"}


def test_nothing_stands_there_before_anything_was_read(hall):
    assert beside.last(hall, ASKED) is None
    assert not halls.Hall.has_book(hall.folder)  # and looking made no logbook


def test_the_newest_reading_stands_there_with_who_took_it_and_those_before(hall):
    written(hall, 25.0, 90)
    written(hall, 25.4, 10, person=hall.person("Test Person"))
    written(hall, 25.2, 50)
    last = beside.last(hall, ASKED)
    assert (last.text, last.by, last.value) == ("25.4 °C", "Test Person", 25.4)
    assert list(last.values) == [25.0, 25.2, 25.4]
    assert last.aim == (24.5, 26.0)
    assert "26.5" in last.aim_text


def test_a_bound_is_shown_and_not_drawn(hall):
    written(hall, 25.0, 90)
    written(hall, 26.0, 10, bound="<", text="<26 °C")
    last = beside.last(hall, ASKED)
    assert last.text == "<26 °C"
    assert list(last.values) == [25.0]


def test_an_unknown_place_or_quantity_has_nothing_beside_it(hall):
    written(hall, 25.0, 10)
    assert beside.last(hall, {"place": "nowhere", "quantity": "temperature"}) is None
    assert beside.last(hall, {"place": "mangrove", "quantity": "nothing"}) is None
    assert beside.last(hall, {}) is None
