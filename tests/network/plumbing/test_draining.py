"""What comes back when everything stops, against the room in the sump."""

import math

import pytest

SIPHON = 10.0 * (3.96 - 3.5)  # m³: the reef, from its crest down to the mouth of the supply
OPEN = ("check_valve = true\n", "check_valve = false\n")


def test_water_over_each_crest_comes_back(lay):
    layout = lay()
    drain = layout.drains["basin"]
    over = layout.levels["reef"].value - 3.96
    crest = next(share for share in drain.shares if (share.of, share.what) == ("reef", "crest"))
    assert crest.volume == pytest.approx(over * 10)
    assert crest.usual


def test_check_valves_that_hold_keep_pipes_and_siphons_back(lay):
    drain = lay().drains["basin"]
    pipes = math.pi / 4 * (0.046**2 * 20 + 0.045**2 * 12)
    assert drain.worst - drain.usual == pytest.approx(SIPHON + pipes)
    assert lay(OPEN).drains["basin"].usual == pytest.approx(drain.worst)


def test_a_siphon_break_counts_until_it_is_blocked(lay):
    broken = ('outlet = "3.5 m"', 'outlet = "3.5 m"\nsiphon_break = true')
    drain = lay(OPEN, broken).drains["basin"]
    assert drain.worst - drain.usual == pytest.approx(SIPHON)


def test_a_mouth_above_the_water_sucks_nothing_back(lay):
    high = ('outlet = "3.5 m"', 'outlet = "4.1 m"')
    assert not any(share.what == "siphon" for share in lay(OPEN, high).drains["basin"].shares)


def test_a_sump_without_the_room_runs_over(lay, codes):
    assert "plumbing/floods" in codes(lay(OPEN))
    layout = lay()
    assert "plumbing/floods-at-worst" in codes(layout)
    assert layout.drains["basin"].level_worst > 1.6
    roomy = lay(OPEN, ('rim = "1.6 m"', 'rim = "4 m"'))
    assert not {"plumbing/floods", "plumbing/floods-at-worst"} & set(codes(roomy))


def test_what_is_not_told_is_named_and_not_counted(lay):
    layout = lay(('surface = "10 m2"\n', ""), ('depth = "2 m"\n', ""), ('outlet = "3.5 m"\n', ""))
    assert {"reef", "supply"} <= set(layout.drains["basin"].unknown)


def test_water_that_would_stand_over_the_rim_is_called(lay, codes):
    assert "plumbing/over-rim" in codes(lay(levels={"reef": 4.4}))
    assert "plumbing/over-rim" not in codes(lay())


def test_a_standpipe_too_small_gulps(lay, codes):
    assert "plumbing/gulps" in codes(lay(('overflow = "weir 0.5 m"', 'overflow = "standpipe 60 mm"')))
    assert "plumbing/gulps" not in codes(lay(('overflow = "weir 0.5 m"', 'overflow = "standpipe 250 mm"')))
