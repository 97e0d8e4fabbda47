"""Days of 23, 24 and 25 hours, in every zone there is: what is due by the clock is due by that clock."""

import zoneinfo
from datetime import UTC, date, datetime, time, timedelta
from types import SimpleNamespace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from brinehouse.engines.turns import spans
from brinehouse.workbench import mishaps, rounds, times

MINUTE = timedelta(minutes=1)
ZONES = sorted(zoneinfo.available_timezones() - {"localtime", "Factory"})
zones = st.sampled_from(ZONES)
FIRST = datetime(2016, 1, 1, tzinfo=UTC)
instants = st.integers(0, 20 * 365 * 1440).map(lambda minutes: FIRST + minutes * MINUTE)

# Clocks that went forward at midnight, by half an hour, over a whole day, or stand at three quarters.
STRANGE = [
    ("Africa/Cairo", datetime(2024, 4, 25, 22, 30, tzinfo=UTC)),
    ("Australia/Lord_Howe", datetime(2026, 4, 4, 15, 10, tzinfo=UTC)),
    ("Pacific/Chatham", datetime(2026, 4, 4, 14, 30, tzinfo=UTC)),
    ("America/Havana", datetime(2026, 3, 8, 5, 0, tzinfo=UTC)),
    ("Asia/Beirut", datetime(2026, 3, 28, 22, 0, tzinfo=UTC)),
    ("Europe/Lisbon", datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),
    ("Pacific/Apia", datetime(2021, 4, 3, 14, 0, tzinfo=UTC)),
]


def strange(test):
    for zone, at in STRANGE:
        test = example(zone=zone, at=at)(test)
    return test


@strange
@given(zone=zones, at=instants)
@settings(max_examples=300)
def test_a_time_typed_as_the_clock_shows_it_is_that_time_or_is_asked_about(zone, at):
    at = at.replace(second=0, microsecond=0)
    here = at.astimezone(zoneinfo.ZoneInfo(zone))
    try:
        assert times.local(f"{here:%Y-%m-%d %H:%M}", zone) == at
    except mishaps.Refused as refusal:
        (found,) = refusal.findings
        assert found.code == "workbench/doubled-hour"  # never skipped: the clock did show it
        around = range(-180, 181, 15)
        assert len({(at + step * MINUTE).astimezone(here.tzinfo).utcoffset() for step in around}) > 1
    assert times.local(here.isoformat(), zone) == at


def hall_of(at):
    """A round, as far as it says when it is walked."""
    return SimpleNamespace(at=at, every=None)


@strange
@given(zone=zones, at=instants)
@settings(max_examples=300)
def test_a_round_by_the_clock_is_due_once_for_each_time_of_each_day(zone, at):
    """Across a day of 23, 24 or 25 hours what was due and what is next never swap, skip or stand still."""
    whole = hall_of((6 * 60 + 40, 18 * 60 + 40))
    here = zoneinfo.ZoneInfo(zone)
    past, ahead = rounds._due(whole, zone, at, None)
    assert past <= at < ahead
    assert ahead - past <= timedelta(hours=12 + 24 + 1)  # the widest: where a whole day was left out
    again, _ = rounds._due(whole, zone, ahead, None)
    assert again == ahead
    for due in (past, ahead):
        shown = due.astimezone(here)
        assert (shown.hour, shown.minute) in ((6, 40), (18, 40)) or _jumped(due, here)


def _jumped(at, here):
    """Whether the clock there was set within a day of a time."""
    return (at - timedelta(days=1)).astimezone(here).utcoffset() != at.astimezone(here).utcoffset()


def window(zone, day, hour):
    """What the turns keep free from one hour of a day to the same of the next."""
    house = SimpleNamespace(begin=datetime(2016, 1, 1, tzinfo=UTC), facility=SimpleNamespace(timezone=zone))
    house._at = lambda when, minutes: spans.House._at(house, when, minutes)
    return spans.House._span(house, day, (hour * 60, hour * 60))


@given(zone=zones, day=st.dates(date(2016, 1, 1), date(2036, 1, 1)), hour=st.integers(0, 23))
@settings(max_examples=300)
def test_a_window_from_one_hour_to_the_same_is_as_long_as_that_day_of_the_clock(zone, day, hour):
    """23, 24 and 25 hours, and the half hours of Lord Howe; one joins the next without a gap."""
    here = zoneinfo.ZoneInfo(zone)
    begin, end = window(zone, day, hour)
    assert end == window(zone, day + timedelta(days=1), hour)[0]
    set_by = _offset(day + timedelta(days=1), hour, here) - _offset(day, hour, here)
    assert end - begin == timedelta(days=1) - set_by


def _offset(day, hour, here):
    return datetime.combine(day, time(hour), here).utcoffset()


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        ("Europe/London", date(2026, 3, 29), 23.0),
        ("Europe/London", date(2026, 10, 25), 25.0),
        ("Australia/Lord_Howe", date(2026, 4, 5), 24.5),
        ("Asia/Tokyo", date(2026, 3, 29), 24.0),
    ],
)
def test_the_days_on_which_clocks_are_set_are_as_long_as_they_are(zone, day, hours):
    """IANA time zone database: the last Sundays of March and October; the first of April on Lord Howe."""
    begin, end = window(zone, day, 0)
    assert (end - begin) / timedelta(hours=1) == hours


def test_a_rule_that_adds_twenty_four_hours_is_an_hour_off_on_those_days():
    """The planted fault: what the tests above would say of it."""
    begin, end = window("Europe/London", date(2026, 3, 29), 0)
    assert begin + timedelta(hours=24) != end
    assert (begin + timedelta(hours=24)).astimezone(zoneinfo.ZoneInfo("Europe/London")).hour == 1
