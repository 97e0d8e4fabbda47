"""Torn and flipped files: a logbook opens as it was, or says what is wrong with it."""

import pytest


def proved(told):
    assert told[0] == ["", 0, "none", "right"], "an image that nobody spoilt opens as it was"
    ends = [one[3] for one in told[1:]]
    print({end: ends.count(end) for end in sorted(set(ends))})
    assert "wrong" not in ends, [one for one in told if one[3] == "wrong"]
    assert all(end == "right" or end.startswith("logbook/") for end in ends)
    assert sum(end != "right" for end in ends) >= len(ends) // 3, "spoiling a file must be felt"


def test_two_dozen_spoilt_files_open_as_they_were_or_say_what_is_wrong(run):
    proved(run("mangle.py", 24, 20260301))


@pytest.mark.soak
@pytest.mark.parametrize("seed", range(5))
def test_five_hundred_spoilt_files_open_as_they_were_or_say_what_is_wrong(run, seed):
    proved(run("mangle.py", 500, seed))


def test_the_check_of_spoilt_files_bites(beside, tmp_path):
    mangle = beside("mangle")
    left, head, readings = mangle.made(tmp_path)
    assert mangle.outcome(left, head, readings[:-1]) == "wrong"
    assert mangle.outcome(left, (head[0] + 1, head[1]), readings) == "logbook/cut-off"
