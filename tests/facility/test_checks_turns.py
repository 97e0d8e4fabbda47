"""Time kept free, shifts, and the offset that keeps pumps from wearing out together."""

import pytest

from brinehouse.facility import reading

HALL = """schema = 1
[facility]
name = "Small hall"
timezone = "Europe/London"
[tank.reef]
volume = "3 m3"
stands_alone = true
[pump.P-1]
flow = "3 m3/h"
overhaul = "16000 h"
[pump.P-2]
flow = "3 m3/h"
{second}
[duty.return]
pumps = ["P-1", "P-2"]
offset = "20 %"
"""
LIFE = 'overhaul = "16000 h"'


def read(more="", second=LIFE):
    return reading.read(HALL.format(second=second) + more)


def codes(checked):
    return {one.code for one in checked.findings}


def test_hours_between_overhauls_windows_and_shifts_are_read():
    more = '[[window]]\nof = ["P-1"]\ndays = ["friday", "Tuesday"]\nhours = "22:00 to 04:00"\n'
    more += '[shift.early]\nhours = "07:00 to 15:30"\n'
    facility = read(more).facility
    assert facility.pumps["P-1"].overhaul == pytest.approx(16000 * 3600)
    assert facility.duties["return"].offset == pytest.approx(0.2)
    assert facility.windows[0].days == (1, 4)
    assert facility.windows[0].hours == (22 * 60, 4 * 60)
    assert (facility.shifts["early"].begins, facility.shifts["early"].ends) == (420, 930)


def test_a_window_that_does_not_say_when_is_asked_about():
    assert "facility/window" in codes(read('[[window]]\nof = ["P-1"]\n'))
    assert "facility/window" not in codes(read('[[window]]\nof = ["P-1"]\ndays = ["Monday"]\n'))


def test_a_window_ends_after_it_begins():
    backwards = '[[window]]\nof = ["P-1"]\nsince = 2026-03-09\nuntil = 2026-03-08\n'
    assert "facility/window" in codes(read(backwards))
    assert "facility/window" not in codes(read(backwards.replace("03-08", "03-09")))


def test_a_day_that_is_none_is_refused():
    found = read('[[window]]\nof = ["P-1"]\ndays = ["Mon"]\n').findings
    assert [one.code for one in found] == ["facility/wrong-kind"]
    assert "days of the week" in found[0].text


def test_an_offset_has_hours_to_be_a_share_of():
    assert codes(read()) == set()
    assert codes(read(second="")) == {"facility/offset"}
