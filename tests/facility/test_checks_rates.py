"""Failure rates and what a duty group says of itself: what is refused, what is asked, and the right form."""

import pytest

from brinehouse.facility import reading

RATE = """
[[rate]]
of = "pump"
mode = "fails running"
low = "once in 200000 h"
typical = "once in 30000 h"
high = "once in 6000 h"
source = "house rule"
seen = 1
over = "17000 h"
repair = "24 h"
"""
KEEP = "keep = 1"
GROUP = (
    'keep = 1\nenough = 1\nhand_start = "2 h"\ntest_starts = "14 d"\ntest_change_over = "30 d"\n'
    'common_cause = "5 %"\ncommon_cause_source = "one strainer"'
)


def test_a_rate_told_rightly_is_taken_without_a_word(planted, good):
    before = [str(one) for one in reading.read(good).findings]
    checked = planted("", RATE)
    assert [str(one) for one in checked.findings] == before
    (rate,) = checked.facility.rates
    assert rate.typical.value == pytest.approx(1 / (30000 * 3600))
    assert (rate.seen, rate.over, rate.repair, rate.source) == (1, 17000 * 3600, 24 * 3600, "house rule")


def test_a_duty_group_tells_of_its_tests_and_its_people(planted):
    duty = planted(KEEP, GROUP).facility.duties["return"]
    assert (duty.enough, duty.hand_start, duty.test_starts) == (1, 7200.0, 14 * 86400.0)
    assert (duty.test_change_over, duty.common_cause, duty.common_cause_source) == (
        30 * 86400.0,
        0.05,
        "one strainer",
    )


def test_without_a_rate_nothing_is_believed(planted, good):
    assert reading.read(good).facility.rates == ()
    assert reading.read(good).facility.crews == 1


@pytest.mark.parametrize(
    ("code", "old", "new"),
    [
        ("facility/dangling", 'of = "pump"', 'of = "pumpe"'),
        ("facility/rate", 'typical = "once in 30000 h"', 'typical = "now and then"'),
        ("facility/rate", 'typical = "once in 30000 h"', 'typical = "1 %"'),
        ("facility/rate", 'mode = "fails running"', 'mode = "fails to start"'),
        ("facility/rate", 'low = "once in 200000 h"\n', ""),
        ("facility/rate", 'over = "17000 h"', "starts = 3"),
        ("facility/upside-down", 'low = "once in 200000 h"', 'low = "once in 20000 h"'),
        ("facility/missing", 'source = "house rule"\n', ""),
        ("facility/missing", 'typical = "once in 30000 h"\n', ""),
        ("facility/wrong-kind", "seen = 1", "seen = -1.5"),
        ("facility/impossible", 'repair = "24 h"', 'repair = "0 h"'),
        ("facility/unknown-word", 'repair = "24 h"', 'reapir = "24 h"'),
        ("facility/wrong-kind", 'mode = "fails running"', 'mode = "breaks"'),
    ],
)
def test_a_wrong_rate_is_refused(only, code, old, new):
    assert RATE.count(old) == 1
    assert only(code, "", RATE.replace(old, new), "stop").hint


def test_counts_without_an_interval_cannot_be_weighed(only):
    bare = RATE.replace('low = "once in 200000 h"\n', "").replace('high = "once in 6000 h"\n', "")
    assert "low and high" in only("facility/rate", "", bare, "stop").hint


def test_low_and_high_are_counted_as_the_typical_one_is(only):
    mixed = RATE.replace("fails running", "change-over fails").replace("once in 6000 h", "3 %")
    assert only("facility/rate", "", mixed, "stop").hint


def test_one_part_and_mode_is_told_once(only):
    assert only("facility/twice", "", RATE + RATE, "stop").hint


@pytest.mark.parametrize("name", ["P-1", "return", "basin", "power"])
def test_a_rate_may_be_for_one_part_or_a_kind(planted, name):
    assert planted("", RATE.replace('of = "pump"', f'of = "{name}"')).facility.rates[0].of == name


def test_more_than_run_are_never_enough(only):
    assert only("facility/duty-keep", KEEP, "keep = 1\nenough = 2", "stop").hint
    assert only("facility/duty-keep", KEEP, "keep = 1\nenough = 0", "stop").hint


def test_a_share_of_common_cause_has_a_reason(only):
    assert only("facility/no-source", KEEP, 'keep = 1\ncommon_cause = "5 %"', "ask").hint


def test_somebody_repairs(only):
    assert only("facility/impossible", 'altitude = "120 m"', 'altitude = "120 m"\ncrews = 0', "stop").hint
