"""Times as files write them."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from brinehouse.logbook.intake import times

NOW = dt.datetime(2026, 11, 15, 12, tzinfo=dt.UTC)


def reader(**told):
    return times.Reader(zone=ZoneInfo("Europe/Berlin"), now=NOW, **told)


def instant(text, **told):
    found = reader(**told).read(text)
    assert isinstance(found, int), found
    return (times.EPOCH + found * times.TICK).isoformat()


def fault(text, **told):
    found = reader(**told).read(text)
    assert not isinstance(found, int), found
    return found.code


@pytest.mark.parametrize(
    "text",
    ["2026-03-02T08:00:00+01:00", "2026-03-02 07:00Z", "2026-03-02T07:00:00 UTC", "2026-03-02 08:00",
     " 2026-03-02T08:00:00 ", "2026-03-02T08:00:00,000+0100", "2026-03-02T08:00:00.000000000+01"],
)  # fmt: skip
def test_one_moment_is_understood_in_many_spellings(text):
    assert instant(text) == "2026-03-02T07:00:00+00:00"


def test_a_clock_ten_minutes_ahead_is_taken_and_one_eleven_ahead_is_not():
    assert instant("2026-11-15T12:10:00Z")
    assert fault("2026-11-15T12:10:01Z") == "intake/future"


def test_file_order_gives_the_second_hour_to_the_rows_after_the_clock_went_back():
    clock = reader(fold="file order")
    texts = [
        "2026-10-25 01:30",
        "2026-10-25 02:10",
        "2026-10-25 02:50",
        "2026-10-25 02:10",
        "2026-10-25 02:50",
    ]
    found = [clock.read(text, "one series") for text in texts]
    hours = [(times.EPOCH + ticks * times.TICK).strftime("%H:%M") for ticks in found]
    assert hours == ["23:30", "00:10", "00:50", "01:10", "01:50"]
    assert clock.folds == 4


def test_another_series_has_its_own_order():
    clock = reader(fold="file order")
    assert clock.read("2026-10-25 02:30", "a") == clock.read("2026-10-25 02:30", "b")


def test_the_day_that_never_was_has_no_time():
    # the 1900 base counts a 29 February 1900 that no calendar has: ECMA-376 part 1, 18.17.4.1
    assert times.as_serial("60", "serial-1900") is None
    assert str(times.as_serial("59", "serial-1900")) == "1900-02-28 00:00:00"
    assert str(times.as_serial("61", "serial-1900")) == "1900-03-01 00:00:00"
    assert str(times.as_serial("0", "serial-1904")) == "1904-01-01 00:00:00"
    # the two bases are 1462 days apart: the same source
    apart = times.as_serial("1000", "serial-1904") - times.as_serial("1000", "serial-1900")
    assert apart.days == 1462


def test_a_serial_keeps_its_minute():
    assert instant("46083.33402777778", kind="serial-1900") == "2026-03-02T07:01:00+00:00"


def test_a_count_in_the_wrong_step_is_refused_and_not_a_year_58000():
    assert fault("1772434860000", kind="seconds") in {"intake/not-a-time", "intake/future"}
    assert fault("1772434860000000", kind="seconds") == "intake/not-a-time"


def test_a_number_no_clock_counts_to_is_no_question():
    assert fault("1234567") == "intake/not-a-time"


@pytest.mark.parametrize(
    "text",
    ["8:00", "2026-13-02T08:00", "2026-03-02T08:61", "2026-03-02T08:00:61",
     "2026-W10-1T08:00:00", "20260302T080000", "2026-03-02T08:00:00+15:00", "noon", "31/02/2026 08:00",
     "2026-00-10T08:00"],
)  # fmt: skip
def test_what_is_no_time_is_refused(text):
    assert fault(text, first="day") == "intake/not-a-time"


def test_half_days_are_understood():
    assert instant("02/03/2026 08:00 pm", first="day") == "2026-03-02T19:00:00+00:00"
    assert instant("3/2/2026 12:30 AM", first="month") == "2026-03-01T23:30:00+00:00"


def test_a_zone_is_understood_by_name_and_by_offset():
    assert times.named_zone("+01:00").utcoffset(None) == dt.timedelta(hours=1)
    assert times.named_zone("Europe/Berlin") is not None
    assert times.named_zone("../../etc/passwd") is None
    assert times.zone_of("nowhere") is dt.UTC
