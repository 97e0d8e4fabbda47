"""Copies as the facility file asks for them."""

import pytest

from brinehouse.facility import reading

HALL = (
    'schema = 1\n[facility]\nname = "Test Hall"\ntimezone = "UTC"\n[tank.a]\nvolume = "1 m3"\ndepth = "1 m"\n'
)


def checked(text):
    return reading.read(HALL + text)


def test_copies_are_asked_for_in_three_words():
    asked = checked('[backup]\nto = "/copies"\nevery = "12 h"\nat = ["21:00", "03:30"]\n').facility.backup
    assert (asked.to, asked.every, asked.at) == ("/copies", 43_200.0, (210, 1260))
    assert (asked.newest, asked.daily, asked.weekly, asked.keys, asked.one_file) == (7, 30, 52, False, False)


def test_a_hall_may_ask_for_none():
    assert checked("").facility.backup is None


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ('to = ""', "facility/backup"),
        ('to = "/c"\nevery = "1 min"', "facility/backup"),
        ('to = "/c"\nnewest = 0', "facility/backup"),
        ('to = "/c"\ndaily = -1', "facility/impossible"),
        ('every = "1 d"', "facility/missing"),
        ('to = "/c"\nat = ["25:00"]', "facility/wrong-kind"),
    ],
)
def test_copies_that_would_not_come_about_are_told(line, code):
    found = checked(f"[backup]\n{line}\n")
    assert found.facility is None
    assert code in [one.code for one in found.findings]
