"""Times as people type them: taken in the hall's zone, and asked about where the clocks were changed."""

from datetime import UTC, datetime

import pytest

from brinehouse.workbench import mishaps, times

# Clock changes: Directive 2000/84/EC, last Sundays of March and October at 01:00 UTC; IANA tz database
# for Pacific/Apia (30 December 2011 left out) and Australia/Lord_Howe (half an hour).


def refusal(text, zone="Europe/London"):
    with pytest.raises(mishaps.Refused) as refused:
        times.local(text, zone)
    (found,) = refused.value.findings
    return found


def test_a_winter_time_in_london_is_utc():
    assert times.local("2026-03-14 06:40", "Europe/London") == datetime(2026, 3, 14, 6, 40, tzinfo=UTC)


def test_a_summer_time_in_london_is_an_hour_ahead_of_utc():
    assert times.local("2026-07-14 06:40", "Europe/London") == datetime(2026, 7, 14, 5, 40, tzinfo=UTC)


def test_an_offset_is_taken_as_it_stands():
    assert times.local("2026-07-14T06:40+05:30", "Europe/London") == datetime(2026, 7, 14, 1, 10, tzinfo=UTC)
    assert times.local("2026-07-14T06:40Z", "Europe/London") == datetime(2026, 7, 14, 6, 40, tzinfo=UTC)


def test_blanks_around_a_time_do_not_matter():
    assert times.local("  2026-03-14 06:40 ", "Etc/UTC") == datetime(2026, 3, 14, 6, 40, tzinfo=UTC)


@pytest.mark.parametrize("text", ["", "soon", "14.3.2026 06:40", "2026-02-30 06:40", "2026-03-14 24:40"])
def test_what_is_not_a_time_is_refused_by_name(text):
    found = refusal(text)
    assert found.code == "workbench/not-a-time"
    assert f"'{text}'" in found.text
    assert "2026-03-14 06:40" in found.hint


@pytest.mark.parametrize(
    ("text", "zone"),
    [
        ("2026-03-29 01:30", "Europe/London"),
        ("2026-03-29 02:30", "Europe/Berlin"),
        ("2026-10-04 02:15", "Australia/Lord_Howe"),
        ("2011-12-30 12:00", "Pacific/Apia"),
    ],
)
def test_a_time_that_the_clocks_skipped_is_refused(text, zone):
    found = refusal(text, zone)
    assert found.code == "workbench/skipped-hour"
    assert text in found.text
    assert zone in found.text


@pytest.mark.parametrize(
    ("text", "zone", "offsets"),
    [
        ("2026-10-25 01:30", "Europe/London", ("+0100", "+0000")),
        ("2026-10-25 02:30", "Europe/Berlin", ("+0200", "+0100")),
    ],
)
def test_a_time_that_came_twice_is_asked_for_with_both_offsets(text, zone, offsets):
    found = refusal(text, zone)
    assert found.code == "workbench/doubled-hour"
    assert all(offset in found.hint for offset in offsets)


def test_what_the_doubled_hour_proposes_is_understood_as_two_moments():
    proposed = refusal("2026-10-25 01:30").hint.removeprefix("write ").split(" or ")
    first, second = (times.local(one, "Europe/London") for one in proposed)
    assert (second - first).total_seconds() == 3600.0
    assert first == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2026-03-29 00:59", datetime(2026, 3, 29, 0, 59, tzinfo=UTC)),
        ("2026-03-29 02:00", datetime(2026, 3, 29, 1, 0, tzinfo=UTC)),
        ("2026-10-25 00:59", datetime(2026, 10, 24, 23, 59, tzinfo=UTC)),
        ("2026-10-25 02:00", datetime(2026, 10, 25, 2, 0, tzinfo=UTC)),
    ],
)
def test_planted_fault_the_minutes_beside_a_change_are_plain_times(text, utc):
    assert times.local(text, "Europe/London") == utc
