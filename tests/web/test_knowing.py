"""What the pages know of the gas: at once, and renewed behind the reader's back."""

import datetime as dt
import threading
import time

import pytest

from brinehouse import records
from brinehouse.web import knowing
from brinehouse.workbench import balance, clock, flows, gas_sources, investigation
from brinehouse.workbench import hall as halls
from conftest import NOW


@pytest.fixture
def hall(small, tmp_path):
    small.post("/log/new", data={"place": "mangrove", "quantity": "temperature", "value": "25.4 °C"})
    return small.app.state.desk.hall()


@pytest.fixture
def known():
    made = knowing.Knowing()
    yield made
    made.close()


def write(small_hall, value):
    now = clock.now()
    small_hall.write(
        [
            records.Reading(
                id=halls.new_id(),
                measured=now,
                entered=now,
                place="mangrove",
                quantity="temperature",
                value=value,
                unit="°C",
                text=f"{value} °C",
            )
        ]
    )


def look_again(known, place, most=300):
    for _ in range(most):
        known.gas(place)
        time.sleep(0.01)


def test_the_first_look_waits_and_the_next_does_not(hall, known, monkeypatch):
    first = known.gas(hall)
    assert not first.renewing
    monkeypatch.setattr(investigation, "investigate", lambda _: pytest.fail("asked the engines again"))
    assert known.gas(hall).found is first.found


def test_after_a_new_entry_the_old_findings_are_shown_until_the_new_are_ready(hall, known, monkeypatch):
    old = known.gas(hall).found
    gate, really = threading.Event(), investigation.investigate
    monkeypatch.setattr(investigation, "investigate", lambda place: (gate.wait(10), really(place))[1])
    write(hall, 25.5)
    meanwhile = known.gas(hall)
    assert meanwhile.renewing
    assert meanwhile.found is old
    gate.set()
    assert known.settle(hall) is not old
    assert not known.gas(hall).renewing


def test_entries_that_come_while_it_is_renewed_are_worked_in_too(hall, known):
    known.gas(hall)
    for value in (25.5, 25.6, 25.7):
        write(hall, value)
        known.gas(hall)
    known.settle(hall)
    assert not known.gas(hall).renewing
    assert known._last[0] == knowing._stamp(hall)


def test_what_goes_wrong_behind_the_reader_s_back_is_told(hall, known, monkeypatch):
    known.gas(hall)

    def breaks(_):
        raise ZeroDivisionError

    monkeypatch.setattr(investigation, "investigate", breaks)
    write(hall, 25.5)
    with pytest.raises(ZeroDivisionError):
        known.settle(hall)
    with pytest.raises(ZeroDivisionError):  # a page that does not wait tells it at its next look
        look_again(known, hall)
    monkeypatch.undo()
    clock.freeze(NOW)
    assert known.settle(hall) is not None


def test_a_warm_start_is_what_the_first_reader_gets(hall, known, monkeypatch):
    asked, really = [], investigation.investigate
    monkeypatch.setattr(investigation, "investigate", lambda place: (asked.append(place), really(place))[1])
    known.warm(hall)
    assert known.gas(hall).found is not None
    known.warm(hall)
    assert known.gas(hall).found is not None
    assert asked == [hall]


def test_the_sheet_now_is_kept_for_a_minute_and_no_longer(hall, known, monkeypatch):
    found = known.gas(hall)
    first = known.now(hall, found)
    assert known.now(hall, found) is first
    clock.freeze(clock.now() + dt.timedelta(minutes=1))
    assert known.now(hall, known.gas(hall)) is not first


def test_what_takes_long_is_worked_out_before_anyone_asks_and_not_after_closing(hall, monkeypatch):
    asked = []
    for engine in (gas_sources, flows, balance):
        monkeypatch.setattr(engine, "survey", lambda place, name=engine.__name__: asked.append(name))
    first = knowing.Knowing()
    first.gas(hall)
    for _ in range(300):
        if len(asked) == 3:
            break
        time.sleep(0.01)
    first.close()
    assert len(asked) == 3
    first._ahead(hall)
    assert len(asked) == 3


def test_what_took_long_is_not_worked_out_anew_with_every_entry(hall, known, monkeypatch):
    known.gas(hall)
    known.rest()
    known._took(knowing.SHORT + 1.0)
    asked, really = [], investigation.investigate
    monkeypatch.setattr(investigation, "investigate", lambda place: (asked.append(place), really(place))[1])
    for value in (25.5, 25.6):
        write(hall, value)
        assert known.gas(hall).renewing
    known.rest()
    assert asked == []
    known._rests_until = time.monotonic()
    assert known.gas(hall).renewing
    known.rest()
    assert asked, "its turn has come"
    assert not known.gas(hall).renewing


def test_whoever_waits_for_the_newest_gets_it_and_a_short_one_never_rests(hall, known):
    known.gas(hall)
    known.rest()
    known._took(knowing.SHORT)
    write(hall, 25.5)
    assert known._rests_until < time.monotonic()
    known._took(100_000.0)
    assert known._rests_until <= time.monotonic() + knowing.LONGEST
    known.settle(hall)
    assert not known.gas(hall).renewing
